"""In how many orders the links of a solution can stand: what a row of the list stands for. No proof depends on it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from solver.design.train import Train
from solver.search.options.caps import caps_of
from solver.search.options.orders import Orders
from solver.search.options.thirds import TooManyThirds
from solver.search.order.classes import orders_of
from solver.search.order.question import Question
from solver.search.order.score import Found, Scorer, path_of
from solver.search.order.shared import Shared
from solver.search.rank import COUPLED_KEYS
from solver.search.stop import NoStop, SearchStopped

MOST_LISTED = 24  # orders of all solutions of a design together that are looked at one by one
MOST_TOLD = 1 << 63  # what a table has room for
MOST_STEPS = 20_000  # of placing them, for all solutions of a design together


class OrderCount(NamedTuple):
    """In how many orders the links of a solution can stand. settled: by all rules, each of them was looked at; else
    those in which each link by itself can stand where it does. orders: None for MOST_TOLD or more."""

    orders: int | None = 1
    settled: bool = True


ALONE = OrderCount()


class OrderCounter:
    """Counts the orders of the solutions of one design whose search is over."""

    def __init__(self, shared: Shared, complete: bool) -> None:
        """complete: the search came to its end, so that places may be looked at; they are not when it was stopped."""
        self.shared, self.complete = shared, complete
        question = Question(shared.keys, (), shared.design.keep, caps_of(shared.design))
        self.tables = shared.tables(question.caps)
        self.scorer = Scorer(self.tables, shared, question, lambda _: None, whichever=False)
        self.left = MOST_STEPS

    def counts(self, found: Sequence[Found]) -> dict[Train, OrderCount]:
        """The orders of each of these solutions, its own among them. Where links by themselves do not decide them, they
        are looked at one by one: those of all such solutions, or of none where they are too many."""
        every = {one.train: orders_of(self.tables.candidates, path_of(one.train)) for one in found}
        links = {train: orders.count() for train, orders in every.items()}
        open_ = [one for one in found if links[one.train] > 1 and self._undecided(one.train)]
        few = self.complete and sum(links[train] for train in {one.train for one in open_}) <= MOST_LISTED
        counted = {one.train: self._looked_at(one, every[one.train]) if few else None for one in open_}
        return {
            train: _told(number) if train not in counted else counted[train] or _told(number, False)
            for train, number in links.items()
        }

    def _undecided(self, train: Train) -> bool:
        """Whether more than each link by itself decides which orders there are: places, or third gears, which may
        differ from order to order, under a cap that no link tells by itself."""
        coupled = not COUPLED_KEYS.isdisjoint(self.scorer.rules.caps) and any(link.thirds for link in train.links)
        return coupled or self.tables.chooser is not None

    def _looked_at(self, found: Found, orders: Orders) -> OrderCount | None:
        """How many of these orders keep all rules; None: that takes too much work."""
        path = path_of(found.train)
        fits = 0
        for options in orders.all():
            before = self._worked()
            try:
                one = self.scorer.train(path._replace(options=options))
                fits += self.scorer.completed(one, found.figures.error_square) is not None
            except (SearchStopped, TooManyThirds):
                return None
            self.left -= self._worked() - before
            if self.left <= 0:
                return None
        return OrderCount(fits)

    def _worked(self) -> int:
        chooser = self.tables.chooser
        return 0 if chooser is None else chooser.fitter.worked


def _told(number: int, settled: bool = True) -> OrderCount:
    return OrderCount(number if number < MOST_TOLD else None, settled)


def count_orders(shared: Shared, found: list[Found], complete: bool) -> dict[Train, OrderCount]:
    """For each of these solutions of a design whose search is over the orders of its links."""
    if not shared.design.gathers_orders or not found:
        return {}
    # What is left is little, and must not depend on the clock. A search that was stopped may still be at work in its
    # own thread, with a stop rule that has struck: it keeps its tables.
    if complete:
        shared.stop = NoStop()
    else:
        shared = Shared(shared.design, NoStop())
    return OrderCounter(shared, complete).counts(found)
