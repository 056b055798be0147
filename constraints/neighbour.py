"""Rule `neighbour`: gears of different links, or the drive, on a level that they share do not touch."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from constraints.places import PlaceVars, Table


@dataclass(frozen=True)
class Neighbour:
    """clear: for two things, by number, the places at which no gear of one touches a gear of the other."""

    clear: Mapping[tuple[int, int], Table]
    name = "neighbour"

    def post(self, train: PlaceVars) -> None:
        for (one, other), table in self.clear.items():
            train.beside(train.items[one], train.items[other], table)
