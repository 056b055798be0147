"""Arbors as far apart around the main axis as can be: of the angles between neighbours around the circle the least is
as large as it can be, then the next least, and so on.

Angle by angle: with the least ones settled, the next is as large as x where some way has every angle, in order, at
least as large as those and then x again and again. What such a question takes away is told by counting: a part of the
circle between two arbors that stand can be cut into so many angles of that size and no more.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Sequence
from itertools import pairwise

from solver.search.bits import set_cells
from solver.search.place.ways import Chosen, PlacesAsked, StepsSpent, Ways

Gaps = tuple[int, ...]  # angles between neighbours, ascending, in units of the circle


def gaps_of(units: Sequence[int], whole: int) -> Gaps:
    """The angles between neighbours around a circle of `whole` units, ascending."""
    stood = sorted(units)
    return tuple(sorted([*(b - a for a, b in pairwise(stood)), stood[0] + whole - stood[-1]]))


class Arcs:
    """Parts of the circle between two directions in which some arbor can stand; of one and the same, the whole of it.
    Remembers into how many angles each can be cut."""

    def __init__(self, ways: Ways) -> None:
        circle = ways.circle
        some = 0
        for left in ways.left[: ways.links]:
            some |= left
        self.units, self.whole = circle.units, circle.whole
        self.open = [number for number in range(len(circle.units)) if some & circle.mask_of([number])]
        self._inside: dict[tuple[int, int], list[tuple[int, int]]] = {}
        self._most: dict[tuple[int, int, int], int] = {}

    def long(self, begin: int, end: int) -> int:
        """The angle of a part."""
        return (self.units[end] - self.units[begin]) % self.whole or self.whole

    def inside(self, begin: int, end: int) -> list[tuple[int, int]]:
        """The open directions within a part, in order: (angle from its begin, number)."""
        key = begin, end
        if key not in self._inside:
            start, long = self.units[begin], self.long(begin, end)
            every = (((self.units[number] - start) % self.whole, number) for number in self.open)
            self._inside[key] = sorted(one for one in every if 0 < one[0] < long)
        return self._inside[key]

    def most(self, begin: int, end: int, size: int) -> int:
        """How many angles of at least that size, more than nothing, a part can have."""
        key = begin, end, size
        if key not in self._most:
            last, count = 0, 0
            for at, _ in self.inside(begin, end):
                if at - last >= size:
                    last, count = at, count + 1
            self._most[key] = count + (self.long(begin, end) - last >= size)
        return self._most[key]


class AtLeast:
    """Angles that are, in order, at least as large as these."""

    def __init__(self, arcs: Arcs, gaps: Gaps) -> None:
        self.arcs, self.gaps = arcs, gaps
        self._needed = [(size, len(gaps) - bisect_left(gaps, size)) for size in sorted(set(gaps)) if size > 0]
        self._allowed: dict[tuple[int, ...], int | None] = {}
        self._cuts: dict[tuple[int, ...], list[int]] = {}

    def possible(self) -> bool:
        """False only where no directions in which some arbor can stand have such angles."""
        return any(
            all(self.arcs.most(number, number, size) >= needed for size, needed in self._needed)
            for number in self.arcs.open
        )

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
        allowed = set() if self.gaps[0] else set(stood)
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
    circle, many = ways.circle, ways.links
    arcs = Arcs(ways)
    if many < 2:
        return way, AtLeast(arcs, (circle.whole,) * many), True
    differences = sorted({(a - b) % circle.whole for a in circle.units for b in circle.units})
    best, proven = _gaps(ways, way), True
    ideal: Gaps = ()
    for settled in range(many):
        room = circle.whole - sum(ideal)
        for size in reversed(differences):
            if size <= room // (many - settled):
                if AtLeast(arcs, (*ideal, *(size,) * (many - settled))).possible():
                    ideal = (*ideal, size)
                    break
    global TR
    TR=[]
    try:
        s0=ways.steps
        found=ways.any(AtLeast(arcs,ideal))
        TR.append((ideal,found is not None,s0-ways.steps))
        if found is not None:
            return found, AtLeast(arcs,ideal), True
        for settled in range(many):
            room = circle.whole - sum(best[:settled])
            sizes = [one for one in differences if best[settled] < one <= room // (many - settled)]
            while sizes:
                middle = len(sizes) - 1
                asked = AtLeast(arcs, (*best[:settled], *(sizes[middle],) * (many - settled)))
                s0=ways.steps
                found = ways.any(asked)
                TR.append((asked.gaps,found is not None,s0-ways.steps))
                if found is None:
                    sizes = sizes[:middle]
                else:
                    way, best = found, _gaps(ways, found)
                    sizes = [one for one in sizes[middle + 1 :] if one > best[settled]]
    except StepsSpent:
        TR.append((ideal,'spent',s0-ways.steps))
        return way, AtLeast(arcs, best), False
    return way, AtLeast(arcs, best), True


def _gaps(ways: Ways, way: Chosen) -> Gaps:
    stood: list[int] = []
    for thing, index in enumerate(way[: ways.links]):
        insort(stood, ways.circle.units[ways.number(ways.bits[thing][index])])
    return gaps_of(stood, ways.circle.whole)
