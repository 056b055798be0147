"""One search by error under caps: least error first, then every later key, proven.

1. Bound (`bounding`). The lattice, a relaxation, gives each family's least error within rounding, coarsely first; no
   family is looked at more closely unless its bound is within reach of the best.
2. Enumerate (`ladder`, `listing`). The error is raised until at least `keep` trains lie below it; all of them, and as
   many more as rounding can hide, are listed, scored and sorted exactly.
3. Crowds. Where one error is shared by more trains than can be listed (a tie class), that error is determined exactly
   on the border, and whoever runs the search decides the later keys within it (`lexicographic`).
Every answer is the same for the same design: nothing depends on the clock unless a stop rule strikes.
"""

from __future__ import annotations

import math
from collections.abc import Generator
from fractions import Fraction

from solver.design.exact import log_fraction
from solver.search.order import effort
from solver.search.order.bounding import Bounding
from solver.search.order.ladder import Bounded, Ladder
from solver.search.order.listing import Lister
from solver.search.order.modelled import Modelled
from solver.search.order.question import Question
from solver.search.order.score import Found
from solver.search.order.shared import ErrorBound, Shared, Unproven
from solver.search.reach.border import border_squares
from solver.search.reach.sums import TooManyRatios
from solver.search.stop import Termination

Ties = Generator[Fraction, None, None]  # (1 + error)**2 of tie classes whose first trains are to be added
Settled = Generator[Fraction, None, bool]  # likewise; in the end whether enough trains are known


class ErrorSearch:
    """One search by error: run it by its `ties`, then ask for the `result`."""

    def __init__(self, shared: Shared, question: Question, proven: ErrorBound) -> None:
        """proven: is raised to what is found."""
        self.shared, self.question, self.proven = shared, question, proven
        self.lister = Lister(shared, question)

    def ties(self) -> Ties:
        """Search until the `keep` best trains are known. What is yielded is the (1 + error)**2 of a tie class that is
        too long to list: its first trains by the later keys are to be added before the search goes on.

        Raises SearchStopped and Unproven.
        """
        if not (self.lister.coupled and self._all_listed()):
            bounding = Bounding(self.lister, self.proven)
            bounding.run()
            if bounding.families:
                yield from self._climb(bounding.families, bounding.start)

    def add(self, found: list[Found]) -> None:
        """The first trains of the tie class that was yielded last."""
        self.lister.remember(found)

    def result(self) -> list[Found]:
        """The `keep` best trains in order; fewer only if there are no more."""
        found = self.lister.first()
        if found:
            self.proven.square = found[0].figures.error_square
        return found

    def any(self) -> list[Found] | None:
        """Any `keep` trains within all limits; fewer only if there are no more; None: only the whole search can tell,
        since rounding hides that those inside are beyond the limit, or caps that there are none. Raises SearchStopped,
        Unproven."""
        keep, lister = self.question.keep, Lister(self.shared, self.question, whichever=True)
        found = lister.any(keep)
        if found is not None or self.question.most is None:
            return found
        listed, whole = Modelled(lister).all()
        if whole or len(listed) >= keep:
            return listed
        return lister.gathered(keep, lister.limit, math.inf)

    def _all_listed(self) -> bool:
        """Whether caps that couple links leave so few trains that all of them could be listed."""
        return self.lister.listed(*self.lister.all_inside(), effort.FEW)[1]

    def _climb(self, bounded: list[Bounded], start: int) -> Ties:
        scales = effort.SCALES
        ladder = Ladder(self.lister, bounded, start)
        for finer in scales[scales.index(ladder.scale) + 1 :]:
            if ladder.climb(_near(bounded)):
                return
            if ladder.high >= effort.FINE:
                break
            if not self.shared.known:
                best = bounded[0]
                self.lister.first_train(best.lattice, max(start, best.least))
            if finer == scales[-1] and (yield from self._without_error(ladder)):
                return
            bounded = ladder.finer(finer)
            ladder = Ladder(self.lister, bounded, 0)
        while True:
            if ladder.climb(1) or (yield from self._without_error(ladder)) or (yield from self._settled(ladder)):
                return
            ladder.pass_crowd()  # fewer than it seemed

    # -- crowds --------------------------------------------------------------------------------------------------

    def _enough(self, square: Fraction) -> bool:
        """Whether `keep` trains are known with (1 + error)**2 up to `square`."""
        known = self.lister.best.values()
        return sum(item.figures.error_square <= square for item in known) >= self.question.keep

    def _hold(self, square: Fraction) -> bool:
        """Whether there are `keep` trains with (1 + error)**2 up to `square`; if not, all of them are known now."""
        found = ErrorSearch(self.shared, self.question.within(square), ErrorBound()).any() or []
        self.lister.remember(found)
        return len(found) >= self.question.keep

    def _without_error(self, ladder: Ladder) -> Settled:
        """A crowd of trains without any error needs no border: settle it, if it is one; rounding can lift such trains,
        all alike, above 0."""
        if ladder.low > ladder.rounding.beside(0):
            return False
        if self._hold(Fraction(1)):
            yield Fraction(1)
        return self._enough(Fraction(1))

    def _settled(self, ladder: Ladder) -> Settled:
        """A crowd between two errors one unit apart: find its exact error, then decide by the later keys.

        True: enough trains are known; False: all trains up to the crowd's error are.
        """
        self.shared.tally.crowded = True
        squares: set[Fraction] = set()
        try:
            for lattice in ladder.reach(ladder.top):
                self.shared.check_stop()
                squares |= border_squares(lattice, self.shared.pairs, ladder.low, ladder.top)
        except TooManyRatios:
            raise Unproven(Termination.CROWDED) from None
        # Beyond the top the strips are not complete, so nothing is concluded from what they hold there.
        sure = 2 * ladder.top / ladder.scale
        among = sorted(square for square in squares if log_fraction(square) <= sure)
        first, last = 0, len(among) - 1
        while first < last:
            middle = (first + last) // 2
            if self._hold(among[middle]):
                last = middle
            else:
                first = middle + 1
        for square in among[first:]:
            yield square
            if self._enough(square):
                return True
        return ladder.top >= ladder.most


def _near(bounded: list[Bounded]) -> int:
    """How closely a crowd is worth enclosing: to the rounding, but to one unit at the finest scale."""
    lattice = bounded[0].lattice
    return 1 if lattice.scale == effort.SCALES[-1] else lattice.rounding.slack
