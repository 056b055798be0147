"""The solutions that are shown, at the places that their maker prefers."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from functools import partial
from typing import Literal

from solver.answer.merging import MadeTrain, Merged
from solver.design.design import Design
from solver.search.place import arranging
from solver.search.place.arranging import Arranger
from solver.search.place.placing import Fitter
from solver.search.reaches import gap_of
from solver.search.solves import Solves
from solver.search.stop import SearchStopped, StopRule, ask

Told = Literal["proven", "open"]
Like = tuple[object, ...]  # what tells a found train from others


def steps(earlier: Collection[tuple[MadeTrain, Told]]) -> int:
    """How many steps the next train of a list may take."""
    return arranging.FEWER_STEPS if any(told == "open" for _, told in earlier) else arranging.MOST_STEPS


class Arranging:
    """Arranges what was found of one design; fitters: of searches, by the design with its toothing."""

    def __init__(self, stop: StopRule, fitters: Mapping[Design, Fitter]) -> None:
        self.stop, self.fitters = stop, fitters
        self._arrangers: dict[Design, Arranger] = {}

    def of(self, found: Merged) -> tuple[Merged, dict[Like, Told]]:
        """The same with places arranged; and of each solution, by what it is like, whether these are proven. Where the
        stop rule strikes the places stay as they were found."""
        known: dict[Like, tuple[MadeTrain, Told]] = {}

        def arranged(one: MadeTrain) -> MadeTrain:
            if one.like not in known:
                known[one.like] = self._arranged(one, steps(known.values()))
            return known[one.like][0]

        listed = [arranged(one) for one in found.listed]
        front = [(arranged(one), ties) for one, ties in found.front]
        told: dict[Like, Told] = {one.like: what for one, what in known.values()}
        return replace(found, listed=listed, front=front), told

    def _arranged(self, one: MadeTrain, steps: int) -> tuple[MadeTrain, Told]:
        try:
            train, proven = self._arranger(one.design).arranged(one.found.train, steps)
        except SearchStopped:
            return one, "open"
        return replace(one, found=replace(one.found, train=train)), "proven" if proven else "open"

    def _arranger(self, design: Design) -> Arranger:
        if design not in self._arrangers:
            fitter = self.fitters.get(design) or Fitter(design, gap_of(design), solves=Solves(design.seed, self.stop))
            fitter.ask(partial(ask, self.stop))
            self._arrangers[design] = Arranger(design, fitter)
        return self._arrangers[design]
