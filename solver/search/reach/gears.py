"""The sets of gears with which a segment can have its sums, as far as they count: a whole number each.

What counts of some gears, and how many are to be made for them, a `Count` tells: jigs, of which one does for all gears
of a tooth count, or the gears themselves.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Protocol

from solver.design.made import OnBench
from solver.search.options.candidates import Option
from solver.search.reach.one_order import Latest, may_precede
from solver.search.reach.segment import Segment
from solver.search.reach.sums import Combo, RingState


class Count(Protocol):
    """What is counted of the gears of some links: never less for more links. least: how many are to be made for any
    link at least."""

    least: int

    def of(self, option: Option) -> int:
        """What counts of the gears of one link."""

    def both(self, some: int, others: int) -> int:
        """What counts of these gears together."""

    def many(self, some: int) -> int:
        """How many are to be made for them."""

    def joined(self, some: int, others: Iterable[int], most: int) -> list[tuple[int, int]]:
        """Each of `others` for which, together with `some`, at most so many are to be made, and the two together."""


class JigsOfGears:
    """The tooth counts that have no jig yet: bit n for n teeth."""

    def __init__(self, made: OnBench) -> None:
        self.least = 0 if made.gear_counts else 1
        self._open = ~sum(1 << teeth for teeth in made.gear_counts)

    def of(self, option: Option) -> int:
        return gears_of(option) & self._open

    def both(self, some: int, others: int) -> int:
        return some | others

    def many(self, some: int) -> int:
        return some.bit_count()

    def joined(self, some: int, others: Iterable[int], most: int) -> list[tuple[int, int]]:
        return [(one, both) for one in others if (both := some | one).bit_count() <= most]


class GearsToMake:
    """How many gears there are, and of them of each tooth count of which some are in the drawer: a field each."""

    FIELD = 10  # bits: a train has fewer gears

    def __init__(self, made: OnBench) -> None:
        self.least = 0 if made.drawer else 2
        self._there = dict(enumerate(sorted(made.drawer.items()), start=1))
        self._fields = {teeth: 1 << self.FIELD * place for place, (teeth, _) in self._there.items()}
        self._known: dict[int, int] = {}

    def of(self, option: Option) -> int:
        return 2 + self._fields.get(option.wheel, 0) + self._fields.get(option.pinion, 0)

    def both(self, some: int, others: int) -> int:
        return some + others

    def many(self, some: int) -> int:
        found = self._known.get(some)
        if found is None:
            low = (1 << self.FIELD) - 1
            taken = sum(min(some >> self.FIELD * place & low, count) for place, (_, count) in self._there.items())
            found = self._known[some] = (some & low) - taken
        return found

    def joined(self, some: int, others: Iterable[int], most: int) -> list[tuple[int, int]]:
        return [(one, both) for one in others if self.many(both := some + one) <= most]


def gears_of(option: Option) -> int:
    """Wheel and pinion as a set: bit n for n teeth."""
    return 1 << option.wheel | 1 << option.pinion


class SegmentGears:
    """The sets of gears with which one segment has its sums. Known sets are kept, for up to so many to be made each."""

    def __init__(self, segment: Segment, count: Count) -> None:
        self.segment, self.count, self.firsts = segment, count, segment.firsts
        self._known: dict[tuple[int, RingState, int], tuple[int, list[int]]] = {}

    def sets(self, thirds: int, value: int, most: int) -> list[int]:
        """Every set of which at most so many are to be made, and perhaps some of more, with which a sum can be had."""
        return self._sets(self.segment.last, RingState(self.segment.end, thirds), value, most)

    def combos(self, thirds: int, value: int, gears: int) -> Iterator[Combo]:
        """Every way to have a sum with exactly these gears."""
        firsts = self.firsts
        ways = self._combos(self.segment.last, RingState(self.segment.end, thirds), value, gears, ())
        return ways if firsts is None else (combo for combo in ways if firsts.first(combo, self.segment.end))

    def _sets(self, ring: int, state: RingState, value: int, most: int) -> list[int]:
        if ring == 0:
            return [0]
        known = self._known.get((ring, state, value))
        if known is not None and known[0] >= most:
            return known[1]
        count, found = self.count, dict[int, None]()
        for inner, shift, options in self._last(ring, state, value):
            before = self._sets(ring - 1, inner, value - shift, most)
            for gears in {count.of(option): None for option in options}:
                for _, both in count.joined(gears, before, most):
                    found[both] = None
        self._known[(ring, state, value)] = most, list(found)
        return self._known[(ring, state, value)][1]

    def _combos(self, ring: int, state: RingState, value: int, gears: int, latest: Latest) -> Iterator[Combo]:
        if ring == 0:
            if gears == 0:
                yield Combo((), ())
            return
        count, most = self.count, self.count.many(gears)
        for inner, shift, options in self._last(ring, state, value):
            told: dict[int, list[Option]] = {}
            for option in options:
                told.setdefault(count.of(option), []).append(option)
            for others in self._sets(ring - 1, inner, value - shift, most):
                last = [option for here, some in told.items() if count.both(here, others) == gears for option in some]
                if self.firsts is not None:
                    mark = self.segment.links.mark(ring - 1, inner.offset, state.offset)
                    for option, chosen in may_precede(latest, mark, last):
                        for blanks, links in self._combos(ring - 1, inner, value - shift, others, chosen):
                            through = blanks if ring == 1 else (*blanks, inner.offset)
                            yield Combo(through, (*links, option))
                    continue
                for blanks, links in self._combos(ring - 1, inner, value - shift, others, ()) if last else ():
                    through = blanks if ring == 1 else (*blanks, inner.offset)
                    for option in last:
                        yield Combo(through, (*links, option))

    def _last(self, ring: int, state: RingState, value: int) -> Iterator[tuple[RingState, int, tuple[Option, ...]]]:
        """The links that can come last on the way to a sum: the state before, the shift, and the candidates."""
        for inner, before, step in self.segment.into(ring, *state):
            for shift, options in step.last_to(value, before):
                yield RingState(inner, state.thirds - step.thirds), shift, options
