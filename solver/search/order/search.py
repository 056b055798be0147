"""The search of one design: its first solutions in rank order, its Pareto front, and what is proven of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction

from solver.design.design import Design
from solver.design.toothing import toothings
from solver.design.train import Train
from solver.search.options.caps import caps_of
from solver.search.order import effort
from solver.search.order.alike import OrderCount, count_orders
from solver.search.order.front import Front, FrontPoint
from solver.search.order.hand import by_hand
from solver.search.order.lexicographic import Lexicographic
from solver.search.order.listing import Lister
from solver.search.order.question import Question
from solver.search.order.score import Found, in_order
from solver.search.order.shared import Progress, Shared, Tally, Unproven
from solver.search.solves import Solves
from solver.search.stop import NoStop, SearchStopped, StopRule, Termination


@dataclass
class SearchResult:
    """found: trains in rank order. complete: they are proven to be the first ones, and the front to be whole.

    termination: why the search ended. bound: proven lower bound of (1 + worst error)**2. least: proven lower bound of
    the first rank key where that is not the error, the envelope in teeth. front: the Pareto front, by its first key; of
    a search that ended early the points found so far, all of which are on it; front_open: in so many parts of it there
    may be more. orders: for each train found, and on the front, in how many orders its links can stand; none where
    each order is a solution of its own.
    """

    found: list[Found]
    complete: bool
    termination: Termination
    bound: Fraction
    least: int | None
    front: list[FrontPoint]
    front_open: int
    structures: int
    tally: Tally
    solves: Solves
    orders: dict[Train, OrderCount]


class DesignSearch:
    """The search of one design: run it once; what it knows so far can be asked for from another thread."""

    def __init__(self, shared: Shared) -> None:
        self.shared = shared
        self._front: Front | None = None

    def run(self) -> SearchResult:
        questions = Lexicographic(self.shared)
        front: list[FrontPoint] = []
        try:
            self._begin(questions)
            found = questions.first(questions.own)
            if found and self.shared.design.front:
                self._front = Front(questions)
                front = self._front.points()
        except (SearchStopped, Unproven) as ended:
            return self.so_far(ended.reason)
        return self._result(found, True, Termination.PROVED, front)

    def _begin(self, questions: Lexicographic) -> None:
        """Where the search will take a while, have something to show at once: what a maker would find by hand."""
        design, lister = self.shared.design, Lister(self.shared, questions.own)
        coupled = lister.coupled or design.rank[0] != "error" or design.front
        if coupled or lister.tables.chooser is not None or design.structure_count() > effort.AT_ONCE:
            lister.try_some(lister.scorer.by_error(by_hand(design, lister.candidates, design.families())))

    def so_far(self, reason: Termination) -> SearchResult:
        """What is known, as the result of a search that ends here for that reason."""
        found = in_order(list(self.shared.known.values()), self.shared.keys)[: self.shared.design.keep]
        return self._result(found, False, reason, self._front.so_far() if self._front else [])

    def _result(
        self, found: list[Found], complete: bool, termination: Termination, front: list[FrontPoint]
    ) -> SearchResult:
        shared = self.shared
        return SearchResult(
            found=found,
            complete=complete,
            termination=termination,
            bound=shared.bound.square,
            least=shared.least,
            front=front,
            front_open=len(self._front.open) if self._front else 1,
            structures=shared.design.structure_count(),
            tally=shared.tally,
            solves=shared.solves,
            orders=count_orders(shared, [*found, *(point.found for point in front)], complete),
        )


def search(
    design: Design, stop: StopRule | None = None, progress: Callable[[Progress], None] | None = None
) -> SearchResult:
    """The `keep` best different trains of a design whose third gears are settled, or the proof that there is none; and
    its front, if asked for."""
    return DesignSearch(Shared(design, stop or NoStop(), progress)).run()


def least_error_square(design: Design, stop: StopRule | None = None) -> Fraction | None:
    """(1 + worst error)**2 of the best train, exact, or None if there is none. Raises SearchStopped and Unproven."""
    firsts = (_unordered(one, stop).first(_one(one, "error")) for one in toothings(design))
    return min((found[0].figures.error_square for found in firsts if found), default=None)


def least_value(design: Design, key: str, stop: StopRule | None = None) -> int | None:
    """The least value of a rank key other than the error (the envelope in teeth), or None if there is no train.

    Raises SearchStopped and Unproven.
    """
    design = replace(design, rank=(key,))  # the drive is chosen by what is asked for
    values = (_unordered(one, stop).threshold(_one(one, key)).value for one in toothings(design))
    return min((value for value in values if value is not None), default=None)


def any_train(design: Design, stop: StopRule | None = None) -> Train | None:
    """Some train within all limits of a design, or None if there is none. Raises SearchStopped and Unproven."""
    some = (_unordered(one, stop).any(_one(one, "error")) for one in toothings(design))
    return next((found[0].train for found in some if found), None)


def _unordered(design: Design, stop: StopRule | None) -> Lexicographic:
    """A search for which it does not matter which of trains that tie come first."""
    # Of one train it does not matter what others are told apart by.
    return Lexicographic(Shared(replace(design, distinct="order"), stop or NoStop(), order_ties=False))


def _one(design: Design, key: str) -> Question:
    return Question((key,), (), 1, caps_of(design))
