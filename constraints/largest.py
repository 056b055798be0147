"""Limit `max_largest`: the teeth of the largest arbor gear."""

from __future__ import annotations

from dataclasses import dataclass

from ortools.sat.python import cp_model

from constraints.train import TrainVars


def largest(train: TrainVars) -> cp_model.IntVar:
    """The largest tooth count among wheels, pinions and third gears."""
    gears = [count for link in train.links for count in link.counts()]
    high = max(max(count.is_value) for count in gears)
    value = train.model.new_int_var(0, high, "largest")
    train.model.add_max_equality(value, [count.value for count in gears])
    return value


@dataclass(frozen=True)
class MaxLargest:
    """No arbor gear has more teeth."""

    most: int
    name = "max_largest"

    def post(self, train: TrainVars) -> None:
        for link in train.links:
            for count in link.counts():
                train.model.add(count.value <= self.most)
