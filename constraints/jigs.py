"""Limit `max_jigs`: one jig for each tooth count among the rings, and one for each among the arbor gears."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ortools.sat.python import cp_model

from constraints.train import Count, Expr, TrainVars


def jigs(train: TrainVars) -> Expr:
    """How many different jigs the train needs. Adds the literals "some gear has z teeth"."""
    gears = [count for link in train.links for count in link.counts()]
    return _different(train, train.rings, "ring") + _different(train, gears, "gear")


def _different(train: TrainVars, counts: Iterable[Count], name: str) -> Expr:
    users: dict[int, list[cp_model.IntVar]] = {}
    for count in counts:
        for teeth, literal in count.is_value.items():
            if teeth:
                users.setdefault(teeth, []).append(literal)
    used = []
    for teeth, literals in sorted(users.items()):
        jig = train.model.new_bool_var(f"{name}_jig{teeth}")
        train.model.add_max_equality(jig, literals)
        used.append(jig)
    return cp_model.LinearExpr.sum(used)


@dataclass(frozen=True)
class MaxJigs:
    """At most so many jigs."""

    most: int
    name = "max_jigs"

    def post(self, train: TrainVars) -> None:
        train.model.add(jigs(train) <= self.most)
