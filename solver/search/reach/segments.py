"""Segments: the links from one body's ring to the next body's, blank rings between them.

What a segment does to the logarithm of the period is a sum of one rounded step a link, in units of 1/scale. The set
of all sums it can have, for each number of third gears, is one bit set. It depends on the differences between the
rings' teeth and not on where in the train the segment stands, so the structures of a design share most of theirs.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Any

import numpy as np

from solver.design.links import KINDS
from solver.search.bits import mask
from solver.search.options.candidates import Candidates, Option

TICK = 200  # steps between two looks at the stop rule
_MANY_SHIFTS = 64
MOST_RATIOS = 20_000
NO_TEETH = 1 << 29
WIDE = 1 << 24  # bits of a set beyond which only the part that can matter is kept

Combo = tuple[tuple[int, ...], tuple[Option, ...]]  # teeth of the blanks beyond the first ring's, a candidate a link


@lru_cache(maxsize=1 << 17)
def _log_ratio(wheel: int, pinion: int) -> float:
    return math.log(wheel) - math.log(pinion)


@dataclass(frozen=True)
class Step:
    """What one link between two given rings can do with so many third gears.

    shifts: scaled log(wheel/pinion), ascending, and the candidates that share it.
    """

    thirds: int
    shifts: tuple[tuple[int, tuple[Option, ...]], ...]


@dataclass
class _Set:
    """Bit n of bits stands for the sum low + n."""

    low: int
    bits: int
    raw: bytes | None = None

    def bytes(self) -> bytes:
        if self.raw is None:
            self.raw = self.bits.to_bytes((self.bits.bit_length() + 7) // 8, "little")
        return self.raw

    def holds(self, value: int) -> bool:
        place = value - self.low
        raw = self.bytes()
        return 0 <= place < 8 * len(raw) and bool(raw[place >> 3] >> (place & 7) & 1)

    def between(self, low: int, high: int) -> int:
        """The members from low to high; bit 0 stands for low."""
        first = max(low, self.low) - self.low
        raw = self.bytes()
        last = min(high - self.low, 8 * len(raw) - 1)
        if last < first:
            return 0
        bits = int.from_bytes(raw[first >> 3 : (last >> 3) + 1], "little") >> (first & 7)
        return (bits & mask(last - first + 1)) << (self.low + first - low)


Folded = dict[tuple[int, int], tuple[int, np.ndarray]]  # as Layer: the least sum, and a value for each from it on
Layer = dict[tuple[int, int], _Set]  # (teeth beyond the first ring's, third gears) -> sums


class TooMany(Exception):
    """More exact ratios than are worth gathering."""


class Listed:
    """What an iterator yields, kept, so that it can be gone through again; nothing is fetched before it is needed."""

    def __init__(self, rest: Iterator[Combo]) -> None:
        self._rest, self._known = rest, list[Combo]()

    def __iter__(self) -> Iterator[Combo]:
        index = 0  # one list may be gone through by several at once
        while True:
            if index == len(self._known):
                for item in self._rest:
                    self._known.append(item)
                    break
                else:
                    return
            yield self._known[index]
            index += 1


class Segment:
    """All ways through a number of links between two rings."""

    def __init__(
        self,
        offsets: tuple[tuple[int, ...], ...],
        steps: Callable[[int, int], tuple[Step, ...]],
        teeth_of: Callable[[int, int, Option], int],
        growing: bool,
        most_thirds: int,
        keep: tuple[int, int] | None,
        tick: Callable[[], None],
        known: list[Layer],
    ) -> None:
        """offsets: for each ring the teeth that it may have beyond the first one's; steps: of a link between two of
        them; teeth_of: of its gears; keep: the sums that can matter, None for all; known: the first layers, if a
        segment that begins alike has them.
        """
        self.offsets, self.steps, self.teeth_of = offsets, steps, teeth_of
        self.growing, self.tick = growing, tick
        self.most_thirds = most_thirds
        self.layers: list[Layer] = known or [{(0, 0): _Set(0, 1)}]
        reaches = self._reaches() if keep is not None else []
        for link in range(len(self.layers) - 1, len(offsets) - 1):
            span = None
            if keep is not None:
                rest = reaches[link + 1 :]
                span = keep[0] - sum(high for _, high in rest), keep[1] - sum(low for low, _ in rest)
            self.layers.append(self._next(link, span))
        self._teeth: Folded | None = None
        self._counts: Folded | None = None
        self._combos: dict[tuple[int, int], Listed] = {}
        self._ratios: dict[tuple[int, int, int, int], set[Fraction]] = {(0, 0, 0, 0): {Fraction(1)}}
        last = offsets[-1][0]
        self.sums = {thirds: found for (offset, thirds), found in sorted(self.layers[-1].items()) if offset == last}

    def _reaches(self) -> list[tuple[int, int]]:
        found = []
        for link in range(len(self.offsets) - 1):
            ends = [
                (step.shifts[0][0], step.shifts[-1][0])
                for inner in self.offsets[link]
                for outer in self._outer(link, inner)
                for step in self.steps(inner, outer)
            ]
            found.append((min((low for low, _ in ends), default=0), max((high for _, high in ends), default=0)))
        return found

    def _outer(self, link: int, inner: int) -> tuple[int, ...]:
        """What the ring beyond a link may have, where the ring before it has `inner`."""
        return tuple(z for z in self.offsets[link + 1] if not self.growing or z > inner)

    def _next(self, link: int, span: tuple[int, int] | None) -> Layer:
        gathered: dict[tuple[int, int], list[tuple[int, int]]] = {}
        for (inner, thirds), source in self.layers[link].items():
            for outer in self._outer(link, inner):
                for step in self.steps(inner, outer):
                    if thirds + step.thirds <= self.most_thirds:
                        gathered.setdefault((outer, thirds + step.thirds), []).append(self._moved(source, step))
        found: Layer = {}
        for key, parts in gathered.items():
            low = min(part for part, _ in parts)
            bits = 0
            for part, some in parts:
                bits |= some << (part - low)
            if span is not None:
                bits = bits >> (span[0] - low) if low < span[0] else bits
                low = max(low, span[0])
                bits &= mask(span[1] - low + 1)
            if bits:
                found[key] = _Set(low, bits)
        return found

    def _moved(self, source: _Set, step: Step) -> tuple[int, int]:
        least = step.shifts[0][0]
        if source.bits == 1 and len(step.shifts) > _MANY_SHIFTS:
            places = np.zeros(step.shifts[-1][0] - least + 1, np.uint8)
            places[[shift - least for shift, _ in step.shifts]] = 1
            return source.low + least, int.from_bytes(np.packbits(places, bitorder="little").tobytes(), "little")
        bits = 0
        for index, (shift, _) in enumerate(step.shifts):
            if index % TICK == 0:
                self.tick()
            bits |= source.bits << (shift - least)
        return source.low + least, bits

    def combos(self, thirds: int, value: int) -> Listed:
        """Every way to have this sum with so many third gears; listed as far as it is asked for."""
        key = (thirds, value)
        if key not in self._combos:
            self._combos[key] = Listed(self._back(len(self.offsets) - 1, self.offsets[-1][0], thirds, value))
        return self._combos[key]

    def _back(self, ring: int, offset: int, thirds: int, value: int) -> Iterator[Combo]:
        if ring == 0:
            yield (), ()
            return
        for inner, before, step in self._into(ring, offset, thirds):
            for shift, options in step.shifts:
                if before.holds(value - shift):
                    for teeth, links in self._back(ring - 1, inner, thirds - step.thirds, value - shift):
                        through = teeth if ring == 1 else (*teeth, inner)
                        for option in options:
                            yield through, (*links, option)

    def _into(self, ring: int, offset: int, thirds: int) -> Iterator[tuple[int, _Set, Step]]:
        """The steps that lead to a ring: from which tooth count, and the sums that can be had before."""
        for inner in self.offsets[ring - 1]:
            if self.growing and inner >= offset:
                continue
            for step in self.steps(inner, offset):
                before = self.layers[ring - 1].get((inner, thirds - step.thirds))
                if before is not None:
                    self.tick()
                    yield inner, before, step

    def ratios(self, thirds: int, value: int) -> set[Fraction]:
        """Exact products of wheel/pinion over all ways to have this sum. Raises TooMany."""
        return self._products(len(self.offsets) - 1, self.offsets[-1][0], thirds, value)

    def teeth_between(self, thirds: int, low: int, high: int) -> np.ndarray:
        """For each sum from `low` to `high` the fewest teeth of wheels, pinions and smallest third gears; NO_TEETH
        where there is no way to it."""
        if self._teeth is None:
            self._teeth = self._folded(np.zeros(1, np.int32), NO_TEETH, self._lower)
        return self._part(self._teeth, thirds, low, high, NO_TEETH)

    def count_between(self, thirds: int, low: int, high: int) -> np.ndarray:
        """For each sum from `low` to `high` in how many ways it can be had, blanks' tooth counts not counted."""
        if self._counts is None:
            self._counts = self._folded(np.ones(1), 0, self._add)
        return self._part(self._counts, thirds, low, high, 0)

    def _part(self, folded: Folded, thirds: int, low: int, high: int, nothing: int) -> np.ndarray:
        key = (self.offsets[-1][0], thirds)
        base, values = folded.get(key, (low, np.zeros(0)))
        found = np.full(high - low + 1, nothing, values.dtype)
        first, last = max(low, base), min(high, base + len(values) - 1)
        if first <= last:
            found[first - low : last - low + 1] = values[first - base : last - base + 1]
        return found

    def _folded(self, begin: np.ndarray, nothing: int, take: Callable[..., None]) -> Folded:
        """A value for each sum, carried from ring to ring over every step."""
        here: Folded = {(0, 0): (0, begin)}
        for ring, layer in enumerate(self.layers[1:]):
            there: Folded = {
                key: (reached.low, np.full(reached.bits.bit_length(), nothing, begin.dtype))
                for key, reached in layer.items()
            }
            for (inner, thirds), (low, values) in here.items():
                for outer in self._outer(ring, inner):
                    for step in self.steps(inner, outer):
                        if (outer, thirds + step.thirds) not in there:
                            continue
                        base, target = there[(outer, thirds + step.thirds)]
                        for shift, options in step.shifts:
                            self.tick()
                            first = low + shift - base
                            start, end = max(first, 0), min(first + len(values), len(target))
                            if start < end:
                                take(target[start:end], values[start - first : end - first], inner, outer, options)
            here = there
        return here

    def _lower(self, part: np.ndarray, values: np.ndarray, inner: int, outer: int, options: tuple[Option, ...]) -> None:
        np.minimum(part, values + min(self.teeth_of(inner, outer, option) for option in options), out=part)

    def _add(self, part: np.ndarray, values: np.ndarray, inner: int, outer: int, options: tuple[Option, ...]) -> None:
        part += values * len(options)

    def _products(self, ring: int, offset: int, thirds: int, value: int) -> set[Fraction]:
        key = (ring, offset, thirds, value)
        found = self._ratios.get(key)
        if found is None:
            found = set()
            for inner, before, step in self._into(ring, offset, thirds) if ring else ():
                for shift, options in step.shifts:
                    if before.holds(value - shift):
                        known = self._products(ring - 1, inner, thirds - step.thirds, value - shift)
                        for factor in {Fraction(wheel, pinion) for _, wheel, pinion in options}:
                            found.update(factor * ratio for ratio in known)
                        if len(found) > MOST_RATIOS:
                            raise TooMany
            self._ratios[key] = found
        return found

    def options(self, thirds: int, values: int, low: int) -> list[set[Option]]:
        """For each link the candidates on any way to a sum in the set `values` (bit 0 stands for low)."""
        found: list[set[Option]] = [set() for _ in self.offsets[1:]]
        goals: dict[tuple[int, int], tuple[int, int]] = {(self.offsets[-1][0], thirds): (low, values)}
        for ring in range(len(self.offsets) - 1, 0, -1):
            before: dict[tuple[int, int], tuple[int, int]] = {}
            for (offset, used), (base, bits) in goals.items():
                self._options_back(ring, offset, used, base, bits, found[ring - 1], before)
            goals = before
        return found

    def _options_back(
        self,
        ring: int,
        offset: int,
        used: int,
        base: int,
        bits: int,
        found: set[Option],
        before: dict[tuple[int, int], tuple[int, int]],
    ) -> None:
        for inner, source, step in self._into(ring, offset, used):
            for shift, options in step.shifts:
                first = base - shift
                alive = bits & source.between(first, first + bits.bit_length() - 1)
                if alive:
                    found.update(options)
                    _merge(before, (inner, used - step.thirds), first, alive)


def _merge(sets: dict[tuple[int, int], tuple[int, int]], key: tuple[int, int], low: int, bits: int) -> None:
    if key in sets:
        base, known = sets[key]
        first = min(base, low)
        low, bits = first, (known << (base - first)) | (bits << (low - first))
    sets[key] = (low, bits)


class Segments:
    """The segments of a design's candidates at one scale, each made once."""

    def __init__(self, candidates: Candidates, scale: int) -> None:
        self.candidates, self.scale, self.tick = candidates, scale, candidates.tick
        self._steps: dict[tuple[int, int], tuple[Step, ...]] = {}
        self._segments: dict[Any, Segment] = {}
        self._layers: dict[Any, list[Layer]] = {}

    def steps(self, inner: int, outer: int) -> tuple[Step, ...]:
        """The steps of a link between rings of `inner` and `outer` teeth."""
        key = self.candidates.key(inner, outer)
        if key not in self._steps:
            found: dict[int, dict[int, list[Option]]] = {}
            for candidate in self.candidates.between(inner, outer):
                shift = round(self.scale * _log_ratio(candidate.wheel, candidate.pinion))
                option = (candidate.kind, candidate.wheel, candidate.pinion)
                found.setdefault(KINDS[candidate.kind].thirds, {}).setdefault(shift, []).append(option)
            self._steps[key] = tuple(
                Step(thirds, tuple((shift, tuple(options)) for shift, options in sorted(shifts.items())))
                for thirds, shifts in sorted(found.items())
            )
        return self._steps[key]

    def segment(self, rings: tuple[tuple[int, ...], ...], most_thirds: int, keep: tuple[int, int]) -> Segment:
        """The segment through these rings, the first and the last of one tooth count each.

        keep: the sums that can matter. Where rings do not decide what a link can be, blanks are passed over as if
        they all had one tooth count.
        """
        first = rings[0][0]
        if self.candidates.reverted:
            offsets = tuple(tuple(z - first for z in ring) for ring in rings)
        else:
            offsets = ((0,),) * len(rings)
        alike = self.candidates.alike(max(max(ring) for ring in rings))
        kind = (most_thirds, None if alike else first)
        key: Any = (offsets, *kind)
        found = self._segments.get(key)
        if found is None:
            reach = self._width(rings)
            if reach > WIDE:
                key = (*key, keep)
                found = self._segments.get(key)
            if found is None:
                found = Segment(
                    offsets,
                    lambda inner, outer: self.steps(first + inner, first + outer),
                    lambda inner, outer, option: self.candidates.teeth(first + inner, first + outer, option),
                    self.candidates.growing,
                    most_thirds,
                    keep if reach > WIDE else None,
                    self.tick,
                    [] if reach > WIDE else self._begun(offsets, kind),
                )
                self._segments[key] = found
                if reach <= WIDE:
                    for length in range(2, len(offsets) + 1):
                        self._layers[(offsets[:length], *kind)] = found.layers[:length]
        return found

    def _begun(self, offsets: tuple[tuple[int, ...], ...], kind: tuple[int, int | None]) -> list[Layer]:
        """The layers of the longest segment known that begins alike."""
        for length in range(len(offsets), 1, -1):
            if (offsets[:length], *kind) in self._layers:
                return list(self._layers[(offsets[:length], *kind)])
        return []

    def _width(self, rings: tuple[tuple[int, ...], ...]) -> int:
        """Greatest number of bits that a set of sums may have."""
        gears = (*self.candidates.wheel_teeth, *self.candidates.pinion_teeth)
        return round((len(rings) - 1) * 2 * self.scale * math.log(max(gears) / min(gears))) if gears else 0


def segments_of(candidates: Candidates, scale: int) -> Segments:
    """The segments of these candidates at a scale, kept with them."""
    if scale not in candidates.kept:
        candidates.kept[scale] = Segments(candidates, scale)
    found: Segments = candidates.kept[scale]
    return found
