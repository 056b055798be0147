"""Jigs and teeth couple all links: CP-SAT, asked over all structures at once, finds the least values of such keys, the
trains that have them, and the least errors under caps on them.

The model sees no places, so that it is a relaxation; every train that it finds is scored exactly, and one that is
refused is excluded and the next one asked for. What it proves of errors holds to its rounding; trains within that are
listed one by one and put in order exactly.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise

from solver.design.exact import log_fraction
from solver.design.train import Train
from solver.search.order import effort
from solver.search.order.listing import Lister
from solver.search.order.question import Question
from solver.search.order.score import Found, path_of
from solver.search.order.shared import Crowded, Shared
from solver.search.prove.model import DesignModel, Fixed, Improving, NoRings


@dataclass
class Coupled:
    """The trains of one question, as CP-SAT finds them. seen: those that were scored; known: those within limits."""

    shared: Shared
    question: Question
    seen: list[Train] = field(default_factory=list)
    known: dict[tuple[object, ...], Found] = field(default_factory=dict)
    own: bool = False  # whether it is the design's own question

    def __post_init__(self) -> None:
        self.lister = Lister(self.shared, self.question)
        self.limit = max(effort.MODEL_LIMIT, effort.LIST_PER_KEPT * self.question.keep)

    def values(self, key: str) -> list[int]:
        """The values of a key that the known trains have, ascending."""
        return sorted(int(one.figures.value(key)) for one in self.known.values())

    def take(self, found: list[Found]) -> None:
        """Trains within the limits that are known already."""
        for one in found:
            self.seen.append(one.train)
            self.known[one.train.identity()] = one

    def by_value(self, key: str) -> Iterator[int]:
        """Look for trains until `keep` are known and no other has a smaller value of the key than the last of these.
        Yields what is proven: no train that is not known has a smaller value.

        Raises SearchStopped and Crowded.
        """
        keep, least = self.question.keep, 0
        while True:
            model = self._model([Fixed(key, ">=", least)])
            value = None if model is None else self._least(model, key)
            if value is None:
                return
            yield value
            for _ in self._each([Fixed(key, "<=", value)]):
                if self.values(key)[keep - 1 : keep] and self.values(key)[keep - 1] <= value:
                    return
            least = value + 1
            if self.values(key)[keep - 1 : keep] and self.values(key)[keep - 1] <= least:
                return

    def any(self) -> None:
        """Look for `keep` trains, whichever. Raises SearchStopped and Crowded."""
        for _ in self._each([]):
            if len(self.known) >= self.question.keep:
                return

    def by_error(self) -> Iterator[float]:
        """Look for trains until the `keep` of least error are known for sure. Yields what is proven: no train that is
        not known has a smaller ln(1 + error). Raises SearchStopped and Crowded."""
        least = 0
        while True:
            model = self._model([Fixed("error", ">=", least)])
            if model is None:
                return
            scale, slack = model.scale, model.slack
            value = self._least(model, "error")
            if value is None:
                return
            yield max(0, value - slack) / scale
            most = value + 2 * slack
            for _ in self._each([Fixed("error", "<=", most)]):
                pass
            sure = 2 * (most - slack) / scale
            inside = [one for one in self.known.values() if log_fraction(one.figures.error_square) <= sure]
            if len(inside) >= self.question.keep:
                return
            least = most + 1

    # -- asking --------------------------------------------------------------------------------------------------

    def _model(self, fixed: list[Fixed]) -> DesignModel | None:
        """The model with these keys held, and without the trains seen; None: there are no rings."""
        design, question = self.shared.design, self.question
        try:
            model = DesignModel(design.without_places(), question.caps)
        except NoRings:
            return None
        model.tell_trains_apart()
        if question.most is not None:
            model.hold([Fixed("error", "<=", model.units(question.most) + model.slack)])
        model.hold(fixed)
        return model

    def _least(self, model: DesignModel, key: str) -> int | None:
        """The least value of a key among the trains not seen yet; the train that has it is looked at."""
        model.train.model.minimize(model.measure(key))
        closed = model.train.close()
        for train in self.seen:
            model.exclude(train)
        better, bound = Improving(model, self._look_at), self._bound(key)
        solver, exists = self.shared.solves.run(closed, better=better, bound=bound, linear=key == "error")
        if not exists:
            return None
        self._look_at(model.extract(solver.value))
        return round(solver.objective_value)

    def _bound(self, key: str) -> Callable[[float], None] | None:
        """What is done with a bound that CP-SAT proves on the way: that of the design's own first key is told."""
        if key == "error" or not self.own:
            return None

        def told(bound: float) -> None:
            least = min([math.ceil(bound - 1e-6), *self.values(key)])
            self.shared.least = max(least, self.shared.least or 0)
            self.shared.report(0)

        return told

    def _each(self, fixed: list[Fixed]) -> Iterator[None]:
        """Every train with these keys held that is not seen yet, looked at one after the other; first of all none."""
        yield
        model = self._model(fixed)
        if model is None:
            return
        closed = model.train.close()
        for train in self.seen:
            model.exclude(train)
        for _ in range(self.limit):
            solver, exists = self.shared.solves.run(closed)
            if not exists:
                return
            self._look_at(model.extract(solver.value))
            model.exclude(self.seen[-1])
            yield
        raise Crowded

    def _look_at(self, train: Train) -> None:
        if train in self.seen[-1:]:
            return
        self.seen.append(train)
        path, candidates = path_of(train), self.lister.candidates
        for rings, option in zip(pairwise(path.rings), path.options, strict=True):
            if not candidates.has(*rings, option):  # the frame leaves it no place
                return
        for one in self.lister.scored([path]):
            self.known[one.train.identity()] = one
