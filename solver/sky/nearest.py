"""The positions of all bodies that stand nearest to where they should, of all that the teeth allow together.

Least is first the worst deviation of a body, then the sum of them. Both are found by a search from the inside out that
always goes on from what may still become best (A*): where a ring stands, each further one has a lattice of its own,
whose point nearest to the goal bounds from below what is still to come, and tables bound what they can do together
(`foresee`). Positions from which the next ring can do the same are one. All in whole numbers of a small part of a turn,
so that every comparison is exact; a bound that is too low costs time alone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from heapq import heappop, heappush
from itertools import count
from math import lcm
from typing import NamedTuple

from solver.sky.chain import Stretch, common
from solver.sky.foresee import Foresight, RingLattice

Way = tuple[Fraction, ...]  # how far each body stands past its goal [turns, counterclockwise], from the inside out
_Key = tuple[int, int]  # how many rings are set, and what the next one's lattice is shifted by


_FEW = 3  # points of a span that are looked at one by one


class _State(NamedTuple):
    """Where the last ring that is set stands, the cost so far, the state before it, and the ring's deviation."""

    at: int
    cost: int
    parent: _Key
    off: int


class _Positions(NamedTuple):
    """Deviations of the next ring, from one point of its lattice to another; the cost so far and the state before."""

    low: int
    high: int
    cost: int
    parent: _Key


@dataclass(frozen=True)
class Nearest:
    """worst, total: of the deviations [turns]. ways: all that have these, each as the deviations with their signs."""

    worst: Fraction
    total: Fraction
    ways: tuple[Way, ...]


def nearest(stretches: Sequence[Stretch], start: Fraction, goals: Sequence[Fraction]) -> Nearest:
    """The best positions of the rings at the ends of these stretches. start: where ring 0 stands; goals: where the
    others should [turns, counterclockwise, from where they are in mesh].

    No positions have a less worst deviation, and none with that have a less sum.
    """
    search = _Search(stretches, start, goals)
    worst = search.least_worst()
    total, ways = search.least_total(worst)
    told = tuple(tuple(Fraction(off, search.turn) for off in way) for way in ways)
    return Nearest(Fraction(worst, search.turn), Fraction(total, search.turn), told)


class _Search:
    """Positions are whole numbers: so many parts of a turn, of which a turn has `turn`. The state after i rings is
    where the ring of the last of them stands."""

    def __init__(self, stretches: Sequence[Stretch], start: Fraction, goals: Sequence[Fraction]) -> None:
        self.count = len(stretches)
        self.ratios = [(one.ratio.numerator, one.ratio.denominator) for one in stretches]
        under = start.denominator
        for one in stretches:  # all that a position can be has this denominator
            under = lcm(under * one.ratio.denominator, one.step.denominator)
        self.turn = lcm(under, *(goal.denominator for goal in goals))
        self.start, self.goals = int(start * self.turn), [int(goal * self.turn) for goal in goals]
        self.beyond = [list(self._lattices(stretches, done)) for done in range(self.count + 1)]
        self.steps = [lattices[0][2] for lattices in self.beyond[:-1]]
        self.foresight = Foresight((), 0.0, False)

    def _lattices(self, stretches: Sequence[Stretch], done: int) -> Iterator[tuple[int, int, int]]:
        """Of each ring beyond the first `done`: how it follows the last of those (two numbers, a fraction), and its
        step if all between are free to move."""
        ratio, step = Fraction(1), Fraction(0)
        for one in stretches[done:]:
            ratio *= one.ratio
            step = common((step * abs(one.ratio), one.step)) if step else one.step
            yield ratio.numerator, ratio.denominator, int(step * self.turn)

    def past(self, done: int, at: int) -> int:
        """How far the next ring stands past its goal where it follows."""
        above, below = self.ratios[done]
        return at * above // below - self.goals[done]

    def key(self, done: int, at: int) -> _Key:
        """States of one key leave the rings beyond the same positions."""
        return done, (self.past(done, at) + self.goals[done]) % self.steps[done] if done < self.count else 0

    def bounds(self, done: int, at: int) -> list[int]:
        """The least that each ring beyond can deviate."""
        found = []
        for (above, below, step), goal in zip(self.beyond[done], self.goals[done:], strict=True):
            past = (at * above // below - goal) % step
            found.append(min(past, step - past))
        return found

    def foreseen(self, done: int, low: int, high: int) -> int:
        """What the rings beyond cost at least by the tables, where the last one stands between two positions."""
        if done == self.count:
            return 0
        ends = self.past(done, low), self.past(done, high)
        least = self.foresight.least(done, min(ends), max(ends), self.steps[done])
        return max((int(least * 2**60) * self.turn >> 60) - 1, 0)

    def next_least(self, done: int, low: int, high: int) -> int:
        """The least that the next ring can deviate, where the last one stands between two positions."""
        if done == self.count:
            return 0
        ends, step = sorted((self.past(done, low), self.past(done, high))), self.steps[done]
        before, after = ends[0] % step, -ends[1] % step
        return 0 if before == 0 or ends[1] - ends[0] >= step - before else min(before, after)

    def least_worst(self) -> int:
        """The least worst deviation."""
        at, worst = self.start, 0  # no worse than where each ring in turn stands as near as it can
        for done in range(self.count):
            past = self.past(done, at) % self.steps[done]
            off = min(past, past - self.steps[done], key=abs)
            at, worst = self.goals[done] + off, max(worst, abs(off))
        for _, done, _, cost, _, _ in self._reached(max, worst):
            if done == self.count:
                return cost
        raise AssertionError("a lattice has a point nearest to any goal")

    def least_total(self, worst: int) -> tuple[int, list[tuple[int, ...]]]:
        """The least sum with that worst deviation, and every way to it."""
        costs: dict[_Key, int] = {}
        before: dict[_Key, list[tuple[_Key, int]]] = {}
        least: int | None = None
        for bound, done, key, cost, parent, off in self._reached(int.__add__, worst):
            if least is not None and bound > least:
                break
            if key not in costs or cost < costs[key]:
                costs[key], before[key] = cost, []
            if cost == costs[key]:
                before[key].append((parent, off))
            if done == self.count:
                least = cost
        assert least is not None
        return least, list(self._ways(before, (self.count, 0)))

    def _ways(self, before: dict[_Key, list[tuple[_Key, int]]], key: _Key) -> Iterator[tuple[int, ...]]:
        if key[0] == 0:
            yield ()
            return
        for parent, off in before[key]:
            for way in self._ways(before, parent):
                yield (*way, off)

    def _look_ahead(self, most: int, adds: bool) -> None:
        lattices = []
        for done, before in enumerate([self.start, *self.goals[:-1]] if self.count else []):
            (above, below), step = self.ratios[done], self.steps[done]
            shift = self.past(done, before) % step
            lattices.append(RingLattice(step / self.turn, above / below, shift / self.turn))
        # A hair more than is allowed, as the tables are of floats.
        self.foresight = Foresight(lattices, most / self.turn * (1 + 1e-9) + 1e-12, adds)

    def _reached(self, join: Callable[[int, int], int], most: int) -> Iterator[tuple[int, int, _Key, int, _Key, int]]:
        """Ways to each state, the best first by what may come of it: (its bound, rings set, key, cost so far, key
        before it, deviation). A state goes on by the cheapest way to it; others are told too. join: of the deviations
        on the way; most: that each may be.

        What a state leads to is kept as spans of the next ring's lattice, which are halved as they come first.
        """
        self._look_ahead(most, join is not max)
        order, heap = count(), list[tuple[int, int, int, _State | _Positions]]()
        expanded: dict[_Key, int] = {}

        def put(bound: int, done: int, what: _State | _Positions) -> None:
            heappush(heap, (bound, -done, -next(order), what))  # of those alike the last first: in depth

        def put_state(done: int, state: _State) -> None:
            bounds = self.bounds(done, state.at)
            if max(bounds, default=0) <= most:
                bound = state.cost
                for one in bounds:
                    bound = join(bound, one)
                put(max(bound, join(state.cost, self.foreseen(done, state.at, state.at))), done, state)

        def put_span(done: int, span: _Positions) -> None:
            """Of the ring beyond the first `done`."""
            least = 0 if span.low <= 0 <= span.high else min(abs(span.low), abs(span.high))
            low, high = self.goals[done] + span.low, self.goals[done] + span.high
            following = self.next_least(done + 1, low, high)
            if following <= most:
                ahead = max(self.foreseen(done + 1, low, high), following)
                put(join(join(span.cost, least), ahead), done, span)

        put_state(0, _State(self.start, 0, (0, 0), 0))
        while heap:
            bound, less, _, what = heappop(heap)
            done = -less
            if isinstance(what, _State):
                key = self.key(done, what.at)
                yield bound, done, key, what.cost, what.parent, what.off
                if done < self.count and what.cost < expanded.get(key, what.cost + 1):
                    expanded[key] = what.cost
                    span = self._span(done, what.at, most, what.cost, key)
                    if span is not None:
                        put_span(done, span)
                continue
            step = self.steps[done]
            points = (what.high - what.low) // step + 1
            if points <= _FEW:
                for off in range(what.low, what.high + 1, step):
                    cost = join(what.cost, abs(off))
                    put_state(done + 1, _State(self.goals[done] + off, cost, what.parent, off))
                continue
            middle = what.low + points // 2 * step
            put_span(done, _Positions(what.low, middle - step, what.cost, what.parent))
            put_span(done, _Positions(middle, what.high, what.cost, what.parent))

    def _span(self, done: int, at: int, most: int, cost: int, key: _Key) -> _Positions | None:
        """All deviations of the next ring that are no larger than `most`, each place of it once: above -1/2 turn."""
        step, past = self.steps[done], self.past(done, at) % self.steps[done]
        low, high = -min(most, (self.turn - 1) // 2), min(most, self.turn // 2)
        low, high = low + (past - low) % step, high - (high - past) % step
        return _Positions(low, high, cost, key) if low <= high else None
