"""What touches on different levels: parts thicker than their level leaves, where they overlap in the plane.

A gear is a disc as thick as its form makes it, and one more for its hub where that is thicker. Two discs that touch
along the axis keep the clearance in the plane, as two on one level do; wheel and pinion, which turn together, are no
matter of places (`levels`). Posts need nothing of their own: where one begins, what it carries is larger, and on the
levels that it passes it keeps clear of every gear, however thick (rule `post`).

Where all parts keep to their levels nothing of this is measured (`Measures.thick` is None).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations
from typing import Protocol

import numpy as np

from solver.search.place.measures import UM, Measures, apart, beside, least_of, needs, squares
from solver.search.place.shapes import ArborShape
from solver.search.reaches import BEHIND, GEAR, THIRD

Sizes = int | np.ndarray


class GearAt(Protocol):
    """A gear at all places of what it belongs to."""

    @property
    def level(self) -> int: ...
    @property
    def size(self) -> Sizes: ...
    @property
    def xs(self) -> np.ndarray: ...
    @property
    def ys(self) -> np.ndarray: ...


@dataclass(frozen=True, eq=False)
class SlabDisc:
    """A gear or its hub, at all places; thick: along the axis [mm], half of it on either side of its level's middle;
    turning: whether it is fixed on the arbor."""

    level: int
    thick: Fraction
    size: Sizes
    xs: np.ndarray
    ys: np.ndarray
    turning: bool


def discs_of(measures: Measures, shape: ArborShape, gears: Sequence[GearAt]) -> list[SlabDisc]:
    """The discs of the gears that places of such a shape have."""
    levels, found = measures.thick, list[SlabDisc]()
    if levels is None:
        return found
    roles = [role for side in shape.sides for role in ((GEAR,) if side.third is None else (BEHIND, THIRD))]
    for role, gear in zip(roles, gears, strict=True):
        thick, turning = levels.thick(role), role != THIRD
        found.append(SlabDisc(gear.level, thick, gear.size, gear.xs, gear.ys, turning))
        if measures.hubs and levels.hub > thick:
            size = int(levels.hub_radius_mm * UM)  # of no teeth
            sizes = size if isinstance(gear.size, int) else np.full(len(gear.size), size, gear.size.dtype)
            found.append(SlabDisc(gear.level, levels.hub, sizes, gear.xs, gear.ys, turning))
    return found


def meeting(
    measures: Measures, some: Iterable[SlabDisc], others: Sequence[SlabDisc]
) -> Iterator[tuple[SlabDisc, SlabDisc]]:
    """Every two of these on different levels that touch along the axis."""
    levels = measures.thick
    for one in some if levels is not None else ():
        for other in others:
            between = abs(one.level - other.level)
            if levels is not None and between and levels.touch(one.thick, other.thick, between):
                yield one, other


def near(measures: Measures, some: Iterable[int], others: Iterable[int]) -> bool:
    """Whether anything on these levels can touch anything on those: on one level, or thick things on two."""
    levels, between = measures.thick, {abs(one - other) for one in some for other in others}
    if 0 in between or levels is None or not between:
        return 0 in between
    return levels.touch(levels.thickest, levels.thickest, min(between))


def levels_clear(measures: Measures, some: Sequence[SlabDisc], others: Sequence[SlabDisc]) -> Iterator[np.ndarray]:
    """Which places of two things leave these discs of theirs clear of each other, two by two."""
    for one, other in meeting(measures, some, others):
        size = one.size + other.size if isinstance(one.size, int) else np.reshape(one.size, (-1, 1)) + other.size
        yield apart(one.xs, one.ys, other.xs, other.ys, needs(measures.gears, size))


def own_clear(measures: Measures, discs: Sequence[SlabDisc]) -> Iterator[np.ndarray]:
    """At which places a third gear is clear of what else its link has on the other level."""
    for one, other in combinations(discs, 2):
        if one.turning and other.turning:
            continue
        for a, b in meeting(measures, [one], [other]):
            need = needs(measures.gears, a.size + b.size)
            yield squares(a.xs - b.xs, a.ys - b.ys) >= least_of(need, a.xs, b.xs)


def among_rings(measures: Measures, discs: Sequence[SlabDisc], rings: Sequence[int]) -> Iterator[np.ndarray]:
    """At which places these are clear of the rings of other levels, and within the frame's depth."""
    levels = measures.thick
    for disc in discs if levels is not None else ():
        assert levels is not None
        if not levels.within(disc.thick, disc.level, len(rings)):
            yield np.zeros(len(disc.xs), bool)
        for level in levels.rings_at(disc.thick, disc.level, len(rings)):
            if isinstance(disc.size, int):
                yield beside(disc.xs, disc.ys, measures.ring_and_gear(rings[level], disc.size))
                continue
            kept = np.ones(len(disc.xs), bool)
            for size in np.unique(disc.size).tolist():
                here = disc.size == size
                kept[here] = beside(disc.xs[here], disc.ys[here], measures.ring_and_gear(rings[level], size))
            yield kept


def rings_clear(measures: Measures, rings: Sequence[int]) -> bool:
    """Whether no two rings touch, and these and the links between them may be within the frame's depth."""
    levels, count = measures.thick, len(rings)
    if levels is None:
        return True
    room = measures.rim + measures.ring_tip + measures.clearance
    return levels.ends(count) and all(
        (rings[j] - rings[i]) * measures.low >= room
        for i, j in combinations(range(count), 2)
        if levels.touch(levels.ring, levels.ring, j - i)
    )


def touching_rollers(measures: Measures, level: int, other: int) -> bool:
    """Whether the rollers of these two levels touch along the axis."""
    levels = measures.thick
    return levels is not None and level != other and levels.touch(levels.roller, levels.roller, abs(level - other))


def roller_clear(
    measures: Measures, level: int, xs: np.ndarray, ys: np.ndarray, discs: Iterable[SlabDisc]
) -> Iterator[np.ndarray]:
    """For each disc on another level that the rollers of this level, at these spots, touch along the axis: which of
    its places (rows) leave which rollers (columns)."""
    levels = measures.thick
    for disc in discs if levels is not None else ():
        assert levels is not None
        between = abs(disc.level - level)
        if between and levels.touch(disc.thick, levels.roller, between):
            need = needs(lambda size: measures.gear_and(size, measures.roller), disc.size)
            if not isinstance(need, int):
                need = np.reshape(need, (-1, 1))
            yield apart(disc.xs, disc.ys, xs, ys, need)


def rollers_among_rings(
    measures: Measures, level: int, xs: np.ndarray, ys: np.ndarray, rings: Sequence[int]
) -> Iterator[np.ndarray]:
    """Which rollers of a level, at these spots, are clear of the rings of others, and within the frame's depth."""
    levels = measures.thick
    if levels is None:
        return
    if not levels.within(levels.roller, level, len(rings)):
        yield np.zeros(len(xs), bool)
    for other in levels.rings_at(levels.roller, level, len(rings)):
        yield beside(xs, ys, measures.ring_and(rings[other], measures.roller))
