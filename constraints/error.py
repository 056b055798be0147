"""Rule `error`: how far each body's period may be from its own, on scaled logarithms.

Headroom. Releases of ortools are known that return a wrong optimum where an enforced constraint has sums beyond 2**31.
Where bodies may ride on several rings, what is said of their periods is enforced by their seats; the scale is then
chosen so that no such sum reaches 2**30. Where all seats are given nothing is enforced.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
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


Reach = tuple[float, float]  # least and greatest


def reaches(train: TrainVars, last: Reach) -> list[Reach]:
    """What ln T[i]/T[0] of each ring can be at all, from the choices of the links inside it and of those beyond it.

    last: likewise of the last body's ring. Rings beyond that have the rate that they would have with idle links.
    """
    steps = [link.logs() for link in train.links]
    rings = [_span(train.ratios_to_first(ring)) for ring in range(len(train.rings))]
    # The gears' part alone is the same for the last body's ring and all beyond it.
    low = min(last[0] - rings[ring][1] for ring in train.seats[-1])
    high = max(last[1] - rings[ring][0] for ring in train.seats[-1])
    found = []
    for ring, (least, most) in enumerate(rings):
        inside, beyond = steps[:ring], steps[ring:]
        lowest = max(sum(step[0] for step in inside), low - sum(step[1] for step in beyond))
        highest = min(sum(step[1] for step in inside), high - sum(step[0] for step in beyond))
        found.append((lowest + least, max(lowest, highest) + most))
    return found


def _span(values: Iterable[float]) -> Reach:
    some = list(values)
    return min(some), max(some)


def scale_of(train: TrainVars, last: Reach, errors: float) -> int:
    """Units of a logarithm, a power of ten: as fine as enforced sums allow. last: as for `reaches`; errors: the
    greatest ln(1 + error) that is asked about."""
    if all(len(seats) == 1 for seats in train.seats):
        return FINEST
    span = 3 * errors + max(abs(end) for reach in reaches(train, last) for end in reach)
    return min(FINEST, int(10 ** math.floor(math.log10(MOST_ENFORCED / span))))


def slack_of(links: int) -> int:
    """By how many units rounding can put a train's error off: half a unit for each link, for each of two rings, for the
    target and for the common rate, and one for the width."""
    return links // 2 + 5


@dataclass(frozen=True)
class Rates:
    """ln T[i+1] - ln T[i] = ln(wheel) - ln Z[i] + ln Z[i+1] - ln(pinion), and ln T[0] = 0. last: as for `reaches`."""

    scale: int
    last: Reach
    name = "error"

    def post(self, train: TrainVars) -> None:
        model, slack = train.model, slack_of(len(train.links))
        train.periods.append(model.new_constant(0))
        gears: Expr = 0
        for number, (link, (low, high)) in enumerate(zip(train.links, reaches(train, self.last)[1:], strict=True)):
            least, most = math.floor(low * self.scale) - slack, math.ceil(high * self.scale) + slack
            period = model.new_int_var(least, most, f"period {number + 1}")
            rings = self._rings(train, number + 1)
            model.add(period == gears + link.column("ratio", self._ratio) + rings)
            gears = period - rings
            train.periods.append(period)

    def _ratio(self, choice: Choice) -> int:
        return round(self.scale * math.log(choice.wheel / choice.pinion))

    def _rings(self, train: TrainVars, ring: int) -> Expr:
        """The scaled logarithm of a ring's teeth over those of ring 0."""
        scale = self.scale

        def log(teeth: int) -> int:
            return round(scale * math.log(teeth))

        if train.family is None or train.families is None:
            return train.of_ring(ring, "log of ring", log) - train.of_ring(0, "log of ring", log)
        logs = [round(scale * math.log(family[ring] / family[0])) for family in train.families]
        if len(set(logs)) == 1:
            return logs[0]
        domain = cp_model.Domain.from_values(sorted(set(logs)))
        told = train.model.new_int_var_from_domain(domain, f"log of rings 0 to {ring}")
        train.model.add_element(train.family, logs, told)
        return told


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
