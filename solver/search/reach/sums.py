"""Sums of rounded steps as bit sets, and what one link adds to them."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple, overload

import numpy as np

from solver.search.bits import mask
from solver.search.options.candidates import Option


@dataclass
class SumSet:
    """Bit n of bits stands for the sum low + n."""

    low: int
    bits: int
    raw: bytes | None = None

    def bytes(self) -> bytes:
        if self.raw is None:
            self.raw = self.bits.to_bytes((self.bits.bit_length() + 7) // 8, "little")
        return self.raw

    def holds(self, value: int) -> bool:
        cell = value - self.low
        raw = self.bytes()
        return 0 <= cell < 8 * len(raw) and bool(raw[cell >> 3] >> (cell & 7) & 1)

    def between(self, low: int, high: int) -> int:
        """The members from low to high; bit 0 stands for low."""
        first = max(low, self.low) - self.low
        raw = self.bytes()
        last = min(high - self.low, 8 * len(raw) - 1)
        if last < first:
            return 0
        bits = int.from_bytes(raw[first >> 3 : (last >> 3) + 1], "little") >> (first & 7)
        return (bits & mask(last - first + 1)) << (self.low + first - low)

    def joined(self, low: int, bits: int) -> SumSet:
        """With the sums low + n too, for each bit n of bits."""
        first = min(self.low, low)
        return SumSet(first, (self.bits << (self.low - first)) | (bits << (low - first)))


@dataclass(frozen=True)
class LinkStep:
    """What one link between two given rings can do with so many third gears.

    values: scaled log(wheel/pinion), ascending; options: for each of them the candidates that share it.
    """

    thirds: int
    values: Sequence[int]
    options: Sequence[tuple[Option, ...]]

    def shifts(self) -> Iterator[tuple[int, tuple[Option, ...]]]:
        """Every value with its candidates."""
        return zip(self.values, self.options, strict=True)

    def last_to(self, value: int, before: SumSet) -> Iterator[tuple[int, tuple[Option, ...]]]:
        """The shifts by which a sum can be reached from one of those before, with their candidates."""
        low = value - before.low - before.bits.bit_length() + 1
        for index in range(bisect_left(self.values, low), len(self.values)):
            shift = self.values[index]
            if shift > value - before.low:
                return
            if before.holds(value - shift):
                yield shift, self.options[index]


class OptionGroups(Sequence[tuple[Option, ...]]):
    """Groups of very many candidates, each made when it is asked for. ends: where each group ends among `table`, of
    shape (candidates, 3): kind, wheel, pinion."""

    def __init__(self, table: np.ndarray, ends: list[int]) -> None:
        self.table, self.ends = table, ends

    def __len__(self) -> int:
        return len(self.ends)

    @overload
    def __getitem__(self, index: int) -> tuple[Option, ...]: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[tuple[Option, ...]]: ...
    def __getitem__(self, index: int | slice) -> tuple[Option, ...] | Sequence[tuple[Option, ...]]:
        if isinstance(index, slice):
            return [self[one] for one in range(*index.indices(len(self)))]
        begin = self.ends[index - 1] if index else 0
        return tuple(Option(*row) for row in self.table[begin : self.ends[index]].tolist())


class RingState(NamedTuple):
    """A state of the dynamic programme: the ring's teeth beyond the first ring's, and the third gears so far."""

    offset: int
    thirds: int


class Combo(NamedTuple):
    """One way through a segment: the blanks' teeth beyond the first ring's, and a candidate for each link."""

    blanks: tuple[int, ...]
    options: tuple[Option, ...]


Layer = dict[RingState, SumSet]  # all sums that can be had at one ring


class TooManyRatios(Exception):
    """More exact ratios than are worth gathering."""
