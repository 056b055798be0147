"""Limit `max_largest`: the teeth of the largest arbor gear."""

from __future__ import annotations

from dataclasses import dataclass

from constraints.link import Choice
from constraints.train import Expr, TrainVars


def _largest(choice: Choice) -> int:
    return max(choice.wheel, choice.pinion, choice.wheel_third, choice.pinion_third)


def largest(train: TrainVars) -> Expr:
    """The largest tooth count among wheels, pinions and third gears."""
    gears = [link.column("largest", _largest) for link in train.links]
    if not train.smallest:
        gears += [link.third_teeth(side) for link in train.links for side in ("wheel", "pinion")]
    high = max(max(link.values("largest", _largest)) for link in train.links)
    value = train.model.new_int_var(0, max(high, *train.rules.third_teeth, 0), "largest")
    train.model.add_max_equality(value, gears)
    return value


@dataclass(frozen=True)
class MaxLargest:
    """No arbor gear has more teeth."""

    most: int
    name = "max_largest"

    def allows(self, inner: int, outer: int, choice: Choice) -> bool:
        return _largest(choice) <= self.most

    def post(self, train: TrainVars) -> None:
        for link in train.links if not train.smallest else ():
            for side in ("wheel", "pinion"):
                train.model.add(link.third_teeth(side) <= self.most)
