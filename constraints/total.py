"""Limit `max_teeth`: all teeth of the model, each of them a solder joint or more."""

from __future__ import annotations

from dataclasses import dataclass

from constraints.train import Expr, TrainVars


def total_teeth(train: TrainVars) -> Expr:
    """Teeth of all rings and arbor gears."""
    return sum(ring.value for ring in train.rings) + sum(count.value for link in train.links for count in link.counts())


@dataclass(frozen=True)
class MaxTeeth:
    """At most so many teeth in all."""

    most: int
    name = "max_teeth"

    def post(self, train: TrainVars) -> None:
        train.model.add(total_teeth(train) <= self.most)
