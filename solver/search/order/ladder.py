"""The ladder: how far the error must be raised until enough trains lie below it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from solver.design.exact import log_fraction
from solver.search.order.score import Found
from solver.search.reach.lattice import Lattice, enclosed, units_to_error

if TYPE_CHECKING:
    from solver.search.order.engine import Search


class Ladder:
    """Raises the error until enough trains lie below it.

    What is said of an error in units holds within `slack` of rounding: every train whose exact error is below
    low - slack is known; the lists made at `low` were whole; the list at `high`, which takes in all trains up to
    2 * slack above it, was too long. So the error that the crowd shares lies between low - slack and `top`.
    """

    def __init__(
        self, owner: Search, bounded: list[tuple[int, Lattice]], scale: int, start: int = 0, near: int = 1
    ) -> None:
        """start: an error at which some train is inside, 0 where none is known. near: how closely to enclose crowds."""
        self.owner, self.bounded, self.scale = owner, bounded, scale
        self.slack = max(lattice.slack for _, lattice in bounded)
        self.most = bounded[0][1].most_units
        self.low = bounded[0][0] - 1
        self.near = near
        self.start = max(start, self.low + 1)
        self.high = self.most

    @property
    def top(self) -> int:
        """No train of the list that was too long has an error above this."""
        return self.high + 3 * self.slack

    def climb(self) -> bool:
        """True: the shortlist is complete. False: a crowd lies between `low` and `high`."""
        owner = self.owner
        units, step, crowded = max(self.low + 1, self._first_units()), self.slack, False
        units = min(units, self.most)
        while True:
            owner.check_stop()
            found, whole = self._below(units)
            if not whole:
                self.high, crowded = units, True
            else:
                self.low = units
                sure = math.log1p(units_to_error(units, self.scale)) * 2
                inside = [item for item in found if log_fraction(item.figures.error_square) <= sure]
                if len(inside) >= owner.keep or units >= self.most:
                    return True
                owner.report(0)
            if crowded:
                if self.high - self.low <= self.near:
                    return False
                units = (self.low + self.high) // 2
            else:
                units = min(self.most, units + step)
                step *= 2

    def _first_units(self) -> int:
        """The least error at which enough trains are inside, as far as rounding can tell."""
        low, step = self.low + 1, self.slack
        high = self.start
        if self.owner.keep == 1 and not self.owner.coupled and high > low:
            return high
        while not self._enough(high) and high < self.most:
            low, high = high, min(self.most, high + step)
            step *= 2
        near = max(self.slack, high // 16) if self.owner.coupled else self.slack
        return enclosed(low, high, near, self._enough)[1]

    def reach(self, units: int) -> list[Lattice]:
        """Families that can have a train with an error of so many units."""
        return [lattice for least, lattice in self.bounded if least <= units + 2 * self.slack]

    def _enough(self, units: int) -> bool:
        self.owner.check_stop()
        inside = [lattice for least, lattice in self.bounded if least <= units]
        return self.owner.holds(inside, units, self.owner.keep)

    def _below(self, units: int) -> tuple[list[Found], bool]:
        """All trains with an error of up to `units` and some above; False: too many to list."""
        return self.owner.walked(self.reach(units), units + 2 * self.slack)

    def finer(self, scale: int) -> list[tuple[int, Lattice]]:
        """All families again at a finer scale: bounded anew where the crowd is in reach, else as they were."""
        owner, times = self.owner, scale // self.scale
        top = (self.high + 2 * self.slack) * times
        found = []
        for least, lattice in self.bounded:
            owner.check_stop()
            fine = owner.lattice(lattice.what, scale)
            low = max(0, (least - 1 - self.slack) * times)
            if low <= top:
                bracket = fine.bracket(low, top, fine.slack)
                low = top + 1 if bracket is None else bracket[0]
            found.append((low, fine))
        return sorted(found, key=lambda item: item[0])
