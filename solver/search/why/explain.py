"""Why nothing fits: the smallest set of limits that conflict, and for each the least loosening that is enough.

Everything is done to the file's own fields: a loosening is an edit of the file, and each proposed one is confirmed by
solving the edited file. The conflict is a minimal infeasible set of limits, of all such sets a smallest one. It is
found with its dual: a set of limits conflicts if and only if it meets every set of limits whose relaxation leaves a
solution; so a smallest hitting set of all such relaxations known so far is tried, and either conflicts or gives one
more (implicit hitting sets).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import suppress
from copy import deepcopy
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations
from typing import Any, NamedTuple

from solver.design.design import Design
from solver.design.errors import DesignError
from solver.design.exact import error_above
from solver.files.load import design_from_data
from solver.search.options.caps import caps_of
from solver.search.order.search import any_train, least_error_square, least_value
from solver.search.stop import FirstOf, NoStop, SearchStopped, StopRule, Termination, WorkLimit
from solver.search.why.knob import Data, Knob
from solver.search.why.knobs import knobs_of

WORK = 60_000  # steps of a search after which the question whether a loosening is enough is left open


@dataclass(frozen=True)
class Conflict:
    """A limit of the smallest conflicting set."""

    rule: str
    field: str
    now: str


class Change(NamedTuple):
    """A limit that is loosened: its rule and field, its value in the file now, and then."""

    rule: str
    field: str
    now: str
    then: str


@dataclass(frozen=True)
class Loosening:
    """One or more limits loosened by the least that leaves a solution, the others left as they are.

    data: the edited file; tighter: the file with the last of
    them loosened by one step less, or None where that is the file itself. worst_error_pct: of the best solution
    then; None where max_jigs or max_teeth make it dear to find.
    """

    changes: tuple[Change, ...]
    data: Data
    tighter: Data | None
    worst_error_pct: float | None


@dataclass(frozen=True)
class Explanation:
    """feasible: something fits, there is nothing to explain.

    conflict: the smallest set of limits that cannot be met together; empty where even all limits loosened as far as was
    tried leave nothing, or where that is too much work to settle. loosenings: each alone is enough. left_open: fields
    of limits of which it is too much work to settle whether loosening them is enough. termination: PROVED, or the stop
    rule's reason where it struck first; then what was found by then stands here.
    """

    feasible: bool
    conflict: tuple[Conflict, ...]
    loosenings: tuple[Loosening, ...]
    termination: Termination = Termination.PROVED
    left_open: tuple[str, ...] = ()

    def plain(self) -> dict[str, Any]:
        """As plain JSON data; `field`, `now` and `then` as they stand in the file."""
        return {
            "schema": "ringwright.explanation/1",
            "feasible": self.feasible,
            "termination": self.termination,
            "left_open": list(self.left_open),
            "conflict": [vars(one) for one in self.conflict],
            "loosenings": [
                {
                    "changes": [one._asdict() for one in item.changes],
                    "worst_error_pct": item.worst_error_pct,
                }
                for item in self.loosenings
            ],
        }


def explain(data: Data, name: str = "design", stop: StopRule | None = None) -> Explanation:
    """Explain why the design of a file's data (as TOML gives it) has no solution.

    Deterministic unless the stop rule strikes. Raises DesignError for a file that is wrong in itself, and Unproven
    where the search cannot settle a question.
    """
    return Explaining(data, name).run(stop or NoStop())


class _TooMuchWork(Exception):
    """A question that is left open."""


class Explaining:
    """A file that is explained in one thread, while another one may ask what is known so far."""

    def __init__(self, data: Data, name: str) -> None:
        """Raises DesignError."""
        self.data, self.name = data, name
        self.stop: StopRule = NoStop()
        self.design = design_from_data(data, name)
        self.knobs = list(knobs_of(data, self.design, self._best))
        self._known: dict[frozenset[int], bool | None] = {}
        self._found: list[Loosening] = []
        self._conflict: tuple[Conflict, ...] = ()
        self._left_open: list[str] = []

    def run(self, stop: StopRule) -> Explanation:
        """The explanation, once. Raises Unproven."""
        self.stop = stop
        enough: list[int] = []
        try:
            if self._fits(self.data):
                return Explanation(True, (), ())
            everything = frozenset(range(len(self.knobs)))
            for index in sorted(everything):
                try:
                    if self._loosened_fits(frozenset({index})):
                        enough.append(index)
                except _TooMuchWork:
                    self._left_open.append(self.knobs[index].field)
            for index in enough:
                self._found.append(self._least((index,)))
            with suppress(_TooMuchWork):
                if enough or self._loosened_fits(everything):
                    named = self._smallest_conflict(everything)
                    self._conflict = tuple(
                        Conflict(one.rule, one.field, one.now) for one in (self.knobs[i] for i in sorted(named))
                    )
                    if not enough:
                        self._found += [self._least(pair) for pair in self._pairs(named)]
        except SearchStopped as stopped:
            return self.so_far(stopped.reason)
        return self.so_far(Termination.PROVED)

    def so_far(self, reason: Termination) -> Explanation:
        """What is known, as the explanation that ends here for that reason."""
        return Explanation(False, self._conflict, tuple(self._found), reason, tuple(self._left_open))

    # -- asking ------------------------------------------------------------------------------------------------

    def _parsed(self, data: Data) -> Design | None:
        try:
            return design_from_data(data, self.name)
        except DesignError:
            return None  # loosened beyond what a file may ask for

    def _fits(self, data: Data, stop: StopRule | None = None) -> bool:
        if reason := self.stop():
            raise SearchStopped(reason)
        design = self._parsed(data)
        return design is not None and any_train(design, stop or self.stop) is not None

    def _best(self, data: Data, key: str) -> Fraction | None:
        """The least worst error as (1 + error)**2, or the least value of another rank key, of a file's data; None: it
        has no solution."""
        design = self._parsed(data)
        if design is None:
            return None
        if key == "error":
            return least_error_square(design, self.stop)
        value = least_value(design, key, self.stop)
        return None if value is None else Fraction(value)

    def _loosened(self, knobs: Iterable[int]) -> Data:
        data = deepcopy(self.data)
        for index in sorted(knobs):
            self.knobs[index].edit(data, self.knobs[index].most)
        return data

    def _loosened_fits(self, knobs: frozenset[int]) -> bool:
        """Whether these limits loosened leave a solution. Raises _TooMuchWork, for the same question each time."""
        if knobs not in self._known:
            limit = WorkLimit(WORK)
            try:
                self._known[knobs] = self._fits(self._loosened(knobs), FirstOf(self.stop, limit))
            except SearchStopped:
                if limit.left >= 0:
                    raise
                self._known[knobs] = None
        known = self._known[knobs]
        if known is None:
            raise _TooMuchWork
        return known

    # -- the conflict ------------------------------------------------------------------------------------------

    def _smallest_conflict(self, everything: frozenset[int]) -> frozenset[int]:
        """The smallest set of limits that leave nothing although all others are loosened."""
        mends = [frozenset({index}) for index in sorted(everything) if self._loosened_fits(frozenset({index}))]
        while True:
            tried = _smallest_hitting_set(mends, everything)
            loosened = everything - tried
            if not self._loosened_fits(loosened):
                return tried
            for index in sorted(loosened):  # what of it is needed?
                if self._loosened_fits(loosened - {index}):
                    loosened -= {index}
            mends.append(loosened)

    def _pairs(self, conflict: frozenset[int]) -> Iterator[tuple[int, int]]:
        """Pairs of limits of which at least one conflicts, that are enough together."""
        for pair in combinations(range(len(self.knobs)), 2):
            if conflict & set(pair) and self._loosened_fits(frozenset(pair)):
                yield pair

    # -- the least loosening -----------------------------------------------------------------------------------

    def _least(self, knobs: tuple[int, ...]) -> Loosening:
        """Loosen these one after the other as little as will do, those that follow loosened fully meanwhile."""
        data, tighter, changes = deepcopy(self.data), None, list[Change]()
        for number, index in enumerate(knobs):
            knob = self.knobs[index]
            rest = deepcopy(data)
            for later in knobs[number + 1 :]:
                self.knobs[later].edit(rest, self.knobs[later].most)
            degree = self._least_degree(knob, rest)
            tighter = None
            if degree > 1 or number:
                tighter = deepcopy(data)
                if degree > 1:
                    knob.edit(tighter, degree - 1)
            if degree:
                knob.edit(data, degree)
                changes.append(Change(knob.rule, knob.field, knob.now, knob.says(degree)))
        design = design_from_data(data, self.name)
        if {"jigs", "teeth"} & set(caps_of(design)):  # which train is the best then is far dearer to find than one
            if not self._fits(data):
                raise RuntimeError(f"a loosening that should be enough is not: {changes}")
            return Loosening(tuple(changes), data, tighter, None)
        square = self._best(data, "error")
        if square is None:
            raise RuntimeError(f"a loosening that should be enough is not: {changes}")
        return Loosening(tuple(changes), data, tighter, error_above(square, 100))

    def _least_degree(self, knob: Knob, rest: Data) -> int:
        """The least degree at which the rest has a solution; it has one at the greatest."""
        if knob.least is not None:
            degree = knob.least(rest)
            if degree is not None:
                return degree
        low, high, step = 0, 1, 1
        while high < knob.most and not self._fits_at(knob, rest, high):
            low, step = high, step * 2
            high = min(knob.most, high + step)
        while high - low > 1:
            middle = (low + high) // 2
            if self._fits_at(knob, rest, middle):
                high = middle
            else:
                low = middle
        return high

    def _fits_at(self, knob: Knob, rest: Data, degree: int) -> bool:
        data = deepcopy(rest)
        knob.edit(data, degree)
        return self._fits(data)


def _smallest_hitting_set(sets: list[frozenset[int]], everything: frozenset[int]) -> frozenset[int]:
    """The smallest set that has a member in each of the sets (a hitting set), the first of them in order."""
    needed = frozenset(index for one in sets if len(one) == 1 for index in one)
    rest = [one for one in sets if not one & needed]
    among = sorted({index for one in rest for index in one})
    for size in range(len(among) + 1):
        for chosen in combinations(among, size):
            if all(one & set(chosen) for one in rest):
                return needed | set(chosen)
    raise RuntimeError("nothing meets every set")
