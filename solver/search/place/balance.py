"""Gears in balance: where their centre of mass lies lowest, for a model that hangs on a wall, or nearest to the main
axis, for one on a table.

What counts are gears off the axis with their hubs and sleeves: those of the links, third gears, and the drive's. Of
wire or plate each weighs as the rule `sag` reckons it, by its teeth alone, in whole milligrams; without [wire] as a
disc, so much as the square of its teeth. The centre is told in whole millimetres, rounded down: nobody bends wire so
exactly that less would matter, and what ties goes to the first directions.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import isqrt
from typing import NamedTuple

from solver.design.design import Design
from solver.search.bits import set_cells
from solver.search.place.measures import UM, Measures
from solver.search.place.shapes import ArborShape
from solver.search.place.ways import Chosen, PlacesAsked, StepsSpent, Ways
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
        scales = kind(ways, moments, whole * UM)
        known = scales.value([some[index] for some, index in zip(moments, way, strict=True)])
        least = scales.least()
        try:
            while least < known:
                middle = least if known - least < 3 or (kind is _NearAxis and least == 0) else (least + known - 1) // 2
                found = ways.any(scales.asked(middle))
                if found is None:
                    least = middle + 1
                else:
                    way = found
                    known = scales.value([some[index] for some, index in zip(moments, way, strict=True)])
        except StepsSpent:
            return way, scales.asked(known), False
        return way, scales.asked(known), True


class _Scales:
    """The moments of a train's things by the bits of their places; unit: the whole weight times a millimetre."""

    def __init__(self, ways: Ways, moments: Sequence[Sequence[Leverage]], unit: int) -> None:
        self.ways, self.unit = ways, unit
        self.at = [dict(zip(bits, some, strict=True)) for bits, some in zip(ways.bits, moments, strict=True)]

    def _leaning(self, lean: tuple[int, int]) -> list[list[tuple[int, int]]]:
        """The places of each thing, the one that leans least that way first, with how far they do."""
        a, b = lean
        return [sorted((a * one.x + b * one.y, bit) for bit, one in some.items()) for some in self.at]


class _Lowest(_Scales):
    """How high the centre of mass lies [mm above the main axis]."""

    def __init__(self, ways: Ways, moments: Sequence[Sequence[Leverage]], unit: int) -> None:
        super().__init__(ways, moments, unit)
        self.order = self._leaning((0, 1))

    def value(self, way: Iterable[Leverage]) -> int:
        """The height of a way."""
        return sum(one.y for one in way) // self.unit

    def least(self) -> int:
        """None is lower than this."""
        return sum(_first(order, some) for order, some in zip(self.order, self.ways.left, strict=True)) // self.unit

    def asked(self, most: int) -> PlacesAsked:
        """Ways that are at most so high."""
        return _NotAbove(self, most)


class _NotAbove:
    def __init__(self, scales: _Lowest, most: int) -> None:
        self.scales, self.most = scales, (most + 1) * scales.unit - 1

    def leaves(self, ways: Ways, at: Sequence[int | None], left: list[int]) -> bool:
        order = self.scales.order
        least = [_first(some, kept) for some, kept in zip(order, left, strict=True)]
        spare = self.most - sum(least)
        if spare < 0:
            return False
        for thing, some in enumerate(order):
            if at[thing] is None:
                for far, bit in reversed(some):
                    if far <= least[thing] + spare:
                        break
                    left[thing] &= ~(1 << bit)
        return True

    def in_turn(self, at: Sequence[int | None], thing: int, some: int) -> list[int]:
        return [bit for _, bit in self.scales.order[thing] if some >> bit & 1]


class _NearAxis(_Scales):
    """How far the centre of mass is from the main axis [mm]."""

    def __init__(self, ways: Ways, moments: Sequence[Sequence[Leverage]], unit: int) -> None:
        super().__init__(ways, moments, unit)
        self.orders = [self._leaning(lean) for lean in _LEANS]

    def value(self, way: Iterable[Leverage]) -> int:
        """The distance of a way."""
        some = list(way)
        x, y = sum(one.x for one in some), sum(one.y for one in some)
        return isqrt((x * x + y * y) // self.unit**2)

    def least(self) -> int:
        """None is nearer than this."""
        return max(0, max(self.leans(self.ways.left)) // self.unit)

    def leans(self, left: Sequence[int]) -> list[int]:
        """How far, at least, these ways lean in each of some directions; rounded down."""
        return [
            sum(_first(order, some) for order, some in zip(orders, left, strict=True)) // long
            for orders, long in zip(self.orders, _LONG, strict=True)
        ]

    def asked(self, most: int) -> PlacesAsked:
        """Ways that are at most so far away."""
        return _NotBeyond(self, most)


class _NotBeyond:
    def __init__(self, scales: _NearAxis, most: int) -> None:
        self.scales, self.most = scales, most

    def leaves(self, ways: Ways, at: Sequence[int | None], left: list[int]) -> bool:
        if None not in at:
            way = [some[bit] for some, bit in zip(self.scales.at, at, strict=True) if bit is not None]
            return self.scales.value(way) <= self.most
        return max(self.scales.leans(left)) < (self.most + 1) * self.scales.unit

    def in_turn(self, at: Sequence[int | None], thing: int, some: int) -> list[int]:
        every = self.scales.at
        stood = [every[one][bit] for one, bit in enumerate(at) if bit is not None]
        x, y = sum(one.x for one in stood), sum(one.y for one in stood)
        here = every[thing]
        return sorted(set_cells(some), key=lambda bit: ((x + here[bit].x) ** 2 + (y + here[bit].y) ** 2, bit))


def _first(order: list[tuple[int, int]], some: int) -> int:
    """How far the first of these places leans."""
    return next((far for far, bit in order if some >> bit & 1), 0)
