"""What a tooth form says of the room that a gear takes, and of how two of them run."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, inf
from typing import TypeVar

STEPS_PER_MM = 20  # of spans

Counts = tuple[int, ...]
T = TypeVar("T")


def outward(mm: float) -> Fraction:
    """A length rounded up to whole micrometres. What floats add, less than half a nanometre, does not count."""
    return Fraction(ceil(Fraction(round(mm * 10**6), 1000)), 1000)


@dataclass(frozen=True)
class Outline:
    """How much room a gear takes, whatever its turn; all rounded outwards to whole micrometres.

    beyond_mm: how far its outermost part stands beyond the pitch circle. inside_mm: how far it reaches inwards from it:
    a ring to its inner edge; None for a small gear, which has spokes, a hub and a post all the way to its middle.
    thick_mm: along its axis, half of it on each side of its level. unmade: why it cannot be made; "" if it can.
    """

    beyond_mm: Fraction
    inside_mm: Fraction | None
    thick_mm: Fraction
    unmade: str = ""


@dataclass(frozen=True)
class MeshRun:
    """How two gears run. backlash and most: least and most play at the pitch circle [mm], of a toothed gear while the
    pin gear is held; the least is below 0 where
    they jam. uneven: how far the driven gear strays from its even turn within a tooth [mm at the pitch circle]. slips:
    at times nothing holds it. least_pins: pins (or teeth) that are in contact at any time. tips_mm: what the tips leave
    free of the other gear's hub or roots; below 0 they jam too."""

    backlash: float
    uneven: float
    slips: bool
    least_pins: int
    most: float
    tips_mm: float = inf

    @property
    def jams(self) -> bool:
        return self.backlash < 0 or self.tips_mm < 0

    def within(self, uneven_mm: float) -> bool:
        """Whether it runs: never jams, never loses contact, strays at most so far."""
        return not self.jams and not self.slips and self.uneven <= uneven_mm


@dataclass(frozen=True)
class Span:
    """Distances of centres at which a pair runs, as offsets [mm] from the sum of the pitch radii: at both ends and
    between them it never jams, never loses contact, and strays no farther than it may."""

    low_mm: Fraction
    high_mm: Fraction

    def holds(self, low_mm: float, high_mm: float) -> bool:
        """Whether it runs over all these offsets."""
        return self.low_mm <= low_mm and high_mm <= self.high_mm


@dataclass(frozen=True)
class PairTable:
    """How all pairs of these gears with these mates run, by (teeth, mate). runs: at the distance of their pitch
    radii; those that cannot be made have none. spans: from jam to slip about that distance, of those that run there."""

    runs: Mapping[tuple[int, int], MeshRun]
    spans: Mapping[tuple[int, int], Span]


class WorkedOut(Mapping[tuple[int, int], T]):
    """What belongs to pairs, worked out when it is asked for, once; pairs for which nothing is found are not in it."""

    def __init__(self, pairs: Iterable[tuple[int, int]], work_out: Callable[[int, int], T | None]) -> None:
        self._pairs, self._work_out = tuple(pairs), work_out
        self._allowed = frozenset(self._pairs)
        self._found: dict[tuple[int, int], T | None] = {}

    def __getitem__(self, pair: tuple[int, int]) -> T:
        if pair in self._allowed and pair not in self._found:
            self._found[pair] = self._work_out(*pair)
        found = self._found[pair]
        if found is None:
            raise KeyError(pair)
        return found

    def __iter__(self) -> Iterator[tuple[int, int]]:
        return (pair for pair in self._pairs if pair in self)

    def __len__(self) -> int:
        return sum(1 for _ in self)
