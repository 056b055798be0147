"""When two bodies stand at one longitude, seen from the centre: by their mean longitudes, and by the true ones.

A meeting has a number: whole turns that one body has gained on the other, counted from the first moment that the
sources of both cover. The mean lead grows evenly but for terms of many years, so each number is met once. A true
lead strays from it by the two equations of centre, whose sum stays below half a turn: so what is met truly under a
number lies where the mean lead is within that sum of it, and no true meeting belongs to two numbers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import count as counted
from itertools import islice, pairwise
from math import ceil, floor
from typing import Literal

from solver.sky.bodies import SkyBody
from solver.sky.errors import SkyError
from solver.sky.moments import Moment, civil
from solver.sky.paths import signed

Kind = Literal["mean", "true"]
_FINE = 1e-8  # days: a meeting is found to a thousandth of a second
_SPARE, _SPARE_DEG = 1.2, 2.0  # beyond the greatest equations that the source tells
_HALF = 179.0  # degrees: a lead that strays by no more has its number
_SAMPLES = 24  # in a turn of the faster body: an equation of centre bends no faster than the body goes round
_MOST_STEPS = 200


@dataclass(frozen=True)
class Meeting:
    """Two bodies at one longitude. number: as the module says; alike for the mean and the true meeting."""

    number: int
    moment: Moment


def meetings(a: SkyBody, b: SkyBody, after: Moment, count: int, kind: Kind) -> list[Moment]:
    """The next moments, at most `count`, at which a and b have one longitude; fewer where the sources end before.

    kind: by "mean" or by "true" longitudes. Raises SkyError for bodies that never meet, that are counted from
    different places, that have no true longitudes, and for a moment beyond what the sources cover.
    """
    return [one.moment for one in islice(MeetingPair(a, b).after(after, kind), count)]


def oppositions(earth: SkyBody, planet: SkyBody, after: Moment, count: int, kind: Kind) -> list[Moment]:
    """The same for the Earth: oppositions of an outer planet, inferior conjunctions of an inner one."""
    return meetings(earth, planet, after, count, kind)


class MeetingPair:
    """Two bodies of one system. Times inside are TT days since J2000.0, leads are degrees of a before b."""

    def __init__(self, a: SkyBody, b: SkyBody) -> None:
        if (a.plane, a.zero) != (b.plane, b.zero):
            raise SkyError(f"{a.name} and {b.name} are not counted in one plane from one zero: they have no meetings")
        if a.rate == b.rate:
            raise SkyError(f"{a.name} and {b.name} go round alike: they have no meetings")
        self.a, self.b = a, b
        self.exact_rate: Fraction = a.rate - b.rate
        self.rate = float(self.exact_rate)
        self.sign = 1 if self.rate > 0 else -1
        first, last = max(a.covers[0].days, b.covers[0].days), min(a.covers[1].days, b.covers[1].days)
        if first >= last:
            raise SkyError(f"the sources of {a.name} and {b.name} cover no moment together")
        self._covers = first, last
        self.first, self.last = float(first), float(last)
        self.start = (self._between(self.first, "mean")) % 360.0

    @property
    def has_true(self) -> bool:
        """Whether both bodies have true longitudes."""
        return self.a.true_within is not None and self.b.true_within is not None

    # -- leads ---------------------------------------------------------------------------------------------------------

    def lead_at(self, moment: Moment) -> float:
        """The mean lead at a moment. Raises SkyError beyond what the sources cover."""
        days = float(moment.days)
        if not self.first <= days <= self.last:
            first, last = (civil(Moment(end))[:10] for end in self._covers)
            names = f"{self.a.name} and {self.b.name}"
            raise SkyError(f"date {civil(moment)[:10]}: the longitudes of {names} are known from {first} to {last}")
        return self.mean_lead(days)

    def mean_lead(self, days: float) -> float:
        """How far a is ahead of b by mean longitudes, whole turns counted."""
        even = self.start + self.rate * (days - self.first)
        return even + signed(self._between(days, "mean") - even)

    def true_lead(self, days: float) -> float:
        """The same by true longitudes."""
        mean = self.mean_lead(days)
        return mean + signed(self._between(days, "true") - mean)

    def _between(self, days: float, kind: Kind) -> float:
        moment = self._moment(days)
        if kind == "mean":
            return self.a.mean(moment) - self.b.mean(moment)
        one, other = self.a.true(moment), self.b.true(moment)
        if one is None or other is None:
            without = self.a if one is None else self.b
            raise SkyError(f"no source has true longitudes of {without.name}: only mean ones meet")
        return one - other

    def _moment(self, days: float) -> Moment:
        """A moment, within what the sources cover: an end of that as a float may lie beyond it."""
        first, last = self._covers
        return Moment(min(max(Fraction(days), first), last))

    # -- meetings ------------------------------------------------------------------------------------------------------

    def after(self, after: Moment, kind: Kind) -> Iterator[Meeting]:
        """Every meeting after that moment, in order, as far as the sources go."""
        start = float(after.days)
        stray = 0.0 if kind == "mean" else self._stray()
        for number in self._numbers(self.lead_at(after) - self.sign * stray):
            if self._even(360.0 * number - self.sign * (stray + 360.0)) > self.last:
                return
            found = self._mean(number) if kind == "mean" else self._trues(number, stray)
            for days in found:
                if days > start:
                    yield Meeting(number, self._moment(days))

    def mean_of(self, number: int) -> Moment | None:
        """When the mean longitudes meet under that number; None beyond what the sources cover."""
        return next((self._moment(days) for days in self._mean(number)), None)

    def _numbers(self, lead: float) -> Iterator[int]:
        """Numbers from the last one before that lead on, in the order in which they are met."""
        first = floor(lead / 360.0) if self.sign > 0 else ceil(lead / 360.0)
        return counted(first, self.sign)

    def _even(self, lead: float) -> float:
        """When a lead would be reached that grows evenly."""
        return self.first + (lead - self.start) / self.rate

    def _when(self, lead: float) -> float:
        """When the mean lead is so great; held within what the sources cover.

        The even time, set right by what terms of many years leave over: they change the rate by so little that each
        step leaves a small part of the last one's error.
        """
        days = min(max(self._even(lead), self.first), self.last)
        for _ in range(_MOST_STEPS):
            better = min(max(days + (lead - self.mean_lead(days)) / self.rate, self.first), self.last)
            if abs(better - days) < _FINE:
                return better
            days = better
        raise SkyError(f"the mean longitudes of {self.a.name} and {self.b.name} do not grow evenly enough to meet")

    def _mean(self, number: int) -> list[float]:
        days = self._when(360.0 * number)
        return [days] if abs(self.mean_lead(days) - 360.0 * number) < 1e-6 * max(1.0, abs(self.rate)) else []

    def _stray(self) -> float:
        told = (self.a.greatest, self.b.greatest)
        return _HALF if None in told else min(_SPARE * sum(one or 0.0 for one in told) + _SPARE_DEG, _HALF)

    def _trues(self, number: int, stray: float) -> list[float]:
        """Every true meeting under a number: one, or three where the slower body outruns the other for a while."""

        def lead(days: float) -> float:
            return self.sign * (self.true_lead(days) - 360.0 * number)

        low, high = (self._when(360.0 * number + self.sign * side * stray) for side in (-1, 1))
        open_low, open_high = self.first < low, high < self.last
        if (open_low and lead(low) > 0) or (open_high and lead(high) < 0):
            if stray < _HALF:
                return self._trues(number, _HALF)
            raise SkyError(f"the true longitudes of {self.a.name} and {self.b.name} stray by half a turn")
        if high <= low:
            return []
        turn = 360.0 / max(abs(float(self.a.rate)), abs(float(self.b.rate)))
        many = max(ceil((high - low) / turn * _SAMPLES), 8)
        return list(roots(lead, [low + (high - low) * place / many for place in range(many + 1)]))


def roots(lead: Callable[[float], float], places: list[float]) -> Iterator[float]:
    """Where a smooth lead is 0, ascending: sampled at places so near to each other that it bends once between two.

    Two roots between neighbouring samples show by a lead that comes nearer to 0 and goes away again.
    """
    samples = [(place, lead(place)) for place in places]
    for middle in range(1, len(places) - 1):
        (before, f), (_, g), (behind, h) = samples[middle - 1 : middle + 2]
        if f * g > 0 and g * h > 0 and abs(g) <= min(abs(f), abs(h)):
            samples.append(_nearest(lead, before, behind, 1 if g > 0 else -1))
    for (low, f), (high, g) in pairwise(sorted(samples)):
        if f == 0.0:
            yield low
        elif f * g < 0:
            yield _root(lead, low, f, high, g)


def _nearest(lead: Callable[[float], float], low: float, high: float, side: int) -> tuple[float, float]:
    """Where a lead on one side of 0 comes nearest to it, or first found beyond it, by thirds."""
    place, value = low, lead(low)
    while high - low > 1e-4:
        one, other = low + (high - low) / 3, high - (high - low) / 3
        f, g = lead(one), lead(other)
        place, value = (one, f) if side * f < side * g else (other, g)
        if side * value <= 0:
            break
        low, high = (low, other) if side * f < side * g else (one, high)
    return place, value


def _root(lead: Callable[[float], float], low: float, f: float, high: float, g: float) -> float:
    """The root between two places with leads of different signs (false position, the Illinois way)."""
    side, near = 0, abs(g - f) / (high - low) * _FINE
    for _ in range(_MOST_STEPS):
        if high - low < _FINE:
            break
        place = high - g * (high - low) / (g - f)
        value = lead(place)
        if abs(value) < near:
            return place
        if f * value < 0:
            high, g = place, value
            f = f / 2 if side == 1 else f
            side = 1
        else:
            low, f = place, value
            g = g / 2 if side == -1 else g
            side = -1
    return (low + high) / 2
