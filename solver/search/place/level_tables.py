"""The rule `level` as tables for CP-SAT, beside those of `tables`: which places of thick things can be had together.

It measures for itself; of the search it has thicknesses, and lengths.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations

import numpy as np

from constraints.level import LevelsClear
from constraints.places import Aspect, Kept, Table
from solver.search.levels import Levels
from solver.search.place.measures import UM, apart, least_of, needs, squares
from solver.search.place.places import JoinedGears, JoinedPlaces
from solver.search.place.tables import RingRollers, RoundThing, RuleTables, circle_of
from solver.search.reaches import BEHIND, GEAR, THIRD


@dataclass(frozen=True, eq=False)
class _Layer:
    """A gear of a thing, or its hub: how thick it is [mm], whether it turns with the arbor, and what is where."""

    thick: Fraction
    turning: bool
    at: RoundThing

    @property
    def level(self) -> int:
        return self.at.levels.start


def level_rule(tables: RuleTables) -> LevelsClear | None:
    """The rule for these things, rollers and rings; None where nothing is thicker than its level leaves."""
    levels = tables.measures.thick
    return None if levels is None else _LevelTables(tables, levels).rule()


class _LevelTables:
    def __init__(self, tables: RuleTables, levels: Levels) -> None:
        self.tables, self.levels, self.measures = tables, levels, tables.measures
        self.rings, self.count = tables.stack.rings, len(tables.stack.rings)
        self.layers = [list(self._layers(number, thing)) for number, thing in enumerate(tables.things)]

    def rule(self) -> LevelsClear:
        rollers, between = self.tables.rollers, self.measures.rounds(self.measures.roller, self.measures.roller)
        own = [self._alone(number, thing) for number, thing in enumerate(self.tables.things)]
        return LevelsClear(
            [*own, *map(self._rollers_alone, rollers)],
            [self._entry(one.at, other.at) for one, other in self._pairs()],
            [(ring, layer.at.aspect, self._clear_of(one, layer.at)) for ring, one, layer in self._rolled(rollers)],
            [
                (i, j, apart(one.xs, one.ys, by.xs, by.ys, between))
                for (i, one), (j, by) in combinations(enumerate(rollers), 2)
                if self._touch(self.levels.roller, one.level, self.levels.roller, by.level)
            ],
            self._rings_sound(),
        )

    # -- what there is -----------------------------------------------------------------------------------------------

    def _layers(self, number: int, thing: JoinedPlaces) -> Iterator[_Layer]:
        """Gears, and hubs that are thicker."""
        if not len(thing):
            return
        roles = [
            role for side in thing.shapes[0].sides for role in ((GEAR,) if side.third is None else (BEHIND, THIRD))
        ]
        hub = np.full(len(thing), int(self.levels.hub_radius_mm * UM), np.int64)
        for role, gear in zip(roles, thing.gears, strict=True):
            here, thick, turning = range(gear.level, gear.level + 1), self.levels.thick(role), role != THIRD
            yield _Layer(thick, turning, circle_of(number, here, gear.size, gear))
            if self.levels.hub > thick:
                middle = JoinedGears(gear.level, hub, gear.xs, gear.ys)
                yield _Layer(self.levels.hub, turning, circle_of(number, here, hub, middle))

    def _touch(self, one: Fraction, level: int, other: Fraction, by: int) -> bool:
        """Whether things of these thicknesses on these levels do along the axis."""
        return level != by and self.levels.touch(one, other, abs(level - by))

    def _pairs(self) -> Iterator[tuple[_Layer, _Layer]]:
        """Of two things what may touch."""
        owners = self.tables.owners or range(len(self.layers))
        for i, j in combinations(range(len(self.layers)), 2):
            if owners[i] != owners[j]:
                for one in self.layers[i]:
                    yield from (
                        (one, by) for by in self.layers[j] if self._touch(one.thick, one.level, by.thick, by.level)
                    )

    def _rolled(self, rollers: Iterable[RingRollers]) -> Iterator[tuple[int, RingRollers, _Layer]]:
        """Of the rollers of a ring and a thing what may touch."""
        for ring, one in enumerate(rollers):
            for layer in (layer for some in self.layers for layer in some):
                if self._touch(self.levels.roller, one.level, layer.thick, layer.level):
                    yield ring, one, layer

    # -- measures ----------------------------------------------------------------------------------------------------

    def _entry(self, one: RoundThing, other: RoundThing) -> tuple[Aspect, Aspect, Table]:
        need = needs(self.measures.gears, one.sizes[:, None] + other.sizes)
        return one.aspect, other.aspect, apart(one.xs, one.ys, other.xs, other.ys, need)

    def _clear_of(self, rollers: RingRollers, gear: RoundThing) -> Table:
        """Which rollers clear a gear."""
        need = needs(lambda size: self.measures.gear_and(size, self.measures.roller), gear.sizes)
        return apart(rollers.xs, rollers.ys, gear.xs, gear.ys, need)

    def _rings_sound(self) -> bool:
        """Whether the rings are clear of each other, and within the depth."""
        measures, thick = self.measures, self.levels.ring
        room = measures.rim + measures.ring_tip + measures.clearance
        return all(self.levels.within(thick, level, self.count) for level in range(self.count)) and all(
            (self.rings[j] - self.rings[i]) * measures.low >= room
            for i, j in combinations(range(self.count), 2)
            if self._touch(thick, i, thick, j)
        )

    def _beside(self, level: int, thick: Fraction) -> set[int]:
        """The teeth of the rings of other levels that something touches along the axis."""
        return {teeth for at, teeth in enumerate(self.rings) if self._touch(thick, level, self.levels.ring, at)}

    def _alone(self, number: int, thing: JoinedPlaces) -> Kept:
        """Where a thing's gears clear the rings of other levels, and each other, within the frame's depth."""
        kept = np.ones(len(thing), bool)
        for layer in self.layers[number]:
            at, rows = layer.at, layer.at.aspect.rows
            clear = np.full(len(at), self.levels.within(layer.thick, layer.level, self.count))
            far = squares(at.xs, at.ys)
            for teeth in self._beside(layer.level, layer.thick):
                limits = np.array([self.measures.ring_and_gear(teeth, size) for size in at.sizes.tolist()], object)
                clear &= ((far <= limits[:, 0]) | (far >= limits[:, 1])).astype(bool)
            kept &= clear if rows is None else clear[rows]
        for one, other in combinations(self.layers[number], 2):
            if not (one.turning and other.turning) and self._touch(one.thick, one.level, other.thick, other.level):
                (xs, ys, sizes), (by_x, by_y, by_sizes) = map(_in_full, (one.at, other.at))
                need = needs(self.measures.gears, sizes + by_sizes)
                kept &= squares(xs - by_x, ys - by_y) >= least_of(need, xs, by_x)
        return kept

    def _rollers_alone(self, rollers: RingRollers) -> Kept:
        """Likewise the rollers of a ring."""
        thick, radius, far = self.levels.roller, self.measures.roller, squares(rollers.xs, rollers.ys)
        kept = np.full(len(rollers), self.levels.within(thick, rollers.level, self.count))
        for teeth in self._beside(rollers.level, thick):
            inside, outside = self.measures.ring_and(teeth, radius)
            kept &= (far <= least_of(inside, far)) | (far >= least_of(outside, far))
        return kept


def _in_full(thing: RoundThing) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Spots and sizes at every place."""
    rows = thing.aspect.rows
    if rows is None:
        return thing.xs, thing.ys, thing.sizes
    return thing.xs[rows], thing.ys[rows], thing.sizes[rows]
