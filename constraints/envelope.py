"""Limit `max_envelope`: the circle around everything, in teeth of pitch radius (the addendum is the same for all)."""

from __future__ import annotations

from dataclasses import dataclass

from ortools.sat.python import cp_model

from constraints.link import Choice
from constraints.train import Expr, LinkVars, TrainVars


def envelope(train: TrainVars) -> Expr:
    """The farthest reach from the main axis of any ring or gear [teeth]; 0 where places do not matter."""
    if train.rules.direct is None:
        return cp_model.LinearExpr.sum([])
    most = max(max(values) for values in train.ring_values)
    top = most + max((choice.reach for link in train.links for choice in link.table.choices), default=0)
    top += 2 * max(train.rules.third_teeth, default=0)
    value = train.model.new_int_var(0, top, "envelope")
    train.model.add_max_equality(value, [_reach(train, link, top) for link in train.links])
    return value


def _reach(train: TrainVars, link: LinkVars, top: int) -> Expr:
    """How far the rings and gears of a link reach; 0 where it is idle."""
    model, inner, outer = train.model, train.rings[link.number], train.rings[link.number + 1]
    reach = model.new_int_var(0, top, f"reach of link {link.number}")
    sides = [] if train.smallest else [inner + 2 * link.third_teeth("wheel"), outer + 2 * link.third_teeth("pinion")]
    model.add_max_equality(reach, [inner + link.column("reach"), *sides])
    if not link.may_idle:
        return reach
    counted = model.new_int_var(0, top, f"counted reach of link {link.number}")
    model.add(counted == reach).only_enforce_if(~link.idle)
    model.add(counted == 0).only_enforce_if(link.idle)
    return counted


@dataclass(frozen=True)
class MaxEnvelope:
    """Nothing reaches farther than this [teeth of pitch radius]."""

    most: int
    name = "max_envelope"

    def allows(self, inner: int, outer: int, choice: Choice) -> bool:
        return choice.reach <= self.most

    def post(self, train: TrainVars) -> None:
        if not train.smallest:  # larger third gears reach farther
            train.model.add(envelope(train) <= self.most)
