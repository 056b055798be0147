"""The curve that drives pins evenly (theory of lantern gearing).

While the pitch circles roll, the middle of a pin draws an epicycloid on the toothed gear; a flank parallel to it, half
a pin inside, touches the pin all the way, at the foot of the line from the pin's middle to the pitch point.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import asin, atan2, cos, hypot, pi, sin

from solver.forms.form import Line

_STEPS = 12  # chords in which a bend is drawn
_FLANK = 40  # and a flank
_HALVINGS = 60


def pin_path(radius: float, circle_: float, lean: float, turn: float) -> tuple[float, float]:
    """A pin's middle on the toothed gear when it is `turn` [rad] past the line of centres: distance from the gear's
    centre, and angle from the middle of the gap, which is wider by `lean` on each side."""
    x, y = radius + circle_ * (1 - cos(turn)), circle_ * sin(turn)
    return hypot(x, y), turn * circle_ / radius - atan2(y, x) + lean


def parallel(radius: float, circle_: float, lean: float, turn: float, inside: float) -> tuple[float, float]:
    """The parallel of that curve, so far inside the tooth: from the pin's middle towards the pitch point, as x and
    y."""
    far, at = pin_path(radius, circle_, lean, turn)
    rolled = turn * circle_ / radius + lean  # where the pitch point is on the toothed gear
    x, y = far * cos(at), far * sin(at)
    dx, dy = radius * cos(rolled) - x, radius * sin(rolled) - y
    chord = hypot(dx, dy)
    return x + inside * dx / chord, y + inside * dy / chord


@dataclass(frozen=True)
class LanternContact:
    """Contact of pins with pointed teeth of this curve, without play: where it starts and ends, as angles [rad] of the
    pins past the line of centres; the radius of the teeth's points [mm]."""

    start: float
    end: float
    tip_mm: float
    pitch: float

    @property
    def ratio(self) -> float:
        """Pitches from the start to the end: 1 or more where contact never ends; below 0 where there is none."""
        return (self.end - self.start) / self.pitch


def lantern_contact(module_mm: float, teeth: float, pins: int, pin_mm: float) -> LanternContact:
    """Contact on one side of the line of centres, by the theory of lantern gearing: it starts where the pin's surface
    comes to the pitch point, 2 asin(d / 4 r) past the line, and ends where the flanks of a tooth meet."""
    radius, circle_ = module_mm * teeth / 2, module_mm * pins / 2
    start = 2 * asin(min(pin_mm / (4 * circle_), 1.0))

    def foot(turn: float) -> tuple[float, float]:
        return parallel(radius, circle_, 0.0, turn, pin_mm / 2)

    end = first_turn(lambda turn: atan2(*foot(turn)[::-1]) >= pi / teeth, 1e-9, pi)
    end = pi if end is None else end
    return LanternContact(start, end, hypot(*foot(end)), 2 * pi / pins)


@dataclass(frozen=True)
class Flank:
    """One side of a gap of a curved tooth [mm, rad], about the gear's centre, the middle of the gap on the right.

    radius, circle: of the pitch circles. lean: half the play as an angle. reach: half a pin and half a wire. root:
    distance of the root's jig pin; root_bend: radius of the centre line about it, which is half the gap between its
    legs. start, end: how far the pins are past the line of centres where the flank begins and ends. tip: distance and
    angle of the tip's jig pin; tip_bend: radius of the centre line about it. step: half a tooth.
    """

    radius: float
    circle: float
    lean: float
    reach: float
    root: float
    root_bend: float
    start: float
    end: float
    tip: tuple[float, float]
    tip_bend: float
    step: float

    def pin_at(self, turn: float) -> tuple[float, float]:
        """The middle of the pin so far past the line of centres: on the epicycloid, distance and angle."""
        return pin_path(self.radius, self.circle, self.lean, turn)

    def wire_at(self, turn: float) -> tuple[float, float]:
        """The wire's centre line where it touches that pin, as x and y."""
        return parallel(self.radius, self.circle, self.lean, turn, self.reach)

    def half(self) -> Line:
        """Half a tooth's centre line from the middle of the tip, on the right, to that of the root."""
        from_gap = [(self.root - self.root_bend * cos(a), self.root_bend * sin(a)) for a in _fan(0.0, pi / 2)]
        span = self.end - self.start
        from_gap += [self.wire_at(self.start + span * index / _FLANK) for index in range(_FLANK + 1)]
        far, turn = self.tip
        x, y = far * cos(turn), far * sin(turn)
        first = atan2(from_gap[-1][1] - y, from_gap[-1][0] - x)
        from_gap += [(x + self.tip_bend * cos(a), y + self.tip_bend * sin(a)) for a in _fan(first, turn)[1:]]
        from_gap += [
            ((far + self.tip_bend) * cos(a), (far + self.tip_bend) * sin(a)) for a in _fan(turn, self.step)[1:]
        ]
        c, s = cos(self.step), sin(self.step)
        # Turned so that the tooth is on the right, its upper half.
        return tuple((c * x + s * y, s * x - c * y) for x, y in reversed(from_gap))


def _fan(first: float, last: float) -> list[float]:
    return [first + (last - first) * index / _STEPS for index in range(_STEPS + 1)]


def first_turn(true: Callable[[float], bool], low: float, high: float) -> float | None:
    """Where a condition begins to hold, that holds from there on; None where it does not even at `high`."""
    if not true(high):
        return None
    if true(low):
        return low
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (low, middle) if true(middle) else (middle, high)
    return high
