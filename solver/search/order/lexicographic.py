"""Rank keys in lexicographic order: searches by error under caps, one after the other. The recursion has its home here.

A rank key that stands before the error is an epsilon constraint that is tightened: its threshold is the least value
under which `keep` trains exist; fewer exist under one less, and those are all known; the rest of the list are the best
by the later keys under the threshold. A tie class of the error is decided the same way, by the keys after the error.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from solver.design.exact import log_fraction
from solver.search.options.caps import caps_of
from solver.search.order import effort
from solver.search.order.engine import ErrorSearch
from solver.search.order.listing import Lister
from solver.search.order.modelled import Modelled
from solver.search.order.question import Question
from solver.search.order.score import Found, in_order
from solver.search.order.shared import Crowded, ErrorBound, Shared
from solver.search.rounding import square_below

if TYPE_CHECKING:
    from solver.search.order.coupled import Coupled

COUPLED_KEYS = {"jigs", "teeth"}  # what of one link says nothing of without the others


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
        self._many: dict[tuple[object, ...], bool] = {}  # under these caps more trains than are looked at one by one

    def first(self, question: Question) -> list[Found]:
        """The trains that are asked for; fewer only if there are no more. Raises SearchStopped and Unproven."""
        if not question.lead:
            return self._alike(question)
        key = question.lead[0]
        if key == "error":
            if (known := self._by_model(question)) is not None:
                return known
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
            different.setdefault(one.train.identity(), one)
        return list(different.values())[: question.keep]

    # -- caps and keys that couple links --------------------------------------------------------------------------

    def _coupled(self, question: Question, key: str = "") -> Coupled | None:
        """CP-SAT's search, where the key or a cap couples links and the trains are too many to look at each."""
        if key not in COUPLED_KEYS and not COUPLED_KEYS & question.caps.keys():
            return None
        caps = {name: most for name, most in question.caps.items() if name not in COUPLED_KEYS}
        told = (tuple(sorted(caps.items())), question.most)
        if told not in self._many:
            lister = Lister(self.shared, replace(question, lead=("error",), spent=(), caps=caps))
            self._many[told] = lister.holds(*lister.all_inside(), effort.EACH + 1)
        if not self._many[told]:
            return None
        from solver.search.order.coupled import Coupled  # loads CP-SAT

        return Coupled(self.shared, question, own=question is self.own)

    def _by_model(self, question: Question) -> list[Found] | None:
        """The first trains by the error under caps that couple links; None: there are none such, or too many alike."""
        coupled = self._coupled(question)
        if coupled is None:
            return None
        own = question is self.own
        try:
            for least in coupled.by_error():
                best = min(
                    (log_fraction(one.figures.error_square) / 2 for one in coupled.known.values()), default=least
                )
                if own:
                    self.shared.bound.square = max(self.shared.bound.square, square_below(min(least, best)))
        except Crowded:
            return None
        found = in_order(((one.figures, one.train) for one in coupled.known.values()), question.keys)[: question.keep]
        if own and found:
            self.shared.bound.square = found[0].figures.error_square
        return found

    def _threshold_by_model(self, question: Question) -> Threshold | None:
        """The threshold of a key that couples links; None: another key, or too many trains alike."""
        key, keep = question.keys[0], question.keep
        coupled = self._coupled(question, key)
        if coupled is None:
            return None
        if not COUPLED_KEYS & question.caps.keys():  # something to be better than, and to show
            coupled.take(self.any(question.by_error()))
        try:
            for least in coupled.by_value(key):
                if question is self.own:
                    self.shared.least = min([least, *coupled.values(key)])
        except Crowded:
            return None
        values, found = coupled.values(key), list(coupled.known.values())
        if question is self.own and values:
            self.shared.least = values[0]
        if len(values) < keep:
            return Threshold(None, found)
        return Threshold(values[keep - 1], [one for one in found if one.figures.value(key) < values[keep - 1]])

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
        coupled = self._coupled(question)
        if coupled is not None:
            with suppress(Crowded):
                coupled.any()
                return list(coupled.known.values())[: question.keep]
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

    def threshold(self, question: Question) -> Threshold:
        """The least cap on the first key under which `keep` trains exist, by bisection."""
        if (threshold := self._threshold_by_model(question)) is not None:
            return threshold
        key, keep, others = question.keys[0], question.keep, question.by_error()

        def values(found: list[Found]) -> list[int]:
            return [int(one.figures.value(key)) for one in found]

        def proven(least: int) -> None:
            if question is self.own:
                self.shared.least = least

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
