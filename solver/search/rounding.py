"""What rounding can do to logarithms: every slack and tolerance of the search, derived here and nowhere else.

The lattice walks ln(period) in whole units of 1/scale. Each link's step is rounded once (0.5 units), the start once
(0.5), and the two ends of a window outwards (up to 1 unit each); links // 2 + 3 units are more than all of that. With
e the exact error of a train in units, a float of any size, and `inside at W` what the lattice says of a window of W:

    e <= W - slack  implies  inside at W        and        inside at W  implies  e <= W + slack

The factors 2 and 3 are these two, one after the other; each method says of which question it is the answer.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import TypeVar

NEAR = 1e-9  # floating-point logarithms nearer than this are told apart exactly; their errors stay below 1e-12


Units = TypeVar("Units", int, float)


@dataclass(frozen=True)
class Rounding:
    """What rounding can do to the error of a train, in units; all methods take and give units."""

    slack: int

    @classmethod
    def of_links(cls, links: int) -> Rounding:
        """For trains of up to so many links."""
        return cls(links // 2 + 3)

    @classmethod
    def widest(cls, some: Iterable[Rounding]) -> Rounding:
        """One that holds for all of these."""
        return max(some, key=lambda one: one.slack)

    def holding(self, error: Units) -> Units:
        """A window that holds every train with an exact error of up to `error`."""
        return error + self.slack

    def most(self, window: Units) -> Units:
        """No train inside has a greater exact error."""
        return window + self.slack

    def least(self, window: Units) -> Units:
        """No train that is not inside has a smaller exact error; and where none has a smaller exact error than
        `window`, none is inside a narrower window than this."""
        return window - self.slack

    def beside(self, window: Units) -> Units:
        """A window that holds every train with the exact error of one inside `window`: what rounding may tell apart,
        although it ties."""
        return window + 2 * self.slack

    def short_of(self, window: Units) -> Units:
        """A window none of whose trains has the exact error of one outside `window`; as `beside`, the other way."""
        return window - 2 * self.slack

    def beyond(self, window: Units) -> Units:
        """No train inside the window `beside` this one has a greater exact error."""
        return window + 3 * self.slack

    def sure(self, window: Units) -> Units:
        """A window whose trains all keep the limit that `window` is `holding`, one slack to spare."""
        return window - 3 * self.slack

    def surely(self, low: int, high: int) -> tuple[int, int]:
        """Of the cells from low to high those whose exact values are within the bounds that these stand for."""
        return low + self.slack, high - self.slack


def square_below(least: float) -> Fraction:
    """A (1 + error)**2 that is surely below that of every train with ln(1 + error) >= least: exp and the scaled bound
    are off by far less than what is taken off here."""
    return Fraction(math.exp(2 * least) * (1 - 1e-12))
