"""The rollers inside a ring: where they may stand, and which of them hold it.

A mesh pushes its ring inwards, so that a roller must be near it; and a ring whose rollers leave no gap of half a turn
cannot leave them; by the rule `sag` gaps may have to be narrower, or rollers to stand evenly. Rollers stand on a grid
of five degrees.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from fractions import Fraction

import numpy as np

from solver.design.train import RollerPlace
from solver.search.bits import mask, rows, set_cells
from solver.search.place.arm_ways import ROLLER
from solver.search.place.measures import UM, Measures, apart, spots
from solver.search.place.places import Places, slabs_at
from solver.search.place.shapes import share
from solver.search.place.slabs import roller_clear, touching_rollers
from solver.search.roller_gaps import FREE, GRID, RollerGaps, even_row

STEP = Fraction(360, GRID)
HALF = GRID // 2
_ANGLES = [float(STEP * index) for index in range(GRID)]
_TURNS = sorted(range(-HALF, HALF), key=lambda turn: (abs(turn), turn))  # away from the nearest direction

Tick = Callable[[], None]


class Wheelhouse:
    """All rollers that one ring may have: their spots, by direction on the grid; what of them may stand together."""

    def __init__(self, measures: Measures, level: int, teeth: int, passes: range, gaps: RollerGaps = FREE) -> None:
        assert measures.fit.rollers is not None
        self.level, self.teeth, self.passes, self.gaps = level, teeth, passes, gaps
        far = measures.um(teeth) - float(measures.rim + measures.roller) * UM
        self.possible = far > 0
        turns = [math.radians(float(STEP * index)) for index in range(GRID)]
        self.xs = spots([round(far * math.cos(turn)) for turn in turns])
        self.ys = spots([round(far * math.sin(turn)) for turn in turns])
        need = measures.rounds(measures.roller, measures.roller)
        if measures.eyes is not None:
            need = max(need, measures.eyes.need(ROLLER, ROLLER))
        self.beside = rows(apart(self.xs, self.ys, self.xs, self.ys, need))
        self.reach = float(measures.fit.rollers.reach)
        self.counts = measures.fit.rollers.count
        self._near: dict[float, int] = {}
        self._rows: dict[int, list[tuple[tuple[int, ...], int] | None]] = {}
        self._seen_from: dict[int, tuple[list[int], int]] = {}

    def at(self, index: int) -> RollerPlace:
        """The roller in a direction of the grid."""
        return RollerPlace(STEP * index, (int(self.xs[index]), int(self.ys[index])))

    def all(self) -> list[RollerPlace]:
        """The rollers in every direction of the grid."""
        return [self.at(index) for index in range(GRID)] if self.possible else []

    def near(self, mesh: float) -> int:
        """The directions within reach of a mesh."""
        if mesh not in self._near:
            angles = enumerate(_ANGLES)
            self._near[mesh] = sum(1 << index for index, angle in angles if turned(angle, mesh) <= self.reach)
        return self._near[mesh]

    def holding(self, allowed: int, meshes: tuple[float, ...], tick: Tick) -> Iterator[tuple[int, ...]]:
        """Every choice among the allowed directions that holds the ring, the fewest rollers and equal spacing first;
        some may come twice."""
        wanted = [self.near(mesh) & allowed for mesh in meshes]
        if not self.possible or not all(wanted):
            return
        nearest = round(meshes[0] / float(STEP)) if meshes else 0
        for count in self.counts:
            evenly = self._evenly(count)
            for turn in _TURNS:
                row = evenly[(nearest + turn) % GRID]
                if row is not None and not row[1] & ~allowed and all(near & row[1] for near in wanted):
                    yield row[0]
            if count * self.gaps.widest >= GRID:
                yield from self._chains(allowed, wanted, nearest, count, tick)

    def _chains(
        self, allowed: int, wanted: list[int], nearest: int, count: int, tick: Tick
    ) -> Iterator[tuple[int, ...]]:
        """Every choice of `count` rollers that holds the ring, found without a dead end.

        Dynamic programming over layers, a layer a roller: the circle is walked once round from one that holds the first
        mesh. What a roller can be followed by is known from behind: for so many rollers still to come and the meshes
        held so far, the set of directions from which the walk can be ended.
        """
        starts = set_cells(wanted[0] if wanted else allowed)
        for start in sorted(starts, key=lambda index: (abs((index - nearest + HALF) % GRID - HALF), index)):
            tick()
            free = _turned(allowed, start)
            ahead, closing = self._from(start)
            near = [_turned(one, start) for one in wanted]
            held = [sum(1 << mesh for mesh, one in enumerate(near) if one >> at & 1) for at in range(GRID)]
            alike: dict[int, int] = {}  # directions by the meshes that a roller there holds
            for at in set_cells(free):
                alike[held[at]] = alike.get(held[at], 0) | 1 << at
            everything, standing = mask(len(wanted)), [0, *set_cells(free & ~1)]
            good: list[dict[int, int]] = [{everything: closing & free}]
            for _ in range(count - 1):
                further: dict[int, int] = {}
                for before in range(everything + 1):
                    onward = 0
                    for more, there in alike.items():
                        onward |= there & good[-1].get(before | more, 0)
                    if onward:
                        further[before] = sum(1 << at for at in standing if ahead[at] & onward)
                good.append(further)
            if good[-1].get(held[0], 0) & 1:
                onward_from = [some & free for some in ahead]
                for offsets in _walks(good, onward_from, held, (0,), held[0], count - 1):
                    yield tuple(sorted((start + at) % GRID for at in offsets))

    def _from(self, start: int) -> tuple[list[int], int]:
        """As seen from one direction: for each one those that may follow it, and those that may be the last."""
        if start not in self._seen_from:
            beside = [_turned(self.beside[(start + at) % GRID], start) for at in range(GRID)]
            ahead = [beside[at] & (mask(self.gaps.widest) << (at + 1)) & mask(GRID) for at in range(GRID)]
            self._seen_from[start] = (
                ahead,
                sum(1 << at for at in range(GRID - self.gaps.widest, GRID) if beside[at] & 1),
            )
        return self._seen_from[start]

    def _evenly(self, count: int) -> list[tuple[tuple[int, ...], int] | None]:
        """So many rollers that stand evenly, the first of them in each direction, and the same as bits; None: there
        they are in each other's way, or do not hold the ring."""
        if count not in self._rows:
            self._rows[count] = [self._row([(turn + at) % GRID for at in even_row(count)]) for turn in range(GRID)]
        return self._rows[count]

    def _row(self, some: list[int]) -> tuple[tuple[int, ...], int] | None:
        chosen, there = sorted(some), 0
        for index in chosen:
            if there & ~self.beside[index]:
                return None
            there |= 1 << index
        gaps = [after - here for here, after in zip(chosen, [*chosen[1:], chosen[0] + GRID], strict=True)]
        narrow = max(gaps) <= self.gaps.widest or len(chosen) in self.gaps.even
        return (tuple(chosen), there) if narrow else None

    def with_places(self, measures: Measures, places: Places) -> list[int]:
        """For each place of a link or the drive the directions of rollers that it leaves."""
        kept = np.ones((len(places), GRID), bool)
        for gear in places.gears:
            if gear.level == self.level:
                kept &= apart(gear.xs, gear.ys, self.xs, self.ys, measures.gear_and(gear.size, measures.roller))
            if gear.level in self.passes:
                kept &= apart(gear.xs, gear.ys, self.xs, self.ys, measures.gear_and(gear.size, measures.post))
        for post in places.posts:
            if self.level in post.passes:
                kept &= apart(post.xs, post.ys, self.xs, self.ys, measures.rounds(measures.post, measures.roller))
            if share(post.passes, self.passes):
                kept &= apart(post.xs, post.ys, self.xs, self.ys, measures.rounds(measures.post, measures.post))
        for table in roller_clear(measures, self.level, self.xs, self.ys, slabs_at(measures, places)):
            kept &= table
        return rows(kept)

    def with_rollers(self, measures: Measures, other: Wheelhouse) -> list[int]:
        """For each direction the directions of rollers in another ring that it leaves."""
        kept = np.ones((GRID, GRID), bool)
        if self.level in other.passes or other.level in self.passes:
            kept &= apart(self.xs, self.ys, other.xs, other.ys, measures.rounds(measures.post, measures.roller))
        if share(self.passes, other.passes):
            kept &= apart(self.xs, self.ys, other.xs, other.ys, measures.rounds(measures.post, measures.post))
        if touching_rollers(measures, self.level, other.level):
            kept &= apart(self.xs, self.ys, other.xs, other.ys, measures.rounds(measures.roller, measures.roller))
        return rows(kept)


def _walks(
    good: list[dict[int, int]], ahead: list[int], held: list[int], taken: tuple[int, ...], meshes: int, left: int
) -> Iterator[tuple[int, ...]]:
    """Every way to go on with `left` more rollers, the most even spacing first."""
    if not left:
        yield taken
        return
    at = taken[-1]
    ideal = at + (GRID - at) / (left + 1)
    for after in sorted(set_cells(ahead[at]), key=lambda index: (abs(index - ideal), index)):
        if good[left - 1].get(meshes | held[after], 0) >> after & 1:
            yield from _walks(good, ahead, held, (*taken, after), meshes | held[after], left - 1)


def _turned(bits: int, start: int) -> int:
    """A set of directions as seen from one of them."""
    return (bits >> start | bits << (GRID - start)) & mask(GRID)


def turned(one: float, other: float) -> float:
    """The angle between two directions [degrees, 0 to 180]."""
    return abs((one - other + 180) % 360 - 180)
