"""Rule `arm`: from each arbor, third gear, roller and the motor some arm in its own gap reaches the frame, clear of the
arbor that stands in the gap and of the circles that bodies' stands sweep there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ortools.sat.python import cp_model

from constraints.places import Aspect, Kept, PlaceVars, Table


@dataclass(frozen=True)
class ArmsFrom:
    """alone: for each thing, then for each ring's rollers, the places from which arms reach the frame as far as the
    thing alone tells. things: of two things the places from which arms of the first are clear of the arbor of the
    second; rollers: likewise of the rollers of a ring and a thing."""

    alone: Sequence[Kept]
    things: Sequence[tuple[Aspect, Aspect, Table]]
    rollers: Sequence[tuple[int, Aspect, Table]]


@dataclass(frozen=True)
class ArmsReach:
    """always: whoever rides; swept: besides, where a body rides on a ring, for each of the train's riders. Circles of
    several bodies lie within each other, and so an arm that is clear of the largest is clear of all."""

    always: ArmsFrom
    swept: Sequence[ArmsFrom] = ()
    name = "arm"

    def post(self, train: PlaceVars) -> None:
        every = [*train.items, *train.rollers]
        for places, kept in zip(every, self.always.alone, strict=True):
            train.keep(places, kept)
        self._pairs(train, self.always, None)
        for rider, reached in zip(train.riders, self.swept, strict=bool(self.swept)):
            for places, kept in zip(every, reached.alone, strict=True):
                train.keep_where(rider, places, kept)
            self._pairs(train, reached, rider)

    def _pairs(self, train: PlaceVars, reached: ArmsFrom, rider: cp_model.IntVar | None) -> None:
        for one, other, table in reached.things:
            train.clear(one, other, table, rider)
        for ring, thing, table in reached.rollers:
            train.clear(train.rollers[ring], thing, table, rider)
