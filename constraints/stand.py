"""Rule `stand`: the circle that a body's stand sweeps meets nothing on the levels that it passes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from constraints.places import Kept, PlaceVars, Table


@dataclass(frozen=True)
class StandsClear:
    """Of the rings on which bodies with stands may ride. alone: those whose stands clear the rings that they pass;
    apart: two that clear each other; things: for each of them, of each thing and then of each ring's rollers, the
    places that its stand does not meet."""

    alone: Kept
    apart: Table
    things: Sequence[Sequence[Kept]]
    name = "stand"

    def post(self, train: PlaceVars) -> None:
        train.keep(train.riders, self.alone)
        train.together(train.riders, train.riders, self.apart)
        for rider, things in zip(train.riders, self.things, strict=True):
            for places, kept in zip((*train.items, *train.rollers), things, strict=True):
                train.keep_where(rider, places, kept)
