"""The rule `arm` as tables for CP-SAT, beside those of `tables`: at which places arms reach things, and which eyes of
a gap are clear of each other.

Which arms are clear of one round thing is asked of `ArmWays`, how far apart eyes must be of `Eyes`; nothing is taken
from what the search makes of that.
"""

from __future__ import annotations

from functools import cached_property
from itertools import combinations, product

import numpy as np

from constraints.arm import ArmsFrom, ArmsReach
from constraints.eye import EyesClear
from constraints.places import Aspect, Kept, Table
from solver.design.arms import gap_of_ring
from solver.search.place.arm_ways import ROLLER, ArmWays
from solver.search.place.eyes import Eyes
from solver.search.place.measures import apart, least_of, squares
from solver.search.place.places import PostSpots, eye_of, held_as, held_spots
from solver.search.place.tables import RingRollers, RoundThing, RuleTables, circle_of, rows_of


def arm_rules(tables: RuleTables) -> tuple[ArmsReach, EyesClear] | tuple[()]:
    """The rule for these things and rollers; nothing for a design without arms."""
    measures = tables.measures
    if measures.arms is None or measures.eyes is None:
        return ()
    found = _ArmTables(tables, measures.arms, measures.eyes)
    return found.arm(), found.eye()


def reached_alone(tables: RuleTables, riders: tuple[int, ...]) -> list[Kept]:
    """Of each thing, then of each ring's rollers, the places that the rule leaves as far as it alone tells, beside the
    stands of bodies on these rings. For a design with arms."""
    measures = tables.measures
    assert measures.arms is not None and measures.eyes is not None
    found = _ArmTables(tables, measures.arms, measures.eyes)
    return [one & other for one, other in zip(found.reached(riders).alone, found.eye().alone, strict=True)]


class _ArmTables:
    def __init__(self, tables: RuleTables, arms: ArmWays, eyes: Eyes) -> None:
        self.measures, self.stack = tables.measures, tables.stack
        self.things, self.rollers, self.arms, self.eyes = tables.things, tables.rollers, arms, eyes

    @cached_property
    def _held(self) -> list[tuple[int, list[RoundThing]]]:
        """Of each thing the gap that it is held in, and what of it arms must reach: the arbor or the motor's shaft,
        then its third gears."""
        found = []
        for number, thing in enumerate(self.things):
            gap, spots = held_spots(thing, self.measures.fit.stands)
            none, sizes = range(0), np.zeros(len(thing), np.int64)
            found.append((gap, [circle_of(number, none, sizes, PostSpots(none, *at)) for at in spots]))
        return found

    @cached_property
    def _motors(self) -> list[bool]:
        return [len(thing.shapes[0].sides) == 1 for thing in self.things]

    def _gap(self, rollers: RingRollers) -> int:
        return gap_of_ring(rollers.level, self.measures.fit.stands)

    # -- arms --------------------------------------------------------------------------------------------------------

    def arm(self) -> ArmsReach:
        return ArmsReach(self.reached(()), [self.reached((ring,)) for ring in self.stack.riders])

    def reached(self, riders: tuple[int, ...]) -> ArmsFrom:
        """Where arms reach things, and their eyes are clear, beside the stands of bodies on these rings alone."""
        arms, eyes = self.arms, self.eyes
        arbors = [(gap, held[0]) for (gap, held), motor in zip(self._held, self._motors, strict=True) if not motor]
        alone: list[Kept] = []
        things: list[tuple[Aspect, Aspect, Table]] = []
        rollers: list[tuple[int, Aspect, Table]] = []
        for thing, (gap, held), motor in zip(self.things, self._held, self._motors, strict=True):
            own, disc = held[0], arms.disc(self.stack.rings, riders, gap)
            kept: list[Kept] = []
            for number, one in enumerate(held):
                free, rows = arms.free(held_as(thing, number), one.xs, one.ys, disc), rows_of(one)
                some: Kept = np.any(free, axis=1) & eyes.clear_of(disc, eye_of(thing, number), one.xs, one.ys)
                kept.append(some[rows])
                if motor:
                    here = (by for level, by in arbors if level == gap)
                    things += ((one.aspect, by.aspect, arms.past(one.xs, one.ys, free, (by.xs, by.ys))) for by in here)
                elif one is not own:
                    at = own.xs[rows_of(own)], own.ys[rows_of(own)]
                    kept.append(arms.past_own(one.xs[rows], one.ys[rows], free[rows], at))
            alone.append(np.logical_and.reduce(kept))
        for ring, stood in enumerate(self.rollers):
            gap = self._gap(stood)
            disc = arms.disc(self.stack.rings, riders, gap)
            free = arms.free(ROLLER, stood.xs, stood.ys, disc)
            alone.append(np.any(free, axis=1) & eyes.clear_of(disc, ROLLER, stood.xs, stood.ys))
            here = (by for level, by in arbors if level == gap)
            rollers += ((ring, by.aspect, arms.past(stood.xs, stood.ys, free, (by.xs, by.ys))) for by in here)
        return ArmsFrom(alone, things, rollers)

    # -- eyes --------------------------------------------------------------------------------------------------------

    def eye(self) -> EyesClear:
        """Where the eyes of a gap are clear of each other, and of its arbor."""
        pairs: list[tuple[Aspect, Aspect, Table]] = []
        rollers: list[tuple[int, Aspect, Table]] = []
        rings: list[tuple[int, int, Table]] = []
        for (number, motor), (link, other) in product(enumerate(self._motors), enumerate(self._motors)):
            if motor and not other and self._held[number][0] == self._held[link][0]:
                pairs += [
                    (one.aspect, by.aspect, apart(one.xs, one.ys, by.xs, by.ys, self._need(number, i, link, j)))
                    for i, one in enumerate(self._held[number][1])
                    for j, by in enumerate(self._held[link][1])
                ]
        for ring, stood in enumerate(self.rollers):
            for number, (gap, held) in enumerate(self._held):
                for index, one in enumerate(held) if gap == self._gap(stood) else ():
                    need = self.eyes.need(ROLLER, eye_of(self.things[number], index))
                    rollers.append((ring, one.aspect, apart(stood.xs, stood.ys, one.xs, one.ys, need)))
            table = apart(stood.xs, stood.ys, stood.xs, stood.ys, self.eyes.need(ROLLER, ROLLER))
            np.fill_diagonal(table, True)
            rings.append((ring, ring, table))
        own = [self._own(number) for number in range(len(self.things))]
        return EyesClear([*own, *(np.ones(len(one), bool) for one in self.rollers)], pairs, rollers, rings)

    def _need(self, number: int, index: int, by: int, other: int) -> int:
        return self.eyes.need(eye_of(self.things[number], index), eye_of(self.things[by], other))

    def _own(self, number: int) -> Kept:
        """At which places the eyes of one thing are clear of each other."""
        held = self._held[number][1]
        kept = np.ones(len(self.things[number]), bool)
        for (i, one), (j, other) in combinations(enumerate(held), 2):
            across, up = (
                one.xs[rows_of(one)] - other.xs[rows_of(other)],
                one.ys[rows_of(one)] - other.ys[rows_of(other)],
            )
            kept &= squares(across, up) >= least_of(self._need(number, i, number, j), across, up)
        return kept
