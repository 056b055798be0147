"""Parts of the circle between two arbors that stand: into which angles more arbors may cut them, whichever links these
are and whatever is in their way.

Arbors are told apart by nothing here, so that a walk once around the circle settles in few steps what trying links in
turn settles in as many as they have orders.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Sequence
from itertools import pairwise

MOST_NODES = 3_000  # of one walk, before it is given up

Gaps = tuple[int, ...]  # angles between neighbours, ascending, in units of the circle


class Arcs:
    """The directions in which some arbor can stand, as numbers of those of a circle; remembers what was cut."""

    def __init__(self, units: Sequence[int], whole: int, some: Sequence[int], tick: Callable[[], None]) -> None:
        """units: of every direction, ascending; whole: a full turn; some: the numbers of those that are open; tick is
        called now and then. sizes: those that an angle can have."""
        self.units, self.whole, self.open, self.tick = units, whole, some, tick
        self.sizes = sorted({(a - b) % whole for a in units for b in units} | {whole})
        self._inside: dict[tuple[int, int], list[tuple[int, int]]] = {}
        self._most: dict[tuple[int, int, int], int] = {}
        self._ideal: dict[int, Gaps] = {}

    def long(self, begin: int, end: int) -> int:
        """The angle from one direction to another; from one to itself a full turn."""
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
        """How many angles of at least that size, more than nothing, a part can have: by the first direction that is so
        far away, again and again."""
        key = begin, end, size
        if key not in self._most:
            last, count = 0, 0
            for at, _ in self.inside(begin, end):
                if at - last >= size:
                    last, count = at, count + 1
            self._most[key] = count + (self.long(begin, end) - last >= size)
        return self._most[key]

    def possible(self, gaps: Gaps, stood: Sequence[int] = ()) -> bool:
        """False only where no arbors, some of which stand in these directions, ascending, have angles that are, in
        order, at least as large as these."""
        sizes = [(size, bisect_left(gaps, size)) for size in sorted({*gaps} - {0})]
        if stood:
            return _RoundTrip(self, gaps, sizes, stood).ends()
        return any(
            all(self.most(number, number, size) >= len(gaps) - fewer for size, fewer in sizes)
            and _RoundTrip(self, gaps, sizes, (number,)).ends()
            for number in self.open
        )

    def ideal(self, many: int) -> Gaps:
        """None of so many arbors have angles that are better than these, least first."""
        if many not in self._ideal:
            found: Gaps = ()
            for _ in range(many):
                found = (*found, self.largest(found, many))
            self._ideal[many] = found
        return self._ideal[many]

    def largest(self, settled: Gaps, many: int) -> int:
        """No size that is larger can be that of every further angle beside those that are settled; it is not smaller
        than those."""
        left, sizes = many - len(settled), self.sizes
        least = bisect_left(sizes, settled[-1]) if settled else 0
        beyond = bisect_left(sizes, (self.whole - sum(settled)) // left + 1)
        while beyond - least > 1:
            middle = (least + beyond) // 2
            if self.possible((*settled, *(sizes[middle],) * left)):
                least = middle
            else:
                beyond = middle
        return sizes[least]


class _RoundTrip:
    """A walk once around the circle from an arbor that stands, angle by angle, past all others that stand."""

    def __init__(self, arcs: Arcs, gaps: Gaps, sizes: list[tuple[int, int]], stood: Sequence[int]) -> None:
        """sizes: with how many angles may be smaller."""
        self.arcs, self.many, self.sizes, self.zero = arcs, len(gaps), sizes, not gaps[0]
        first = stood[0]
        units, whole = arcs.units, arcs.whole
        self.stood = [(units[number] - units[first], number) for number in stood[1:]]
        self.stood.append((whole, first))
        # From each of those onwards, how many angles of each size there can be.
        self.onward = [[0] * len(sizes)]
        for (far, one), (near, other) in reversed([*pairwise(self.stood)]):
            some = [arcs.most(one, other, size) if far != near else 0 for size, _ in sizes]
            self.onward.append([a + b for a, b in zip(some, self.onward[-1], strict=True)])
        self.onward.reverse()
        self.first, self.failed = first, set[tuple[int, int, int, tuple[int, ...]]]()
        self.nodes = MOST_NODES

    def ends(self) -> bool:
        """False: it cannot be walked."""
        return self._from(0, self.first, 0, 0, tuple(fewer for _, fewer in self.sizes))

    def _from(self, far: int, number: int, after: int, used: int, small: tuple[int, ...]) -> bool:
        """Whether it can be walked on from an angle, where so many of those that stand are passed, so many angles are
        used up, and so many of each size may still be smaller."""
        key = far, after, used, small
        if key in self.failed:
            return False
        self.nodes -= 1
        if self.nodes < 0:
            return True
        if self.nodes % 100 == 0:
            self.arcs.tick()
        end, last = self.stood[after]
        left = self.many - used
        for (size, _), spare, onward in zip(self.sizes, small, self.onward[after], strict=True):
            here = self.arcs.most(number, last, size) if end != far else 0
            if here + onward < left - spare:
                self.failed.add(key)
                return False
        found = self._on(far, number, after, used, small)
        if not found:
            self.failed.add(key)
        return found

    def _on(self, far: int, number: int, after: int, used: int, small: tuple[int, ...]) -> bool:
        end, last = self.stood[after]
        free = self.many - used - (len(self.stood) - after)  # arbors that may stand before the next that does
        if self._further(end - far, end, last, after + 1, used, small):
            return True
        if not free:
            return False
        if self.zero and self._further(0, far, number, after, used, small):
            return True
        for more, by in self.arcs.inside(number, last) if end != far else ():
            if self._further(more, far + more, by, after, used, small):
                return True
        return False

    def _further(self, more: int, far: int, number: int, after: int, used: int, small: tuple[int, ...]) -> bool:
        """Likewise from there on by an angle that is so large."""
        rest = tuple(spare - (more < size) for (size, _), spare in zip(self.sizes, small, strict=True))
        if rest and min(rest) < 0:
            return False
        if after == len(self.stood):
            return used + 1 == self.many
        return self._from(far, number, after, used + 1, rest)
