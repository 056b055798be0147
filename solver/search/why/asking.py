"""Questions about loosened limits: each answered by a search that ends after so many steps, or so much work.

One that is left open counts as nothing known. What is known of a set of loosened limits answers for all that holds
more, or less: more limits loosened fit all the more, fewer all the less.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterable
from contextlib import suppress
from copy import deepcopy
from fractions import Fraction
from functools import partial
from typing import TypeVar

from solver.design.design import Design
from solver.design.errors import DesignError
from solver.design.toothing import toothings
from solver.files.load import design_from_data
from solver.search.order.search import any_train, least_error_square, least_value
from solver.search.order.shared import Unproven
from solver.search.stop import Effort, FirstOf, NoStop, SearchStopped, StopRule, WorkLimit, ask
from solver.search.why.knob import Data, Knob

T = TypeVar("T")
Limits = frozenset[int]  # by number

STEPS, LEAST_STEPS = 5000, 1000  # of one search, after which its question is left open, at most and at least
WORK = 50_000  # steps of all questions about loosened limits; as many again for what several loosened together do
# Shares of the patience for one question: where a "no" is not waited for, at first, and where few are left.
GLANCE, SHORT, LONG = 0.02, 0.03, 0.25
ROOM = 3  # a question gets at least so many times the work that the file as it stands took, but for a glance
# Limits that make the search far larger when they are loosened as far as was tried; a little of each is often enough.
_DEAR = (
    "rings.inner_teeth",
    "rings.tooth_step",
    "rings.blanks",
    "rings.teeth",
    "arbors.",
    "fit.directions",
    "drive.third_gears",
)
_LITTLE = (Fraction(1, 4), Fraction(1, 2))  # a little: these parts of the most


class TooMuchWork(Exception):
    """A question that is left open."""


class Asking:
    """Answers questions about the limits of one file, and remembers the answers.

    Limits are told by their numbers in `knobs`. stop: ends everything. patience: when it strikes, questions are left
    open.
    """

    def __init__(self, data: Data, name: str) -> None:
        self.data, self.name = data, name
        self.knobs: list[Knob] = []
        self.stop: StopRule = NoStop()
        self.patience: StopRule = NoStop()
        self.enough: list[Limits] = []  # limits that, loosened, leave a solution
        self.too_few: list[Limits] = []  # that leave none
        self._open: dict[Limits, float] = {}  # that were left open, after so much work
        self._patience_s: float | None = None
        self._base_s = 0.0  # of work that the file as it stands took
        self._steps_left = WORK

    # -- how much work -----------------------------------------------------------------------------------------------

    def begin(self, stop: StopRule, patience_s: float | None) -> bool:
        """Whether the file as it stands fits; what follows is left open after so much work in all, or so many steps."""
        self.stop = stop
        began = time.thread_time()
        if self.fits(self.data):
            return True
        self._base_s, self._patience_s = time.thread_time() - began, patience_s
        self.too_few.append(frozenset())
        return False

    def more_steps(self) -> None:
        """As many steps again for what is asked from now on."""
        self._steps_left = WORK

    def _most(self, share: float) -> float:
        """What one question may take of the patience: seconds, or steps where that is None."""
        if self._patience_s is None:
            return max(STEPS * share / LONG, LEAST_STEPS)
        least = ROOM * self._base_s if share > GLANCE else 0.0
        return min(max(share * self._patience_s, least), LONG * self._patience_s)

    def settled(self, question: Callable[[StopRule], T], share: float = LONG) -> T:
        """The answer of a search that ends after that share of the patience. Raises TooMuchWork."""
        most = self._most(share)
        counted = WorkLimit(int(most))
        waiting = FirstOf(self.patience, counted if self._patience_s is None else Effort(most))
        try:
            return question(FirstOf(self.stop, waiting))
        except SearchStopped:
            if self.stop() or not waiting():
                raise
            raise TooMuchWork from None
        except Unproven:
            raise TooMuchWork from None
        finally:
            self._steps_left -= int(most) - max(counted.left, 0) if self._patience_s is None else 0

    # -- questions about a file --------------------------------------------------------------------------------------

    def _parsed(self, data: Data) -> Design | None:
        try:
            return design_from_data(data, self.name)
        except DesignError:
            return None  # loosened beyond what a file may ask for

    def fits(self, data: Data, stop: StopRule | None = None) -> bool:
        """Whether a file's data has a solution. Raises SearchStopped and Unproven."""
        ask(self.stop)
        design = self._parsed(data)
        return design is not None and any_train(design, stop or self.stop) is not None

    def best(self, data: Data, key: str) -> Fraction | None:
        """The least worst error as (1 + error)**2, or the least value of another rank key, of a file's data; None: it
        has no solution. Raises TooMuchWork."""
        design = self._parsed(data)
        if design is None:
            return None
        if key == "error":
            return self.settled(lambda stop: least_error_square(design, stop))
        value = self.settled(lambda stop: least_value(design, key, stop))
        return None if value is None else Fraction(value)

    # -- questions about limits --------------------------------------------------------------------------------------

    def loosened(self, limits: Iterable[int], part: Fraction = Fraction(1)) -> Data:
        """The file with these limits loosened as far as is tried, or, of those that make the search far larger, by that
        part of it."""
        data = deepcopy(self.data)
        for index in sorted(limits):
            knob = self.knobs[index]
            knob.edit(data, math.ceil(knob.most * part) if self.dear(index) else knob.most)
        return data

    def dear(self, index: int) -> bool:
        """Whether the search becomes far larger where this limit is loosened as far as is tried."""
        return self.knobs[index].field.startswith(_DEAR)

    def known(self, limits: Limits) -> bool | None:
        """Whether these limits loosened are known to leave a solution, without asking."""
        if any(known <= limits for known in self.enough):
            return True
        if any(limits <= known for known in self.too_few):
            return False
        return None

    def holds(self, limits: Limits, share: float = LONG, new: Limits = frozenset()) -> bool | None:
        """Whether these limits loosened leave a solution; None: that is too much work to settle. new: those that were
        not among what is known to leave none."""
        known, most = self.known(limits), self._most(share)
        if known is not None or self._steps_left <= 0 or self.patience() or self._open.get(limits, -1.0) >= most:
            return known
        # Where what these make of the file is too large to be searched, what fewer make of it may well be small enough.
        fewer = frozenset(index for index in limits if not self.dear(index)) | new
        if fewer and fewer != limits:
            leave = self.holds(fewer, share)
            if leave or (leave is None and share < LONG):
                return leave
        try:
            fits = self._asked(limits, share)
        except TooMuchWork:
            self._open[limits] = most
            if not self._little_holds(limits, share):
                return None
            fits = True
        (self.enough if fits else self.too_few).append(limits)
        return fits

    def _asked(self, limits: Limits, share: float, part: Fraction = Fraction(1)) -> bool:
        """Each toothing that third gears may have is a question of its own. Raises TooMuchWork."""
        ask(self.stop)
        design, left = self._parsed(self.loosened(limits, part)), False
        for one in () if design is None else toothings(design):
            try:
                if self.settled(partial(any_train, one), share) is not None:
                    return True
            except TooMuchWork:
                left = True
        if left:
            raise TooMuchWork
        return False

    def _little_holds(self, limits: Limits, share: float) -> bool:
        """Whether these limits leave a solution where those that make the search far larger are loosened a little."""
        if any(self.dear(index) and self.knobs[index].most > 1 for index in limits):
            for part in _LITTLE if share >= LONG else _LITTLE[:1]:
                with suppress(TooMuchWork):
                    if self._asked(limits, SHORT, part):
                        return True
        return False
