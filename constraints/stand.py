"""Rule `stand`: the circle that a body's stand sweeps meets nothing on the levels that it passes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from constraints.places import Kept, PlaceVars


@dataclass(frozen=True)
class StandsClear:
    """alone: for each thing, then for each ring's rollers, the places that no body's stand meets."""

    alone: Sequence[Kept]
    name = "stand"

    def post(self, train: PlaceVars) -> None:
        for places, kept in zip((*train.items, *train.rollers), self.alone, strict=True):
            train.keep(places, kept)
