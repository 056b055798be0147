"""The ladder: how far the error must be raised until enough trains lie below it."""

from __future__ import annotations

import math
from typing import NamedTuple

from solver.design.exact import log_fraction
from solver.search.order.listing import Lister
from solver.search.order.score import Found
from solver.search.reach.lattice import Lattice, enclosed, units_to_error
from solver.search.rounding import Rounding


class Bounded(NamedTuple):
    """A family with a lower bound of its error in units: none of its trains is inside a narrower window."""

    least: int
    lattice: Lattice


class Ladder:
    """Raises the error until enough trains lie below it.

    What is said of an error in units holds within rounding: every train whose exact error is below that of `low` is
    known, since the lists made beside `low` were whole; the list beside `high` was too long. So the error that the
    crowd shares lies between the least beside `low` and `top`.
    """

    def __init__(self, lister: Lister, bounded: list[Bounded], start: int) -> None:
        """start: an error at which some train is inside, 0 where none is known."""
        self.lister, self.bounded, self.scale = lister, bounded, bounded[0].lattice.scale
        self.rounding = Rounding.widest(one.lattice.rounding for one in bounded)
        self.most = bounded[0].lattice.most_units
        self.low = bounded[0].least - 1
        self.start = max(start, self.low + 1)
        self.high = self.most

    @property
    def top(self) -> int:
        """No train of the list that was too long has an error above this."""
        return self.rounding.beyond(self.high)

    def climb(self, near: int) -> bool:
        """True: the shortlist is complete. False: a crowd lies between `low` and `high`, at most `near` apart."""
        shared, keep = self.lister.shared, self.lister.question.keep
        units, step, crowded = max(self.low + 1, self._first_units()), self.rounding.slack, False
        units = min(units, self.most)
        while True:
            shared.check_stop()
            found, whole = self._below(units)
            if not whole:
                self.high, crowded = units, True
            else:
                self.low = units
                sure = math.log1p(units_to_error(units, self.scale)) * 2
                inside = [item for item in found if log_fraction(item.figures.error_square) <= sure]
                if len(inside) >= keep or units >= self.most:
                    return True
                shared.report(0)
            if crowded:
                if self.high - self.low <= near:
                    return False
                units = (self.low + self.high) // 2
            else:
                units = min(self.most, units + step)
                step *= 2

    def pass_crowd(self) -> None:
        """Go on above the crowd: everything up to its top is known."""
        self.low = self.top

    def _first_units(self) -> int:
        """The least error at which enough trains are inside, as far as rounding can tell."""
        slack, coupled = self.rounding.slack, self.lister.coupled
        low, step = self.low + 1, slack
        high = self.start
        if self.lister.question.keep == 1 and not coupled and high > low:
            return high
        while not self._enough(high) and high < self.most:
            low, high = high, min(self.most, high + step)
            step *= 2
        near = max(slack, high // 16) if coupled else slack
        return enclosed(low, high, near, self._enough)[1]

    def reach(self, units: int) -> list[Lattice]:
        """Families that can have a train with an error of so many units."""
        return [lattice for least, lattice in self.bounded if least <= self.rounding.beside(units)]

    def _enough(self, units: int) -> bool:
        self.lister.shared.check_stop()
        inside = [lattice for least, lattice in self.bounded if least <= units]
        most = units / self.scale * 2
        settled = sum(log_fraction(one.figures.error_square) <= most for one in self.lister.settled())
        number = self.lister.question.keep - settled
        return number <= 0 or self.lister.holds(inside, units, number)

    def _below(self, units: int) -> tuple[list[Found], bool]:
        """All trains with an error of up to `units` that may be asked for, and some above; False: too many to list."""
        found, whole = self.lister.listed(self.reach(units), self.rounding.beside(units), self.lister.limit)
        same = self.lister.shared.same
        different = {same(one.train): one for one in (*found, *self.lister.settled())}
        return list(different.values()), whole

    def finer(self, scale: int) -> list[Bounded]:
        """All families again at a finer scale: bounded anew where the crowd is in reach, else as they were."""
        times = scale // self.scale
        top = self.rounding.beside(self.high) * times
        found = []
        for least, lattice in self.bounded:
            self.lister.shared.check_stop()
            fine = self.lister.lattice(lattice.what, scale)
            low = max(0, self.rounding.least(least - 1) * times)
            if low <= top:
                bracket = fine.bracket(low, top, fine.rounding.slack)
                low = top + 1 if bracket is None else bracket[0]
            found.append(Bounded(low, fine))
        return sorted(found, key=lambda one: one.least)
