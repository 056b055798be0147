"""The rollers inside a ring: where they may stand, and which of them hold it.

A mesh pushes its ring inwards, so that a roller must be near it; and a ring whose rollers leave no gap of half a turn
cannot leave them. Rollers stand on a grid of five degrees.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from fractions import Fraction

import numpy as np

from solver.design.train import RollerPlace
from solver.search.bits import mask, rows, set_cells
from solver.search.measures import UM, Measures, apart, spots
from solver.search.places import ROLLER_DIRECTIONS, Places

GRID = ROLLER_DIRECTIONS
STEP = Fraction(360, GRID)
HALF = GRID // 2

Tick = Callable[[], None]


class Wheelhouse:
    """All rollers that one ring may have: their spots, by direction on the grid; what of them may stand together."""

    def __init__(self, measures: Measures, level: int, teeth: int, passes: range) -> None:
        assert measures.fit.rollers is not None
        self.level, self.teeth, self.passes = level, teeth, passes
        far = measures.um(teeth) - float(measures.rim + measures.roller) * UM
        self.possible = far > 0
        turns = [math.radians(float(STEP * index)) for index in range(GRID)]
        self.xs = spots([round(far * math.cos(turn)) for turn in turns])
        self.ys = spots([round(far * math.sin(turn)) for turn in turns])
        need = measures.rounds(measures.roller, measures.roller)
        self.beside = rows(apart(self.xs, self.ys, self.xs, self.ys, need))
        self.reach = float(measures.fit.rollers.reach)
        self.counts = measures.fit.rollers.count

    def at(self, index: int) -> RollerPlace:
        """The roller in a direction of the grid."""
        return RollerPlace(STEP * index, (int(self.xs[index]), int(self.ys[index])))

    def all(self) -> list[RollerPlace]:
        """The rollers in every direction of the grid."""
        return [self.at(index) for index in range(GRID)] if self.possible else []

    def near(self, mesh: float) -> int:
        """The directions within reach of a mesh."""
        found = 0
        for index in range(GRID):
            if turned(float(STEP * index), mesh) <= self.reach:
                found |= 1 << index
        return found

    def holding(self, allowed: int, meshes: tuple[float, ...], tick: Tick) -> Iterator[tuple[int, ...]]:
        """Every choice among the allowed directions that holds the ring, the fewest rollers and equal spacing first;
        some may come twice."""
        wanted = [self.near(mesh) & allowed for mesh in meshes]
        if not self.possible or not all(wanted):
            return
        nearest = round(meshes[0] / float(STEP)) if meshes else 0
        for count in self.counts:
            for turn in sorted(range(-(GRID // 2), GRID // 2), key=lambda turn: (abs(turn), turn)):
                even = sorted((nearest + turn + round(index * GRID / count)) % GRID for index in range(count))
                if self._holds(even, allowed, wanted):
                    yield tuple(even)
            yield from self._completed((), allowed, wanted, meshes, count, tick)

    def _holds(self, chosen: list[int], allowed: int, wanted: list[int]) -> bool:
        there = 0
        for index in chosen:
            if not allowed >> index & 1 or there & ~self.beside[index]:
                return False
            there |= 1 << index
        return all(near & there for near in wanted) and not _gap(chosen)

    def _completed(
        self, chosen: tuple[int, ...], free: int, wanted: list[int], meshes: tuple[float, ...], count: int, tick: Tick
    ) -> Iterator[tuple[int, ...]]:
        """Choices of `count` rollers that begin with those chosen; each next one mends what is amiss first."""
        tick()
        there = sum(1 << index for index in chosen)
        amiss = next((i for i, near in enumerate(wanted) if not near & there), None)
        gap = _gap(sorted(chosen)) if amiss is None else None
        if amiss is None and gap is None and len(chosen) == count:
            yield tuple(sorted(chosen))
        if len(chosen) == count:
            return
        if amiss is not None:
            choice, middle = wanted[amiss], meshes[amiss] / float(STEP)
        elif gap is not None:
            start, length = gap
            choice = sum(1 << (start + index) % GRID for index in range(1 if chosen else 0, length))
            middle = start + length / 2
        else:
            choice, middle = mask(GRID), 0.0
        order = sorted(set_cells(choice & free), key=lambda index: (abs((index - middle + HALF) % GRID - HALF), index))
        for index in order:
            yield from self._completed((*chosen, index), free & self.beside[index], wanted, meshes, count, tick)

    def with_places(self, measures: Measures, places: Places) -> list[int]:
        """For each place of a link or the drive the directions of rollers that it leaves."""
        kept = np.ones((len(places), GRID), bool)
        for gear in places.gears:
            if gear.level == self.level:
                kept &= apart(gear.xs, gear.ys, self.xs, self.ys, measures.gear_and(gear.teeth, measures.roller))
            if gear.level in self.passes:
                kept &= apart(gear.xs, gear.ys, self.xs, self.ys, measures.gear_and(gear.teeth, measures.post))
        for post in places.posts:
            if self.level in post.passes:
                kept &= apart(post.xs, post.ys, self.xs, self.ys, measures.rounds(measures.post, measures.roller))
            if set(post.passes) & set(self.passes):
                kept &= apart(post.xs, post.ys, self.xs, self.ys, measures.rounds(measures.post, measures.post))
        return rows(kept)

    def with_rollers(self, measures: Measures, other: Wheelhouse) -> list[int]:
        """For each direction the directions of rollers in another ring that it leaves."""
        kept = np.ones((GRID, GRID), bool)
        if self.level in other.passes or other.level in self.passes:
            kept &= apart(self.xs, self.ys, other.xs, other.ys, measures.rounds(measures.post, measures.roller))
        if set(self.passes) & set(other.passes):
            kept &= apart(self.xs, self.ys, other.xs, other.ys, measures.rounds(measures.post, measures.post))
        return rows(kept)


def turned(one: float, other: float) -> float:
    """The angle between two directions [degrees, 0 to 180]."""
    return abs((one - other + 180) % 360 - 180)


def _gap(chosen: list[int]) -> tuple[int, int] | None:
    """The first gap of half a turn or more between neighbours in ascending order, as (where it begins, its length)."""
    if not chosen:
        return 0, GRID
    for index, here in enumerate(chosen):
        after = chosen[index + 1] if index + 1 < len(chosen) else chosen[0] + GRID
        if after - here >= HALF:
            return here, after - here
    return None
