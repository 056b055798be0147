"""One segment: the links from one body's ring to the next body's, blank rings between them.

What a segment does to the logarithm of the period is a sum of one rounded step a link, in units of 1/scale. All sums
are found by dynamic programming over layers: a layer is a ring, a state its teeth and the third gears so far, and the
sums of a state are one bit set.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction
from typing import NamedTuple, Protocol

import numpy as np

from solver.search.bits import mask
from solver.search.options.candidates import Option
from solver.search.reach.folds import NO_TEETH, Fold, Folded, LinkArc, Values
from solver.search.reach.one_order import Alike, FirstOrders, Latest, may_precede
from solver.search.reach.sums import Combo, Layer, LinkStep, RingState, SumSet, TooManyRatios
from solver.search.replayed import Replayed

TICK = 200  # steps between two looks at the stop rule
CALL = 500  # cells that are counted in the time of a call
_MANY_SHIFTS = 64
MOST_RATIOS = 20_000

_NOTHING = Values(0, np.zeros(0))


class Links(Alike, Protocol):
    """What links between two rings can do, rings named by their teeth beyond those of the segment's first ring.
    one_order: whether of ways that differ in the order of their links alone one is enough."""

    growing: bool
    one_order: bool
    tick: Callable[[], None]

    def steps(self, link: int, inner: int, outer: int) -> tuple[LinkStep, ...]:
        """The steps of a link, counted from the segment's first, between these rings."""

    def teeth(self, inner: int, outer: int, option: Option) -> int:
        """Teeth of a candidate's gears, its smallest third gears included."""


class Back(NamedTuple):
    """An arc seen from its end: the ring before, the sums that can be had there, and the step from there."""

    inner: int
    before: SumSet
    step: LinkStep


class Segment:
    """All ways through a number of links between two rings."""

    def __init__(
        self,
        offsets: tuple[tuple[int, ...], ...],
        links: Links,
        most_thirds: int,
        keep: tuple[int, int] | None,
        begun: list[Layer],
    ) -> None:
        """offsets: for each ring the teeth that it may have beyond the first one's; keep: the sums that can matter,
        None for all; begun: the first layers, if a segment that begins alike has them."""
        self.offsets, self.links, self.most_thirds = offsets, links, most_thirds
        self.last = len(offsets) - 1
        self.layers: list[Layer] = begun or [{RingState(0, 0): SumSet(0, 1)}]
        reaches = self._reaches() if keep is not None else []
        for link in range(len(self.layers) - 1, self.last):
            span = None
            if keep is not None:
                rest = reaches[link + 1 :]
                span = keep[0] - sum(high for _, high in rest), keep[1] - sum(low for low, _ in rest)
            self.layers.append(self._next(link, span))
        self._teeth: Folded | None = None
        self._counts: Folded | None = None
        self._combos: dict[tuple[int, int], Replayed[Combo]] = {}
        self._ratios: dict[tuple[int, RingState, int], set[Fraction]] = {(0, RingState(0, 0), 0): {Fraction(1)}}
        self.end = offsets[-1][0]
        self.firsts = FirstOrders(links) if links.one_order and self.last > 1 else None
        self.sums = {thirds: found for (offset, thirds), found in sorted(self.layers[-1].items()) if offset == self.end}

    # -- forward -----------------------------------------------------------------------------------------------

    def _reaches(self) -> list[tuple[int, int]]:
        found = []
        for link in range(self.last):
            ends = [
                (arc.step.values[0], arc.step.values[-1])
                for inner in self.offsets[link]
                for arc in self._onward(link, inner)
            ]
            found.append((min((low for low, _ in ends), default=0), max((high for _, high in ends), default=0)))
        return found

    def _onward(self, ring: int, inner: int) -> Iterator[LinkArc]:
        """Every step from a ring that has `inner` teeth beyond the first one's to the next."""
        for outer in self.offsets[ring + 1]:
            if not self.links.growing or outer > inner:
                for step in self.links.steps(ring, inner, outer):
                    yield LinkArc(inner, outer, step)

    def _next(self, link: int, span: tuple[int, int] | None) -> Layer:
        gathered: dict[RingState, list[tuple[int, int]]] = {}
        for (inner, thirds), source in self.layers[link].items():
            for _, outer, step in self._onward(link, inner):
                if thirds + step.thirds <= self.most_thirds:
                    gathered.setdefault(RingState(outer, thirds + step.thirds), []).append(self._moved(source, step))
        found: Layer = {}
        for state, parts in gathered.items():
            low = min(part for part, _ in parts)
            bits = 0
            for part, some in parts:
                bits |= some << (part - low)
            if span is not None:
                bits = bits >> (span[0] - low) if low < span[0] else bits
                low = max(low, span[0])
                bits &= mask(span[1] - low + 1)
            if bits:
                found[state] = SumSet(low, bits)
        return found

    def _moved(self, source: SumSet, step: LinkStep) -> tuple[int, int]:
        least = step.values[0]
        if source.bits == 1 and len(step.values) > _MANY_SHIFTS:
            cells = np.zeros(step.values[-1] - least + 1, np.uint8)
            cells[np.array(step.values) - least] = 1
            return source.low + least, int.from_bytes(np.packbits(cells, bitorder="little").tobytes(), "little")
        bits = 0
        for index, shift in enumerate(step.values):
            if index % TICK == 0:
                self.links.tick()
            bits |= source.bits << (shift - least)
        return source.low + least, bits

    # -- backward ----------------------------------------------------------------------------------------------

    def into(self, ring: int, offset: int, thirds: int) -> Iterator[Back]:
        """The arcs that lead to a state of a ring."""
        for inner in self.offsets[ring - 1]:
            if self.links.growing and inner >= offset:
                continue
            for step in self.links.steps(ring - 1, inner, offset):
                before = self.layers[ring - 1].get(RingState(inner, thirds - step.thirds))
                if before is not None:
                    self.links.tick()
                    yield Back(inner, before, step)

    def combos(self, thirds: int, value: int) -> Replayed[Combo]:
        """Every way to have this sum with so many third gears; listed as far as it is asked for."""
        key = (thirds, value)
        if key not in self._combos:
            state, firsts = RingState(self.end, thirds), self.firsts
            ways = self._back(self.last, state, value) if firsts is None else self._in_order(firsts, state, value)
            self._combos[key] = Replayed(ways)
        return self._combos[key]

    def _in_order(self, firsts: FirstOrders, state: RingState, value: int) -> Iterator[Combo]:
        ways = self._back_in_order(self.last, state, value, ())
        return (combo for combo in ways if firsts.first(combo, self.end))

    def _back_in_order(self, ring: int, state: RingState, value: int, latest: Latest) -> Iterator[Combo]:
        """As `_back`; of links that may change places, those in ascending order alone."""
        if ring == 0:
            yield Combo((), ())
            return
        for inner, before, step in self.into(ring, *state):
            mark = self.links.mark(ring - 1, inner, state.offset)
            onward = RingState(inner, state.thirds - step.thirds)
            for shift, options in step.last_to(value, before):
                for option, chosen in may_precede(latest, mark, options):
                    for blanks, links in self._back_in_order(ring - 1, onward, value - shift, chosen):
                        yield Combo(blanks if ring == 1 else (*blanks, inner), (*links, option))

    def _back(self, ring: int, state: RingState, value: int) -> Iterator[Combo]:
        if ring == 0:
            yield Combo((), ())
            return
        for inner, before, step in self.into(ring, *state):
            for shift, options in step.last_to(value, before):
                for blanks, links in self._back(ring - 1, RingState(inner, state.thirds - step.thirds), value - shift):
                    through = blanks if ring == 1 else (*blanks, inner)
                    for option in options:
                        yield Combo(through, (*links, option))

    def ratios(self, thirds: int, value: int) -> set[Fraction]:
        """Exact products of wheel/pinion over all ways to have this sum. Raises TooManyRatios."""
        return self._products(self.last, RingState(self.end, thirds), value)

    def _products(self, ring: int, state: RingState, value: int) -> set[Fraction]:
        key = (ring, state, value)
        found = self._ratios.get(key)
        if found is None:
            found = set()
            for inner, before, step in self.into(ring, *state) if ring else ():
                for shift, options in step.last_to(value, before):
                    known = self._products(ring - 1, RingState(inner, state.thirds - step.thirds), value - shift)
                    for factor in {Fraction(wheel, pinion) for _, wheel, pinion in options}:
                        found.update(factor * ratio for ratio in known)
                    if len(found) > MOST_RATIOS:
                        raise TooManyRatios
            self._ratios[key] = found
        return found

    def options(self, thirds: int, values: int, low: int) -> list[set[Option]]:
        """For each link the candidates on any way to a sum in the set `values` (bit 0 stands for low)."""
        found: list[set[Option]] = [set() for _ in self.offsets[1:]]
        goals: Layer = {RingState(self.end, thirds): SumSet(low, values)}
        for ring in range(self.last, 0, -1):
            before: Layer = {}
            for (offset, used), goal in goals.items():
                for inner, source, step in self.into(ring, offset, used):
                    state = RingState(inner, used - step.thirds)
                    for shift, options in step.shifts():
                        first = goal.low - shift
                        alive = goal.bits & source.between(first, first + goal.bits.bit_length() - 1)
                        if alive:
                            found[ring - 1].update(options)
                            known = before.get(state)
                            before[state] = SumSet(first, alive) if known is None else known.joined(first, alive)
            goals = before
        return found

    # -- values ------------------------------------------------------------------------------------------------

    def teeth_between(self, thirds: int, low: int, high: int) -> np.ndarray:
        """For each sum from `low` to `high` the fewest teeth of wheels, pinions and smallest third gears; NO_TEETH
        where there is no way to it."""
        if self._teeth is None:
            fewest = Fold(np.zeros(1, np.int32), NO_TEETH, self._lower, self.links.tick)
            self._teeth = fewest.over(self.layers, self._onward)
        return self._teeth.get(RingState(self.end, thirds), _NOTHING).between(low, high, NO_TEETH)

    def count_between(self, thirds: int, low: int, high: int) -> np.ndarray:
        """For each sum from `low` to `high` in how many ways it can be had, blanks' tooth counts not counted."""
        if self._counts is None:
            ways = Fold(np.ones(1), 0, self._add, self.links.tick)
            self._counts = ways.over(self.layers, self._onward)
        return self._counts.get(RingState(self.end, thirds), _NOTHING).between(low, high, 0)

    def counting_cost(self) -> int:
        """How many steps `count_between` takes the first time."""
        if self._counts is not None:
            return 0
        return sum(
            (source.bits.bit_length() + CALL) * len(arc.step.values)
            for ring, layer in enumerate(self.layers[:-1])
            for (inner, _), source in layer.items()
            for arc in self._onward(ring, inner)
        )

    def _lower(self, part: np.ndarray, values: np.ndarray, arc: LinkArc, options: tuple[Option, ...]) -> None:
        least = min(self.links.teeth(arc.inner, arc.outer, option) for option in options)
        np.minimum(part, values + least, out=part)

    def _add(self, part: np.ndarray, values: np.ndarray, arc: LinkArc, options: tuple[Option, ...]) -> None:
        part += values * len(options)
