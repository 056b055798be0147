"""Limit `max_envelope`: the circle around everything, in teeth of pitch radius (the addendum is the same for all)."""

from __future__ import annotations

from dataclasses import dataclass

from ortools.sat.python import cp_model

from constraints.train import Expr, TrainVars


def _reaches(train: TrainVars) -> list[Expr]:
    found: list[Expr] = [ring.value for ring in train.rings]
    for i, link in enumerate(train.links):
        found += [
            link.arbor + link.wheel.value,
            link.arbor + link.pinion.value,
            train.rings[i].value + 2 * link.wheel_third.value,
            train.rings[i + 1].value + 2 * link.pinion_third.value,
        ]
    return found


def envelope(train: TrainVars) -> cp_model.IntVar:
    """The farthest reach from the main axis of any ring or gear [teeth]."""
    value = train.model.new_int_var(0, 4 * train.arbor_high, "envelope")
    train.model.add_max_equality(value, _reaches(train))
    return value


@dataclass(frozen=True)
class MaxEnvelope:
    """Nothing reaches farther than this [teeth of pitch radius]."""

    most: int
    name = "max_envelope"

    def post(self, train: TrainVars) -> None:
        for reach in _reaches(train):
            train.model.add(reach <= self.most)
