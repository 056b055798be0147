"""Why nothing fits: a smallest set of limits that conflict, and for each the least loosening that is enough.

Everything is done to the file's own fields: a loosening is an edit of the file, and each proposed one is confirmed by
solving the edited file. The conflict is a minimal infeasible set of limits: they cannot be met together however far all
others are loosened, and without any one of them they can. It is found by QuickXplain (Junker 2004), which halves what
may be left out, the limits that are the likeliest to blame first. Each question is answered by a search that ends after
so many steps. One that is left open counts as if something fitted: what is named then conflicts all the same, and of a
limit that may not be needed it is said. What is known of a set of loosened limits answers for all that holds more, or
less.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from copy import deepcopy
from dataclasses import dataclass
from fractions import Fraction
from functools import partial
from itertools import combinations
from typing import Any, NamedTuple, TypeVar

from solver.design.design import Design
from solver.design.errors import DesignError
from solver.design.exact import error_above
from solver.files.load import design_from_data
from solver.search.options.caps import caps_of
from solver.search.order.search import any_train, least_error_square, least_value
from solver.search.order.shared import Unproven
from solver.search.stop import Effort, FirstOf, NoStop, SearchStopped, StopRule, Termination, WorkLimit
from solver.search.why.knob import Data, Knob
from solver.search.why.knobs import knobs_of

T = TypeVar("T")

STEPS = 5000  # of one search, after which its question is left open
WORK = 50_000  # steps of all questions about loosened limits; as many again for what several loosened together do
LEAST = {"jigs", "teeth"}  # caps under which which train is the best is far dearer to find than one
NO_LIMIT = 10**12
PATIENCE_S = 4.0  # of work that a person is made to wait for answers about loosened limits
SINGLY = 0.4  # share of the patience for which limits are enough alone
NAMING = 0.75  # and for what conflicts, too; the rest is for how little is enough
SLICE, LONG = 0.03, 0.25  # and for one question, where many are to come, and where few are
MOST_TOGETHER = 4  # limits that are loosened together, at most
# Fields that are the likeliest to be to blame: those that a maker plans with.
_LIKELY = (
    "rings.tooth_step",
    "rings.blanks",
    "rings.inner_teeth",
    "rings.teeth",
    "search.",
    "arbors.third_gears",
    "fit.",
)


@dataclass(frozen=True)
class Conflict:
    """A limit of a conflicting set. needed: without it the others can be met; False: that is not known."""

    rule: str
    field: str
    now: str
    needed: bool


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
    them loosened by one step less, or None where that is the file itself. least: with one step less nothing fits;
    False: that is too much work to settle. worst_error_pct: of the best solution then; None where that is dear to find.
    """

    changes: tuple[Change, ...]
    data: Data
    tighter: Data | None
    least: bool
    worst_error_pct: float | None


@dataclass(frozen=True)
class Explanation:
    """feasible: something fits, there is nothing to explain.

    conflict: limits that cannot be met together, a minimal set of them where all are needed; empty where even all
    limits loosened as far as was tried leave nothing, or where that was not settled. loosenings: each alone is enough.
    left_open: fields of limits of which it is too much work to settle whether, or how far, loosening them is enough.
    termination: PROVED, or the stop rule's reason where it struck first; then what was found by then stands here.
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
                    "least": item.least,
                    "worst_error_pct": item.worst_error_pct,
                }
                for item in self.loosenings
            ],
        }


def explain(
    data: Data, name: str = "design", stop: StopRule | None = None, patience_s: float | None = None
) -> Explanation:
    """Explain why the design of a file's data (as TOML gives it) has no solution.

    patience_s: seconds of work after which questions about loosened limits are left open; None: the steps of their
    searches alone decide. Deterministic unless it, or the stop rule, strikes. Raises DesignError for a file that is
    wrong in itself, and Unproven where the search cannot settle whether anything fits.
    """
    return Explaining(data, name).run(stop or NoStop(), patience_s)


class _TooMuchWork(Exception):
    """A question that is left open."""


class Explaining:
    """A file that is explained in one thread, while another one may ask what is known so far."""

    def __init__(self, data: Data, name: str, told: Callable[[str], None] | None = None) -> None:
        """told: hears what is known so far. Raises DesignError."""
        self.data, self.name, self.told = data, name, told
        self.stop: StopRule = NoStop()
        self.patience: StopRule = NoStop()  # when it strikes, questions are left open
        self.design = design_from_data(data, name)
        self.knobs = list(knobs_of(data, self.design, self._best))
        self.everything = frozenset(range(len(self.knobs)))
        self._enough: list[frozenset[int]] = []  # limits that, loosened, leave a solution
        self._too_few: list[frozenset[int]] = []  # that leave none
        self._unsettled: set[frozenset[int]] = set()
        self._work = self._most = WORK  # steps left, and in all
        self._slice: Callable[[], StopRule] = NoStop  # of the patience, for one question
        self._found: list[Loosening] = []
        self._conflict: tuple[Conflict, ...] = ()
        self._left_open: list[str] = []

    def run(self, stop: StopRule, patience_s: float | None = None) -> Explanation:
        """The explanation, once. Raises Unproven."""
        self.stop = stop

        def within(share: float) -> StopRule:
            return NoStop() if patience_s is None else Effort(share * patience_s)

        singly, naming, proposing = within(SINGLY), within(NAMING), within(1)
        try:
            self._say("whether anything fits as it stands")
            if self._fits(self.data):
                return Explanation(True, (), ())
            self._too_few.append(frozenset())
            self._work = self._most = WORK if patience_s is None else NO_LIMIT
            self.patience = singly
            alone = self._alone(patience_s)
            self.patience = naming
            self._slice = partial(within, LONG)
            if self._loosened_fits(self.everything) is not False:
                named = self._minimal_conflict(frozenset(alone))
                self.patience = proposing
                for index in sorted(alone):
                    self._propose((index,))
                if not alone:
                    self._work = self._most
                    for together in self._together(named):
                        self._propose(together)
        except SearchStopped as stopped:
            return self.so_far(stopped.reason)
        return self.so_far(Termination.PROVED)

    def so_far(self, reason: Termination) -> Explanation:
        """What is known, as the explanation that ends here for that reason."""
        return Explanation(False, self._conflict, tuple(self._found), reason, tuple(self._left_open))

    def _say(self, doing: str) -> None:
        if self.told is not None:
            known = [f"{len(self._conflict)} limits conflict"] if self._conflict else []
            known += [f"enough: {change.field} {change.then}" for item in self._found[-1:] for change in item.changes]
            self.told(", ".join([doing, *known]))

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

    def _settled(self, question: Callable[[StopRule], T], most: int = STEPS) -> T:
        """The answer of a search that ends after so many steps. Raises _TooMuchWork."""
        most = most if self._most == WORK else NO_LIMIT
        limit = WorkLimit(most)
        waiting = FirstOf(limit, self.patience, self._slice())
        try:
            return question(FirstOf(self.stop, waiting))
        except SearchStopped:
            if self.stop() or not waiting():
                raise
            raise _TooMuchWork from None
        except Unproven:
            raise _TooMuchWork from None
        finally:
            self._work -= most - max(limit.left, 0)

    def _best(self, data: Data, key: str) -> Fraction | None:
        """The least worst error as (1 + error)**2, or the least value of another rank key, of a file's data; None: it
        has no solution. Raises _TooMuchWork."""
        design = self._parsed(data)
        if design is None:
            return None
        if key == "error":
            return self._settled(lambda stop: least_error_square(design, stop))
        value = self._settled(lambda stop: least_value(design, key, stop))
        return None if value is None else Fraction(value)

    def _loosened(self, knobs: Iterable[int]) -> Data:
        data = deepcopy(self.data)
        for index in sorted(knobs):
            self.knobs[index].edit(data, self.knobs[index].most)
        return data

    def _loosened_fits(self, knobs: frozenset[int]) -> bool | None:
        """Whether these limits loosened leave a solution; None: that is too much work to settle."""
        if any(known <= knobs for known in self._enough):
            return True
        if any(knobs <= known for known in self._too_few):
            return False
        if knobs in self._unsettled or self._work <= 0 or self.patience():
            return None
        try:
            fits = self._settled(lambda stop: self._fits(self._loosened(knobs), stop), min(STEPS, self._work))
        except _TooMuchWork:
            self._unsettled.add(knobs)
            return None
        (self._enough if fits else self._too_few).append(knobs)
        if not fits and knobs:
            self._know(self.everything - knobs)
        return fits

    def _know(self, conflicting: frozenset[int]) -> None:
        """Keep these as what conflicts so far, if no fewer are known; none where all limits loosened leave nothing."""
        if len(conflicting) <= (len(self._conflict) or len(self.knobs) - 1):
            self._conflict = tuple(
                Conflict(knob.rule, knob.field, knob.now, self._needed(index, conflicting))
                for index, knob in enumerate(self.knobs)
                if index in conflicting
            )

    def _needed(self, index: int, conflicting: frozenset[int]) -> bool:
        """Whether it is known that the others of these can be met together."""
        others = self.everything - conflicting | {index}
        return any(known <= others for known in self._enough)

    def _alone(self, patience_s: float | None) -> list[int]:
        """The limits that are enough alone. Of the patience, what is soon settled comes first."""
        rest = sorted(self.everything, key=self._likelihood)
        for share in (1,) if patience_s is None else (SLICE, 4 * SLICE):
            left = []
            for index in rest:
                self._unsettled.discard(frozenset({index}))
                self._slice = NoStop if patience_s is None else partial(Effort, share * patience_s)
                self._say(f"loosening {self.knobs[index].field}")
                if self._loosened_fits(frozenset({index})) is None:
                    left.append(index)
            rest = left
        self._left_open = [self.knobs[index].field for index in sorted(rest)]
        return [index for index in sorted(self.everything) if frozenset({index}) in self._enough]

    # -- the conflict ------------------------------------------------------------------------------------------

    def _minimal_conflict(self, alone: frozenset[int]) -> frozenset[int]:
        """A minimal set of limits that leave nothing although all others are loosened. alone: those that are enough
        alone, and so belong to every such set."""
        blamed = sorted(self.everything - alone, key=self._likelihood)
        found = alone | self._quick(alone, bool(alone), blamed)
        for index in sorted(found, key=self._likelihood, reverse=True):
            if not self._needed(index, found) and self._loosened_fits(self.everything - found | {index}) is False:
                found -= {index}
        self._know(found)
        return found

    def _likelihood(self, index: int) -> int:
        field = self.knobs[index].field
        return next((rank for rank, start in enumerate(_LIKELY) if field.startswith(start)), len(_LIKELY))

    def _quick(self, kept: frozenset[int], grown: bool, among: list[int]) -> frozenset[int]:
        """QuickXplain: a minimal part of `among` that conflicts with those kept, all other limits loosened; all of them
        do. grown: whether those kept are more than when that was last asked."""
        self._say("which limits conflict")
        if not among or (grown and self._loosened_fits(self.everything - kept) is False):
            return frozenset()
        if len(among) == 1:
            return frozenset(among)
        first, second = among[: len(among) // 2], among[len(among) // 2 :]
        from_second = self._quick(kept | set(first), True, second)
        return from_second | self._quick(kept | from_second, bool(from_second), first)

    def _together(self, conflict: frozenset[int]) -> Iterator[tuple[int, ...]]:
        """Pairs of limits of which at least one conflicts, that are enough together; where there is none, sets of a few
        more, each without one that is not needed."""
        pairs = [pair for pair in combinations(sorted(self.everything), 2) if conflict & set(pair)]
        pairs.sort(key=lambda pair: max(map(self._likelihood, pair)))
        found = False
        for pair in pairs:
            self._say("two loosened together")
            if self._loosened_fits(frozenset(pair)):
                found = True
                yield pair
        for index in () if found else sorted(conflict, key=self._likelihood):
            self._say("several loosened together")
            loosened = self.everything - conflict | {index}
            if self._loosened_fits(loosened):
                for other in sorted(loosened - {index}, key=self._likelihood, reverse=True):
                    if self._loosened_fits(loosened - {other}):
                        loosened -= {other}
                if len(loosened) <= MOST_TOGETHER:
                    yield tuple(sorted(loosened))

    # -- the least loosening -----------------------------------------------------------------------------------

    def _propose(self, knobs: tuple[int, ...]) -> None:
        """Loosen these one after the other as little as will do, those that follow loosened fully meanwhile."""
        self._say("how little is enough of " + ", ".join(self.knobs[index].field for index in knobs))
        data, tighter, changes, least = deepcopy(self.data), None, list[Change](), True
        for number, index in enumerate(knobs):
            knob = self.knobs[index]
            rest = deepcopy(data)
            for later in knobs[number + 1 :]:
                self.knobs[later].edit(rest, self.knobs[later].most)
            degree, sure = self._least_degree(knob, rest)
            if not sure and degree == knob.most > 1:  # how much is enough is not known at all
                self._left_open.append(knob.field)
                return
            least &= sure
            tighter = None
            if degree > 1 or number:
                tighter = deepcopy(data)
                if degree > 1:
                    knob.edit(tighter, degree - 1)
            knob.edit(data, degree)
            changes.append(Change(knob.rule, knob.field, knob.now, knob.says(degree)))
        error = None
        if not LEAST & set(caps_of(design_from_data(data, self.name))):
            with suppress(_TooMuchWork):
                square = self._best(data, "error")
                if square is None:
                    raise RuntimeError(f"a loosening that should be enough is not: {changes}")
                error = error_above(square, 100)
        found = Loosening(tuple(changes), data, tighter, least, error)
        if all(found.changes != other.changes for other in self._found):
            self._found.append(found)

    def _least_degree(self, knob: Knob, rest: Data) -> tuple[int, bool]:
        """The least degree at which the rest has a solution, and whether it is sure that there is none at one less; it
        has one at the greatest."""
        if knob.least is not None:
            with suppress(_TooMuchWork):
                degree = knob.least(rest)
                if degree is not None:
                    return degree, True
        unsettled: set[int] = set()

        def fits(degree: int) -> bool:
            data = deepcopy(rest)
            knob.edit(data, degree)
            try:
                return self._settled(lambda stop: self._fits(data, stop))
            except _TooMuchWork:
                unsettled.add(degree)
                return False

        low, high, step = 0, 1, 1
        while high < knob.most and not fits(high):
            low, step = high, step * 2
            high = min(knob.most, high + step)
        while high - low > 1:
            middle = (low + high) // 2
            if fits(middle):
                high = middle
            else:
                low = middle
        return high, low not in unsettled
