"""Limit `max_new_gears`: the gears of the links that are not in the drawer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ortools.sat.python import cp_model

from constraints.train import Expr, TrainVars


def new_gears(train: TrainVars, drawer: Mapping[int, int]) -> Expr:
    """How many wheels, pinions and third gears are to be made: all but as many of each tooth count as are there."""
    users: dict[int, list[cp_model.IntVar]] = {}
    for link in train.links:
        for gear in link.gears():
            for teeth, here in gear.items():
                if teeth:
                    users.setdefault(teeth, []).append(here)
    every = sum(2 * (1 - link.idle) + link.column("thirds") for link in train.links)
    taken = []
    for teeth, there in sorted(drawer.items()):
        literals = users.get(teeth, [])
        if len(literals) <= there:
            taken += literals
            continue
        some = train.model.new_int_var(0, there, f"taken {teeth}")
        train.model.add_min_equality(some, [cp_model.LinearExpr.sum(literals), there])
        taken.append(some)
    return every - cp_model.LinearExpr.sum(taken)


@dataclass(frozen=True)
class MaxNewGears:
    """At most so many gears to be made."""

    most: int
    drawer: Mapping[int, int]
    name = "max_new_gears"

    def post(self, train: TrainVars) -> None:
        train.model.add(new_gears(train, self.drawer) <= self.most)
