"""Rule `seats`: the bodies ride on rings in their order, the first on the innermost ring, the last on the outermost."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from constraints.train import TrainVars


@dataclass(frozen=True)
class InOrder:
    """Each body on one ring, farther out than the body before it."""

    name = "seats"

    def post(self, train: TrainVars) -> None:
        for seats in train.seats:
            train.model.add_exactly_one(seats.values())
        for body, other in pairwise(range(len(train.seats))):
            train.model.add(train.seat(body) + 1 <= train.seat(other))
