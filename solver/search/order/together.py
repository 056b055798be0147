"""Rings whose trains find no places one by one: CP-SAT chooses teeth and places together, of all trains with them.

Logic-based Benders' way round: where what the rates allow is refused again and again for want of places, the model of
all trains with these rings (`prove.placed`) is asked for the first of them, or for any, within what the question
allows. It works on rounded logarithms, so that nothing is taken from it but what lies beyond their rounding: trains it
finds are scored exactly, and what may be hidden within the rounding is looked at train by train.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from solver.design.design import Design, Family, Structure
from solver.design.kinematics import pairs, ring_ratios
from solver.design.made import OnBench
from solver.design.train import Train
from solver.search.order.question import Question
from solver.search.rank import Figures, counts, new_gears, sort_key, sort_tail
from solver.search.solves import Solves, WorkSpent

if TYPE_CHECKING:
    from solver.search.prove.model import DesignModel
    from solver.search.prove.placed import PlacedModel
    from solver.search.prove.with_places import WithPlaces

PATIENCE, AGAIN = 40_000, 4  # steps for nothing before CP-SAT is asked; where it gives up, so many times as many
GLANCED = 50 * PATIENCE  # likewise where many questions are asked and little work is spent on each
FAILED = 200  # what a train without a place counts beside its steps; one that is known to have none counts one
WORK = 100.0  # of one question, in CP-SAT's deterministic time; AGAIN times as much where it gave up before
MOST_PLACES = 4000  # of all things, that a model is made of; AGAIN times as many where it was given up before
GLANCE = 8.0  # likewise, of looking for a train that is better, before it is asked whether there is any
MOST_ASKED = 60  # trains that one question looks at beside those that it keeps
COUNTED = ("parts", "jigs", "teeth", "largest", "new_gears")  # keys that a train's own teeth tell
_BEYOND = Fraction(1 << 40)

Rings = tuple[int, ...]
Scored = tuple[Figures, Train]
Held = tuple[str, Fraction | int]  # a key and the greatest value allowed of it; of the error (1 + error)**2
Score = Callable[[Train], Scored | None]  # exactly, and with its places; None: it is not within all limits
Same = Callable[[Train], tuple[object, ...]]  # what makes two trains one solution
Orders = Callable[[Train], Iterator[Train]]  # all that are one solution with a train


@dataclass(frozen=True)
class _Nothing:
    """No train with certain rings is within these caps, with (1 + error)**2 up to `most`."""

    caps: dict[str, int]
    most: Fraction | None

    def holds_for(self, question: Question) -> bool:
        """Whether a question asks for no more."""
        if any(key not in question.caps or question.caps[key] > most for key, most in self.caps.items()):
            return False
        return self.most is None or (question.most is not None and question.most <= self.most)


class Together:
    """What is known of each choice of rings of one design."""

    def __init__(self, design: Design, solves: Solves, patience: int, same: Same) -> None:
        self.patience, self.same = patience, same
        self.design, self.pairs = design, pairs(design)
        self.solves = replace(solves, direct=True)  # presolve costs many times what it saves among places
        self._failed: dict[Rings, int] = {}
        self._given_up: dict[Rings, int] = {}
        self._nothing: dict[Rings, list[_Nothing]] = {}
        self._told: dict[tuple[object, ...], list[Scored]] = {}
        self._places: WithPlaces | None = None

    def refused(self, rings: Rings) -> bool:
        """One more train with these rings is known to have no place. Whether it is time to ask."""
        return self._counted(rings, 1)

    def failed(self, rings: Rings, steps: int) -> bool:
        """One more train with these rings was found to have no place, in so many steps. Whether it is time to ask."""
        return self._counted(rings, FAILED + steps)

    def _counted(self, rings: Rings, steps: int) -> bool:
        self._failed[rings] = self._failed.get(rings, 0) + steps
        return self._failed[rings] >= self.patience * self._again(rings)

    def _again(self, rings: Rings) -> int:
        """How many times as much as at first, since it was given up."""
        return int(AGAIN ** self._given_up.get(rings, 0))

    def asked(
        self, rings: Rings, question: Question, score: Score, orders: Orders, *, any_will_do: bool, ties: bool
    ) -> list[Scored] | None:
        """As `first`; what was asked before is remembered."""
        key = (
            rings,
            question.keys,
            question.keep,
            tuple(sorted(question.caps.items())),
            question.most,
            any_will_do,
            ties,
        )
        if key not in self._told:
            found = self.first(rings, question, score, orders, any_will_do=any_will_do, ties=ties)
            if found is None:
                return None
            self._told[key] = found
        return self._told[key]

    def dead(self, rings: Rings, question: Question) -> bool:
        """Whether no train with these rings is within the limits of a question."""
        return any(one.holds_for(question) for one in self._nothing.get(rings, ()))

    def first(
        self, rings: Rings, question: Question, score: Score, orders: Orders, *, any_will_do: bool, ties: bool
    ) -> list[Scored] | None:
        """The first trains with these rings that a question asks for, fewer only if there are no more; None: that is
        left open. score: of a train, or of the first train that is one solution with it; orders: all that are, as many
        as are worth leaving out once one was looked at; any_will_do: whichever; ties: whether those that tie by the
        keys are to be in order.

        Raises SearchStopped, TooManyThirds."""
        asked = _Asked(self, rings, question, score, orders, WORK * self._again(rings))
        try:
            found = asked.some() if any_will_do else asked.in_order(ties)
        except (_LeftOpen, WorkSpent):
            self._given_up[rings] = self._given_up.get(rings, 0) + 1
            return None
        if not found:
            self._nothing.setdefault(rings, []).append(_Nothing(question.caps, question.most))
        return found

    def model(self, rings: Rings, state: Callable[[DesignModel], bool]) -> PlacedModel | None:
        """The model of all trains with these rings; None: their places are too many."""
        from solver.search.prove.with_places import WithPlaces  # loads CP-SAT, which few designs need

        if self._places is None:
            self._places = WithPlaces(self.design)
        if self._places.size(rings) > MOST_PLACES * self._again(rings):
            return None
        return self._places.together(rings, state)


def rings_of(what: Family | Structure) -> Iterator[Rings] | None:
    """The choices of rings of a family or structure; None: they are many."""
    if any(len(choice) > 1 for choice in what.rings):
        return None
    rings = tuple(choice[0] for choice in what.rings)
    counts = what.counts if isinstance(what, Family) else (len(rings),)
    return (rings[:count] for count in counts)


def counted(train: Train, name: str, made: OnBench) -> int:
    """A key of COUNTED."""
    if name == "new_gears":
        return new_gears(train, made)
    return dict(zip(("parts", "jigs", "teeth", "largest"), counts(train, made), strict=True))[name]


class _LeftOpen(Exception):
    """A question that CP-SAT does not settle with so little work."""


@dataclass(frozen=True)
class _Least:
    """The train that a model has first, with its values of the keys there, the error exact; blocks: then those of the
    teeth themselves, where ties are to be in order."""

    values: tuple[Fraction | int, ...]
    blocks: tuple[int, ...] | None
    train: Train

    def before(self, key: tuple[object, ...]) -> bool:
        """Whether all trains that were not seen come after the one with this key, or tie with it."""
        if self.blocks is None:
            return key[: len(self.values)] <= self.values
        return key <= (*self.values, *sort_tail(self.train))


class _Asked:
    """One question about the trains with certain rings."""

    def __init__(
        self, owner: Together, rings: Rings, question: Question, score: Score, orders: Orders, work: float
    ) -> None:
        self.owner, self.rings, self.question, self.score, self.work = owner, rings, question, score, work
        self.orders = orders
        self.found: dict[tuple[object, ...], tuple[tuple[object, ...], Scored]] = {}
        self.looked_at = 0
        self.seen: list[Train] = []  # that no model need find again
        self.last: Sequence[int] = ()
        self.began = owner.solves.cost.deterministic_time
        limit = (1 + owner.design.limits.max_error) ** 2
        self.most = limit if question.most is None else min(limit, question.most)

    def some(self) -> list[Scored]:
        """Any trains within the limits."""
        model = self._model(())
        while len(self.found) < self.question.keep and (train := self._any(model)) is not None:
            for one in self._look_at(train):
                model.teeth.exclude(one)
        return [scored for _, scored in self.found.values()]

    def in_order(self, ties: bool) -> list[Scored]:
        """The first ones by the keys, then by the teeth themselves where ties are to be in order.

        A model's values of a train are never greater than its own: it knows nothing of the drive that is wished. What
        it has first comes before all that it was not asked for yet; so whatever comes before that is in its place."""
        least: _Least | None = None
        while least is None or sum(least.before(key) for key, _ in self.found.values()) < self.question.keep:
            least = self._first(ties, least)
            if least is None:
                break
            self._look_at(least.train)
        return [scored for _, scored in sorted(self.found.values(), key=lambda one: one[0])[: self.question.keep]]

    def _look_at(self, train: Train) -> list[Train]:
        """Returns what need not be looked at any more."""
        self.looked_at += 1
        if self.looked_at > MOST_ASKED + self.question.keep:
            raise _LeftOpen
        seen, same = [train], self.owner.same(train)
        if same not in self.found and (scored := self.score(train)) is not None:
            self.found[same] = sort_key(*scored, self.question.keys), scored
            seen += self.orders(train)
        self.seen += seen
        return seen

    def _first(self, ties: bool, last: _Least | None) -> _Least | None:
        """Of the trains that were not seen the first one; None: there is none. last: what was first before."""
        keys, held, values = self.question.keys, list[Held](), list[Fraction | int]()
        model = self._model(keys, ties=ties)
        train: Train | None = None
        value: Fraction | int
        known = () if last is None else (*last.values, *(last.blocks or ()))
        for name in (*keys, *(model.teeth.order_keys() if ties else ())):
            floor = known[len(values)] if known and tuple(values) == known[: len(values)] else None
            if name == "error":
                least = self._least_error(held, floor, ties)
                if least is None:
                    return None
                value, train = least
                model.begin_at(self.last)
            elif train is not None and name in COUNTED and self._surely(model, name, floor, train):
                value = counted(train, name, self.owner.design.on_bench)
            else:
                if floor is not None:
                    model.model.add(model.teeth.measure(name) >= floor)
                one = self._least(model, name)
                if one is None:
                    return None
                value, train = one
            values.append(value)
            held.append((name, value))
            self._hold(model.teeth, held[-1:])
        assert train is not None
        blocks = tuple(map(int, values[len(keys) :]))
        return _Least(tuple(values[: len(keys)]), blocks if ties else None, train)

    def _surely(self, model: PlacedModel, name: str, floor: Fraction | int | None, train: Train) -> bool:
        """Whether a train that may come first is known to have the least of a key."""
        return counted(train, name, self.owner.design.on_bench) == floor or (
            name == "parts" and len(model.teeth.kinds) == 1
        )

    # -- the error, exactly ------------------------------------------------------------------------------------------

    def _least_error(
        self, held: Sequence[Held], floor: Fraction | int | None, ties: bool
    ) -> tuple[Fraction, Train] | None:
        """The least (1 + error)**2 of a train that was not seen, exact, and such a train; None: none is within the
        limit. floor: none has less.

        What rounding hides: the links between two bodies that give one train its error give every train that has them
        at least as much. So they are out of the question; when nothing is left within the rounding, it is the least.
        """
        if floor is not None:
            model = self._model(self.question.keys, held, ties=ties)
            self._hold(model.teeth, [("error", floor)])
            while (train := self._any(model)) is not None:
                error, bodies = self._square(train)
                if error == floor:
                    return error, train
                model.teeth.exclude_between(train, bodies)
        model = self._model(self.question.keys, held, ties=ties)
        train = best = self._good(model)
        square: Fraction | None = None
        while train is not None:
            here, bodies = self._square(train)
            if square is None or here < square:
                square, best, self.last = here, train, model.last
                self._hold(model.teeth, [("error", here)])
            if square == 1:
                break
            model.teeth.exclude_between(train, bodies)
            train = self._any(model)
        return None if square is None or best is None or square > self.most else (square, best)

    def _square(self, train: Train) -> tuple[Fraction, tuple[int, int]]:
        """A train's (1 + error)**2, exact, and the two bodies, nearest to each other, that decide it; beyond every
        limit where a body's own is broken."""
        ratios, found = ring_ratios(train), list[tuple[Fraction, int, tuple[int, int]]]()
        for pair in self.owner.pairs:
            above, below = train.seats[pair.above], train.seats[pair.below]
            square = pair.square(ratios[above] / ratios[below])
            found.append((_BEYOND if square is None else square, -abs(above - below), (pair.above, pair.below)))
        square, _, bodies = max(found)
        return square, bodies

    # -- asking ------------------------------------------------------------------------------------------------------

    def _model(self, names: Sequence[str], held: Sequence[Held] = (), *, ties: bool = False) -> PlacedModel:
        """What is asked about, without the trains that were seen. names: what it will be asked for the least of."""

        def state(teeth: DesignModel) -> bool:
            self._hold(teeth, [*self.question.caps.items(), ("error", self.most), *held])
            for name in (*names, *(teeth.order_keys() if ties else ())):
                teeth.measure(name)
            return True

        model = self.owner.model(self.rings, state)
        if model is None:
            raise _LeftOpen
        for train in self.seen:
            model.teeth.exclude(train)
        return model

    def _hold(self, teeth: DesignModel, held: Sequence[Held]) -> None:
        from solver.search.prove.model import Fixed

        for name, value in held:
            most = teeth.units(Fraction(value)) + teeth.slack if name == "error" else int(value)
            teeth.hold([Fixed(name, "<=", most)])

    def _least(self, model: PlacedModel, name: str) -> tuple[int, Train] | None:
        one = model.least(name, self.owner.solves, self._work_left())
        self.last = model.last
        return one

    def _good(self, model: PlacedModel) -> Train | None:
        """A train of little error; None: there is none."""
        try:
            return model.good("error", self.owner.solves, min(GLANCE, self._work_left()))
        except WorkSpent:
            return self._any(model)

    def _any(self, model: PlacedModel) -> Train | None:
        model.model.clear_objective()  # type: ignore[no-untyped-call]
        return model.train(self.owner.solves, self._work_left())

    def _work_left(self) -> float:
        left = self.work - (self.owner.solves.cost.deterministic_time - self.began)
        if left <= 0:
            raise _LeftOpen
        return left
