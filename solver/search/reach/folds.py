"""A value for each sum of a segment, carried from layer to layer over every step: fewest teeth, or how many ways."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

import numpy as np

from solver.search.options.candidates import Option
from solver.search.reach.sums import Layer, LinkStep, RingState

NO_TEETH = 1 << 29


class Values(NamedTuple):
    """A value for each sum from `low` on."""

    low: int
    values: np.ndarray

    def between(self, low: int, high: int, nothing: int) -> np.ndarray:
        """Those of the sums from low to high; `nothing` for sums that are not there."""
        found = np.full(high - low + 1, nothing, self.values.dtype)
        first, last = max(low, self.low), min(high, self.low + len(self.values) - 1)
        if first <= last:
            found[first - low : last - low + 1] = self.values[first - self.low : last - self.low + 1]
        return found


class LinkArc(NamedTuple):
    """A link from a ring to the next: teeth of both beyond the first ring's, and one step that it can make."""

    inner: int
    outer: int
    step: LinkStep


Folded = dict[RingState, Values]
Onward = Callable[[int, int], Iterator[LinkArc]]  # the arcs from a ring (its number in the segment, its offset)
# improves a part of the values of a ring by those of the ring before, over the candidates that share one shift
Take = Callable[[np.ndarray, np.ndarray, LinkArc, tuple[Option, ...]], None]


class Fold(NamedTuple):
    """How values are carried. begin: the value of the empty sum; nothing: of a sum before any way to it is known; tick:
    called at every step, what it raises ends the work."""

    begin: np.ndarray
    nothing: int
    take: Take
    tick: Callable[[], None]

    def over(self, layers: Sequence[Layer], onward: Onward) -> Folded:
        """The values at the last ring."""
        here: Folded = {RingState(0, 0): Values(0, self.begin)}
        for ring, layer in enumerate(layers[1:]):
            there: Folded = {
                state: Values(reached.low, np.full(reached.bits.bit_length(), self.nothing, self.begin.dtype))
                for state, reached in layer.items()
            }
            for (inner, thirds), source in here.items():
                for arc in onward(ring, inner):
                    target = there.get(RingState(arc.outer, thirds + arc.step.thirds))
                    if target is not None:
                        self._along(source, arc, target)
            here = there
        return here

    def _along(self, source: Values, arc: LinkArc, target: Values) -> None:
        for shift, options in arc.step.shifts():
            self.tick()
            first = source.low + shift - target.low
            start, end = max(first, 0), min(first + len(source.values), len(target.values))
            if start < end:
                self.take(target.values[start:end], source.values[start - first : end - first], arc, options)
