"""The judge of arms: whether each arbor, third gear, roller and motor is reached from the frame in its own gap.

An arm is a wire in the middle of a gap, straight or bent once, from what it holds to the inside of the frame. Lines are
taken as they stand, their ends in round frames a nanometre too far out. Distances are floats, which are good to a
millionth of a mm; what is nearer to its limit than that is decided by Fractions.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import hypot, isqrt

from solver.check.level import SLACK, Thicknesses, thicknesses_of
from solver.check.level import told as level_told
from solver.check.room import Check, Room
from solver.check.sag import arm_holds
from solver.design.design import Design
from solver.design.links import KIND_BY_NAME
from solver.design.train import Spot, Train

DOUBT = 1e-6  # mm: nearer to a limit than this floats do not decide
_NANO = 10**6  # nanometres in a mm

ExactPoint = tuple[Fraction, Fraction]


@dataclass(frozen=True)
class Held:
    """What an arm holds. owner: "link 3", "ring 2" or "drive"; what: "arbor", "third gear", "roller 1" or "motor";
    name: as on the drawings; gap: g lies between levels g and g + 1."""

    owner: str
    what: str
    name: str
    gap: int
    spot: Spot


@dataclass(frozen=True)
class ArmLine:
    """The middle line of an arm [mm], from what it holds, over its bend if it has one, to the frame. side: of that,
    "right", "left", "top", "bottom", or "corner". rounded: whether its end is a nanometre off."""

    points: tuple[ExactPoint, ...]
    side: str
    rounded: bool = False

    @property
    def length_mm(self) -> float:
        """Its length, from end to end."""
        points = [(float(x), float(y)) for x, y in self.points]
        return sum(hypot(bx - ax, by - ay) for (ax, ay), (bx, by) in pairwise(points))


@dataclass(frozen=True)
class _Blocked:
    """A disc about a spot, or (outer given) a ring about the main axis from `radius` to `outer`, that an arm's middle
    line must not come into [mm]: the arm's half thickness and the clearance are in it. deep: by how much levels would
    have to be farther apart [mm] for it not to be in the way; 0: it would always be."""

    name: str
    at: ExactPoint
    radius: Fraction
    outer: Fraction | None = None
    deep: Fraction = Fraction(0)


def arm_checks(room: Room) -> Iterator[Check]:
    """One check for each thing that needs an arm: kept where some clear arm does not bend too far; its margin that of
    the arm with the most room."""
    if not room.design.armed:
        return
    for held in held_of(room):
        lines, blocked = family(room.design, held.spot), tuple(_blocked(room, held))
        measured = [(*_room_of(line, blocked), line) for line in lines]
        best, beside, _ = max(measured, key=lambda one: one[0])
        clear = [line for margin, _, line in measured if _clear(line, blocked, margin)]
        named = held.what if held.what == "motor" else f"{held.what} {held.name}"
        if any(stiff_ones(room.design, held, clear)):
            yield Check("arm", held.owner, f"arm to the {named}", True, best)
            continue
        told = f"no arm reaches the {named} {gap_told(held.gap, room.count)}"
        over = max((one for one in blocked if _covers(one, held)), key=lambda one: one.deep, default=None)
        if clear:
            yield Check("arm", held.owner, f"{told} but such as would bend too far", False, 0.0)
        elif over is not None:  # a part is too thick: no arm can come from under it
            need = level_told(room.design, room.rings.level_spacing + over.deep, up=True)
            told += f", as thick as {over.name} is; a rings.level_spacing of {need} would do"
            yield Check("arm", held.owner, told, False, -float(over.deep))
        else:
            yield Check("arm", held.owner, f"{told}; beside {beside}, at the best", False, min(best, -DOUBT))


def _covers(one: _Blocked, held: Held) -> bool:
    """Whether a tall part stands over what is held."""
    at = _exact(held.spot)
    return one.deep > 0 and one.outer is None and _square(one.at, at, at) < one.radius * one.radius


def gap_told(gap: int, levels: int) -> str:
    """ "in gap 2, between levels 2 and 3"."""
    if gap < 0:
        return "in gap -1, beyond level 0"
    if gap == levels - 1:
        return f"in gap {gap}, beyond level {gap}"
    return f"in gap {gap}, between levels {gap} and {gap + 1}"


def stiff_ones(design: Design, held: Held, lines: Iterable[ArmLine]) -> Iterator[ArmLine]:
    """Those that bend no farther than the rule `sag` allows."""
    holds = arm_holds(design, held.owner, held.what)
    return (line for line in lines if holds(line.length_mm, len(line.points) > 2))


def clear_arms(design: Design, train: Train) -> dict[Held, tuple[ArmLine, ...]]:
    """Every clear arm of what needs one in a placed train, in the order of the family, though it may bend too far."""
    room = Room(design, train)
    return {held: clear_ones(room, held, family(design, held.spot)) for held in held_of(room)}


def clear_ones(room: Room, held: Held, lines: Iterable[ArmLine]) -> tuple[ArmLine, ...]:
    """Those of some lines that keep clear of all that is in the way of an arm to what is held."""
    blocked = tuple(_blocked(room, held))
    return tuple(line for line in lines if _clear(line, blocked, _room_of(line, blocked)[0]))


# -- what is held, and where ------------------------------------------------------------------------------------------


def held_of(room: Room) -> Iterator[Held]:
    """Everything that an arm must hold: arbors and third gears in the gap of their link; rollers, and the motor with
    its third gear, on the side of level 0 where rods reach outwards, else on the other side of their ring."""
    back = 1 if room.fit.stands == "outer" else 0
    for index, (link, place) in enumerate(zip(room.train.links, room.placement.links, strict=True)):
        yield Held(f"link {index}", "arbor", f"L{index}", index, place.arbor)
        wheels = KIND_BY_NAME[link.kind].wheel_thirds
        for number, spot in enumerate(place.thirds):
            yield Held(f"link {index}", "third gear", f"L{index}{'w' if number < wheels else 'p'}", index, spot)
    for ring, rollers in enumerate(room.placement.rollers):
        for number, roller in enumerate(rollers, start=1):
            yield Held(f"ring {ring}", "roller", f"r{ring}.{number}", ring - back, roller.spot)
    drive = room.placement.drive
    if drive is not None:
        yield Held("drive", "motor", "M", drive.ring - back, drive.at.arbor)
        for spot in drive.at.thirds:
            yield Held("drive", "third gear", "Mt", drive.ring - back, spot)


# -- arms -------------------------------------------------------------------------------------------------------------


def family(design: Design, spot: Spot) -> tuple[ArmLine, ...]:
    """The arms that may be built from a spot: straight to the four sides and the four corners, and bent once on the
    quarter lines of the frame, with both legs along its sides."""
    frame = design.fit.frame
    assert frame is not None
    x, y = Fraction(spot[0], 1000), Fraction(spot[1], 1000)
    wide, high = frame.width / 2, (frame.width if frame.round else frame.height) / 2

    def across(far: Fraction, most: Fraction) -> Fraction | None:
        """Where a line along a side, so far from the main axis, ends; None outside of a round frame."""
        return _chord(wide, far) if frame.round else most

    found: list[ArmLine] = []

    def add(points: list[ExactPoint], side: str) -> None:
        found.append(ArmLine(tuple(points), side, frame.round))

    def along_x(at: ExactPoint, before: list[ExactPoint]) -> None:
        end = across(at[1], wide)
        if end is not None:
            add([*before, (end, at[1])], "right")
            add([*before, (-end, at[1])], "left")

    def along_y(at: ExactPoint, before: list[ExactPoint]) -> None:
        end = across(at[0], high)
        if end is not None:
            add([*before, (at[0], end)], "top")
            add([*before, (at[0], -end)], "bottom")

    start = (x, y)
    along_x(start, [start])
    along_y(start, [start])
    corner = (_root_up(wide * wide / 2),) * 2 if frame.round else (wide, high)
    for right in (1, -1):
        for up in (1, -1):
            add([start, (right * corner[0], up * corner[1])], "corner")
    for quarter in range(-3, 4):
        bend = (Fraction(quarter, 4) * wide, y)
        if bend != start and not (frame.round and _outside(bend, wide)):
            along_y(bend, [start, bend])
    for quarter in range(-3, 4):
        bend = (x, Fraction(quarter, 4) * high)
        if bend != start and not (frame.round and _outside(bend, wide)):
            along_x(bend, [start, bend])
    return tuple(found)


def _outside(at: ExactPoint, radius: Fraction) -> bool:
    return at[0] * at[0] + at[1] * at[1] > radius * radius


def _chord(radius: Fraction, far: Fraction) -> Fraction | None:
    """Half the chord so far from the middle [mm], at most a nanometre too long; None where there is none."""
    square = radius * radius - far * far
    return _root_up(square) if square > 0 else None


def _root_up(square: Fraction) -> Fraction:
    scaled = square * _NANO * _NANO
    return Fraction(isqrt(scaled.numerator // scaled.denominator) + 1, _NANO)


# -- what is in the way -----------------------------------------------------------------------------------------------


def _blocked(room: Room, held: Held) -> Iterator[_Blocked]:
    """What an arm must keep clear of in a gap: what is tall on both its levels, the link's arbor, and the rods that
    sweep through it."""
    supports, thick = room.design.supports, thicknesses_of(room.design)
    assert supports is not None
    gap, half = held.gap, supports.arm_mm / 2
    around = half + room.fit.clearance
    levels = [level for level in (gap, gap + 1) if 0 <= level < room.count]

    def beyond(thickness: Fraction) -> Fraction:
        """How far levels are too near for a part of that thickness; none is in the way at 0 and below."""
        return thickness + 2 * around - room.rings.level_spacing

    for part in (*room.gears, *room.rollers):
        deep = beyond(_thickness(room.design, thick, part.role) if part.role else thick.roller)
        if part.level in levels and deep > 2 * SLACK:
            name = f"the {part.name} of {part.owner}" if part.role else f"{part.name} of {part.owner}"
            yield _Blocked(name, _exact(part.spot), part.radius.high + around, None, deep)
    if 0 <= gap < len(room.placement.links) and (held.owner, held.what) != (f"link {gap}", "arbor"):
        at = _exact(room.placement.links[gap].arbor)
        sleeve = room.design.wire.arbor_diameter
        turning = room.fit.post_radius + 1 if sleeve is None else sleeve / 2
        yield _Blocked(f"the arbor of link {gap}", at, turning + around)
    axis = (Fraction(0), Fraction(0))
    if beyond(thick.teeth) > 2 * SLACK:
        for level in levels:
            inner, outer = room.hole(level).low - around, room.ring_tip(level).high + around
            yield _Blocked(f"ring {level}", axis, inner, outer)
    for ring in room.train.seats:
        passes = {"outer": gap >= ring, "inner": gap <= ring - 1}.get(room.fit.stands, False)
        if passes:
            circle, rod = room.stand(ring), room.fit.post_radius + around
            yield _Blocked(f"the stand on ring {ring}", axis, circle.low - rod, circle.high + rod)


def _thickness(design: Design, thick: Thicknesses, role: str) -> Fraction:
    """Of a small gear with its hub [mm]."""
    pinned = {"gear": True, "third gear": design.wire.third == "pins", "behind": design.wire.third == "teeth"}[role]
    return max(thick.pins if pinned else thick.teeth, thick.hub)


def _exact(spot: Spot) -> ExactPoint:
    return Fraction(spot[0], 1000), Fraction(spot[1], 1000)


# -- measuring --------------------------------------------------------------------------------------------------------


def _room_of(line: ArmLine, blocked: tuple[_Blocked, ...]) -> tuple[float, str]:
    """How far a line stays out of what is in its way [mm], and of what it stays out least."""
    points = [(float(x), float(y)) for x, y in line.points]
    far = max(hypot(*point) for point in points)
    least, beside = float("inf"), "nothing"
    for one in blocked:
        x, y = float(one.at[0]), float(one.at[1])
        apart = min(_apart(x, y, *a, *b) for a, b in pairwise(points))
        if one.outer is None:
            margin = apart - float(one.radius)
        else:
            margin = max(apart - float(one.outer), float(one.radius) - far)
        if margin < least:
            least, beside = margin, one.name
    return least, beside


def _apart(x: float, y: float, ax: float, ay: float, bx: float, by: float) -> float:
    """From a point to a stretch of line."""
    dx, dy = bx - ax, by - ay
    square = dx * dx + dy * dy
    part = ((x - ax) * dx + (y - ay) * dy) / square if square else 0.0
    part = min(max(part, 0.0), 1.0)
    return hypot(x - ax - part * dx, y - ay - part * dy)


def _clear(line: ArmLine, blocked: tuple[_Blocked, ...], margin: float) -> bool:
    """Whether a line stays out of all that is in its way; margin: its room by floats."""
    if line.rounded or abs(margin) > DOUBT:
        return margin > -DOUBT
    return all(_stays_out(line, one) for one in blocked)


def _stays_out(line: ArmLine, one: _Blocked) -> bool:
    stretches = list(pairwise(line.points))
    nearest = min(_square(one.at, start, end) for start, end in stretches)
    if one.outer is None:
        return nearest >= one.radius * one.radius
    farthest = max(x * x + y * y for x, y in line.points)
    inside = one.radius >= 0 and farthest <= one.radius * one.radius
    return inside or nearest >= one.outer * one.outer


def _square(at: ExactPoint, start: ExactPoint, end: ExactPoint) -> Fraction:
    """The square of the distance from a point to a stretch of line."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    square = dx * dx + dy * dy
    part = ((at[0] - start[0]) * dx + (at[1] - start[1]) * dy) / square if square else Fraction(0)
    part = min(max(part, Fraction(0)), Fraction(1))
    return (at[0] - start[0] - part * dx) ** 2 + (at[1] - start[1] - part * dy) ** 2
