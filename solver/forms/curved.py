"""Teeth bent to the curve that drives pins evenly: the physical limit of wire and pins.

While the pitch circles roll, the middle of a pin draws an epicycloid on the toothed gear; a flank parallel to it, half
a pin inside, touches the pin all the way, at the foot of the line from the pin's middle to the pitch point (theory of
lantern gearing). The wire's centre line is the parallel at half a pin and half a wire. Each tooth is made for one
number of pins: of a gear with several mates for the smallest, which stays in contact shortest; larger ones run on it
too, but less evenly. Below its flank a tooth has straight legs to a bend about a jig pin a little thicker than the
pins, above it a bend about one jig pin, or two where rings.addendum cuts it off.

Gears have a play of PLAY of a pitch at the nominal distance (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import asin, atan2, cos, degrees, hypot, pi, sin
from typing import TYPE_CHECKING

from solver.forms.form import Line, Piece, Quantity, Sizes, Spec, ToothedGear, all_round, circle, mirrored, too_far_out
from solver.forms.pinned import PinForm
from solver.forms.pins import centre_hole, depth_of, loop_piece, spokes_of
from solver.forms.plans import Hole

if TYPE_CHECKING:
    from solver.forms.gaps import Gaps

PLAY = 0.05
_STEPS = 12  # chords in which a bend is drawn
_FLANK = 40  # and a flank
_HALVINGS = 60


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

    end = _first(lambda turn: atan2(*foot(turn)[::-1]) >= pi / teeth, 1e-9, pi)
    end = pi if end is None else end
    return LanternContact(start, end, hypot(*foot(end)), 2 * pi / pins)


def pins_of(spec: Spec) -> int:
    """The number of pins that a gear's teeth are made for: its smallest mate's."""
    return min(spec.mates, default=spec.teeth)


def flank(sizes: Sizes, spec: Spec) -> Flank:
    """One side of a gap. Raises DesignError where wire, rim or addendum leave no room for it."""
    radius, circle_ = sizes.radius_mm(spec.teeth), sizes.radius_mm(pins_of(spec))
    lean = PLAY * sizes.pitch_mm / 2 / radius
    reach, step = (sizes.pin_mm + sizes.tooth_mm) / 2, pi / spec.teeth
    root_bend, tip_bend = reach + PLAY * sizes.pitch_mm / 2, (sizes.jig_pin_mm + sizes.tooth_mm) / 2
    # The wire lies on the loop at every root, as saw teeth do.
    under = (sizes.loop_mm + max(sizes.loop_mm, sizes.tooth_mm) - sizes.tooth_mm) / 2
    root = radius - depth_of(sizes, spec) + under + root_bend
    thick = sizes.refuse("wire.pin", sizes.pin_mm, f"leaves {spec.name} no teeth between its pins; use thinner wire")
    if root_bend >= radius * sin(step):
        raise thick

    def wire(turn: float) -> tuple[float, float]:
        return parallel(radius, circle_, lean, turn, reach)

    # The legs are `root_bend` from the middle of the gap; the flank begins where it comes away from them.
    start = _first(lambda turn: wire(turn)[1] >= root_bend, 1e-6, pi)
    if start is None:
        raise thick
    if root > wire(start)[0]:
        deep = depth_of(sizes, spec) + root - wire(start)[0]
        if spec.kind == "gear" and deep > sizes.rim_mm:
            told = f"leaves {spec.name} no room for pins below its pitch circle"
            raise sizes.refuse("wire.hub_diameter", sizes.hub_mm, told)
        told = f"leaves {spec.name} no room for pins below its pitch circle: must be at least {sizes.at_least(deep)}"
        raise sizes.refuse("rings.rim", sizes.rim_mm, told)
    highest = radius + sizes.addendum_mm - sizes.tooth_mm / 2 - tip_bend

    def tip(turn: float) -> tuple[float, float]:
        x, y = parallel(radius, circle_, lean, turn, reach + tip_bend)
        return hypot(x, y), atan2(y, x)

    end = _first(lambda turn: tip(turn)[1] >= step or tip(turn)[0] >= highest, start, pi)
    if end is None or tip(start)[1] >= step:
        told = f"leaves {spec.name} no room for the bend at a tip; use a thinner jig pin, or thinner wire"
        raise sizes.refuse("wire.jig_pin", sizes.jig_pin_mm, told)
    if end <= start + 1e-6:
        least = sizes.at_least(tip(start)[0] + tip_bend + sizes.tooth_mm / 2 - radius)
        told = f"leaves {spec.name} no flanks above its legs: must be more than {least}"
        raise sizes.refuse("rings.addendum", sizes.addendum_mm, told)
    far, at = tip(end)
    return Flank(radius, circle_, lean, reach, root, root_bend, start, end, (far, min(at, step)), tip_bend, step)


def _first(true: Callable[[float], bool], low: float, high: float) -> float | None:
    """Where a condition begins to hold, that holds from there on; None where it does not even at `high`."""
    if not true(high):
        return None
    if true(low):
        return low
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (low, middle) if true(middle) else (middle, high)
    return high


class Curved(PinForm):
    """Bent-wire teeth of the curve that drives pins evenly, on a loop, with pin gears."""

    name = "curved"
    title = "curved teeth of bent wire with pin gears"
    source = "theory of lantern gearing; play and tips common practice, no source"
    teeth = "curved teeth"

    def toothed(self, sizes: Sizes, spec: Spec) -> ToothedGear:
        return _toothed(sizes, spec)

    def reach_mm(self, sizes: Sizes, spec: Spec) -> float:
        found = flank(sizes, spec)
        return found.tip[0] + found.tip_bend + sizes.tooth_mm / 2 - found.radius

    def gaps(self, sizes: Sizes, specs: Sequence[Spec]) -> Gaps:
        from solver.forms.gaps import CurvedGaps  # with numpy, which reading a file does not need

        return CurvedGaps(tuple(spec.teeth for spec in specs), tuple(flank(sizes, spec) for spec in specs))


def _toothed(sizes: Sizes, spec: Spec) -> ToothedGear:
    side = flank(sizes, spec)
    half, teeth, radius = side.half(), spec.teeth, side.radius
    inside = radius - depth_of(sizes, spec)
    step, pin = 360 / teeth, sizes.jig_pin_mm
    root_pin = 2 * side.root_bend - sizes.tooth_mm
    aside = degrees(side.step - side.tip[1])
    sides = (aside, -aside) if aside > 1e-6 else (0.0,)
    holes = [Hole(side.tip[0], (step * index + way) % 360, pin, "tip") for index in range(teeth) for way in sides]
    holes += [Hole(side.root, step * (index + 0.5), root_pin, "root") for index in range(teeth)]
    length = 2 * wire_length(half, sizes)
    pieces = [loop_piece(sizes, inside, 1), Piece("tooth wire", "tooth", 1, teeth * length, teeth)]
    outline: list[Line] = [all_round(mirrored(half), teeth), circle(inside + sizes.loop_mm / 2)]
    joints = teeth
    if spec.kind == "gear":
        spokes, lines = spokes_of(sizes, spec, inside, 1)
        pieces.append(spokes)
        outline += lines
        joints += 2 * spokes.count
    outermost = side.tip[0] + side.tip_bend + sizes.tooth_mm / 2
    return ToothedGear(
        spec,
        radius,
        outermost,
        side.root - side.root_bend - sizes.tooth_mm / 2,
        sizes.loop_mm + sizes.tooth_mm,
        (*holes, centre_hole(sizes, spec)),
        tuple(outline),
        tuple(pieces),
        joints,
        0.0,
        (
            Quantity("pins that the teeth are made for", pins_of(spec), ""),
            Quantity("tooth wire for a tooth", length),
            Quantity("inside radius of bends at tips", pin / 2),
            Quantity("diameter of the jig's pins at roots", root_pin),
            Quantity("diameter of the loop to its middle", 2 * inside + sizes.loop_mm),
        ),
        too_far_out(sizes, spec, outermost),
    )


def wire_length(line: Line, sizes: Sizes) -> float:
    """Length [mm] of straight wire that a drawn centre line takes: its own, and where it is bent along another neutral
    fibre than the middle, so much more or less for each radian."""
    length = sum(hypot(x2 - x, y2 - y) for (x, y), (x2, y2) in pairwise(line))
    turns = [atan2(y2 - y, x2 - x) for (x, y), (x2, y2) in pairwise(line)]
    bent = sum(abs((after - before + pi) % (2 * pi) - pi) for before, after in pairwise(turns))
    return length + bent * (sizes.neutral - 0.5) * sizes.tooth_mm
