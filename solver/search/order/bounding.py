"""Bounding: each family's least error within rounding, coarsely first, in the relaxation that sees errors alone."""

from __future__ import annotations

import math
from typing import NamedTuple

from solver.design.design import Family
from solver.search.order import effort
from solver.search.order.ladder import Bounded
from solver.search.order.listing import Lister
from solver.search.order.shared import ErrorBound
from solver.search.reach.lattice import Lattice
from solver.search.rounding import Rounding, square_below


class FamilyBound(NamedTuple):
    """A family (its number) and a lower bound of ln(1 + error) of its trains."""

    least: float
    family: int


class Bounding:
    """Bounds the families of a question; `families` may have trains afterwards, best first.

    Coarse scales come first: what they rule out is not looked at again, and what is left has narrow windows at the
    finer ones; a scale whose rounding is small beside the best error is fine enough. Caps that couple links are not
    seen here, so that nothing is gained by fineness.
    """

    def __init__(self, lister: Lister, proven: ErrorBound) -> None:
        """proven: is raised to what is found."""
        self.lister, self.proven = lister, proven
        self.best = math.inf  # ln(1 + error) at which some train is surely inside
        self.first: tuple[Lattice, int] | None = None  # that train's family, and the window that it is in
        self.lattices: dict[int, Lattice] = {}
        self.families: list[Bounded] = []

    def run(self) -> None:
        """Raises SearchStopped."""
        lister = self.lister
        if not lister.families:
            return
        gears = len(lister.candidates.wheel_teeth) * len(lister.candidates.pinion_teeth)
        large = len(lister.families) > 1 or gears > effort.LARGE  # then a stopped search wants something to show
        lows = [FamilyBound(0.0, index) for index in range(len(lister.families))]
        rounding = Rounding.of_links(max(len(family.rings) for family in lister.families) - 1)
        for scale in effort.SCALES[1:3]:
            lows = self._at(scale, lows)
            if self.first is not None and large:
                lister.first_train(*self.first)
            if lows:
                self.proven.square = max(self.proven.square, square_below(min(low for low, _ in lows)))
            fine_enough = self.best < math.inf and self.best * scale >= effort.SHARP * rounding.slack
            if (lister.coupled and scale == effort.SCALES[1]) or fine_enough:
                break
        lister.shared.report(0)
        for low, index in sorted(lows):
            fine = self._lattice(index, scale)
            self.families.append(Bounded(max(0, fine.rounding.least(math.floor(low * scale))), fine))

    @property
    def start(self) -> int:
        """An error at which some train is inside, at the families' scale; 0 where none is known."""
        same = self.first is not None and self.families and self.first[0].scale == self.families[0].lattice.scale
        return self.first[1] if self.first is not None and same else 0

    def _at(self, scale: int, lows: list[FamilyBound]) -> list[FamilyBound]:
        """The families that may have a train, bounded at a scale where that can matter."""
        families, shared = self.lister.families, self.lister.shared
        bounded: list[FamilyBound] = []
        left = sum(families[index].structure_count() for _, index in lows)
        for low, index in sorted(lows):
            shared.check_stop()
            shared.report(left)
            left -= families[index].structure_count()
            if low > self.best:
                bounded.append(FamilyBound(low, index))
            elif (new := self._bounded(families[index], index, scale, low)) is not None:
                bounded.append(FamilyBound(max(low, new), index))
        return bounded

    def _bounded(self, family: Family, index: int, scale: int, low: float) -> float | None:
        """A lower bound of a family's ln(1 + error) as a scale gives it; None: it has no train. low: one known."""
        lattice = self.lattices[index] = self.lister.lattice(family, scale)
        rounding, most = lattice.rounding, lattice.most_units
        high = most if self.best == math.inf else min(most, rounding.beside(math.ceil(self.best * scale)))
        bracket = lattice.bracket(min(max(0, rounding.least(math.floor(low * scale))), high), high, rounding.slack)
        if bracket is None:
            return rounding.least(high) / scale if high < most else None
        least, some = bracket
        if rounding.most(some) / scale < self.best:
            self.best, self.first = rounding.most(some) / scale, (lattice, some)
        return rounding.least(least - 1) / scale

    def _lattice(self, index: int, scale: int) -> Lattice:
        known = self.lattices.get(index)
        return known if known and known.scale == scale else self.lister.lattice(self.lister.families[index], scale)
