"""Why nothing fits: a smallest set of limits that conflict, and for each the least loosening that is enough.

Everything is done to the file's own fields: a loosening is an edit of the file, and each proposed one is confirmed by
solving the edited file. The conflict is a minimal infeasible set of limits: they cannot be met together however far all
others are loosened, and without any one of them they can. It is found from the other end: limits are loosened, more and
more of them, those first that are the least likely to blame, as long as nothing fits even so (a maximal set that is not
enough; what is left of the limits is a minimal set that conflicts). So the first questions are about files that are
hardly larger than the one that is explained. Each is answered by a search that ends after so many steps (`asking`). One
that is left open counts as if something fitted: what is named then conflicts all the same, and of a limit that may not
be needed it is said.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from copy import deepcopy
from itertools import combinations

from solver.design.exact import error_above
from solver.files.load import design_from_data
from solver.search.options.caps import caps_of
from solver.search.rank import COUPLED_KEYS
from solver.search.stop import Effort, NoStop, SearchStopped, StopRule, Termination
from solver.search.why.asking import GLANCE, LONG, SHORT, Asking, Limits, TooMuchWork
from solver.search.why.explanation import Change, Conflict, Explanation, Loosening
from solver.search.why.knob import Data, Knob
from solver.search.why.knobs import knobs_of

PATIENCE_S = 4.0  # of work that a person is made to wait for answers about loosened limits
# Shares of the patience, one after the other: for rules that are taken off, and what else stands under those; for what
# conflicts, of all that leaves the search as large as it is; for what is enough alone; and for all that conflicts. What
# is left then is for how little is enough.
SWITCHES, CHEAP, SINGLY, NAMING = 0.25, 0.45, 0.65, 0.8
MOST_TOGETHER = 4  # limits that are loosened together, at most
AT_FIRST = 8  # limits that are loosened at once, at first
# Fields that are the likeliest to be to blame: those that a maker plans with.
_LIKELY = (
    "made.",
    "rings.tooth_step",
    "rings.blanks",
    "rings.inner_teeth",
    "rings.teeth",
    "search.",
    "arbors.third_gears",
    "supports.",
    "fit.",
)


def explain(
    data: Data, name: str = "design", stop: StopRule | None = None, patience_s: float | None = None
) -> Explanation:
    """Explain why the design of a file's data (as TOML gives it) has no solution.

    patience_s: seconds of work after which questions about loosened limits are left open; None: the steps of their
    searches alone decide. Deterministic unless it, or the stop rule, strikes. Raises DesignError for a file that is
    wrong in itself, and Unproven where the search cannot settle whether anything fits.
    """
    return Explaining(data, name).run(stop or NoStop(), patience_s)


class Explaining:
    """A file that is explained in one thread, while another one may ask what is known so far."""

    def __init__(self, data: Data, name: str, told: Callable[[str], None] | None = None) -> None:
        """told: hears what is known so far. Raises DesignError."""
        self.data, self.name, self.told = data, name, told
        self.asking = Asking(data, name)
        self.asking.knobs += knobs_of(data, design_from_data(data, name), self.asking.best)
        self.everything: Limits = frozenset(range(len(self.asking.knobs)))
        self._found: list[Loosening] = []
        self._conflict: tuple[Conflict, ...] = ()
        self._unsettled: set[int] = set()  # limits of which it is open whether, or how far, loosening them is enough

    def run(self, stop: StopRule, patience_s: float | None = None) -> Explanation:
        """The explanation, once. Raises Unproven."""

        asking, began = self.asking, time.thread_time()

        def within(share: float) -> StopRule:
            spent = time.thread_time() - began
            return NoStop() if patience_s is None else Effort(share * patience_s - spent)

        try:
            self._say("whether anything fits as it stands")
            if asking.begin(stop, patience_s):
                return Explanation(True, (), ())
            asking.patience = within(SWITCHES)
            self._switched()
            asking.patience = within(CHEAP)
            cheap = [index for index in self.everything if not asking.dear(index)]
            loosened = self._grown(frozenset(), cheap, AT_FIRST, SHORT)
            asking.patience = within(SINGLY)
            loosened = self._grown(loosened, self.everything - loosened, len(self.everything), SHORT)
            alone = self._alone(self.everything - loosened)
            asking.patience = within(NAMING)
            loosened = self._grown(loosened, self.everything - loosened, 1, LONG)
            self._know(self.everything - loosened)
            asking.patience = within(1)
            for index in alone:
                self._propose((index,))
            # What patience is left may settle what was left open.
            for index in sorted(self._unsettled):
                if self._enough_alone(index, LONG):
                    self._unsettled.discard(index)
                    alone.append(index)
                    self._propose((index,))
            named = self.everything - self._grown(loosened, self.everything - loosened, 1, LONG)
            self._know(named)
            self._unsettled &= named
            if not alone and named:
                asking.more_steps()
                for together in self._together(named):
                    self._propose(together)
        except SearchStopped as stopped:
            return self.so_far(stopped.reason)
        return self.so_far(Termination.PROVED)

    def so_far(self, reason: Termination) -> Explanation:
        """What is known, as the explanation that ends here for that reason."""
        return Explanation(
            False, self._conflict, tuple(self._found), reason, tuple(self._fields(sorted(self._unsettled)))
        )

    def _say(self, doing: str) -> None:
        if self.told is not None:
            needed = sum(one.needed for one in self._conflict)
            known = [f"{needed} limits needed so far, {len(self._conflict) - needed} open"] if self._conflict else []
            known += [f"enough: {change.field} {change.then}" for item in self._found[-1:] for change in item.changes]
            self.told(", ".join([doing, *known]))

    def _fields(self, limits: Iterable[int]) -> list[str]:
        return [self.asking.knobs[index].field for index in limits]

    def _likelihood(self, index: int) -> int:
        field = self.asking.knobs[index].field
        return next((rank for rank, start in enumerate(_LIKELY) if field.startswith(start)), len(_LIKELY))

    # -- the conflict ------------------------------------------------------------------------------------------

    def _know(self, conflicting: Limits) -> None:
        """Keep these as what conflicts so far, where they are not all limits, nor none."""
        if 0 < len(conflicting) < len(self.everything):
            self._conflict = tuple(
                Conflict(knob.rule, knob.field, knob.now, self._needed(index, conflicting))
                for index, knob in enumerate(self.asking.knobs)
                if index in conflicting
            )

    def _needed(self, index: int, conflicting: Limits) -> bool:
        """Whether it is known that the others of these can be met together."""
        return self.asking.known(self.everything - conflicting | {index}) is True

    def _switched(self) -> None:
        """Ask of each rule of fit that can be taken off whether that is enough; then of all that stands under one that
        is. What is enough is mostly found at a glance."""
        order = sorted(self.everything, key=self._likelihood)
        knobs, guilty = self.asking.knobs, set[str]()
        for index in order:
            off = knobs[index].most == 1 and knobs[index].field.startswith("fit.")
            if (off or knobs[index].rule == "direction") and self._enough_alone(index, GLANCE):
                guilty.add(knobs[index].rule)
        for index in order:
            if knobs[index].rule in guilty:
                self._enough_alone(index, SHORT)

    def _enough_alone(self, index: int, share: float) -> bool | None:
        self._say(f"loosening {self.asking.knobs[index].field}")
        return self.asking.holds(frozenset({index}), share)

    def _grown(self, loosened: Limits, among: Iterable[int], number: int, share: float) -> Limits:
        """Limits that, loosened, leave nothing: these, and of those among which to look as many as can be, so many at
        once at first."""
        left = sorted(
            (index for index in among if self.asking.known(frozenset({index})) is not True),
            key=lambda index: (self.asking.dear(index), -self._likelihood(index)),
        )
        at = 0
        while at < len(left):
            some = frozenset(left[at : at + number])
            self._say("which limits conflict, loosening " + ", ".join(self._fields(sorted(some))))
            leave = self.asking.holds(loosened | some, share, new=some)
            if leave is False:
                loosened |= some
                self._know(self.everything - loosened)
                at, number = at + len(some), 2 * number
            elif len(some) > 1:
                number = 1 if number > AT_FIRST else len(some) // 2
            else:
                at, number = at + 1, 1 if self.asking.dear(left[at]) else 2
        return loosened

    def _alone(self, conflicting: Limits) -> list[int]:
        """The limits that are enough alone; they belong to every set that conflicts. What is soon settled comes
        first."""

        def late(index: int) -> tuple[bool, int]:
            teeth = not self.asking.knobs[index].field.startswith(("fit.", "search."))
            return teeth and self.asking.dear(index), self._likelihood(index)

        left = sorted(conflicting, key=late)
        for share in (SHORT, 4 * SHORT):
            for index in left:
                self._enough_alone(index, share)
            left = [index for index in left if self.asking.known(frozenset({index})) is None]
        self._unsettled.update(left)
        return [index for index in sorted(conflicting) if self.asking.known(frozenset({index}))]

    def _together(self, conflict: Limits) -> Iterator[tuple[int, ...]]:
        """Pairs of limits of which at least one conflicts, that are enough together; where there is none, sets of a few
        more, each without one that is not needed."""
        pairs = [pair for pair in combinations(sorted(self.everything), 2) if conflict & set(pair)]
        pairs.sort(key=lambda pair: max(map(self._likelihood, pair)))
        found = False
        for pair in pairs:
            self._say("two loosened together")
            if self.asking.holds(frozenset(pair)):
                found = True
                yield pair
        for index in () if found else sorted(conflict, key=self._likelihood):
            self._say("several loosened together")
            loosened = self.everything - conflict | {index}
            if self.asking.holds(loosened):
                for other in sorted(loosened - {index}, key=self._likelihood, reverse=True):
                    if self.asking.holds(loosened - {other}):
                        loosened -= {other}
                if len(loosened) <= MOST_TOGETHER:
                    yield tuple(sorted(loosened))

    # -- the least loosening -----------------------------------------------------------------------------------

    def _propose(self, knobs: tuple[int, ...]) -> None:
        """Loosen these one after the other as little as will do, those that follow loosened fully meanwhile."""
        self._say("how little is enough of " + ", ".join(self.asking.knobs[index].field for index in knobs))
        data, tighter, changes, least = deepcopy(self.data), None, list[Change](), True
        for number, index in enumerate(knobs):
            knob = self.asking.knobs[index]
            rest = deepcopy(data)
            for later in knobs[number + 1 :]:
                self.asking.knobs[later].edit(rest, self.asking.knobs[later].most)
            degree, sure = self._least_degree(knob, rest)
            if not sure and degree == knob.most > 1:  # how much is enough is not known at all
                self._unsettled.add(index)
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
        if COUPLED_KEYS.isdisjoint(caps_of(design_from_data(data, self.name))):
            with suppress(TooMuchWork):
                square = self.asking.best(data, "error")
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
            with suppress(TooMuchWork):
                degree = knob.least(rest)
                if degree is not None:
                    return degree, True
        unsettled: set[int] = set()

        def fits(degree: int) -> bool:
            data = deepcopy(rest)
            knob.edit(data, degree)
            try:
                return self.asking.settled(lambda stop: self.asking.fits(data, stop))
            except TooMuchWork:
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
