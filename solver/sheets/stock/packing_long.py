"""Pieces longer than every bar, which are joined from parts: where they are cut is part of the packing.

A long piece is so many units long: teeth, where it may be cut between two of them, or tenths of a millimetre, where it
may be cut anywhere. On a bar lies one part of it at most: two would cost a cut and filing more than both in one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

FINE = 1000  # so finely a tenth of a millimetre is divided where units are added up


@dataclass(frozen=True)
class Long:
    """units: how many; unit: the length of one, and extra: what filing takes of a part, both in thousandths of a tenth
    of a mm; cut: what the saw takes of a bar for a part, in tenths; least: units of which a part has to consist."""

    units: int
    unit: int
    extra: int
    cut: int
    least: int = 1

    def sawn(self, units: int) -> int:
        """Length of a part of so many units, in whole tenths, rounded up."""
        return -(-(units * self.unit + self.extra) // FINE)

    def needs(self, units: int) -> int:
        """The same with its saw cut."""
        return self.sawn(units) + self.cut

    def room(self, tenths: int) -> int:
        """The most units of a part that needs no more than so many tenths."""
        return max(((tenths - self.cut) * FINE - self.extra) // self.unit, 0)

    def fewest_parts(self, bar: int) -> int:
        """How many parts it has at least, none longer than a bar."""
        return -(-self.units // self.room(bar))

    def volume(self, bar: int) -> int:
        """What its parts need at least, in tenths."""
        parts = self.fewest_parts(bar)
        return -(-(self.units * self.unit + parts * self.extra) // FINE) + parts * self.cut

    def part(self, left: int, tenths: int) -> int:
        """Units of the longest part that needs no more than so many tenths and leaves no rest that is too short; 0
        where there is none. left: units that are not cut yet."""
        most = min(left, self.room(tenths))
        if 0 < left - most < self.least:
            most = left - self.least
        return most if most >= self.least else 0


ORDERS = ("longest", "shortest", "fullest")


def poured(longs: tuple[Long, ...], rooms: list[int], order: str) -> list[dict[int, int]] | None:
    """Parts of the long pieces in what is left of bars, bar after bar: of which piece how many units lie in each room.
    None where they do not all go in. order: whether what has most or least left comes first, or what fills best."""
    left = [long.units for long in longs]
    found: list[dict[int, int]] = []
    for room in rooms:
        here: dict[int, int] = {}
        while options := list(_options(longs, left, here, room)):
            chosen, units = min(options, key=lambda option: _key(longs, left, room, order, *option))
            here[chosen] = units
            left[chosen] -= units
            room -= longs[chosen].needs(units)
        found.append(here)
    return None if any(left) else found


def _options(longs: tuple[Long, ...], left: list[int], here: dict[int, int], room: int) -> Iterator[tuple[int, int]]:
    for number, long in enumerate(longs):
        if number not in here and left[number]:
            units = long.part(left[number], room)
            if units:
                yield number, units


def _key(longs: tuple[Long, ...], left: list[int], room: int, order: str, number: int, units: int) -> tuple[int, int]:
    if order == "fullest":
        return room - longs[number].needs(units), number
    return left[number] * (1 if order == "shortest" else -1), number


def least_by_fullest(longs: Sequence[Long], fixed: Sequence[tuple[int, int]], bar: int) -> int:
    """A lower bound of the number of bars: what is wanted over the most that any one bar can hold of it, without what
    cuts and filing of parts take (a knapsack by dynamic programming over the bar's tenths). fixed: length and number of
    pieces alike."""
    import numpy as np  # which reading a file does not need

    most = np.zeros(bar + 1, dtype=np.int64)

    def add(needs: int, value: int, before: NDArray[np.int64]) -> None:
        if needs <= bar:
            np.maximum(most[needs:], before[: bar + 1 - needs] + value, out=most[needs:])

    for length, count in fixed:
        many, left = 1, min(count, bar // length)
        while left > 0:  # 1, 2, 4 ... pieces at once add up to any number
            some = min(many, left)
            add(some * length, some * length * FINE, most.copy())
            many, left = 2 * many, left - some
    for long in longs:
        before = most.copy()
        for units in range(long.least, long.room(bar) + 1):
            add(long.needs(units), units * long.unit, before)
    wanted = sum(length * count for length, count in fixed) * FINE + sum(long.units * long.unit for long in longs)
    return -(-wanted // int(most[bar]))
