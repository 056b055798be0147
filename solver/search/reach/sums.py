"""Sums of rounded steps as bit sets, and what one link adds to them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from solver.search.bits import mask
from solver.search.options.candidates import Option


@dataclass(frozen=True)
class LinkStep:
    """What one link between two given rings can do with so many third gears.

    shifts: scaled log(wheel/pinion), ascending, and the candidates that share it.
    """

    thirds: int
    shifts: tuple[tuple[int, tuple[Option, ...]], ...]


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
