"""Rule `step`: the teeth of the rings, by one constant step or a choice for each ring."""

from __future__ import annotations

from dataclasses import dataclass

from constraints.train import TrainVars


@dataclass(frozen=True)
class EqualSteps:
    """Ring i has inner + i * step teeth."""

    inner: int
    step: int
    name = "step"

    def post(self, train: TrainVars) -> None:
        for i, ring in enumerate(train.rings):
            train.model.add(ring.value == self.inner + i * self.step)


@dataclass(frozen=True)
class RingChoice:
    """Each ring has one of its own tooth counts; `growing`: and more than the ring before it."""

    choices: tuple[tuple[int, ...], ...]
    growing: bool
    name = "step"

    def post(self, train: TrainVars) -> None:
        for ring, choice in zip(train.rings, self.choices, strict=True):
            for teeth, literal in ring.is_value.items():
                if teeth not in choice:
                    train.model.add(literal == 0)
        if self.growing:
            for inner, outer in zip(train.rings, train.rings[1:], strict=False):
                train.model.add(outer.value >= inner.value + 1)
