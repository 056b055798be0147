"""Limit `max_jigs`: one jig for each tooth count among the rings, and one for each among the arbor gears."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ortools.sat.python import cp_model

from constraints.train import Expr, TrainVars

Frozen = frozenset[int]


def jigs(train: TrainVars, there: Frozen = frozenset(), rings_there: Frozen = frozenset()) -> Expr:
    """How many different jigs the train needs. Adds the literals "some gear has z teeth". there, rings_there: tooth
    counts of gears and of rings for which there is one."""
    gears = _different(train, [gear for link in train.links for gear in link.gears()], "gear jig", there)
    if train.growing and not rings_there:
        return gears + train.seat(-1) + 1
    rings = []
    for ring, variable in enumerate(train.rings):
        literals = train.channelled(variable, train.ring_values[ring])
        if not isinstance(train.beyond(ring), int):
            literals = {teeth: _both(train, here, ~train.beyond(ring)) for teeth, here in literals.items()}
        rings.append(literals)
    return gears + _different(train, rings, "ring jig", rings_there)


def _both(train: TrainVars, one: cp_model.IntVar, other: Expr) -> cp_model.IntVar:
    both = train.model.new_bool_var(f"{one.name}, built")
    train.model.add_bool_and([one, other]).only_enforce_if(both)
    train.model.add_bool_or([~one, ~other, both])
    return both


def _different(train: TrainVars, gears: Iterable[dict[int, cp_model.IntVar]], name: str, there: Frozen) -> Expr:
    users: dict[int, list[cp_model.IntVar]] = {}
    for gear in gears:
        for teeth, here in gear.items():
            if teeth and teeth not in there:
                users.setdefault(teeth, []).append(here)
    used = []
    for teeth, literals in sorted(users.items()):
        used.append(train.model.new_bool_var(f"{name} {teeth}"))
        train.model.add_bool_or([*literals, ~used[-1]])
        for here in literals:
            train.model.add_implication(here, used[-1])
    return cp_model.LinearExpr.sum(used)


@dataclass(frozen=True)
class MaxJigs:
    """At most so many jigs, beside those that are there."""

    most: int
    there: Frozen = frozenset()
    rings_there: Frozen = frozenset()
    name = "max_jigs"

    def post(self, train: TrainVars) -> None:
        train.model.add(jigs(train, self.there, self.rings_there) <= self.most)
