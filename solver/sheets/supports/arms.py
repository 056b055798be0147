"""The arms that are built, along lines that the judge calls clear, as far as the frame or an arm that stands already.

Arms of a gap lie in one plane. They are built the shortest first, and of those alike what the judge names first
(`choice`); one that meets an arm built before ends there and is soldered to its side. On a side of the frame an arm
lies across the bar of its gap, in a corner it is filed to the member that runs there. At what it holds its wire is bent
to an eye, which is long enough inside for all that the mesh may need (`sheets.gears.adjust`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import atan2, degrees, hypot, pi, sqrt

from solver.check.arm import ArmLine, Held
from solver.design.arms import length_of
from solver.design.design import Design
from solver.design.gauges import Gauge
from solver.design.train import Train
from solver.forms.form import sizes_of
from solver.forms.wire import tube_grams, wire_grams
from solver.mechanics.metals import METALS
from solver.sheets.gears.adjust import Slot, most_travel_mm, slots_of

Vector = tuple[float, float]
STEEL = METALS["steel"].density
WALL = 1.0  # mm, of a bush about what turns in it (common practice, no source)
_SLANT = 0.5  # sine of the angle below which arms that meet are soldered side by side (common practice, no source)
_TOUCH = 1e-9  # of a stretch: as near as this to its end is on it
JOINTS = 3  # of an arm: its eye is closed, what it holds is soldered into it, and its other end (common practice)
_CORNER = (sqrt(2) - 1) / 2  # of a round bar, from the corner of the square about it to its side


@dataclass(frozen=True)
class ArmEye:
    """The eye at an arm's end: inside so wide across, and longer by what can be moved against a direction and along it.
    wire_mm: of its middle line. outside_mm: how far it reaches from what it holds, across."""

    inside_mm: float
    inward_mm: float
    outward_mm: float
    direction_deg: float
    wire_mm: float
    outside_mm: float

    @property
    def inside_long_mm(self) -> float:
        """Inside, from end to end."""
        return self.inside_mm + self.inward_mm + self.outward_mm


@dataclass(frozen=True)
class Bush:
    """What turns in an arm's eye turns in this, which is soldered there once the mesh runs."""

    bore_mm: float
    outside_mm: float
    length_mm: float
    grams: float


@dataclass(frozen=True)
class BuiltArm:
    """An arm: what it holds; its middle line from there to where it ends [mm from the main axis]; what it is soldered
    to: a side of the frame ("top"), "corner", "ring" of a round frame, or the name of what another arm holds (on_arm).
    wire_mm: what is cut for it."""

    held: Held
    points: tuple[Vector, ...]
    ends_at: str
    on_arm: bool
    eye: ArmEye
    bush: Bush | None
    wire_mm: float
    grams: float

    @property
    def line_mm(self) -> float:
        """Length of its middle line, from the middle of what it holds."""
        return length_of(self.points)

    @property
    def end(self) -> Vector:
        return self.points[-1]

    @property
    def bends(self) -> tuple[Vector, ...]:
        """Where it is bent."""
        return self.points[1:-1]


def density_of(design: Design) -> float:
    """Of arms and bars [g/cm3]; brass weighs what the file's wire does."""
    assert design.supports is not None
    return STEEL if design.supports.metal == "steel" else float(design.wire.density)


def density_of_rod(gauge: Gauge, wire: float) -> float:
    """Of a wire or rod [g/cm3]: steel by its name, all else what the file's wire has."""
    return STEEL if gauge.name == "steel" else wire


class ArmBuilder:
    """Ends arms where they meet others, and bends their eyes."""

    def __init__(self, design: Design, train: Train) -> None:
        assert design.supports is not None and design.fit.frame is not None
        self.round = design.fit.frame.round
        self.design, self.sizes = design, sizes_of(design)
        self.slots = slots_of(design, train)
        self.arm, self.bar = float(design.supports.arm_mm), float(design.supports.bar_mm)
        self.density = density_of(design)

    def build(self, held: Held, line: ArmLine, before: Sequence[BuiltArm]) -> BuiltArm:
        eye, bush = self._eye(held), self._bush(held)
        points = tuple((float(x), float(y)) for x, y in line.points)
        reach = eye.inside_mm / 2 + self.arm / 2  # of the middle line of the eye
        ends_at, on_arm = "ring" if self.round else line.side, False
        ended = _ended(points, before, reach + self.arm / 2, self.arm)
        if ended is not None:
            points, ends_at, on_arm = *ended, True
        over = -self.arm / 2 if on_arm else self.bar * (_CORNER if ends_at == "corner" else 1.0)
        wire = eye.wire_mm + max(length_of(points) - reach + over, 0.0)
        grams = wire_grams(wire, self.arm, self.density)
        return BuiltArm(held, points, ends_at, on_arm, eye, bush, wire, grams)

    def _eye(self, held: Held) -> ArmEye:
        inside = self._rod(held) + (2 * WALL if self._turns(held) else 0.0)
        most = most_travel_mm(self.design)
        slot = self.slots.get(held.name, Slot(most, most))  # rollers move until they touch their ring
        x, y = held.spot
        turn = degrees(atan2(y, x)) % 360
        wire = pi * (inside + self.arm) + 2 * (slot.inward_mm + slot.outward_mm)
        return ArmEye(inside, slot.inward_mm, slot.outward_mm, turn, wire, inside / 2 + self.arm)

    def _turns(self, held: Held) -> bool:
        return held.what in ("arbor", "motor")

    def _rod(self, held: Held) -> float:
        return self.sizes.arbor_mm if held.what == "arbor" else self.sizes.post_mm

    def _bush(self, held: Held) -> Bush | None:
        if not self._turns(held):
            return None
        bore = self._rod(held)
        outside, long = bore + 2 * WALL, 2 * self.arm
        grams = tube_grams(long, outside, bore, self.sizes.density)
        return Bush(bore, outside, long, grams)


def _ended(
    points: tuple[Vector, ...], before: Sequence[BuiltArm], near: float, thick: float
) -> tuple[tuple[Vector, ...], str] | None:
    """The line as far as the first arm of those built before that it meets, and what that holds. near: what it holds is
    on an arm that is no farther; thick: of all arms."""
    start = points[0]
    beside = [(_nearest(start, one.points), one.held.name) for one in before]
    if beside:
        at, name = min(beside, key=lambda pair: hypot(pair[0][0] - start[0], pair[0][1] - start[1]))
        if hypot(at[0] - start[0], at[1] - start[1]) <= near:
            return (start, at), name
    done: list[Vector] = [start]
    for a, b in pairwise(points):
        met = [(part, one) for one in before for part in _meets(a, b, one, thick)]
        if met:
            part, one = min(met, key=lambda pair: pair[0])
            end = a[0] + part * (b[0] - a[0]), a[1] + part * (b[1] - a[1])
            return (*done, end), one.held.name
        done.append(b)
    return None


def _meets(a: Vector, b: Vector, one: BuiltArm, thick: float) -> Iterator[float]:
    """Where the stretch from a to b, as parts of it, crosses an arm's middle line, comes to lie along its side, or
    comes to the side of its eye."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    long = hypot(dx, dy)
    if long < 1e-9:
        return
    for c, d in pairwise(one.points):
        ex, ey = d[0] - c[0], d[1] - c[1]
        other = hypot(ex, ey)
        if other < 1e-9:
            continue
        sine = (dx * ey - dy * ex) / (long * other)
        if abs(sine) < _SLANT:
            yield from _beside(a, (dx, dy), c, (ex / other, ey / other), other, thick)
        if abs(sine) > 1e-9:
            part = ((c[0] - a[0]) * ey - (c[1] - a[1]) * ex) / (sine * long * other)
            along = ((c[0] - a[0]) * dy - (c[1] - a[1]) * dx) / (sine * long * other)
            if -_TOUCH <= part <= 1 + _TOUCH and -_TOUCH <= along <= 1 + _TOUCH:
                yield min(max(part, 0.0), 1.0)
    # The eye: a disc about what it holds.
    (x, y), radius = one.points[0], one.eye.outside_mm
    middle = ((x - a[0]) * dx + (y - a[1]) * dy) / long
    off = abs((x - a[0]) * dy - (y - a[1]) * dx) / long
    if off < radius:
        into = (middle - sqrt(radius * radius - off * off)) / long
        if 0 <= into <= 1:
            yield into


def _beside(a: Vector, ahead: Vector, c: Vector, unit: Vector, other: float, thick: float) -> Iterator[float]:
    """The first part of the stretch from a, as far ahead as that vector, which lies along a line from c, `other` long,
    nearer than two arms side by side."""
    off, away = ((v[0] * unit[1] - v[1] * unit[0]) for v in ((a[0] - c[0], a[1] - c[1]), ahead))
    at, on = ((v[0] * unit[0] + v[1] * unit[1]) for v in ((a[0] - c[0], a[1] - c[1]), ahead))
    first, last = sorted((-at / on, (other - at) / on))  # where it is beside the line; on is never near 0 here
    if abs(away) > 1e-12:
        ends = sorted(((-thick - off) / away, (thick - off) / away))
        first, last = max(first, ends[0]), min(last, ends[1])
    elif abs(off) >= thick:
        return
    first = max(first, 0.0)
    if first <= min(last, 1.0):
        yield first


def _nearest(at: Vector, points: Sequence[Vector]) -> Vector:
    """The point of a line that is nearest."""
    found = []
    for (ax, ay), (bx, by) in pairwise(points):
        dx, dy = bx - ax, by - ay
        square = dx * dx + dy * dy
        part = min(max(((at[0] - ax) * dx + (at[1] - ay) * dy) / square, 0.0), 1.0) if square else 0.0
        found.append((ax + part * dx, ay + part * dy))
    return min(found, key=lambda one: hypot(one[0] - at[0], one[1] - at[1]))
