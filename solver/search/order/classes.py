"""Classes of trains that differ in the order of their links alone: each is listed once, and its first order is shown.

All orders of a class have the same rates, so the same error, and the same wheels and pinions; what differs is how far
they reach out, their third gears, and whether they have places. So a class is looked through best first: its orders by
a lower bound on their keys, each of which is worked out when its turn comes, until the first of them that is within all
limits is known. A class is dropped only when all of its orders are.
"""

from __future__ import annotations

import heapq
from bisect import bisect_left, insort
from collections.abc import Callable, Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import islice, pairwise
from typing import NamedTuple

from solver.design.links import KINDS
from solver.design.train import Link, Train
from solver.search.options.candidates import Candidates, Option
from solver.search.options.orders import LinkStretch, Orders, OrderState, seated
from solver.search.order.question import Question
from solver.search.order.score import Found, LinkLeast, Scorer, path_of
from solver.search.order.shared import Shared, Tables
from solver.search.order.together import Scored
from solver.search.rank import COUPLED_KEYS, sort_key
from solver.search.reach.walks import Path

MOST_LEFT_OUT = 200  # orders of a class that CP-SAT is told not to find again

Class = tuple[object, ...]
Key = tuple[object, ...]


def class_of(path: Path) -> Class:
    """What orders of one class have in common."""
    rings, seats, options = path
    return (rings, seats, tuple(tuple(sorted(options[begin:end])) for begin, end in pairwise(seats)))


def orders_of(candidates: Candidates, path: Path) -> Orders:
    """The orders of a path's class that the rules of single links allow, and in which each link that stays is where it
    is."""
    return Orders(*path, candidates.options_of)


class Entry(NamedTuple):
    """Orders of a class that are still to be looked at. least: lower bound of their keys; reach: how far they reach out
    at least [teeth]; onward: what they are split into, None: it is one order."""

    least: Key
    state: OrderState
    reach: int
    onward: list[OrderState] | None

    @property
    def order(self) -> tuple[Key, tuple[int, ...]]:
        """What comes first is looked at first."""
        return self.least, self.state.split


class ClassSearch:
    """One class, looked through best first. found: its first order so far."""

    def __init__(self, scorer: ClassScorer, path: Path, square: Fraction) -> None:
        self.scorer, self.path, self.square = scorer, path, square
        self.orders = orders_of(scorer.candidates, path)
        self.found: Found | None = None
        self._at: tuple[Key, tuple[int, ...]] | None = None  # of what was found
        self._queue: list[tuple[Key, tuple[int, ...], Entry]] = []
        self._push(self.orders.begin, 0)

    @property
    def least(self) -> Key | None:
        """A lower bound of the keys of the orders that may come before what was found; None: there are none."""
        if self._queue and (self._at is None or self._queue[0][:2] < self._at):
            return self._queue[0][0]
        return None

    def step(self) -> bool:
        """Look at the orders that come first. Whether one was looked at that is not within all limits."""
        entry = heapq.heappop(self._queue)[2]
        if entry.onward is None:
            return self._look_at(entry)
        for state in entry.onward:
            self._push(state, entry.reach)
        return False

    def first(self) -> Found | None:
        """The first order within all limits, if there is one."""
        while self.least is not None:
            self.scorer.tick()
            self.step()
        return self.found

    def any(self) -> bool:
        """Whether there is one."""
        while self.found is None and self.least is not None:
            self.scorer.tick()
            self.step()
        return self.found is not None

    def _look_at(self, entry: Entry) -> bool:
        path = self.path._replace(options=self.orders.options(entry.state))
        scorer = self.scorer
        train = scorer.train(path)
        chosen = scorer.completed(train, self.square)
        if chosen is None:
            return True
        figures, train = chosen
        key = sort_key(figures, train, scorer.keys)
        if self.found is None or key < self.found.key:
            self.found = Found(key, figures, train)
            self._at = key[: len(scorer.keys)], entry.state.split
        return False

    def _push(self, state: OrderState, reach: int) -> None:
        if (entry := self._entry(state, reach)) is not None:
            heapq.heappush(self._queue, (*entry.order, entry))

    def _entry(self, state: OrderState, reach: int) -> Entry | None:
        """A state with its bound; None: none of its orders has a place, as was learnt of others. reach: what the orders
        from which it comes reach out at least."""
        scorer, orders, path = self.scorer, self.orders, self.path
        if scorer.hopeless(path, orders, state):
            return None
        onward = orders.split(state)
        if onward is None:
            return Entry(
                scorer.least_of_order(path._replace(options=orders.options(state)), self.square), state, 0, None
            )
        for stretch in orders.stretches if scorer.candidates.reverted else ():
            reach = scorer.reach_of(stretch, state, reach)
        return Entry(scorer.least_of_class(path, self.square, reach), state, reach, onward)


class ClassScorer(Scorer):
    """Scores classes: of the paths it is given each stands for all orders of its links."""

    def __init__(
        self,
        tables: Tables,
        shared: Shared,
        question: Question,
        told: Callable[[Iterable[Found]], None],
        *,
        whichever: bool,
    ) -> None:
        """As of `Scorer`."""
        super().__init__(tables, shared, question, told, whichever=whichever)
        self.dropped: set[Class] = set()  # of which no order is within the limits of the question
        self._stretches: dict[tuple[object, ...], LinkLeast] = {}
        self._reaches: dict[tuple[object, ...], tuple[tuple[int, ...], ...]] = {}

    def best(self, paths: Sequence[Path], most: Fraction | None = None) -> list[Found]:
        """The `keep` first of these classes within all limits, each by its first order, in order."""
        alike = {class_of(path): path for path in reversed(paths)}
        searches: list[ClassSearch | None] = []
        queue: list[tuple[Key, int, bool]] = []
        given: list[tuple[Path, Fraction]] = []
        begun = self.keys[:1] == ("error",)

        def add(some: Iterable[Path]) -> None:
            every = list(some)
            for path, square in zip(every, self.squares(every), strict=True):
                if square is not None and (most is None or square <= most):
                    heapq.heappush(queue, ((square,) if begun else (), len(given), False))
                    given.append((path, square))
                    searches.append(None)

        add(reversed(alike.values()))
        last: list[Key] = []  # keys found, ascending
        while queue:
            self.tick()
            least, index, whole = heapq.heappop(queue)
            if len(last) >= self.keep:
                known = last[self.keep - 1][: len(least)]
                if least > known or (whole and not self.order_ties and least == known):
                    break
            path, square = given[index]
            if self.gone(path.rings):
                continue
            search = searches[index]
            if search is None and not whole:
                heapq.heappush(queue, (self.least_of_class(path, square, 0), index, True))
                continue
            if search is None:
                search = searches[index] = ClassSearch(self, path, square)
            elif search.least is not None:
                before, worked = search.found, self._worked()
                failed = search.step()
                if search.found is not None and search.found is not before:
                    if before is not None:
                        del last[bisect_left(last, before.key)]
                    insort(last, search.found.key)
                elif failed and self.chooser is not None:
                    if self.together.failed(path.rings, self._worked() - worked):
                        self.settle(path.rings)
                    likely = {class_of(one): one for one in self.crowds.failed(path.rings)}
                    if not self.order_ties:  # any train will do
                        add(one for same, one in likely.items() if same not in alike)
                    alike = {**likely, **alike}
            if search.least is not None:
                heapq.heappush(queue, (search.least, index, True))
            elif search.found is None:
                self.dropped.add(class_of(path))
        found = [search.found for search in searches if search is not None and search.found is not None]
        return sorted(found, key=lambda item: item.key)[: self.keep]

    def count(self, paths: Sequence[Path], square: Fraction | None) -> int:
        """How many of these classes with (1 + error)**2 up to `square` (None: any) are within all limits.

        Raises TooManyThirds.
        """
        alone = COUPLED_KEYS.isdisjoint(self.rules.caps) and self.chooser is None
        some = list({class_of(path): path for path in paths}.values())
        found = 0
        for path, one in zip(some, self.squares(some), strict=True):
            self.tick()
            if one is not None and (square is None or one <= square):
                found += alone or ClassSearch(self, path, one).any()
        return found

    def refused(self, path: Path) -> bool:
        """Whether no order of the path's class is within the limits, as far as that is known."""
        if self.chooser is None:
            return False
        if class_of(path) in self.dropped:
            return True
        if not self.chooser.refusals:
            return False
        alone = [begin for begin, end in pairwise(path.seats) if end == begin + 1]
        return self._hopeless(path, [(level, path.options[level]) for level in alone])

    def hopeless(self, path: Path, orders: Orders, state: OrderState) -> bool:
        """Whether no order of a state has a place, as far as was learnt from others."""
        if self.chooser is None or not self.chooser.refusals:
            return False
        settled = [
            (level, stretch.link(state.masks[level]))
            for stretch in orders.stretches
            for level in range(stretch.begin, stretch.begin + len(stretch.links))
            if stretch.settled(state.masks[level])
        ]
        return self._hopeless(path, settled)

    def _hopeless(self, path: Path, some: Sequence[tuple[int, Option]]) -> bool:
        assert self.chooser is not None
        links = [(level, Link(KINDS[one.kind].name, one.wheel, one.pinion)) for level, one in some]
        return self.chooser.hopeless(self.rules.teeth, path.rings, path.seats, links)

    def _exactly_scored(self, train: Train) -> Scored | None:
        """The first order of the class of a train that CP-SAT found, if that train is within all limits itself."""
        if super()._exactly_scored(train) is None:
            return None
        path = path_of(train)
        square = self.squares([path])[0]
        assert square is not None
        found = ClassSearch(self, path, square).first()
        assert found is not None
        self.told([found])
        return found.figures, found.train

    def _same_as(self, train: Train) -> Iterator[Train]:
        path = path_of(train)
        every = islice(orders_of(self.candidates, path).all(), MOST_LEFT_OUT)
        return (self.train(path._replace(options=one)) for one in every if one != path.options)

    # -- bounds ------------------------------------------------------------------------------------------------------

    def least_of_order(self, path: Path, square: Fraction) -> Key:
        """A lower bound of the key of one order."""
        return self._least_key(path, square)

    def least_of_class(self, path: Path, square: Fraction, reach: int) -> Key:
        """A lower bound of the keys of all orders of a class that reach out so far at least [teeth]."""
        rings, seats, options = path
        stretches = (self._stretch(rings[i : j + 1], options[i:j]) for i, j in pairwise(seats))
        return self._key_from(path, square, stretches, reach)

    def _stretch(self, rings: tuple[int, ...], options: tuple[Option, ...]) -> LinkLeast:
        """What the links between two bodies add at least, whatever their order."""
        if len(options) == 1:
            return self.link_least(rings[0], rings[1], options[0])
        key = (rings, options)
        if key not in self._stretches:
            gaps = tuple(pairwise(rings))
            every = [
                [self.link_least(*gap, one) for gap in gaps if one in self.candidates.options(*gap)] for one in options
            ]
            gears = 0
            for one in options:
                gears |= self.jigs.of(one)
            self._stretches[key] = LinkLeast(
                sum(some[0].parts for some in every),
                sum(min(one.teeth for one in some) for some in every),
                max(min(one.largest for one in some) for some in every),
                max(min(one.reach for one in some) for some in every),
                gears,
            )
        return self._stretches[key]

    def reach_of(self, stretch: LinkStretch, state: OrderState, reach: int) -> int:
        """How far the links between two bodies reach out at least in the orders of a state, `reach` at least [teeth]:
        the least greatest reach of a perfect matching."""
        masks = state.masks[stretch.begin : stretch.begin + len(stretch.links)]
        key = (stretch.rings, stretch.links, stretch.masks)
        if key not in self._reaches:
            self._reaches[key] = tuple(
                tuple(
                    self.link_least(inner, outer, one).reach if mask >> index & 1 else 0
                    for index, one in enumerate(stretch.links)
                )
                for (inner, outer), mask in zip(pairwise(stretch.rings), stretch.masks, strict=True)
            )
        table = self._reaches[key]
        further = iter(sorted({value for row in table for value in row if value > reach}))
        while not seated([_within(mask, row, reach) for mask, row in zip(masks, table, strict=True)]):
            reach = next(further)
        return reach


def _within(mask: int, reaches: Sequence[int], most: int) -> int:
    """The links of a mask that reach out no farther."""
    for index, reach in enumerate(reaches):
        if reach > most:
            mask &= ~(1 << index)
    return mask
