"""Rule `teeth`: tooth counts within their bounds and, where a stock list is given, on it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from constraints.train import Count, TrainVars


@dataclass(frozen=True)
class Teeth:
    """Every wheel, pinion and third gear has one of the tooth counts that are allowed for it."""

    wheel: tuple[int, ...]
    pinion: tuple[int, ...]
    third: tuple[int, ...]
    name = "teeth"

    def post(self, train: TrainVars) -> None:
        for link in train.links:
            _only(train, link.wheel, self.wheel)
            _only(train, link.pinion, self.pinion)
            for third in (link.wheel_third, link.pinion_third):
                _only(train, third, (0, *self.third))


def _only(train: TrainVars, count: Count, allowed: Iterable[int]) -> None:
    allowed = set(allowed)
    for teeth, literal in count.is_value.items():
        if teeth not in allowed:
            train.model.add(literal == 0)
