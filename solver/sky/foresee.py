"""What all rings beyond must deviate at least, by where the next ring's lattice lies: bounds for the search.

Where many positions of one ring are near its goal, and few of the next one, each ring alone can come near it, but not
all of them together. So costs to come are worked out backwards, over fields of the lattice's shift: in each field the
least that any shift in it allows, by fields of the next ring's deviation and of the shift that each of these gives the
ring after it. Floats, all rounded so that bounds stay bounds; what the search compares is exact.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FIELDS = 512  # of a lattice's shift
_PARTS = 4096  # of a ring's deviation
_SLACK = 1e-9

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class RingLattice:
    """The lattice of a ring: its step, and how a deviation of the ring before it shifts it. shift: where it lies while
    that stands at its goal; all in turns, rate: turns for a turn."""

    step: float
    rate: float
    shift: float


def foreseen(lattices: Sequence[RingLattice], most: float, adds: bool) -> list[Floats]:
    """For each ring, and each of the fields of its lattice's shift, no more than what it and those beyond it cost
    together: the sum of their deviations, or without `adds` the worst. most: that each may deviate [turns]."""
    if most < _SLACK:
        return [np.zeros(FIELDS) for _ in lattices]
    edges = np.linspace(-most, most, _PARTS + 1)
    width = 2 * most / _PARTS
    own = np.minimum(np.abs(edges[:-1]), np.abs(edges[1:]))  # at least, in each part
    own[(edges[:-1] <= 0) & (edges[1:] >= 0)] = 0.0
    found: list[Floats] = []
    for index in range(len(lattices) - 1, -1, -1):
        cost = own
        if found:
            more = _after(lattices[index + 1], edges, width, found[-1])
            cost = own + more if adds else np.maximum(own, more)
        found.append(_by_shift(lattices[index].step, most, width, cost))
    return found[::-1]


def _after(lattice: RingLattice, edges: Floats, width: float, table: Floats) -> Floats:
    """Of each part of a ring's deviation, the least cost of the rings beyond."""
    field = lattice.step / FIELDS
    across = int(abs(lattice.rate) * width / field + 2 * _SLACK) + 2  # fields that a part may reach into
    if across >= FIELDS:
        return np.full(_PARTS, table.min())
    least = table.copy()
    for more in range(1, across + 1):
        least = np.minimum(least, np.roll(table, -more))
    low = np.minimum(edges[:-1] * lattice.rate, edges[1:] * lattice.rate) + lattice.shift
    first: NDArray[np.int64] = np.floor((low % lattice.step) / field - _SLACK).astype(np.int64) % FIELDS
    return np.asarray(least[first])


def _by_shift(step: float, most: float, width: float, cost: Floats) -> Floats:
    """Of each field of a lattice's shift, the least cost of the deviations that the lattice then has."""
    if step <= 2 * width:
        return np.full(FIELDS, cost.min())
    found = np.full(FIELDS, np.inf)
    low = np.arange(FIELDS) * (step / FIELDS)
    reach = int(step / FIELDS / width + 2 * _SLACK) + 2  # parts that a field may reach into
    padded = np.concatenate((np.full(reach + 1, np.inf), cost, np.full(reach + 1, np.inf)))
    least = padded.copy()
    for more in range(1, reach + 1):
        least[: len(least) - more] = np.minimum(least[: len(least) - more], padded[more:])
    for lap in range(-int(most / step) - 2, int(most / step) + 2):
        first = np.floor((low + lap * step + most) / width - _SLACK).astype(np.int64) + reach + 1
        inside = (first >= 0) & (first < len(least))
        found[inside] = np.minimum(found[inside], least[first[inside]])
    return np.where(np.isfinite(found), found, 2.0)  # no deviation that is allowed: more than any cost
