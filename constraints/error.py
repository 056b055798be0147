"""Rule `error`: how far each body's period may be from its own, on scaled logarithms.

Headroom. Releases of ortools are known that return a wrong optimum where an enforced constraint has sums beyond 2**31.
Where bodies may ride on several rings, what is said of their periods is enforced by their seats; the scale is then
chosen so that no such sum reaches 2**30. Where all seats are given nothing is enforced.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from ortools.sat.python import cp_model

from constraints.link import Choice
from constraints.train import Expr, TrainVars

MOST_ENFORCED = 1 << 30
FINEST = 10**8


def log_fraction(ratio: Fraction) -> float:
    """ln(ratio); whole numbers of any size."""
    return math.log(ratio.numerator) - math.log(ratio.denominator)


@dataclass(frozen=True)
class BodyTarget:
    """A body's period, low to high, and its own greatest error as a fraction (None: only the worst one counts)."""

    low: Fraction
    high: Fraction
    cap: Fraction | None = None


def scale_of(train: TrainVars, errors: float) -> int:
    """Units of a logarithm, a power of ten: as fine as sums that are enforced allow. errors: the greatest ln(1 + error)
    that is asked about."""
    if all(len(seats) == 1 for seats in train.seats):
        return FINEST
    span = 2 * errors + 1 + 2 * max(abs(math.log(z)) for ring in train.ring_values for z in ring)
    for link in train.links:
        span += max((abs(math.log(choice.wheel / choice.pinion)) for _, choice in link.choices()), default=0.0)
    return min(FINEST, int(10 ** math.floor(math.log10(MOST_ENFORCED / span))))


def slack_of(links: int) -> int:
    """By how many units rounding can put a train's error off: half a unit for each link, for each of two rings, for the
    target and for the common rate, and one for the width."""
    return links // 2 + 5


@dataclass(frozen=True)
class Rates:
    """ln T[i+1] - ln T[i] = ln(wheel) - ln Z[i] + ln Z[i+1] - ln(pinion), and ln T[0] = 0."""

    scale: int
    name = "error"

    def post(self, train: TrainVars) -> None:
        model = train.model
        train.periods.append(model.new_constant(0))
        gears: Expr = 0
        low = high = 0
        for number, link in enumerate(train.links):
            values = link.values(self._ratio)
            low, high = low + min(values), high + max(values)
            rings, least, most = self._rings(train, number + 1)
            period = model.new_int_var(low + least, high + most, f"period {number + 1}")
            model.add(period == gears + link.column("ratio", self._ratio) + rings)
            gears = period - rings
            train.periods.append(period)

    def _ratio(self, choice: Choice) -> int:
        return round(self.scale * math.log(choice.wheel / choice.pinion))

    def _rings(self, train: TrainVars, ring: int) -> tuple[Expr, int, int]:
        """The scaled logarithm of a ring's teeth over those of ring 0, its least and its greatest value."""
        scale, zero, model = self.scale, train.ring_values[0], train.model
        if train.family is not None and train.families is not None:
            logs = [round(scale * math.log(family[ring] / family[0])) for family in train.families]
            if len(set(logs)) == 1:
                return logs[0], logs[0], logs[0]
            told = model.new_int_var_from_domain(cp_model.Domain.from_values(sorted(set(logs))), f"rings 0 to {ring}")
            model.add_element(train.family, logs, told)
            return told, min(logs), max(logs)

        def log(teeth: int) -> int:
            return round(scale * math.log(teeth))

        told = train.of_ring(ring, "log of ring", log) - train.of_ring(0, "log of ring", log)
        there = train.ring_values[ring]
        return told, log(there[0]) - log(zero[-1]), log(there[-1]) - log(zero[0])


@dataclass(frozen=True)
class WithinError:
    """Every body's rate within the worst error of its target, and within its own cap, at one common rate.

    exact: whether the first body is held exact, so that its rate is the common one; most: the greatest error as a
    fraction. Posts the scaled ln(1 + worst error) as `train.worst`. All bounds are rounded outwards by `slack_of`.
    """

    targets: Sequence[BodyTarget]
    exact: bool
    most: Fraction
    scale: int
    name = "error"

    def post(self, train: TrainVars) -> None:
        model, slack = train.model, slack_of(len(train.links))
        train.worst = model.new_int_var(0, self._width(self.most) + slack, "worst error")
        first = self.targets[0]
        lows = [math.floor(self.scale * log_fraction(target.low / first.low)) for target in self.targets]
        highs = [math.ceil(self.scale * log_fraction(target.high / first.low)) for target in self.targets]
        # rate: how much longer than the model's own period that of the first body is shown, from its low end on.
        rate: Expr = 0
        if not self.exact:
            width = self._width(self.most) + slack
            rate = model.new_int_var(-width, highs[0] + width, "rate")
        elif highs[0] > 0:
            rate = model.new_int_var(0, highs[0], "rate")
        for body, (target, seats) in enumerate(zip(self.targets, train.seats, strict=True)):
            widths = [train.worst] if body or not self.exact else []
            if target.cap is not None and widths:
                widths.append(self._width(target.cap) + slack)
            for ring, here in seats.items():
                for width in widths:
                    slow = model.add(train.periods[ring] + rate - width <= highs[body])
                    fast = model.add(train.periods[ring] + rate + width >= lows[body])
                    if len(seats) > 1:
                        slow.only_enforce_if(here)
                        fast.only_enforce_if(here)

    def _width(self, error: Fraction) -> int:
        return math.ceil(self.scale * math.log1p(float(error)))


@dataclass(frozen=True)
class RateBound:
    """ln T[above] - ln T[below] <= most units, for two rings."""

    above: int
    below: int
    most: int
    name = "error"

    def post(self, train: TrainVars) -> None:
        train.model.add(train.periods[self.above] - train.periods[self.below] <= self.most)
