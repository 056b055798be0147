"""Why a train has no place: the fewest of its things that leave each other none, whatever is still open of them.

A thing is a link, with every choice of third gears and radius that it may have, or the drive, with every motor. The
places of all its shapes are looked at together, rollers left out: what has none even so has none in any train. Tables
say which places of two things can be had together; arcs are made consistent, which decides a chain, and where more
than neighbours meet some places are tried out. What that leaves open counts as possible.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import compress

import numpy as np

from solver.search.place.measures import Measures
from solver.search.place.placer import Placer
from solver.search.place.places import JoinedPlaces, Places, alike, compatible
from solver.search.place.shapes import ArborShape, RingStack

MOST_PLACES = 1500  # of one thing; one with more is taken to be in nobody's way
MOST_CELLS = 50_000_000  # of tables that are remembered
AT_ONCE = 64  # shapes that are looked at together
MOST_TRIES = 200  # places tried out where more than neighbours meet

Shapes = tuple[ArborShape, ...]


@dataclass(frozen=True, eq=False)
class Thing:
    """All places of one thing; everywhere: there are too many to be looked at."""

    parts: tuple[JoinedPlaces, ...]
    everywhere: bool

    def __len__(self) -> int:
        return sum(map(len, self.parts))

    @property
    def shapes(self) -> list[ArborShape]:
        """Which shape each place is of."""
        return [shape for part in self.parts for shape in part.shapes]


class Blame:
    """Looks for the things to blame, in trains of one design; remembers tables."""

    def __init__(
        self,
        measures: Measures,
        placer: Placer,
        meet: Callable[[ArborShape, ArborShape], bool],
        tick: Callable[[], None],
    ) -> None:
        """meet: whether anything of two shapes can touch. tick: called now and then; what it raises ends the work."""
        self.measures, self.placer, self.meet, self.tick = measures, placer, meet, tick
        self._things: dict[tuple[RingStack, Shapes], Thing] = {}
        self._tables: dict[tuple[Thing, Thing], np.ndarray] = {}
        self._pairs: dict[tuple[Thing, Thing], bool] = {}
        self._cells = 0

    def thing(self, stack: RingStack, shapes: Shapes) -> Thing:
        """The places that these shapes may have among the rings."""
        key = (stack, shapes)
        if key not in self._things:
            some, number = list[Places](), 0
            for at, shape in enumerate(shapes):
                if at % AT_ONCE == 0:
                    self.placer.prepare(shapes[at : at + AT_ONCE], stack.rings, stack.riders)
                self.tick()
                some.append(self.placer.among(shape, stack.rings, stack.riders))
                number += len(some[-1])
                if number > MOST_PLACES:
                    break
            everywhere = number > MOST_PLACES
            parts = () if everywhere else alike(places for places in some if len(places))
            self._things[key] = Thing(tuple(parts), everywhere)
        return self._things[key]

    def culprits(self, things: Sequence[Thing]) -> list[tuple[int, ...]]:
        """Sets of things, by number, none of which has places together: each thing that has none alone; else every two;
        else one set from which none can be left out. None: all may have places."""
        alone: list[tuple[int, ...]] = [
            (index,) for index, thing in enumerate(things) if not (thing.everywhere or len(thing))
        ]
        if alone:
            return alone
        meeting = self._meeting(things, range(len(things)))
        pairs: list[tuple[int, ...]] = [(i, j) for i, j in meeting if not self._pair(things[i], things[j])]
        if pairs:
            return pairs
        if self._possible(things, range(len(things))):
            return []
        guilty = list(range(len(things)))
        for index in range(len(things)):
            rest = [one for one in guilty if one != index]
            if not self._possible(things, rest):
                guilty = rest
        return [tuple(guilty)]

    def standing(self, things: Sequence[Thing]) -> list[set[ArborShape] | None]:
        """The shapes of each thing that others leave a place; None: they were not looked at."""
        alive = [np.ones(len(thing), bool) for thing in things]
        self._consistent(things, self._meeting(things, range(len(things))), alive)
        return [
            None if thing.everywhere else set(compress(thing.shapes, some))
            for thing, some in zip(things, alive, strict=True)
        ]

    # -- consistency -------------------------------------------------------------------------------------------------

    def _meeting(self, things: Sequence[Thing], among: Iterable[int]) -> list[tuple[int, int]]:
        known = [index for index in among if not things[index].everywhere]
        return [
            (i, j)
            for i in known
            for j in known
            if i < j
            and any(self.meet(one.shapes[0], by.shapes[0]) for one in things[i].parts for by in things[j].parts)
        ]

    def _pair(self, one: Thing, other: Thing) -> bool:
        key = (one, other)
        if key not in self._pairs:
            self._pairs[key] = bool(self._table(one, other).any())
        return self._pairs[key]

    def _table(self, one: Thing, other: Thing) -> np.ndarray:
        """Which places of two things can be had together."""
        key = (one, other)
        if key not in self._tables:
            self.tick()
            found = np.block([[compatible(self.measures, part, by) for by in other.parts] for part in one.parts])
            self._cells += found.size
            if self._cells > MOST_CELLS:
                self._tables.clear()
                self._cells = found.size
            self._tables[key] = found
        return self._tables[key]

    def _possible(self, things: Sequence[Thing], among: Sequence[int]) -> bool:
        """False only where these things surely have no places together."""
        meeting = self._meeting(things, among)
        alive = [np.ones(len(thing), bool) for thing in things]
        if not self._consistent(things, meeting, alive):
            return False
        if all(j == i + 1 for i, j in meeting):
            return True
        left = [MOST_TRIES]
        met = sorted({index for pair in meeting for index in pair})

        def found(alive: list[np.ndarray]) -> bool:
            still = [index for index in met if np.count_nonzero(alive[index]) > 1]
            if not still:
                return True
            at = min(still, key=lambda index: np.count_nonzero(alive[index]))
            for place in np.flatnonzero(alive[at]):
                left[0] -= 1
                if left[0] < 0:
                    return True
                narrowed = list(alive)
                narrowed[at] = np.zeros(len(alive[at]), bool)
                narrowed[at][place] = True
                if self._consistent(things, meeting, narrowed) and found(narrowed):
                    return True
            return False

        return found(alive)

    def _consistent(self, things: Sequence[Thing], meeting: Sequence[tuple[int, int]], alive: list[np.ndarray]) -> bool:
        """Take away, in place, what has no partner left, until nothing changes; False: a thing has no place left."""
        changed = True
        while changed:
            changed = False
            for i, j in meeting:
                self.tick()
                table = self._table(things[i], things[j])
                for at, by, seen in ((i, j, table), (j, i, table.T)):
                    kept = alive[at] & seen[:, alive[by]].any(axis=1)
                    if not kept.any():
                        return False
                    if np.count_nonzero(kept) < np.count_nonzero(alive[at]):
                        alive[at] = kept
                        changed = True
        return True
