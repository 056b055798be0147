"""A gear with teeth of the curve that drives pins evenly, for the judge (theory of lantern gearing).

Points of the plane are complex numbers, the toothed gear's centre at 0, the middle of a gap on the real axis. While the
pitch circles roll, the middle of a pin goes along an epicycloid; the wire's centre line is half a pin and half a wire
inside the tooth, towards the pitch point. Below, a gap has straight legs and a round root; above, a tooth is bent about
a jig pin, or two. The way of a pin's middle along all that is followed in small steps: its own epicycloid beside the
flank, arcs about the ends of the flank and of the legs, a straight line beside a leg. Lengths in mm, angles in radians.
"""

from __future__ import annotations

from bisect import bisect_right
from cmath import exp, phase
from collections.abc import Callable, Iterator
from math import pi, sin

from solver.check.gear_lengths import GearLengths

PLAY = 0.05  # of a pitch that gears have at the nominal distance (common practice, no source)
_FINE = 240  # steps along a flank
_COARSE = 24  # along an arc


class CurvedTeeth:
    """A gear whose teeth are made for so many pins; `WireTeeth` says what is known of it."""

    def __init__(self, made: GearLengths, teeth: int, ring: bool, served: int) -> None:
        self.radius, self.step = made.module * teeth / 2, pi / teeth
        self.mouth, self.outermost = self.step, 0.0
        self._rolls = made.module * served / 2  # radius of the pin circle
        self._near = (made.pin + made.tooth) / 2  # as near to the wire's centre line as the middle of a pin comes
        self._spare = PLAY * made.pitch / 2  # on each side of a gap
        self._bend = (made.jig_pin + made.tooth) / 2
        self._far: list[float] = []
        self._wide: list[float] = []
        self.unmade = self._made(made, ring)

    def half_gap(self, far: float) -> float:
        if far <= self._far[0]:
            return (far - self._far[0]) / far
        at = bisect_right(self._far, far)
        if at == len(self._far):
            return self._wide[-1]
        near, more = self._far[at - 1], self._far[at]
        share = (far - near) / (more - near)
        return self._wide[at - 1] + share * (self._wide[at] - self._wide[at - 1])

    def _pin(self, past: float) -> complex:
        """The middle of the pin that is so far past the line of centres."""
        ahead = past * self._rolls / self.radius + self._spare / self.radius
        return exp(1j * ahead) * (self.radius + self._rolls - self._rolls * exp(1j * past))

    def _inside(self, past: float, deep: float) -> complex:
        """So far from there towards the pitch point."""
        middle = self._pin(past)
        touch = self.radius * exp(1j * (past * self._rolls + self._spare) / self.radius) - middle
        return middle + deep * touch / abs(touch)

    def _made(self, made: GearLengths, ring: bool) -> str:
        """Why it cannot be made; else the way of a pin is laid down."""
        deep = made.deep(self.radius, ring)
        gap = self._near + self._spare  # from the middle of the gap to a leg's centre line
        floor = self.radius - deep + (made.loop + max(made.loop, made.tooth) - made.tooth) / 2 + gap
        if gap >= self.radius * sin(self.step):
            return "has no teeth between its pins"
        start = _begins(lambda past: self._inside(past, self._near).imag >= gap, 1e-6)
        if start is None:
            return "has no teeth between its pins"
        corner = self._inside(start, self._near)
        if floor > corner.real:
            return "leaves no room for pins below its pitch circle"
        highest = self.radius + made.addendum - made.tooth / 2 - self._bend

        def tip(past: float) -> complex:
            return self._inside(past, self._near + self._bend)

        if phase(tip(start)) >= self.step:
            return "leaves no room for the bend at a tip"
        end = _begins(lambda past: phase(tip(past)) >= self.step or abs(tip(past)) >= highest, start)
        if end is None:
            return "leaves no room for the bend at a tip"
        if end <= start + 1e-6:
            return "has no flanks above its legs"
        if not ring and self.radius - deep <= made.hub / 2:
            return "leaves no room for spokes"
        top = tip(end)
        top = abs(top) * exp(1j * min(phase(top), self.step))
        way = list(self._way(floor, corner, start, end, top))
        self._far, self._wide = [abs(point) for point in way], [phase(point) for point in way]
        self.mouth, self.outermost = phase(top), abs(top) + self._bend + self._near
        return ""

    def _way(self, floor: float, corner: complex, start: float, end: float, top: complex) -> Iterator[complex]:
        """The way of a pin's middle from the bottom of a gap to beyond the tip."""
        for index in range(_COARSE + 1):
            yield floor - self._spare * exp(-1j * pi / 2 * index / _COARSE)
        # Along the leg to beside the corner where the flank begins, and about that.
        first, last = -pi / 2, phase(self._pin(start) - corner)
        for index in range(_COARSE + 1):
            yield corner + self._near * exp(1j * (first + (last - first) * index / _COARSE))
        for index in range(1, _FINE + 1):
            yield self._pin(start + (end - start) * index / _FINE)
        reach = self._bend + self._near
        first, last = phase(self._pin(end) - top), phase(top)
        for index in range(1, _COARSE + 1):
            yield top + reach * exp(1j * (first + (last - first) * index / _COARSE))


def _begins(holds: Callable[[float], bool], low: float) -> float | None:
    """From where on something holds that does at half a turn; None where it does not there."""
    high = pi
    if not holds(high):
        return None
    if holds(low):
        return low
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (low, middle) if holds(middle) else (middle, high)
    return high
