"""The rollers of a whole train: those that each ring can have, and a choice in which none is in another's way."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from solver.design.arms import gap_of_ring
from solver.design.train import RollerPlace
from solver.search.bits import mask, rows
from solver.search.place.arm_ways import ROLLER
from solver.search.place.measures import Measures, beside
from solver.search.place.placer import Placer
from solver.search.place.places import Places, arbor_of, beside_roller_eyes
from solver.search.place.rollers import Tick, Wheelhouse
from solver.search.place.shapes import RingStack, share
from solver.search.place.slabs import rollers_among_rings, touching_rollers
from solver.search.roller_gaps import GRID, RollerGaps


class Holder:
    """Finds the rollers of trains of one design; remembers what it found out about rings.

    domains and chosen, of its methods: the places of each link, then of the drive, and the indices of those chosen so
    far; tick: called at every step, what it raises ends the work.
    """

    def __init__(self, measures: Measures, placer: Placer) -> None:
        self.measures, self.placer = measures, placer
        self._wheelhouses: dict[tuple[int, int, range, RollerGaps], Wheelhouse] = {}
        self._roller_rows: dict[tuple[Wheelhouse, Places], list[int]] = {}
        self._roller_pairs: dict[tuple[Wheelhouse, Wheelhouse], list[int]] = {}
        self._roller_angles: dict[tuple[int, RingStack], int] = {}
        self._held: dict[tuple[Wheelhouse, int, tuple[float, ...]], bool] = {}

    def possible(self, stack: RingStack, tick: Tick) -> bool:
        """Whether every ring could have its rollers if no mesh and no gear mattered."""
        return all(
            next(self.wheelhouse(level, stack).holding(self._angles(level, stack), (), tick), None) is not None
            for level in range(len(stack.rings))
        )

    def wheelhouse(self, level: int, stack: RingStack) -> Wheelhouse:
        """The rollers that a ring may have."""
        passes = self.placer.passes(level, len(stack.rings))
        key = (level, stack.rings[level], passes, stack.gaps_at(level))
        if key not in self._wheelhouses:
            self._wheelhouses[key] = Wheelhouse(self.measures, *key)
        return self._wheelhouses[key]

    def _angles(self, level: int, stack: RingStack) -> int:
        """The directions of a ring's rollers that the other rings and the bodies' stands leave."""
        key = (level, stack)
        if key not in self._roller_angles:
            house, measures, count = self.wheelhouse(level, stack), self.measures, len(stack.rings)
            kept = house.xs == house.xs if house.possible else house.xs != house.xs
            for passed in house.passes:
                kept &= beside(house.xs, house.ys, measures.ring_and(stack.rings[passed], measures.post))
            for ring in stack.riders:
                passed_by = self.placer.stand_passes(ring, count)
                if level in passed_by:
                    kept &= beside(house.xs, house.ys, measures.stand_and(stack.rings[ring], 0, measures.roller))
                if share(passed_by, house.passes):
                    kept &= beside(house.xs, house.ys, measures.stand_and(stack.rings[ring], 0, measures.post))
            for some in rollers_among_rings(measures, level, house.xs, house.ys, stack.rings):
                kept &= some
            if measures.arms is not None:
                kept &= self._free_arms(level, stack).any(axis=1)
            if measures.eyes is not None:
                kept &= measures.eyes.clear_of(self._disc(level, stack), ROLLER, house.xs, house.ys)
            self._roller_angles[key] = rows(kept[None, :].astype(bool))[0]
        return self._roller_angles[key]

    def _free_arms(self, level: int, stack: RingStack) -> np.ndarray:
        """Which arms of a ring's rollers the bodies' stands leave; shape (directions, arms). For a design with arms."""
        arms, house = self.measures.arms, self.wheelhouse(level, stack)
        assert arms is not None
        return arms.free(ROLLER, house.xs, house.ys, self._disc(level, stack))

    def _disc(self, level: int, stack: RingStack) -> Fraction | None:
        """How far from the main axis arms of a ring's rollers must stay. For a design with arms."""
        arms = self.measures.arms
        assert arms is not None
        return arms.disc(stack.rings, stack.riders, self._gap(level))

    def _gap(self, level: int) -> int:
        return gap_of_ring(level, self.measures.fit.stands)

    def _left_by(self, level: int, stack: RingStack, places: Places) -> list[int]:
        """For each place of a link or the drive the directions of a ring's rollers that it leaves."""
        house = self.wheelhouse(level, stack)
        found = house.with_places(self.measures, places)
        arms, arbor = self.measures.arms, arbor_of(places)
        if arms is not None and arbor is not None and arbor[0] == self._gap(level):
            reached = rows(arms.past(house.xs, house.ys, self._free_arms(level, stack), arbor[1]).T)
            found = [one & other for one, other in zip(found, reached, strict=True)]
        for table in beside_roller_eyes(self.measures, places, self._gap(level), house.xs, house.ys):
            found = [one & other for one, other in zip(found, rows(table), strict=True)]
        return found

    # -- in a placed train ---------------------------------------------------------------------------------------------

    def rings_held(self, stack: RingStack, domains: list[Places], chosen: list[int], tick: Tick) -> bool:
        """Whether each ring between links that are placed can have its rollers, looked at alone; a drive that is yet to
        be placed can only make it harder."""
        whole = len(chosen) == len(domains)
        known = len(stack.rings) if whole else min(len(chosen), len(stack.rings) - 1)
        far = self.measures.fit.plate != "none" or self.measures.thick is not None
        first = 0 if whole or far else known - 1
        return all(self.can_hold(level, stack, domains, chosen, tick) for level in range(first, known))

    def _ring_state(
        self, level: int, stack: RingStack, domains: list[Places], chosen: list[int]
    ) -> tuple[Wheelhouse, int, tuple[float, ...]]:
        """A ring's rollers, the directions that are left for them, and the meshes that push on it."""
        house, allowed = self.wheelhouse(level, stack), self._angles(level, stack)
        meshes = []
        for places, index in zip(domains, chosen, strict=False):
            key = (house, places)
            if key not in self._roller_rows:
                self._roller_rows[key] = self._left_by(level, stack, places)
            allowed &= self._roller_rows[key][index]
            meshes += [mesh.angles[index] for mesh in places.meshes if mesh.level == level]
        return house, allowed, tuple(meshes)

    def can_hold(self, level: int, stack: RingStack, domains: list[Places], chosen: list[int], tick: Tick) -> bool:
        """Whether a ring can have its rollers, looked at alone, beside the places that are chosen."""
        state = self._ring_state(level, stack, domains, chosen)
        if state not in self._held:
            house, allowed, meshes = state
            self._held[state] = next(house.holding(allowed, meshes, tick), None) is not None
        return self._held[state]

    def rollers(
        self, stack: RingStack, domains: list[Places], chosen: list[int], tick: Tick
    ) -> tuple[tuple[RollerPlace, ...], ...] | None:
        """The rollers of every ring, those of the inner rings chosen first; None: they are in each other's way.

        Conflict-directed backjumping: where a ring has no rollers left, the search goes back to the nearest earlier
        ring that is to blame, whatever stands between.
        """
        states = [self._ring_state(level, stack, domains, chosen) for level in range(len(stack.rings))]

        def further(
            level: int, allowed: list[int], blamed: list[set[int]]
        ) -> tuple[tuple[RollerPlace, ...], ...] | set[int]:
            """Rollers of this ring and the later ones; or the earlier rings whose rollers are to blame for there being
            none. blamed: for each ring those whose rollers took directions from it."""
            tick()
            if level == len(states):
                return ()
            house, _, meshes = states[level]
            tried: set[tuple[int, ...]] = set()
            guilty = set(blamed[level])
            for some in house.holding(allowed[level], meshes, tick):
                if some in tried:
                    continue
                tried.add(some)
                beyond, blaming = list(allowed), list(blamed)
                for later in range(level + 1, len(states)):
                    table = self._roller_table(house, states[later][0])
                    for index in some:
                        beyond[later] &= table[index]
                    if beyond[later] != allowed[later]:
                        blaming[later] = blamed[later] | {level}
                rest = further(level + 1, beyond, blaming)
                if isinstance(rest, tuple):
                    return (tuple(house.at(index) for index in some), *rest)
                if level not in rest:  # other rollers here would not help
                    return rest
                guilty |= rest - {level}
            return guilty

        found = further(0, [state[1] for state in states], [set() for _ in states])
        return found if isinstance(found, tuple) else None

    def _roller_table(self, one: Wheelhouse, other: Wheelhouse) -> list[int]:
        key = (one, other)
        if key not in self._roller_pairs:
            none_meet = self.measures.fit.plate == "none" and not touching_rollers(
                self.measures, one.level, other.level
            )
            self._roller_pairs[key] = [mask(GRID)] * GRID if none_meet else one.with_rollers(self.measures, other)
        return self._roller_pairs[key]
