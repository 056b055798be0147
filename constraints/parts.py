"""Limit `max_parts`: rings, arbor gears and arbors together."""

from __future__ import annotations

from dataclasses import dataclass

from constraints.train import Expr, TrainVars


def parts(train: TrainVars) -> Expr:
    """Rings, and 3 for a link (wheel, pinion, arbor) with 2 more for each third gear (gear, arbor)."""
    return train.seat(-1) + 1 + sum(3 * (1 - link.idle) + 2 * link.column("thirds") for link in train.links)


@dataclass(frozen=True)
class MaxParts:
    """At most so many parts."""

    most: int
    name = "max_parts"

    def post(self, train: TrainVars) -> None:
        train.model.add(parts(train) <= self.most)
