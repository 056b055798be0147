"""Arbors as far apart around the main axis as can be: of the angles between neighbours around the circle the least is
as large as it can be, then the next least, and so on.

Angle by angle: with the least ones settled, the next is as large as x where some way has every angle, in order, at
least as large as those and then x again and again. A question has half of the steps that are left: where it stays open,
the next smaller angle is asked for, and nothing is proven any more. What such a question takes away is told by
counting: a part of the circle between two arbors that stand can be cut into so many angles of that size and no more.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Sequence
from itertools import combinations_with_replacement, pairwise

from solver.search.bits import set_cells
from solver.search.place.ways import Chosen, PlacesAsked, StepsSpent, Ways

_LEAST = 100  # steps that are left below which no more is asked
Gaps = tuple[int, ...]  # angles between neighbours, ascending, in units of the circle


def gaps_of(units: Sequence[int], whole: int) -> Gaps:
    """The angles between neighbours around a circle of `whole` units, ascending."""
    stood = sorted(units)
    return tuple(sorted([*(b - a for a, b in pairwise(stood)), stood[0] + whole - stood[-1]]))


class AtLeast:
    """Angles that are, in order, at least as large as these."""

    def __init__(self, gaps: Gaps) -> None:
        self.gaps = gaps
        self._needed = [(size, len(gaps) - bisect_left(gaps, size)) for size in sorted(set(gaps)) if size > 0]
        self._allowed: dict[tuple[int, ...], int | None] = {}

    def leaves(self, ways: Ways, at: Sequence[int | None], left: list[int]) -> bool:
        stood = sorted(ways.number(bit) for thing, bit in enumerate(at[: ways.links]) if bit is not None)
        if not stood:
            return self._roomy(ways, left)
        key = tuple(stood)
        if key not in self._allowed:
            self._allowed[key] = self._onward(ways, key)
        allowed = self._allowed[key]
        if allowed is None:
            return False
        for thing in range(ways.links):
            if at[thing] is None:
                left[thing] &= allowed
                if not left[thing]:
                    return False
        return True

    def _roomy(self, ways: Ways, left: Sequence[int]) -> bool:
        """False only where some links may stand in too few directions. Of so many links, with one left out for every
        angle that may be smaller, the others stand in theirs at least so far from each other."""
        circle = ways.circle
        among = [sorted({ways.number(bit) for bit in set_cells(some)}) for some in left[: ways.links]]
        sets = [set(one) for one in among]
        unions = {tuple(sorted(one | other)) for one, other in combinations_with_replacement(sets, 2)}
        for union in unions:
            inside = sum(one <= set(union) for one in sets)
            units = [circle.units[number] for number in union]
            for size, needed in self._needed:
                smaller = ways.links - needed
                if inside - smaller > 1 and not _holds(units, circle.whole, size, inside - smaller):
                    return False
        return True

    def in_turn(self, at: Sequence[int | None], thing: int, some: int) -> list[int]:
        return set_cells(some)

    def _onward(self, ways: Ways, stood: tuple[int, ...]) -> int | None:
        """The places at which one more arbor may stand beside these; None: these cannot be had."""
        units, whole, many = ways.circle.units, ways.circle.whole, ways.links
        arcs = [(one, other, units[other] - units[one]) for one, other in pairwise(stood)]
        arcs.append((stood[-1], stood[0], units[stood[0]] + whole - units[stood[-1]]))
        if len(stood) == many:
            found = tuple(sorted(long for _, _, long in arcs))
            return 0 if all(a >= b for a, b in zip(found, self.gaps, strict=True)) else None
        ways.step(1 + len(units) // 24)
        spare = []
        for size, needed in self._needed:
            over = sum(long // size for _, _, long in arcs) - needed
            if over < 0:
                return None
            spare.append(over)
        allowed = []
        for begin, end, long in arcs:
            start = units[begin]
            for number in _between(begin, end, len(units), not self.gaps[0]):
                first = (units[number] - start) % whole
                if all(
                    first // size + (long - first) // size >= long // size - over
                    for (size, _), over in zip(self._needed, spare, strict=True)
                ):
                    allowed.append(number)
        return ways.circle.mask_of(sorted(set(allowed)))


def _holds(units: Sequence[int], whole: int, size: int, many: int) -> bool:
    """Whether so many of these directions, ascending, are at least `size` apart around the circle."""
    for start in range(len(units)):
        at, found = units[start], 1
        for one in (*units[start + 1 :], *(one + whole for one in units[:start])):
            if one - at >= size and units[start] + whole - one >= size:
                at, found = one, found + 1
        if found >= many:
            return True
    return False


def _between(begin: int, end: int, count: int, edges: bool) -> list[int]:
    """The numbers of the directions counterclockwise between two, or with both; all around where they are the same."""
    many = (end - begin) % count or count
    return [(begin + one) % count for one in range(0 if edges else 1, many + (1 if edges else 0))]


def spread(ways: Ways, way: Chosen) -> tuple[Chosen, PlacesAsked, bool]:
    """A way with the arbors as far apart as can be, what is asked of such ways, and whether that is proven; way: any.

    The circle is never cut finer than its directions: an angle is the difference of two of them."""
    circle, many, settled_all = ways.circle, ways.links, True
    if many < 2:
        return way, AtLeast((circle.whole,) * many), True
    differences = sorted({(a - b) % circle.whole for a in circle.units for b in circle.units})
    best = _gaps(ways, way)
    try:
        for settled in range(many):
            room = circle.whole - sum(best[:settled])
            sizes = [one for one in differences if best[settled] < one <= room // (many - settled)]
            while sizes:
                middle = len(sizes) - 1 if len(sizes) < 4 else len(sizes) // 2
                asked = AtLeast((*best[:settled], *(sizes[middle],) * (many - settled)))
                try:
                    found = ways.few(asked, ways.steps // 2)
                except StepsSpent:
                    if ways.steps < _LEAST:
                        raise
                    found, settled_all = None, False
                if found is None:
                    sizes = sizes[:middle]
                else:
                    way, best = found, _gaps(ways, found)
                    sizes = [one for one in sizes[middle + 1 :] if one > best[settled]]
    except StepsSpent:
        return way, AtLeast(best), False
    return way, AtLeast(best), settled_all


def _gaps(ways: Ways, way: Chosen) -> Gaps:
    stood: list[int] = []
    for thing, index in enumerate(way[: ways.links]):
        insort(stood, ways.circle.units[ways.number(ways.bits[thing][index])])
    return gaps_of(stood, ways.circle.whole)
