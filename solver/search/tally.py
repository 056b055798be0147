"""How many paths end where: sparse counts over the cells of a window."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

MANY = 1 << 40  # counts are cut off here
TICK = 1000  # steps between two looks at the stop rule
CHUNK = 1 << 22  # cells that are counted at once


def set_cells(bits: int) -> list[int]:
    """The places of the ones in a bit set, ascending."""
    raw = np.frombuffer(bits.to_bytes((bits.bit_length() + 7) // 8, "little"), np.uint8)
    cells: list[int] = np.flatnonzero(np.unpackbits(raw, bitorder="little")).tolist()
    return cells


@dataclass(frozen=True)
class Tally:
    """How many paths end in each cell: ascending cells and their counts, cut off at MANY."""

    cells: np.ndarray
    counts: np.ndarray

    @classmethod
    def of(cls, bits: int) -> Tally:
        cells = np.array(set_cells(bits), np.int64)
        return cls(cells, np.ones(len(cells)))

    @classmethod
    def merged(cls, tallies: list[Tally]) -> Tally:
        if len(tallies) == 1:
            return tallies[0]
        return cls._gathered(
            np.concatenate([tally.cells for tally in tallies]), np.concatenate([tally.counts for tally in tallies])
        )

    @classmethod
    def _gathered(cls, cells: np.ndarray, counts: np.ndarray) -> Tally:
        # float64 sums are exact below 2**53; what is larger is far beyond any list and cut off.
        unique, places = np.unique(cells, return_inverse=True)
        return cls(unique, np.minimum(np.bincount(places, counts, len(unique)), MANY))

    def moved(self, steps: Sequence[tuple[int, int]], width: int, tick: Callable[[], None]) -> Tally:
        """All paths continued by one step of (shift, how many alike), those that leave [0, width) dropped."""
        shifts = np.array([shift for shift, _ in steps])
        times = np.array([float(alike) for _, alike in steps])
        if len(self.cells) * len(shifts) > min(CHUNK, width // 8):
            return self._moved_densely(shifts, times, width, tick)
        cells = np.add.outer(self.cells, shifts).ravel()
        inside = (cells >= 0) & (cells < width)
        return self._gathered(cells[inside], np.multiply.outer(self.counts, times).ravel()[inside])

    def _moved_densely(self, shifts: np.ndarray, times: np.ndarray, width: int, tick: Callable[[], None]) -> Tally:
        """As `moved`, in the memory of the target: one shift after the other."""
        dense = np.zeros(width)
        for index, (shift, factor) in enumerate(zip(shifts.tolist(), times.tolist(), strict=True)):
            if index % TICK == 0:
                tick()
            first, last = np.searchsorted(self.cells, (-shift, width - shift))
            dense[self.cells[first:last] + shift] += factor * self.counts[first:last]
        taken = np.flatnonzero(dense)
        return Tally(taken, np.minimum(dense[taken], MANY))

    def between(self, low: int, high: int) -> Tally:
        a, b = np.searchsorted(self.cells, (low, high + 1))
        return Tally(self.cells[a:b], self.counts[a:b])

    def total(self) -> int:
        return int(self.counts.sum())
