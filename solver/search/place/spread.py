"""Arbors as far apart around the main axis as can be: of the angles between neighbours around the circle the least is
as large as it can be, then the next least, and so on.

Angle by angle: with the least ones settled, the next is as large as x where some way has every angle, in order, at
least as large as those and then x again and again. What such a question takes away is told by counting: a part of the
circle between two arbors that stand can be cut into so many angles of that size and no more.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right, insort
from collections.abc import Sequence
from itertools import pairwise

from solver.search.bits import set_cells
from solver.search.place.arcs import Arcs, Gaps
from solver.search.place.ways import Chosen, PlacesAsked, StepsSpent, Ways


SHARE = 2  # of the steps that are left, one question may take one in so many


def gaps_of(units: Sequence[int], whole: int) -> Gaps:
    """The angles between neighbours around a circle of `whole` units, ascending."""
    stood = sorted(units)
    return tuple(sorted([*(b - a for a, b in pairwise(stood)), stood[0] + whole - stood[-1]]))


class AtLeast:
    """Angles that are, in order, at least as large as these."""

    def __init__(self, arcs: Arcs, gaps: Gaps) -> None:
        self.arcs, self.gaps = arcs, gaps
        self._needed = [(size, len(gaps) - bisect_left(gaps, size)) for size in sorted(set(gaps)) if size > 0]
        self._allowed: dict[tuple[int, ...], int | None] = {}
        self._cuts: dict[tuple[int, ...], list[int]] = {}

    def leaves(self, ways: Ways, at: Sequence[int | None], left: list[int]) -> bool:
        stood = sorted(ways.number(bit) for thing, bit in enumerate(at[: ways.links]) if bit is not None)
        if not stood:
            return True
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

    def in_turn(self, at: Sequence[int | None], thing: int, some: int) -> list[int]:
        return set_cells(some)

    def _onward(self, ways: Ways, stood: tuple[int, ...]) -> int | None:
        """The places at which one more arbor may stand beside these; None: these cannot be had."""
        arcs, many = self.arcs, ways.links
        long = [arcs.long(one, other) if one != other else 0 for one, other in pairwise(stood)]
        long.append(ways.circle.whole - sum(long))
        if len(stood) == many:
            return 0 if all(a >= b for a, b in zip(sorted(long), self.gaps, strict=True)) else None
        if min(long) < self.gaps[0]:
            return None
        ends = [(one, other) for one, other in zip(stood, (*stood[1:], stood[0]), strict=True)]
        spare, narrow = [], []
        for size, needed in self._needed:
            over = sum(arcs.most(*one, size) for one, far in zip(ends, long, strict=True) if far) - needed
            small = many - needed - sum(far < size for far in long)
            if min(over, small) < 0:
                return None
            spare.append(over)
            narrow.append(small)
        if not arcs.possible(self.gaps, stood):
            return None
        allowed = set[int]() if self.gaps[0] or not min(narrow, default=1) else set(stood)
        for one, far in zip(ends, long, strict=True):
            if far:
                allowed.update(self._cut(one, spare, narrow))
        return ways.circle.mask_of(sorted(allowed))

    def _cut(self, ends: tuple[int, int], spare: list[int], narrow: list[int]) -> list[int]:
        """Where a part may be cut that may lose so many angles of each size, and may have so many more that are
        smaller."""
        key = (*ends, *spare, *narrow)
        if key not in self._cuts:
            begin, end = ends
            arcs, kept = self.arcs, list[int]()
            far = arcs.long(begin, end)
            for first, number in arcs.inside(begin, end):
                rest = far - first
                for (size, _), over, small in zip(self._needed, spare, narrow, strict=True):
                    if (first < size) + (rest < size) - (far < size) > small:
                        break
                    lost = arcs.most(begin, end, size) - over
                    if arcs.most(begin, number, size) + arcs.most(number, end, size) < lost:
                        break
                else:
                    kept.append(number)
            self._cuts[key] = kept
        return self._cuts[key]


def spread(ways: Ways, way: Chosen) -> tuple[Chosen, PlacesAsked, bool]:
    """A way with the arbors as far apart as can be, what is asked of such ways, and whether that is proven; way: any.

    The circle is never cut finer than its directions: an angle is the difference of two of them."""
    circle, many, arcs = ways.circle, ways.links, ways.arcs()
    best, proven = _gaps(ways, way), True
    ideal = arcs.ideal(many)
    global TR
    TR=[]
    def ask(gaps: Gaps) -> bool:
        """Whether there is a way with such angles, which is taken."""
        nonlocal way, best, proven
        s0=ways.steps
        try:
            found = ways.any(AtLeast(arcs, gaps), SHARE)
        except StepsSpent:
            found, proven = None, False
            TR.append((gaps,'spent',s0-ways.steps))
            return False
        TR.append((gaps,found is not None,s0-ways.steps))
        if found is not None:
            way, best = found, _gaps(ways, found)
        return found is not None

    if best != ideal and not ask(ideal):
        differences = sorted({(a - b) % circle.whole for a in circle.units for b in circle.units})
        for settled in range(many):
            known, left = best[:settled], many - settled
            top = arcs.largest(known, many, differences) if known != ideal[:settled] else ideal[settled]
            sizes = differences[bisect_right(differences, best[settled]) : bisect_right(differences, top)]
            middle = len(sizes) - 1
            while sizes:
                if ask((*known, *(sizes[middle],) * left)):
                    sizes = [one for one in sizes[middle + 1 :] if one > best[settled]]
                else:
                    sizes = sizes[:middle]
                middle = len(sizes) // 2
    return way, AtLeast(arcs, best), proven


def _gaps(ways: Ways, way: Chosen) -> Gaps:
    stood: list[int] = []
    for thing, index in enumerate(way[: ways.links]):
        insort(stood, ways.circle.units[ways.number(ways.bits[thing][index])])
    return gaps_of(stood, ways.circle.whole)
