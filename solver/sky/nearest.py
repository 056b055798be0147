"""The positions of all bodies that stand nearest to where they should, of all that the teeth allow together.

Least is first the worst deviation of a body, then the sum of them. Both are found by a search from the inside out that
always goes on from what may still become best (A*): where a ring stands, each further one has a lattice of its own,
whose point nearest to the goal bounds from below what is still to come. Positions from which the next ring can do the
same are one. All in whole numbers of a small part of a turn, so that every comparison is exact.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from heapq import heappop, heappush
from itertools import count
from math import lcm

from solver.sky.chain import Stretch, common
from solver.sky.foresee import FIELDS, Floats, RingLattice, foreseen

Way = tuple[Fraction, ...]  # how far each body stands past its goal [turns, counterclockwise], from the inside out
_Key = tuple[int, int]  # how many rings are set, and what the next one's lattice is shifted by


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
        self.ratios = [one.ratio for one in stretches]
        under = start.denominator
        for one in stretches:  # all that a position can be has this denominator
            under = lcm(under * one.ratio.denominator, one.step.denominator)
        self.turn = lcm(under, *(goal.denominator for goal in goals))
        self.start, self.goals = int(start * self.turn), [int(goal * self.turn) for goal in goals]
        self.beyond = [list(self._lattices(stretches, done)) for done in range(self.count + 1)]
        self.steps = [lattices[0][1] for lattices in self.beyond[:-1]]
        self.tables: list[Floats] = []
        self.fields = [
            RingLattice(step / self.turn, float(ratio), self._shift(ratio, before, goal) % step / self.turn)
            for ratio, step, before, goal in zip(
                self.ratios, self.steps, [self.start, *self.goals], self.goals, strict=False
            )
        ]

    def _lattices(self, stretches: Sequence[Stretch], done: int) -> Iterator[tuple[Fraction, int]]:
        """Of each ring beyond the first `done`: how it follows the last of those, and its step if all between are free
        to move."""
        ratio, step = Fraction(1), Fraction(0)
        for one in stretches[done:]:
            ratio *= one.ratio
            step = common((step * abs(one.ratio), one.step)) if step else one.step
            yield ratio, int(step * self.turn)

    def _shift(self, ratio: Fraction, before: int, goal: int) -> int:
        """How far a ring that follows stands past its goal."""
        return before * ratio.numerator // ratio.denominator - goal

    def foreseen(self, done: int, at: int) -> int:
        """What the rings beyond cost at least by the table."""
        if done == self.count:
            return 0
        step = self.steps[done]
        past = self._shift(self.ratios[done], at, self.goals[done]) % step
        least = float(self.tables[done][past * FIELDS // step]) * (1 - 1e-9)
        return (int(least * 2**60) * self.turn >> 60) - 1

    def greedy(self) -> int:
        """The worst deviation where each ring in turn stands as near as it can."""
        at, worst = self.start, 0
        for done in range(self.count):
            off = next(self.deviations(done, at))
            at, worst = self.goals[done] + off, max(worst, abs(off))
        return worst

    def bounds(self, done: int, at: int) -> list[int]:
        """The least that each ring beyond can deviate."""
        found = []
        for (ratio, step), goal in zip(self.beyond[done], self.goals[done:], strict=True):
            past = (at * ratio.numerator // ratio.denominator - goal) % step
            found.append(min(past, step - past))
        return found

    def key(self, done: int, at: int) -> _Key:
        """States of one key leave the rings beyond the same positions."""
        if done == self.count:
            return done, 0
        ratio = self.ratios[done]
        return done, at * ratio.numerator // ratio.denominator % self.steps[done]

    def deviations(self, done: int, at: int) -> Iterator[int]:
        """Of the next ring, all that it can have, the least first and of two alike the negative one first."""
        ratio, step = self.ratios[done], self.steps[done]
        past = (at * ratio.numerator // ratio.denominator - self.goals[done]) % step
        up, down = past, past - step
        for _ in range(self.turn // step):
            if -down <= up and -2 * down < self.turn:
                yield down
                down -= step
            else:
                yield up
                up += step

    def least_worst(self) -> int:
        """The least worst deviation."""
        self._look_ahead(self.greedy(), False)
        for _, done, _, cost, _, _ in self._reached(max, None):
            if done == self.count:
                return cost
        raise AssertionError("a lattice has a point nearest to any goal")

    def least_total(self, worst: int) -> tuple[int, list[tuple[int, ...]]]:
        """The least sum with that worst deviation, and every way to it."""
        self._look_ahead(worst, True)
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

    def _look_ahead(self, most: int, adds: bool) -> None:
        # A hair more than is allowed, as the table is of floats.
        self.tables = foreseen(self.fields, most / self.turn * (1 + 1e-9) + 1e-12, adds)

    def _ways(self, before: dict[_Key, list[tuple[_Key, int]]], key: _Key) -> Iterator[tuple[int, ...]]:
        if key[0] == 0:
            yield ()
            return
        for parent, off in before[key]:
            for way in self._ways(before, parent):
                yield (*way, off)

    def _reached(
        self, join: Callable[[int, int], int], most: int | None
    ) -> Iterator[tuple[int, int, _Key, int, _Key, int]]:
        """Ways to each state, the best first by what may come of it: (its bound, rings set, key, cost so far, key
        before it, deviation). A state goes on by the cheapest way to it; others are told too. join: of the deviations
        on the way; most: that each may be."""
        order, heap = count(), list[tuple[int, int, int, int, int, _Key, int, Iterator[int] | None, int]]()
        expanded: dict[_Key, int] = {}

        def joined(cost: int, bounds: Sequence[int]) -> int:
            for bound in bounds:
                cost = join(cost, bound)
            return cost

        def push_next(done: int, at: int, cost: int, key: _Key, offs: Iterator[int], rest: int) -> None:
            """The next deviation of the ring beyond a state, whose bound needs no look at where it then stands."""
            off = next(offs, None)
            if off is not None and (most is None or abs(off) <= most):
                bound = join(join(cost, abs(off)), rest)
                heappush(heap, (bound, -done, next(order), at, cost, key, off, offs, rest))

        first = joined(0, self.bounds(0, self.start))
        heappush(heap, (first, 0, next(order), self.start, 0, (0, 0), 0, None, 0))
        while heap:
            bound, less, _, at, cost, parent, off, offs, rest = heappop(heap)
            done = -less
            if offs is not None:  # a deviation in waiting: the state that it leads to, and the one after it
                push_next(done, at, cost, parent, offs, rest)
                there, spent = self.goals[done] + off, join(cost, abs(off))
                bounds = self.bounds(done + 1, there)
                if most is None or max(bounds, default=0) <= most:
                    ahead = max(joined(spent, bounds), join(spent, self.foreseen(done + 1, there)))
                    entry = (ahead, -done - 1, next(order), there, spent, parent, off, None, 0)
                    heappush(heap, entry)
                continue
            key = self.key(done, at)
            yield bound, done, key, cost, parent, off
            if done < self.count and cost < expanded.get(key, cost + 1):
                expanded[key] = cost
                rest = joined(0, self.bounds(done, at)[1:])
                push_next(done, at, cost, key, self.deviations(done, at), rest)
