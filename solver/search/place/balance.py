"""Gears in balance: where their centre of mass lies lowest, for a model that hangs on a wall, or nearest to the main
axis, for one on a table.

What counts are gears off the axis with their hubs and sleeves: those of the links, third gears, and the drive's. Of
wire or plate each weighs as the rule `sag` reckons it, by its teeth alone, in whole milligrams; without [wire] as a
disc, so much as the square of its teeth. The centre is told in whole millimetres, rounded down: nobody bends wire so
exactly that less would matter, and what ties goes to the first directions.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import isqrt
from typing import NamedTuple

import numpy as np

from solver.design.design import Design
from solver.search.place.measures import UM, Measures
from solver.search.place.onward import LeastOnward
from solver.search.place.shapes import ArborShape
from solver.search.place.ways import SHARE, Chosen, PlacesAsked, StepsSpent, Ways
from solver.search.sagging import Sagging

_LEANS = ((1, 0), (0, 1), (-1, 0), (0, -1), (3, 4), (-3, 4), (3, -4), (-3, -4), (4, 3), (-4, 3), (4, -3), (-4, -3))
_LONG = (1, 1, 1, 1, 5, 5, 5, 5, 5, 5, 5, 5)  # of each of these


class Leverage(NamedTuple):
    """The weights of a thing at one of its places, each times its distance from the main axis: to the right, upwards
    [weight times micrometres]."""

    x: int
    y: int


class GearWeights:
    """What the things of a design's trains weigh, in whole numbers of one unit."""

    def __init__(self, design: Design) -> None:
        self._sagging: Sagging | None = None
        if design.as_made:
            self._sagging = Sagging(design)

    def of(self, shape: ArborShape) -> tuple[int, tuple[int, ...]]:
        """What stands on an arbor of this shape, and each of its third gears."""
        thirds = tuple(side.third for side in shape.sides if side.third is not None)
        sagging = self._sagging
        if sagging is None:
            return sum(side.gear**2 for side in shape.sides), tuple(third**2 for third in thirds)
        if len(shape.sides) > 1:
            arbor = sagging.link_grams(shape.sides)
        else:
            side = shape.sides[0]
            arbor = sagging.gear_grams(side.gear, sagging.roles.behind_thirds(side.third is not None))
        return round(1000 * arbor), tuple(round(1000 * sagging.gear_grams(z, sagging.roles.third)) for z in thirds)


class Balance:
    """Looks for the balance of trains of one design."""

    def __init__(self, design: Design, measures: Measures) -> None:
        self.design, self.measures, self.weights = design, measures, GearWeights(design)

    def best(self, ways: Ways, way: Chosen) -> tuple[Chosen, PlacesAsked, bool]:
        """A way whose centre of mass is best, what is asked of such ways, and whether that is proven; way: any."""
        moments, whole = [], 0
        for domain in ways.domains:
            arbor, thirds = self.weights.of(domain.shape)
            whole += arbor + sum(thirds)
            every = [(arbor, domain.arbor), *zip(thirds, domain.thirds, strict=True)]
            moments.append(
                [
                    Leverage(*(sum(weight * int(spots[axis][index]) for weight, spots in every) for axis in (0, 1)))
                    for index in range(len(domain))
                ]
            )
        kind = _Lowest if self.design.hung else _NearAxis
        scales, proven = kind(ways, moments, whole * UM), True
        known = scales.value([some[index] for some, index in zip(moments, way, strict=True)])
        least = scales.least()
        asked, leap, leaping = least, 1, True
        while least < known:
            try:
                found = ways.any(scales.asked(asked), SHARE if least + 1 < known else 1)
            except StepsSpent:
                found, proven = None, False
            if found is None:
                least = asked + 1
            else:
                way, leaping = found, False
                known = scales.value([some[index] for some, index in zip(moments, way, strict=True)])
            # Near what is impossible there is little to try: from there ever farther, until there is a way.
            leap *= 2
            asked = min(least + leap, known - 1) if leaping else (least + known - 1) // 2
        return way, scales.asked(known), proven


class _Scales:
    """The moments of a train's things. leans: directions in which their sum is looked at, with how long each is; unit:
    the whole weight times a millimetre; floor: no way has less."""

    floor: int
    leans: tuple[tuple[int, int], ...] = ((0, 1),)
    long: tuple[int, ...] = (1,)

    def __init__(self, ways: Ways, moments: Sequence[Sequence[Leverage]], unit: int) -> None:
        self.ways, self.unit = ways, unit
        self.at = [dict(zip(bits, some, strict=True)) for bits, some in zip(ways.bits, moments, strict=True)]
        costs = [[[a * one.x + b * one.y for one in some] for a, b in self.leans] for some in moments]
        self.onward = LeastOnward(ways, costs)
        self._known: tuple[tuple[int | None, ...], list[tuple[int, int]]] = (), []
        self._long = np.array(self.long)[:, None]

    def value(self, way: Sequence[Leverage]) -> int:
        """Of a way, in whole millimetres."""
        raise NotImplementedError

    def least(self) -> int:
        """No way has less."""
        every = [None] * len(self.at)
        return max(self.floor, int(self._leans(every, 0).min(axis=1).max()) // self.unit)

    def asked(self, most: int) -> PlacesAsked:
        """Ways that have at most so much."""
        return _NotMore(self, most)

    def chosen(self, at: Sequence[int | None]) -> list[Leverage]:
        """The moments of things that stand."""
        return [some[bit] for some, bit in zip(self.at, at, strict=True) if bit is not None]

    def from_here(self, at: Sequence[int | None], thing: int) -> list[tuple[int, int]]:
        """How far, at least, a way leans with each place of the next thing: with its bits."""
        if self._known[0] != (key := tuple(at)):
            self._known = key, self._from_here(at, thing)
        return self._known[1]

    def _from_here(self, at: Sequence[int | None], thing: int) -> list[tuple[int, int]]:
        return list(zip(self._leans(at, thing).max(axis=0).tolist(), self.onward.row[thing], strict=True))

    def _leans(self, at: Sequence[int | None], thing: int) -> np.ndarray:
        some = self.chosen(at)
        x, y = sum(one.x for one in some), sum(one.y for one in some)
        onward = self.onward.from_here(at, thing)
        so_far = np.array([a * x + b * y for a, b in self.leans], onward.dtype)
        found: np.ndarray = (onward + so_far[:, None]) // self._long
        return found


class _Lowest(_Scales):
    """How high the centre of mass lies [mm above the main axis]."""

    floor = -(1 << 200)

    def value(self, way: Sequence[Leverage]) -> int:
        return sum(one.y for one in way) // self.unit


class _NearAxis(_Scales):
    """How far the centre of mass is from the main axis [mm]."""

    leans, long, floor = _LEANS, _LONG, 0

    def value(self, way: Sequence[Leverage]) -> int:
        x, y = sum(one.x for one in way), sum(one.y for one in way)
        return isqrt((x * x + y * y) // self.unit**2)


class _NotMore:
    in_order = True

    def __init__(self, scales: _Scales, most: int) -> None:
        self.scales, self.most, self._beyond = scales, most, (most + 1) * scales.unit

    def leaves(self, ways: Ways, at: Sequence[int | None], left: list[int]) -> bool:
        if None not in at:
            return self.scales.value(self.scales.chosen(at)) <= self.most
        thing = at.index(None)
        left[thing] &= sum(1 << bit for far, bit in self.scales.from_here(at, thing) if far < self._beyond)
        return bool(left[thing])

    def in_turn(self, at: Sequence[int | None], thing: int, some: int) -> list[int]:
        return [bit for _, bit in sorted(self.scales.from_here(at, thing)) if some >> bit & 1]
