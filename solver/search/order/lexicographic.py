"""Rank keys in lexicographic order: searches by error under caps, one after the other. The recursion has its home here.

A rank key that stands before the error is an epsilon constraint that is tightened: its threshold is the least value
under which `keep` trains exist; fewer exist under one less, and those are all known; the rest of the list are the best
by the later keys under the threshold. A tie class of the error is decided the same way, by the keys after the error.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from solver.search.options.caps import caps_of
from solver.search.order.engine import ErrorSearch
from solver.search.order.modelled import Modelled
from solver.search.order.question import Question
from solver.search.order.score import Found, in_order
from solver.search.order.shared import ErrorBound, Shared


@dataclass(frozen=True)
class Threshold:
    """The least value of a key under which enough trains exist, and all trains below it; None, and all trains, where
    fewer exist at all."""

    value: int | None
    below: list[Found]


class Lexicographic:
    """Answers questions about one design; the recursion from key to key is here and nowhere else.

    own: the design's own question. What is proven of it is proven of the design; of one under tighter caps it is not.
    """

    def __init__(self, shared: Shared) -> None:
        self.shared = shared
        self.own = Question(shared.keys, (), shared.design.keep, caps_of(shared.design))

    def first(self, question: Question) -> list[Found]:
        """The trains that are asked for; fewer only if there are no more. Raises SearchStopped and Unproven."""
        if not question.lead:
            return self._alike(question)
        key = question.lead[0]
        if key == "error":
            found = self._run(self._error_search(question))
            return in_order(((one.figures, one.train) for one in found), question.keys)
        if key == "envelope" and not self.shared.design.arbors.reverted:  # without places it is no cap
            return self.first(question.after_first())
        threshold = self.threshold(question)
        found = threshold.below
        if threshold.value is not None:
            found = found + self.first(question.after_first().capped(key, threshold.value))
        different: dict[tuple[object, ...], Found] = {}
        for one in in_order(((one.figures, one.train) for one in found), question.keys):
            different.setdefault(self.shared.same(one.train), one)
        return list(different.values())[: question.keep]

    def _error_search(self, question: Question) -> ErrorSearch:
        return ErrorSearch(self.shared, question, self.shared.bound if question is self.own else ErrorBound())

    def _run(self, one: ErrorSearch) -> list[Found]:
        """The first trains by the error; each tie class that is too long to list is decided by the keys after it."""
        for square in one.ties():
            later = replace(one.question, lead=one.question.keys[1:], spent=())
            one.add(self.first(later.within(square)))
        return one.result()

    def any(self, question: Question) -> list[Found]:
        """Any `keep` trains within the caps; fewer only if there are no more."""
        one = self._error_search(question)
        found = one.any()
        return self._run(one) if found is None else found

    def _alike(self, question: Question) -> list[Found]:
        """The first of trains that differ in no key."""
        if not self.shared.order_ties:
            return self.any(question)
        return Modelled(self._error_search(question).lister).alike()

    def number(self, question: Question) -> int | None:
        """How many different trains are within the caps; None: more than can be listed."""
        return self._error_search(question).lister.number()

    def _known(self) -> list[Found]:
        """The trains of the design's own question that are known already."""
        return in_order(list(self.shared.known.values()), self.shared.keys)[: self.own.keep]

    def threshold(self, question: Question) -> Threshold:
        """The least cap on the first key under which `keep` trains exist, by bisection."""
        key, keep, others = question.keys[0], question.keep, question.by_error()

        def values(found: list[Found]) -> list[int]:
            return [int(one.figures.value(key)) for one in found]

        def proven(least: int) -> None:
            if question is self.own:
                self.shared.least = least

        found = self._known() if question is self.own else []
        if len(found) < keep:
            found = self.any(others)
        if len(found) < keep:
            if found:
                proven(min(values(found)))
            return Threshold(None, found)
        high = max(values(found))
        low, below = 0, list[Found]()
        while low < high:
            middle = (low + high) // 2
            found = self.any(others.capped(key, middle))
            if len(found) < keep:
                low, below = middle + 1, found
                proven(min(values(found), default=low))  # fewer than asked for: there are no others up to here
            else:
                high = max(values(found))
        proven(min([high, *values(below)]))
        return Threshold(high, below)
