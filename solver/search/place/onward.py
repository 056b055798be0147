"""How little, at least, things that are yet to be placed add to a sum, where those before them stand: by dynamic
programming over windows of things that follow each other.

What two things far from each other forbid is left out, so that the sums are bounds; where none but those in a window
meet, as without a plate, they are exact.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from solver.search.bits import set_cells
from solver.search.place.ways import Ways

MOST_CELLS = 400_000  # of one table
WIDEST = 3  # things that a window has at most
NEVER = 1 << 61  # more than any sum
_SMALL = 1 << 57  # of sums that machine numbers hold

Costs = Sequence[Sequence[int]]  # of one thing at each of its places, in each of several sums


class LeastOnward:
    """The least sums from each thing onwards, the things taken from the inside out."""

    def __init__(self, ways: Ways, costs: Sequence[Costs]) -> None:
        """costs: of each thing, in each sum, at every place of its domain."""
        self.ways = ways
        self.kept = [
            [index for index, bit in enumerate(bits) if left >> bit & 1]
            for bits, left in zip(ways.bits, ways.left, strict=True)
        ]
        self.row = [
            {bits[index]: row for row, index in enumerate(kept)}
            for bits, kept in zip(ways.bits, self.kept, strict=True)
        ]
        most = sum(max(abs(one) for some in cost for one in some) for cost in costs)
        self._never = NEVER if most < _SMALL else 1 << (most.bit_length() + 4)
        kind = np.int64 if most < _SMALL else object
        self.costs = [
            np.array([[some[index] for index in kept] for some in cost], kind)
            for cost, kept in zip(costs, self.kept, strict=True)
        ]
        self.wide = self._width(len(costs[0]))
        self._after = self._tables()

    def from_here(self, at: Sequence[int | None], thing: int) -> np.ndarray:
        """What a thing and all after it add at least, by sum and by the rows of its places; at: the bits of those
        before it."""
        before = range(max(0, thing - self.wide + 1), thing)
        rows = tuple(self.row[one][bit] for one in before if (bit := at[one]) is not None)
        key: tuple[slice | int, ...] = (slice(None), *rows)
        found: np.ndarray = self.costs[thing] + self._after[thing][key]
        return found

    def _width(self, sums: int) -> int:
        sizes = [len(kept) for kept in self.kept]
        for wide in range(WIDEST, 1, -1):
            cells = max(int(np.prod(sizes[one : one + wide + 1], dtype=float)) for one in range(len(sizes)))
            if cells * sums <= MOST_CELLS:
                return wide
        return 1

    def _tables(self) -> list[np.ndarray]:
        """After each thing the least sums of all later ones, by sum and by the places of the last ones of a window."""
        count, sums = len(self.costs), len(self.costs[0])
        found = [np.zeros(0)] * count
        last = range(max(0, count - self.wide), count)
        found[-1] = np.zeros((sums, *(len(self.kept[one]) for one in last)), self.costs[-1].dtype)
        for thing in range(count - 2, -1, -1):
            window = range(max(0, thing - self.wide + 1), thing + 1)
            later = found[thing + 1] + self.costs[thing + 1].reshape(sums, *[1] * (found[thing + 1].ndim - 2), -1)
            if later.ndim < len(window) + 2:
                later = later[:, None]
            for axis, one in enumerate(window):
                clear = self._clear(one, thing + 1)
                if clear is not None:
                    shape = [1] * (len(window) + 2)
                    shape[axis + 1], shape[-1] = clear.shape
                    later = np.where(clear.reshape(shape), later, self._never)
            shape = [sums, *(len(self.kept[one]) for one in window)]
            found[thing] = np.broadcast_to(later.min(axis=-1), shape)
        return found

    def _clear(self, one: int, other: int) -> np.ndarray | None:
        """Which of their places two things can have together; None: all."""
        table = self.ways.tables.get((one, other))
        if table is None:
            return None
        bits, row = self.ways.bits[one], self.row[other]
        found = np.zeros((len(self.kept[one]), len(self.kept[other])), bool)
        for at, index in enumerate(self.kept[one]):
            found[at, [row[bit] for bit in set_cells(table[bits[index]] & self.ways.left[other])]] = True
        return found
