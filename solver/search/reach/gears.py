"""The sets of gears with which a segment can have its sums. A set is a whole number: bit n for n teeth."""

from __future__ import annotations

from collections.abc import Iterator

from solver.search.options.candidates import Option
from solver.search.reach.one_order import Latest, may_precede
from solver.search.reach.segment import Segment
from solver.search.reach.sums import Combo, RingState


def gears_of(option: Option) -> int:
    """Wheel and pinion as a set."""
    return 1 << option.wheel | 1 << option.pinion


class SegmentGears:
    """The sets of gears with which one segment has its sums. Known sets are kept, for up to so many gears each."""

    def __init__(self, segment: Segment) -> None:
        self.segment, self.firsts = segment, segment.firsts
        self._known: dict[tuple[int, RingState, int], tuple[int, list[int]]] = {}

    def sets(self, thirds: int, value: int, most: int) -> list[int]:
        """Every set of at most so many gears, and perhaps some of more, with which a sum can be had."""
        return self._sets(self.segment.last, RingState(self.segment.end, thirds), value, most)

    def combos(self, thirds: int, value: int, gears: int) -> Iterator[Combo]:
        """Every way to have a sum with exactly these gears."""
        ways, firsts = (
            self._combos(self.segment.last, RingState(self.segment.end, thirds), value, gears, ()),
            self.firsts,
        )
        return ways if firsts is None else (combo for combo in ways if firsts.first(combo, self.segment.end))

    def _sets(self, ring: int, state: RingState, value: int, most: int) -> list[int]:
        if ring == 0:
            return [0]
        known = self._known.get((ring, state, value))
        if known is not None and known[0] >= most:
            return known[1]
        found: dict[int, None] = {}
        for inner, shift, options in self._last(ring, state, value):
            before = self._sets(ring - 1, inner, value - shift, most)
            for gears in {gears_of(option): None for option in options}:
                for others in before:
                    if (gears | others).bit_count() <= most:
                        found[gears | others] = None
        self._known[(ring, state, value)] = most, list(found)
        return self._known[(ring, state, value)][1]

    def _combos(self, ring: int, state: RingState, value: int, gears: int, latest: Latest) -> Iterator[Combo]:
        if ring == 0:
            yield Combo((), ())
            return
        for inner, shift, options in self._last(ring, state, value):
            here = [option for option in options if not gears_of(option) & ~gears]
            for others in self._sets(ring - 1, inner, value - shift, gears.bit_count()) if here else ():
                last = [option for option in here if gears_of(option) | others == gears]
                if self.firsts is not None:
                    mark = self.segment.links.mark(inner.offset, state.offset)
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
