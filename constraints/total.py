"""Limit `max_teeth`: all teeth of the model, each of them a solder joint or more."""

from __future__ import annotations

from dataclasses import dataclass

from constraints.train import Expr, TrainVars


def total_teeth(train: TrainVars) -> Expr:
    """Teeth of all rings and arbor gears."""
    gears = sum(link.column("wheel") + link.column("pinion") for link in train.links)
    gears += sum(link.third_teeth(side) for link in train.links for side in ("wheel", "pinion"))
    return gears + sum(_of_ring(train, ring) for ring in range(len(train.rings)))


def _of_ring(train: TrainVars, ring: int) -> Expr:
    """The teeth of a ring; 0 where there is none."""
    if isinstance(train.beyond(ring), int):
        return train.rings[ring]
    teeth = train.model.new_int_var(0, train.ring_values[ring][-1], f"teeth of ring {ring}")
    train.model.add(teeth == train.rings[ring]).only_enforce_if(~train.beyond(ring))
    train.model.add(teeth == 0).only_enforce_if(train.beyond(ring))
    return teeth


@dataclass(frozen=True)
class MaxTeeth:
    """At most so many teeth in all."""

    most: int
    name = "max_teeth"

    def post(self, train: TrainVars) -> None:
        train.model.add(total_teeth(train) <= self.most)
