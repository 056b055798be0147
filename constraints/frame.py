"""Rule `frame`: every tip circle inside the frame less the clearance."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from constraints.places import PlaceVars, square


@dataclass(frozen=True)
class RectangularFrame:
    """room: for each tooth count how far a gear may stand to the right or left, and up or down [micrometres]."""

    room: Mapping[int, tuple[int, int]]
    name = "frame"

    def post(self, train: PlaceVars) -> None:
        for place in train.all_places():
            for gear in place.gears:
                across, up = self.room[gear.teeth]
                if abs(gear.spot[0]) > across or abs(gear.spot[1]) > up:
                    train.forbid(place)


@dataclass(frozen=True)
class RoundFrame:
    """room: for each tooth count the greatest square of a gear's distance from the main axis."""

    room: Mapping[int, int]
    name = "frame"

    def post(self, train: PlaceVars) -> None:
        for place in train.all_places():
            if any(square(gear.spot) > self.room[gear.teeth] for gear in place.gears):
                train.forbid(place)
