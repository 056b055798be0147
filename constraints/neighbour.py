"""Rule `neighbour`: gears of different links, or the drive, on a level that they share do not touch."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from constraints.places import PlaceVars, square


@dataclass(frozen=True)
class Neighbour:
    """apart: least square of the distance of two gears with so many teeth together."""

    apart: Callable[[int], int]
    name = "neighbour"

    def post(self, train: PlaceVars) -> None:
        for place, other in train.pairs():
            if any(
                gear.level == near.level and square(gear.spot, near.spot) < self.apart(gear.teeth + near.teeth)
                for gear in place.gears
                for near in other.gears
            ):
                train.forbid(place, other)
