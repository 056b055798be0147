"""Rule `frame`: every tip circle inside the frame less the clearance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from constraints.places import Kept, PlaceVars


@dataclass(frozen=True)
class InFrame:
    """inside: for each thing the places at which all its gears are inside; rings: whether all rings are."""

    inside: Sequence[Kept]
    rings: bool = True
    name = "frame"

    def post(self, train: PlaceVars) -> None:
        if not self.rings:
            train.model.add_bool_or([])
        for places, kept in zip(train.items, self.inside, strict=True):
            train.keep(places, kept)
