"""Rule `step`: the teeth of the rings, by one constant step or a choice for each ring."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from constraints.train import TrainVars


@dataclass(frozen=True)
class EqualSteps:
    """The rings are those of one family: ring i has inner + i * step teeth."""

    name = "step"

    def post(self, train: TrainVars) -> None:
        assert train.family is not None and train.families is not None
        for number, ring in enumerate(train.rings):
            train.model.add_element(train.family, [family[number] for family in train.families], ring)


@dataclass(frozen=True)
class RingChoice:
    """Each ring has one of its own tooth counts; `growing`: and more than the ring before it."""

    growing: bool
    name = "step"

    def post(self, train: TrainVars) -> None:
        for inner, outer in pairwise(train.rings) if self.growing else ():
            train.model.add(outer >= inner + 1)
