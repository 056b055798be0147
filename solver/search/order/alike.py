"""In how many orders the links of a solution can stand: what a row of the list stands for. No proof depends on it."""

from __future__ import annotations

from typing import NamedTuple

from solver.design.train import Train
from solver.search.options.caps import caps_of
from solver.search.options.thirds import TooManyThirds
from solver.search.order.classes import ClassScorer, orders_of
from solver.search.order.question import Question
from solver.search.order.score import Found, path_of
from solver.search.order.shared import Shared
from solver.search.rank import COUPLED_KEYS
from solver.search.stop import NoStop, SearchStopped

MOST_LISTED = 24  # orders of one solution that are looked at one by one
MOST_STEPS = 20_000  # of placing them, for all solutions of a design together


class OrderCount(NamedTuple):
    """In how many orders the links of a solution can stand. settled: by all rules, each of them was looked at; else
    those in which each link by itself can stand where it does."""

    orders: int = 1
    settled: bool = True


class OrderCounter:
    """Counts the orders of the solutions of one design whose search is over."""

    def __init__(self, shared: Shared, complete: bool) -> None:
        """complete: the search came to its end, so that places may be looked at; they are not when it was stopped."""
        self.shared, self.complete = shared, complete
        question = Question(shared.keys, (), shared.design.keep, caps_of(shared.design))
        self.tables = shared.tables(question.caps)
        self.scorer = ClassScorer(self.tables, shared, question, lambda _: None, whichever=False)
        self.left = MOST_STEPS

    def count(self, found: Found) -> OrderCount:
        """The orders of a solution, its own among them."""
        train = found.train
        path = path_of(train)
        orders = orders_of(self.tables.candidates, path)
        number = orders.count()
        if number == 1 or (self.tables.chooser is None and not self._coupled(train)):
            return OrderCount(number)
        if not self.complete or number > MOST_LISTED or self.left <= 0:
            return OrderCount(number, False)
        fits = 0
        for options in orders.all():
            before = self._worked()
            try:
                one = self.scorer.train(path._replace(options=options))
                fits += self.scorer.completed(one, found.figures.error_square) is not None
            except (SearchStopped, TooManyThirds):
                return OrderCount(number, False)
            self.left -= self._worked() - before
            if self.left <= 0:
                return OrderCount(number, False)
        return OrderCount(fits)

    def _coupled(self, train: Train) -> bool:
        """Whether third gears, which may differ from order to order, may break a cap that no link tells by itself."""
        return not COUPLED_KEYS.isdisjoint(self.scorer.rules.caps) and any(link.thirds for link in train.links)

    def _worked(self) -> int:
        chooser = self.tables.chooser
        return 0 if chooser is None else chooser.fitter.worked


def count_orders(shared: Shared, found: list[Found], complete: bool) -> dict[Train, OrderCount]:
    """For each of these solutions of a design whose search is over the orders of its links."""
    if not shared.design.gathers_orders or not found:
        return {}
    if complete:
        shared.stop = NoStop()  # what is left is little, and must not depend on the clock
    counter = OrderCounter(shared, complete)
    return {one.train: counter.count(one) for one in found}
