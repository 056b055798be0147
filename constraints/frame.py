"""Rule `frame`: every tip circle inside the frame less the clearance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from constraints.places import Kept, PlaceVars


@dataclass(frozen=True)
class InFrame:
    """inside: for each thing the places at which all its gears are inside."""

    inside: Sequence[Kept]
    name = "frame"

    def post(self, train: PlaceVars) -> None:
        for places, kept in zip(train.items, self.inside, strict=True):
            train.keep(places, kept)
