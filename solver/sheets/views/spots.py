"""What is drilled: the spot, level, diameter and slot of every arbor, third gear, roller and of the motor.

The slot. A hand-made gear is never exactly as large as drawn, so what carries it can be moved until it meshes well:
as far as all its meshes run (`sheets.gears.adjust`). A roller moves towards and away from the main axis, half the
addendum each way, until it touches the inner edge of its ring; rings stay about the main axis, so no mesh changes.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import atan2, degrees, floor, hypot

from solver.design.design import Design
from solver.design.links import KIND_BY_NAME
from solver.design.train import Placement, Train
from solver.sheets.draw.drawing import Point, polar
from solver.sheets.gears.adjust import Slot, most_travel_mm, posts_of, slots_of
from solver.words.lengths import Lengths


@dataclass(frozen=True)
class Drilled:
    """Something that stands on a post or arbor.

    name: as it is lettered on the drawings. what: "arbor", "third", "roller" or "motor"; told: the same in words.
    levels: the first and last level that it takes. at: from the main axis, seen from the front [mm]. diameter: of the
    post that goes through the hole [mm]; arbors are sleeves that turn on theirs.
    slot_deg: the direction outwards, in which it can be moved. inward, outward: how far against it and along it [mm];
    both 0: a round hole.
    """

    name: str
    what: str
    told: str
    levels: tuple[int, int]
    at: Point
    diameter: float
    slot_deg: float
    inward: float
    outward: float

    @property
    def slot_length(self) -> float:
        """From end to end [mm]."""
        return self.diameter + self.inward + self.outward

    @property
    def middle(self) -> Point:
        """The middle of the slot, from the main axis [mm]."""
        (x, y), (x2, y2) = self.ends
        return (x + x2) / 2, (y + y2) / 2

    @property
    def ends(self) -> tuple[Point, Point]:
        """The middles of both ends of the slot, the inner one first, from the main axis [mm]."""
        near, far = polar(self.inward, self.slot_deg), polar(self.outward, self.slot_deg)
        return (self.at[0] - near[0], self.at[1] - near[1]), (self.at[0] + far[0], self.at[1] + far[1])


def drilled(design: Design, train: Train) -> tuple[Drilled, ...]:
    """Everything that is drilled for: arbors by link, each followed by its third gears, the motor, then the rollers.

    Raises ValueError for a train without places.
    """
    if train.placement is None:
        raise ValueError("a train without places cannot be drilled for; the design needs fit.directions")
    return tuple(_Holes(design, train, train.placement))


class _Holes:
    def __init__(self, design: Design, train: Train, placement: Placement) -> None:
        self.train, self.placement = train, placement
        self.diameter = 2 * float(design.fit.post_radius)
        self.posts, self.slots = posts_of(train), slots_of(design, train)
        most = most_travel_mm(design)
        self.of_roller = Slot(most, most)

    def __iter__(self) -> Iterator[Drilled]:
        for index, link in enumerate(self.train.links):
            yield self._post(f"L{index}", "arbor", f"arbor of link {index}", (index, index + 1))
            kind = KIND_BY_NAME[link.kind]
            for side in range(len(link.thirds)):
                wheel = side < kind.wheel_thirds
                level, letter, towards = (index, "w", "wheel") if wheel else (index + 1, "p", "pinion")
                told = f"third gear of link {index} ({towards} side)"
                yield self._post(f"L{index}{letter}", "third", told, (level, level))
        drive = self.placement.drive
        if drive is not None:
            on = (drive.ring, drive.ring)
            yield self._post("M", "motor", "motor's shaft", on)
            if drive.thirds:
                yield self._post("Mt", "third", "third gear of the motor", on)
        for ring, rollers in enumerate(self.placement.rollers):
            for number, roller in enumerate(rollers, start=1):
                at, told = (roller.spot[0] / 1000, roller.spot[1] / 1000), f"roller {number} of ring {ring}"
                turn = degrees(atan2(at[1], at[0])) % 360
                yield self._hole(f"r{ring}.{number}", "roller", told, (ring, ring), at, turn, self.of_roller)

    def _post(self, name: str, what: str, told: str, levels: tuple[int, int]) -> Drilled:
        post = self.posts[name]
        return self._hole(name, what, told, levels, post.at, post.direction_deg, self.slots[name])

    def _hole(
        self, name: str, what: str, told: str, levels: tuple[int, int], at: Point, turn: float, slot: Slot
    ) -> Drilled:
        return Drilled(name, what, told, levels, at, self.diameter, turn, slot.inward_mm, slot.outward_mm)


# -- where it is measured from ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Origin:
    """Where coordinates are measured from: the point, from the main axis [mm], and what it is in words."""

    at: Point
    told: str


def origin_of(design: Design) -> Origin:
    """The frame's lower left corner; the middle of a round frame; without a frame the main axis."""
    frame = design.fit.frame
    if frame is None:
        return Origin((0.0, 0.0), "the main axis")
    if frame.round:
        return Origin((0.0, 0.0), "the middle of the round frame, which is the main axis")
    return Origin((-float(frame.width) / 2, -float(frame.height) / 2), "the frame's lower left corner")


def level_depths(design: Design, levels: int) -> tuple[list[float], float, str]:
    """How deep each level lies [mm], the depth of all, and from where it is measured.

    From the plate, which is half a level spacing beyond the last level on its side; without one likewise from the side
    of ring 0. What the frame is deeper than the levels is free at the other side.
    """
    spacing, frame = float(design.rings.level_spacing), design.fit.frame
    deep = float(frame.depth) if frame is not None and frame.depth is not None else levels * spacing
    depths = [(level + 0.5) * spacing for level in range(levels)]
    if design.fit.plate == "outer":
        return depths[::-1], deep, "the plate, which is beyond the largest ring"
    if design.fit.plate == "inner":
        return depths, deep, "the plate, which is behind the smallest ring"
    return depths, deep, "half a level spacing behind the smallest ring"


# -- tables ----------------------------------------------------------------------------------------------------------


def drilling_table(design: Design, train: Train, lengths: Lengths) -> tuple[list[str], list[list[str]]]:
    """The drilling table: heads and rows, lengths in each of the units that are told."""
    origin = origin_of(design)
    depths, _, _ = level_depths(design, len(train.rings))
    units = lengths.units
    heads = ["name", "what", *(f"{axis} [{unit}]" for unit in units for axis in ("x", "y"))]
    heads += [*(f"Ø [{unit}]" for unit in units), "level", *(f"depth [{unit}]" for unit in units)]
    heads += [*(f"{way} [{unit}]" for unit in units for way in ("in", "out")), "out at [°]"]
    rows = []
    for one in drilled(design, train):
        x, y = one.at[0] - origin.at[0], one.at[1] - origin.at[1]
        far = max(depths[level] for level in one.levels)
        level = str(one.levels[0]) if one.levels[0] == one.levels[1] else f"{one.levels[0]} to {one.levels[1]}"
        row = [one.name, one.told, *(lengths.bare(side, unit, 2) for unit in units for side in (x, y))]
        row += [*(lengths.bare(one.diameter, unit, 2) for unit in units), level]
        row += [lengths.bare(far, unit, 2) for unit in units]
        row += [lengths.bare(told_inwards(far, unit), unit, 2) for unit in units for far in (one.inward, one.outward)]
        row.append(f"{one.slot_deg:.1f}" if one.inward or one.outward else "round")
        rows.append(row)
    return heads, rows


def told_inwards(mm: float, unit: str) -> float:
    """How far a slot goes [mm], so that it is told no longer than it is."""
    return floor(mm / 0.0254 + 1e-6) * 0.0254 if unit == "in" else mm


def close_pairs(design: Design, train: Train) -> list[tuple[Drilled, Drilled, float]]:
    """Pairs of slots in the plate between which less than the larger diameter is left, with what is left [mm];
    negative where they run into each other. Empty without a plate. Lengths between the middles of both slots' ends."""
    if design.fit.plate == "none":
        return []
    found = []
    holes = drilled(design, train)
    for number, one in enumerate(holes):
        for other in holes[:number]:
            left = _apart(one, other) - (one.diameter + other.diameter) / 2
            if left < max(one.diameter, other.diameter):
                found.append((other, one, left))
    return found


def _apart(one: Drilled, other: Drilled) -> float:
    """How far the middle lines of two slots are apart [mm]."""
    ends, others = one.ends, other.ends
    if _cross(ends, others):
        return 0.0
    return min(
        *(_to_line(point, others) for point in ends),
        *(_to_line(point, ends) for point in others),
    )


def _to_line(point: Point, line: tuple[Point, Point]) -> float:
    (x0, y0), (x1, y1) = line
    long = (x1 - x0) ** 2 + (y1 - y0) ** 2
    part = 0.0
    if long > 0:
        part = min(max(((point[0] - x0) * (x1 - x0) + (point[1] - y0) * (y1 - y0)) / long, 0.0), 1.0)
    return hypot(point[0] - x0 - part * (x1 - x0), point[1] - y0 - part * (y1 - y0))


def _cross(one: tuple[Point, Point], other: tuple[Point, Point]) -> bool:
    def side(line: tuple[Point, Point], point: Point) -> float:
        (x0, y0), (x1, y1) = line
        return (x1 - x0) * (point[1] - y0) - (y1 - y0) * (point[0] - x0)

    return side(one, other[0]) * side(one, other[1]) < 0 and side(other, one[0]) * side(other, one[1]) < 0
