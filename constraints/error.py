"""Rule `error`: how far apart two rings' rates may be, on scaled logarithms.

Headroom. `log_of` holds round(scale * ln z), summed over the prime factors of z: with scale 10**9 and z <= 1000
below 7e9, so a train of 120 rings stays below 120 * 2 * 7e9 < 2**41, and no sum that CP-SAT forms from them comes
near 2**63. None of these constraints stands under an enforcement literal: releases of ortools are known that
return a wrong optimum for enforced sums beyond 2**31.
"""

from __future__ import annotations

from dataclasses import dataclass

from ortools.sat.python import cp_model

from constraints.train import TrainVars


@dataclass(frozen=True)
class Rates:
    """log T[i+1] - log T[i] = log(wheel) - log Z[i] + log Z[i+1] - log(pinion), and log T[0] = 0."""

    log_of: dict[int, int]
    name = "error"

    def post(self, train: TrainVars) -> None:
        model = train.model
        model.add(train.logs[0] == 0)
        for i, link in enumerate(train.links):
            # One flat sum: ortools 9.12 cannot subtract one weighted sum from another.
            terms = [
                (train.logs[i], 1),
                (train.logs[i + 1], -1),
                *link.wheel.weighted(self.log_of),
                *link.pinion.weighted(self.log_of, -1),
                *train.rings[i + 1].weighted(self.log_of),
                *train.rings[i].weighted(self.log_of, -1),
            ]
            total = cp_model.LinearExpr.weighted_sum([term for term, _ in terms], [weight for _, weight in terms])
            model.add(total == 0)


@dataclass(frozen=True)
class RateBound:
    """log T[above] - log T[below] <= most, for two rings."""

    above: int
    below: int
    most: int
    name = "error"

    def post(self, train: TrainVars) -> None:
        train.model.add(train.logs[self.above] - train.logs[self.below] <= self.most)
