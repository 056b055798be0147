"""Arbors as far apart around the main axis as can be: of the angles between neighbours around the circle the least is
as large as it can be, then the next least, and so on.

First it is asked for the best angles that so many arbors could have if nothing were in their way; where they can be
had, no others are better, and that is most often so. Else angle by angle: with the least ones settled, the next is as
large as x where some way has every angle, in order, at least as large as those and then x again and again. What such a
question takes away is told by counting: into how many angles of a size, and into how many smaller ones, a part of the
circle between two arbors that stand can be cut; and by a walk along what is left.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from itertools import pairwise

from solver.search.bits import set_cells
from solver.search.place.arcs import Arcs, Gaps
from solver.search.place.ways import SHARE, Chosen, PlacesAsked, StepsSpent, Ways


def gaps_of(units: Sequence[int], whole: int) -> Gaps:
    """The angles between neighbours around a circle of `whole` units, ascending."""
    stood = sorted(units)
    return tuple(sorted([*(b - a for a, b in pairwise(stood)), stood[0] + whole - stood[-1]]))


class AtLeast:
    """Angles that are, in order, at least as large as these."""

    in_order = False

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
    asking = _Asking(ways, way)
    asking.all()
    return asking.way, AtLeast(asking.arcs, asking.best), asking.proven


class _Asking:
    """Question by question the best angles."""

    def __init__(self, ways: Ways, way: Chosen) -> None:
        self.ways, self.way, self.proven = ways, way, True
        self.arcs, self.best = ways.arcs(), _gaps(ways, way)
        self.refused: set[Gaps] = set()

    def all(self) -> None:
        many, ideal = self.ways.links, self.arcs.ideal(self.ways.links)
        if self.best == ideal or self.can(ideal):
            return
        for settled in range(many):
            known, left = self.best[:settled], many - settled
            top = ideal[settled] if known == ideal[:settled] else self.arcs.largest(known, many)
            sizes = self.arcs.sizes
            sizes = sizes[bisect_right(sizes, self.best[settled]) : bisect_right(sizes, top)]
            next_one = len(sizes) - 1  # the largest, which often can be had; then the middle one, again and again
            while sizes:
                if self.can((*known, *(sizes[next_one],) * left)):
                    sizes = [one for one in sizes[next_one + 1 :] if one > self.best[settled]]
                else:
                    sizes = sizes[:next_one]
                next_one = len(sizes) // 2

    def can(self, gaps: Gaps) -> bool:
        """Whether there is a way with such angles, which is taken. Where that is not settled with a part of the steps
        that are left, it is taken that there is none, and nothing is proven."""
        if gaps in self.refused:
            return False
        try:
            found = self.ways.any(AtLeast(self.arcs, gaps), SHARE)
        except StepsSpent:
            found, self.proven = None, False
        if found is None:
            self.refused.add(gaps)
            return False
        self.way, self.best = found, _gaps(self.ways, found)
        return True


def _gaps(ways: Ways, way: Chosen) -> Gaps:
    stood = [ways.number(ways.bits[thing][index]) for thing, index in enumerate(way[: ways.links])]
    return gaps_of([ways.circle.units[number] for number in stood], ways.circle.whole)
