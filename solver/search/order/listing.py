"""Listing: the trains of one question that the lattice holds at an error, scored and remembered."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from itertools import islice

from solver.design.design import Family, Structure
from solver.design.exact import log_fraction
from solver.search.options.thirds import TooManyThirds
from solver.search.order import effort
from solver.search.order.classes import ClassScorer
from solver.search.order.question import Question
from solver.search.order.score import Found, Scorer
from solver.search.order.shared import Shared, Unproven
from solver.search.order.together import rings_of
from solver.search.rank import COUPLED_KEYS, sort_key
from solver.search.reach.counting import count, counting_cost
from solver.search.reach.few import paths_of_few, paths_of_new
from solver.search.reach.lattice import Lattice
from solver.search.reach.walks import Path, paths, paths_within
from solver.search.rounding import Rounding
from solver.search.stop import Termination


class Lister:
    """The trains within the caps of one question. best: those scored so far, by what makes them the same."""

    def __init__(self, shared: Shared, question: Question, *, whichever: bool = False) -> None:
        """whichever: any trains will do."""
        self.shared, self.question = shared, question
        self.tables = shared.tables(question.caps)
        self.candidates = self.tables.candidates
        self.families = self.tables.families.under(question.caps)
        self.coupled = not COUPLED_KEYS.isdisjoint(question.caps)
        kind = ClassScorer if shared.design.gathers_orders else Scorer
        self.scorer = kind(self.tables, shared, question, self._tell, whichever=whichever)
        self.best: dict[tuple[object, ...], Found] = {}
        self.limit = max(effort.LIST_LIMIT, effort.LIST_PER_KEPT * question.keep)

    # -- lattices ----------------------------------------------------------------------------------------------

    def lattice(self, what: Family | Structure, scale: int) -> Lattice:
        """A family, or one structure, at a scale; lattices of one scale share their segments."""
        return self.tables.lattice(what, scale, self.question.caps, self.shared.check_stop)

    def all_inside(self) -> tuple[list[Lattice], float]:
        """Lattices of every family that may have a train, and the units within which all trains of the limits are.

        Coarse scales come first: what has no train there is left out, and never walked at a fine one.
        """
        families, most = list(self.families), self.question.most
        if not families:
            return [], 0.0
        rounding = Rounding.of_links(max(len(family.rings) for family in families) - 1)
        room = math.log1p(float(self.shared.design.limits.max_error))
        if most is not None:
            room = min(room, log_fraction(most) / 2)
        for scale in effort.SCALES:
            lattices = [self.lattice(family, scale) for family in families]
            widest = max((one.most_units for one in lattices), default=0)
            units = min(rounding.holding(math.ceil(room * scale)), widest)
            enough = effort.CLEAR * rounding.slack if most is None else effort.FINE
            if scale == effort.SCALES[-1] or room * scale >= enough:
                break
            families = [one.what for one in lattices if one.feasible(units) and isinstance(one.what, Family)]
        return lattices, units

    def paths(self, lattice: Lattice, units: float) -> Iterator[Path]:
        """The trains inside at that worst error that are within the caps, third gears not counted in; but for those
        that are known to have no place."""
        if not self.gone(lattice.what):
            for path in self._walked(lattice, units):
                if self.gone(lattice.what):
                    return
                if self.scorer.gone(path.rings):
                    continue
                if not self.scorer.refused(path):
                    yield path
                elif self.shared.together.refused(path.rings):
                    self.scorer.settle(path.rings)

    def gone(self, what: Family | Structure) -> bool:
        """Whether no train of a family or structure need be looked at any more."""
        every = rings_of(what) if self.tables.chooser is not None else None
        return every is not None and all(map(self.scorer.gone, every))

    def _walked(self, lattice: Lattice, units: float) -> Iterator[Path]:
        most_jigs, most_teeth = self.question.caps.get("jigs"), self.question.caps.get("teeth")
        if most_jigs is not None:
            return paths_of_few(lattice, units, most_jigs, math.inf if most_teeth is None else most_teeth)
        most_new = self.question.caps.get("new_gears")
        if most_new is not None:
            return paths_of_new(lattice, units, most_new, math.inf if most_teeth is None else most_teeth)
        return paths(lattice, units) if most_teeth is None else paths_within(lattice, units, most_teeth)

    # -- trains ------------------------------------------------------------------------------------------------

    def scored(self, some: Iterable[Path]) -> list[Found]:
        """The `keep` best of these trains, with their best third gears; remembered."""
        try:
            found = self.scorer.best(list(dict.fromkeys(some)), self.question.most)
        except TooManyThirds:
            raise Unproven(Termination.THIRDS) from None
        self._tell(found)
        return found

    def _tell(self, found: Iterable[Found]) -> None:
        for item in found:
            self._keep(item)
            self.shared.known[self.shared.same(item.train)] = (item.figures, item.train)

    def _keep(self, item: Found) -> None:
        """Of those that are the same the first, and of one train what was found last."""
        same = self.shared.same(item.train)
        known = self.best.get(same)
        if known is None or item.key < known.key or known.train.identity() == item.train.identity():
            self.best[same] = item

    def remember(self, found: Iterable[Found]) -> None:
        """Trains within the caps that another search found."""
        for item in found:
            key = sort_key(item.figures, item.train, self.question.keys)
            self._keep(Found(key, item.figures, item.train))

    def first(self) -> list[Found]:
        """The `keep` first of the trains scored so far."""
        return sorted(self.best.values(), key=lambda item: item.key)[: self.question.keep]

    def first_train(self, lattice: Lattice, units: int) -> None:
        """Keep one train of the family that is the best so far: what a stopped search can show."""
        if not self.coupled:
            self.try_some(islice(self.paths(lattice, units), 1))

    def try_some(self, some: Iterable[Path]) -> None:
        """Keep the first of these trains that is within all limits."""
        with suppress(Unproven):
            any(self.scored([path]) or self.settled() for path in some)

    def listed(self, lattices: Sequence[Lattice], units: float, limit: int) -> tuple[list[Found], bool]:
        """The best trains that the lattices hold at so many units, and whether all could be listed. limit: how many may
        be."""
        found: list[Found] = []
        listed = 0
        for lattice in lattices:
            room = limit - listed
            walk = self.paths(lattice, units)
            # What is refused for want of places is counted too, and not listed.
            first = effort.GLANCE if self.tables.chooser is None else effort.FEW
            some = list(islice(walk, min(room + 1, first)))
            if len(some) == first:  # counting is dearer than listing few and far cheaper than listing many
                if self._too_many(lattices, units, limit):
                    return found, False
                some += islice(walk, room + 1 - first)
            listed += len(some)
            if len(some) > room:
                return found, False
            self.shared.tally.listed.update((lattice.rings, seats) for seats in {path.seats for path in some})
            found += self.scored(some)
        return found, True

    def _too_many(self, lattices: Sequence[Lattice], units: float, limit: int) -> bool:
        """Whether it is certain, without listing, that more trains are inside."""
        if self.coupled or self.shared.design.reference != "first":
            return False
        total = 0.0
        for lattice in lattices:
            if not self.gone(lattice.what) and counting_cost(lattice) <= effort.COUNTING:
                total += count(lattice, units) / self._most_orders(lattice)
            if total > limit:
                return True
        return False

    def _most_orders(self, lattice: Lattice) -> int:
        """In how many orders the links of one solution can be at most: all blanks between the same two bodies."""
        if not self.shared.design.gathers_orders:
            return 1
        return math.factorial(len(lattice.rings) - len(lattice.seats) + 1)

    def settled(self) -> list[Found]:
        """The first trains with those rings of which nothing else need be looked at."""
        return [one for few in self.scorer.settled.values() for one in few]

    def holds(self, lattices: Sequence[Lattice], units: float, number: int) -> bool:
        """Whether so many trains are inside at so many units."""
        for lattice in lattices:
            number -= sum(1 for _ in islice(self.paths(lattice, units), number))
            if number <= 0:
                return True
        return False

    def any(self, number: int) -> list[Found] | None:
        """So many trains within all limits, whichever; fewer only if there are no more; None: more were looked at than
        may be listed."""
        # Where caps couple links, finding one is the work; else scoring is cheaper for many at once.
        return self.gathered(number, number if self.coupled else max(number, effort.BATCH), self.limit)

    def gathered(self, number: int, size: int, limit: float) -> list[Found] | None:
        """As `any`, `size` trains scored at a time; None: more than `limit` were looked at.

        Trains that are surely within the limit on the error come first: those at its border may all be beyond it.
        """
        lattices, units = self.all_inside()
        found: dict[tuple[object, ...], Found] = {}
        listed = 0
        rounds = [(one, sure) for one in lattices if (sure := one.rounding.sure(units)) > 0]
        rounds += [(one, units) for one in lattices]
        for lattice, reach in rounds:
            self.shared.check_stop()
            walk = self.paths(lattice, reach)
            while batch := list(islice(walk, size)):
                listed += len(batch)
                found.update((self.shared.same(item.train), item) for item in (*self.scored(batch), *self.settled()))
                if len(found) >= number:
                    return list(found.values())[:number]
                if listed > limit:
                    return None
        found.update((self.shared.same(item.train), item) for item in self.settled())
        return list(found.values())[:number]

    def number(self) -> int | None:
        """How many trains are within all limits; None: more than can be listed. Raises SearchStopped, Unproven."""
        total = listed = 0
        lattices, units = self.all_inside()
        for lattice in lattices:
            some = list(islice(self.paths(lattice, units), effort.COUNT_LIMIT + 1 - listed))
            listed += len(some)
            if listed > effort.COUNT_LIMIT:
                return None
            try:
                total += self.scorer.count(some, self.question.most)
            except TooManyThirds:
                raise Unproven(Termination.THIRDS) from None
        return total
