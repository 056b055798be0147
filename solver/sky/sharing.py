"""Ring 0 off its place too, so that the worst body is less off: what is left over shared out by the drive, proven.

The mathematics. Let ring 0 stand d past its place. Ring k of a body then stands e_k past its own, and from body to body

    e_0 = d,   e_k = r_k*e_(k-1) + s_k + step_k*n_k   (n_k whole),   that is   e_k = rho_k*d + c_k(n)

with r_k, step_k of the stretch (`chain`), s_k where the lattice lies, and rho_k the product of the ratios.
- For fixed n, |e_k| <= w leaves d an interval for each k. Intervals on a line meet if each two of them do, so that the
  least worst is that of the worst pair:  max over i < j of |rho_i*c_j - rho_j*c_i| / (|rho_i| + |rho_j|).
- The sum of |e_k| is convex in d, least at the median of the -c_k/rho_k, each with the weight |rho_k|; and where the
  worst is to be w, at what is nearest to that in the interval.
- A move of ring k by P_k, the least multiple of step_k that takes the next lattice onto itself, changes e_k alone. So
  with the least worst and sum |e_k| <= P_k/2, for ring 0 too.

Best first over n from the inside out, and over parts of d; what is still to come is bounded by the tables of
`foresee`. Floats only leave out what is worse by more than they can be wrong; what is compared is Fractions.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from heapq import heappop, heappush
from itertools import count
from math import ceil, floor
from typing import Literal, NamedTuple, TypeVar

from solver.sky.chain import Stretch
from solver.sky.foresee import Foresight, RingLattice
from solver.sky.nearest import Nearest, Way

Proven = Literal["best", "worst", "no"]  # the worst and the sum; the worst alone; neither

WORK = 60_000  # spans and positions that are looked at, for the worst and for the sum: some seconds

_Number = TypeVar("_Number", Fraction, float)

_MARGIN = 1e-11  # turns: far more than floats are wrong by here, numbers of the size of a turn added some 20 times
_UNIT = 2**40  # parts of a step, in which tables are asked
_FINE = 1 / 16  # of a step: where d moves the next lattice by more, d is halved first


@dataclass(frozen=True)
class SharedOut:
    """As `Nearest`, ring 0 among the bodies: worst, total of the deviations [turns]; ways: how far each body stands
    past its goal, ring 0 first. proven: what of this is."""

    worst: Fraction
    total: Fraction
    ways: tuple[Way, ...]
    proven: Proven


class _Node(NamedTuple):
    """Ways to set the first rings: d from low to high, whole numbers of those that are set, their c. pair: the least
    worst of these. first, last: of the next ring's whole numbers, where these are being chosen."""

    low: float
    high: float
    numbers: tuple[int, ...]
    shifts: tuple[float, ...]
    pair: float
    first: int = 0
    last: int = -1


class _OutOfWork(Exception):
    """The work limit is reached."""


def share_out(
    stretches: Sequence[Stretch], start: Fraction, goals: Sequence[Fraction], exact: Nearest, work: int = WORK
) -> SharedOut:
    """The best positions of all bodies where ring 0 may be off its place `start` as well. exact: the best with ring 0
    in it, from `nearest` for the same; what is found is never worse. work: how many positions are looked at for the
    worst, and as many for the sum; beyond that the best so far is told as not proven."""
    search = _Sharing(stretches, start, goals, exact, work)
    proven: Proven = "best"
    if exact.worst:
        try:
            proven = "no"
            search.least_worst()
            proven = "worst"
            search.least_total()
            proven = "best"
        except _OutOfWork:
            pass
    return SharedOut(search.worst, search.total, tuple(dict.fromkeys(search.ways)), proven)


class _Sharing:
    def __init__(
        self, stretches: Sequence[Stretch], start: Fraction, goals: Sequence[Fraction], exact: Nearest, work: int
    ) -> None:
        self.count, self.work = len(stretches), work
        self.ratios = [one.ratio for one in stretches]
        self.steps = [one.step for one in stretches]
        at = [start, *goals]
        self.shifts = [
            (one.ratio * before - goal) % one.step for one, before, goal in zip(stretches, at, goals, strict=False)
        ]
        self.rhos = [Fraction(1)]
        for ratio in self.ratios:
            self.rhos.append(self.rhos[-1] * ratio)
        self.worst, self.total = exact.worst, exact.total
        self.ways: list[Way] = [(Fraction(0), *way) for way in exact.ways]
        self.caps = [float(reach) for reach in self._reaches()]
        self.f_ratios, self.f_steps = [float(one) for one in self.ratios], [float(one) for one in self.steps]
        self.f_shifts, self.f_rhos = [float(one) for one in self.shifts], [float(one) for one in self.rhos]
        self.foresight = Foresight((), 0.0, False)

    def _reaches(self) -> list[Fraction]:
        """How far each ring is off at most where the worst and the sum are least, ring 0 first: P/2."""
        reaches = [self.steps[0] / abs(self.ratios[0]) / 2] if self.count else []
        for number, step in enumerate(self.steps):
            last = number + 1 == self.count
            onto = Fraction(1) if last else step * abs(self.ratios[number + 1]) / self.steps[number + 1]
            reaches.append(step * onto.denominator / 2)
        return reaches

    # -- for one choice of whole numbers, exact ------------------------------------------------------------------------

    def exact_shifts(self, numbers: Sequence[int]) -> list[Fraction]:
        """c of ring 0 and of those beyond whose numbers these are."""
        found = [Fraction(0)]
        for ratio, shift, step, number in zip(self.ratios, self.shifts, self.steps, numbers, strict=False):
            found.append(ratio * found[-1] + shift + step * number)
        return found

    def least_of(self, shifts: Sequence[Fraction]) -> Fraction:
        """The least worst that some d gives: that of the worst pair."""
        rhos = self.rhos
        return max(
            (
                abs(rhos[i] * shifts[j] - rhos[j] * shifts[i]) / (abs(rhos[i]) + abs(rhos[j]))
                for j in range(len(shifts))
                for i in range(j)
            ),
            default=Fraction(0),
        )

    def best_turn(self, shifts: Sequence[Fraction], worst: Fraction) -> Fraction:
        """d with the least sum, of those that leave no worse than this; of those alike the nearest to 0."""
        lows = [
            (-worst - shift if rho > 0 else worst - shift) / rho for rho, shift in zip(self.rhos, shifts, strict=True)
        ]
        highs = [
            (worst - shift if rho > 0 else -worst - shift) / rho for rho, shift in zip(self.rhos, shifts, strict=True)
        ]
        low, high = max(lows), min(highs)
        flat = _flat([(-shift / rho, abs(rho)) for rho, shift in zip(self.rhos, shifts, strict=True)])
        return min(max(Fraction(0), flat[0], low), flat[1] if flat[1] >= low else low, high)

    def _take(self, numbers: Sequence[int]) -> None:
        """Whole numbers for all rings: kept where they are best so far."""
        shifts = self.exact_shifts(numbers)
        worst = self.least_of(shifts)
        if worst > self.worst:
            return
        turn = self.best_turn(shifts, worst)
        way = tuple(rho * turn + shift for rho, shift in zip(self.rhos, shifts, strict=True))
        total = sum(map(abs, way), Fraction(0))
        if (worst, total) < (self.worst, self.total):
            self.worst, self.total, self.ways = worst, total, []
        if (worst, total) == (self.worst, self.total):
            self.ways.append(way)

    # -- the search ----------------------------------------------------------------------------------------------------

    def least_worst(self) -> None:
        """Find the least worst, or raise _OutOfWork."""
        self._search(False)

    def least_total(self) -> None:
        """Find the least sum with that worst and every way to it, or raise _OutOfWork."""
        self._search(True)

    def _search(self, adds: bool) -> None:
        self._look_ahead(adds)
        order, heap, left = count(), list[tuple[float, int, int, _Node]](), self.work
        taken = set[tuple[int, ...]]()
        cap = min(self.caps[0], float(self.worst)) + _MARGIN
        parts = [_Node(-cap, cap, (), (0.0,), 0.0)]
        while True:
            for node in parts:
                least = self._bound(node, adds)
                if not self._hopeless(node, least, adds):
                    heappush(heap, (least, -len(node.numbers), -next(order), node))  # of those alike: in depth
            if not heap:
                return
            least, _, _, node = heappop(heap)
            parts = []
            if self._hopeless(node, least, adds):
                continue
            left -= 1
            if left < 0:
                raise _OutOfWork
            if len(node.numbers) < self.count:
                parts = self._parts(node)
            elif node.numbers not in taken:
                taken.add(node.numbers)
                self._take(node.numbers)

    def _hopeless(self, node: _Node, least: float, adds: bool) -> bool:
        """Whether nothing of this can be better than what is known; of a sum, nor as good."""
        worst = float(self.worst)
        if adds:
            return least > float(self.total) + _MARGIN or node.pair > worst + _MARGIN
        if least > worst + _MARGIN:
            return True
        return node.pair > worst - _MARGIN and self.least_of(self.exact_shifts(node.numbers)) >= self.worst

    def _bound(self, node: _Node, adds: bool) -> float:
        """What all of this costs at least."""
        lines = list(zip(self.f_rhos, node.shifts, strict=False))
        ahead = self._ahead(node, adds)
        if not adds:
            ends = [(rho * node.low + shift, rho * node.high + shift) for rho, shift in lines]
            return max(node.pair, ahead, *(min(abs(one), abs(two)) if one * two > 0 else 0.0 for one, two in ends))
        point = _flat([(-shift / rho, abs(rho)) for rho, shift in lines])[0]
        turn = min(max(point, node.low), node.high)
        return sum(abs(rho * turn + shift) for rho, shift in lines) + ahead

    def _ahead(self, node: _Node, adds: bool) -> float:
        """What the rings cost at least that are not set."""
        done = len(node.numbers)
        if done == self.count:
            return 0.0
        low, high = self._next_ends(node)
        if node.last < node.first:
            return self._foreseen(done, low, high)
        low, high = low + node.first * self.f_steps[done], high + node.last * self.f_steps[done]
        cap = min(self.caps[done + 1], float(self.worst)) + _MARGIN
        low, high = max(low, -cap), min(high, cap)
        if low > high:
            return 2.0 * self.count  # no deviation that is allowed: more than any cost
        own = 0.0 if low <= 0.0 <= high else min(abs(low), abs(high))
        if done + 1 == self.count:
            return own
        ends = [self.f_ratios[done + 1] * end + self.f_shifts[done + 1] for end in (low, high)]
        beyond = self._foreseen(done + 1, min(ends), max(ends))
        return own + beyond if adds else max(own, beyond)

    def _next_ends(self, node: _Node) -> tuple[float, float]:
        """Between which deviations the next ring stands for its number 0."""
        done = len(node.numbers)
        rho, shift = self.f_rhos[done + 1], self.f_ratios[done] * node.shifts[-1] + self.f_shifts[done]
        ends = rho * node.low + shift, rho * node.high + shift
        return min(ends), max(ends)

    def _parts(self, node: _Node) -> list[_Node]:
        """All that this can become, in parts."""
        done = len(node.numbers)
        low, high = self._next_ends(node)
        step = self.f_steps[done]
        if node.last < node.first:
            if high - low > step * _FINE:
                return self._halved(node)
            cap = min(self.caps[done + 1], float(self.worst)) + _MARGIN
            first, last = ceil((-cap - high) / step), floor((cap - low) / step)
            return self._ranged(node, first, last)
        if high - low > step * (node.last - node.first):
            return self._halved(node)
        middle = (node.first + node.last) // 2
        return [*self._ranged(node, node.first, middle), *self._ranged(node, middle + 1, node.last)]

    def _halved(self, node: _Node) -> list[_Node]:
        middle = (node.low + node.high) / 2
        return [node._replace(high=middle), node._replace(low=middle)]

    def _ranged(self, node: _Node, first: int, last: int) -> list[_Node]:
        """The same with these numbers for the next ring: set, where there is one alone."""
        if first < last:
            return [node._replace(first=first, last=last)]
        return self._set(node, first) if first == last else []

    def _set(self, node: _Node, number: int) -> list[_Node]:
        """The same with the next ring set, d as that allows; none where it does not."""
        done = len(node.numbers)
        rho = self.f_rhos[done + 1]
        shift = self.f_ratios[done] * node.shifts[-1] + self.f_shifts[done] + self.f_steps[done] * number
        cap = min(self.caps[done + 1], float(self.worst)) + _MARGIN
        reach, middle = cap / abs(rho), -shift / rho
        low, high = max(node.low, middle - reach), min(node.high, middle + reach)
        if low > high:
            return []
        pair = node.pair
        for other, before in zip(self.f_rhos, node.shifts, strict=False):
            pair = max(pair, abs(other * shift - rho * before) / (abs(other) + abs(rho)))
        return [_Node(low, high, (*node.numbers, number), (*node.shifts, shift), pair)]

    def _look_ahead(self, adds: bool) -> None:
        lattices = [
            RingLattice(step, ratio, shift)
            for step, ratio, shift in zip(self.f_steps, self.f_ratios, self.f_shifts, strict=True)
        ]
        # A hair more than is allowed, as the tables are of floats.
        self.foresight = Foresight(lattices, float(self.worst) * (1 + 1e-9) + 10 * _MARGIN, adds)

    def _foreseen(self, done: int, low: float, high: float) -> float:
        """What rings beyond the first `done` cost at least, where the next one stands between these for number 0."""
        step = self.f_steps[done]
        ends = floor((low - _MARGIN) / step * _UNIT), ceil((high + _MARGIN) / step * _UNIT)
        return self.foresight.least(done, *ends, _UNIT) - _MARGIN


def _flat(points: list[tuple[_Number, _Number]]) -> tuple[_Number, _Number]:
    """From where to where the sum of the distances to these points, each with its weight, is least: the median."""
    points = sorted(points)
    left = -points[0][1]  # the weight of those beyond less that of those up to here
    for _, weight in points[1:]:
        left += weight
    for number, (point, _) in enumerate(points[:-1]):
        if left == 0:
            return point, points[number + 1][0]
        if left < 0:
            return point, point
        left -= 2 * points[number + 1][1]
    return points[-1][0], points[-1][0]
