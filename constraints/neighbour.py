"""Rule `neighbour`: gears of different links, or the drive, on a level that they share do not touch."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from constraints.places import Aspect, PlaceVars, Table


@dataclass(frozen=True)
class Neighbour:
    """clear: for two things, at which places no gear of one touches a gear of the other."""

    clear: Iterable[tuple[Aspect, Aspect, Table]]
    name = "neighbour"

    def post(self, train: PlaceVars) -> None:
        for one, other, table in self.clear:
            train.clear(one, other, table)
