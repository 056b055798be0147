"""How a ring's rollers may stand by the rule `sag`: how wide the widest gap may be, and what even rows of them do."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import NamedTuple

GRID = 72  # directions in which rollers may stand: every fifth degree
WIDEST = GRID // 2 - 1  # of gaps, in steps of the grid, that leave a ring no way out


class RollerGaps(NamedTuple):
    """What holds a ring that may not bend too far: no gap wider than so many steps of the grid, or rollers that stand
    evenly and are so many."""

    widest: int = WIDEST
    even: tuple[int, ...] = ()

    def possible(self, counts: Sequence[int]) -> bool:
        """Whether any of so many rollers can stand so."""
        return any(count in self.even or count * self.widest >= GRID for count in counts)


FREE = RollerGaps()


@cache
def even_row(count: int) -> tuple[int, ...]:
    """Directions on the grid of rollers that stand as evenly as it lets them, the first at 0."""
    return tuple(round(index * GRID / count) for index in range(count))


@cache
def even_rows(count: int) -> tuple[tuple[int, ...], ...]:
    """Every way in which so many can stand evenly, sorted."""
    rows = {tuple(sorted((start + at) % GRID for at in even_row(count))) for start in range(GRID)}
    return tuple(sorted(rows))


def stood(directions: Sequence[int]) -> tuple[int, int | None]:
    """The widest gap between rollers in these directions of the grid [steps], and how many they are where they stand
    evenly."""
    row = tuple(sorted(directions))
    gaps = [after - here for here, after in zip(row, [*row[1:], row[0] + GRID], strict=True)]
    return max(gaps), len(row) if row in even_rows(len(row)) else None
