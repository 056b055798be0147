"""When bodies meet, against enumeration of drawn orbits; the planets' own events are in `against/test_de421.py`."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import islice, pairwise
from math import atan2, cos, degrees, pi, radians, sin, sqrt

import pytest

from solver.sky.errors import SkyError
from solver.sky.events import MeetingPair, meetings, roots
from solver.sky.moments import Moment

SPAN = (Moment(Fraction(-30_000)), Moment(Fraction(18_000)))


@dataclass(frozen=True)
class Ellipse:
    """A body on an ellipse that keeps its place, with a mean longitude that may swing as well. rate [deg/day]."""

    name: str
    rate: Fraction
    eccentricity: float = 0.0
    start: float = 0.0
    node: float = 0.0
    swing: float = 0.0
    swing_years: float = 70.0
    plane: str = "drawn"
    zero: str = "drawn"
    covers: tuple[Moment, Moment] = SPAN
    greatest: float | None = field(default=None)

    def mean(self, moment: Moment) -> float:
        days = float(moment.days)
        even = float((Fraction(self.start) + self.rate * moment.days) % 360)
        return (even + self.swing * sin(2 * pi * days / self.swing_years / 365.25)) % 360

    def true(self, moment: Moment) -> float:
        """By Kepler's equation."""
        mean = radians(self.mean(moment) - self.node)
        around = mean
        for _ in range(60):
            around = mean + self.eccentricity * sin(around)
        e = self.eccentricity
        return (degrees(2 * atan2(sqrt(1 + e) * sin(around / 2), sqrt(1 - e) * cos(around / 2))) + self.node) % 360


def equation(e: float) -> float:
    """The greatest difference of true and mean anomaly [deg], to the fifth power (common in handbooks, from memory)."""
    return degrees(2 * e + 11 / 48 * e**3 + 599 / 5120 * e**5)


def drawn(rng: random.Random, name: str, low: float, high: float) -> Ellipse:
    e = rng.choice((0.0, 0.05, 0.2, 0.25))
    rate = Fraction(360) / Fraction(round(rng.uniform(low, high), 4))
    return Ellipse(name, rate, e, round(rng.uniform(0, 360), 3), rng.uniform(0, 360), rng.choice((0.0, 0.0, 43.0)),
                   greatest=equation(e))  # fmt: skip


def enumerated(a: Ellipse, b: Ellipse, kind: str, first: float, last: float, step: float) -> list[float]:
    """Every meeting between two days, found by looking at every step."""

    def apart(days: float) -> float:
        moment = Moment(Fraction(days))
        return (getattr(a, kind)(moment) - getattr(b, kind)(moment) + 180) % 360 - 180

    found, day, before = [], first, apart(first)
    while day < last:
        now = apart(day + step)
        if before * now <= 0 and abs(before - now) < 180:
            found.append(day + step * before / (before - now))
        day, before = day + step, now
    return found


@pytest.mark.deep
@pytest.mark.parametrize("kind", ["mean", "true"])
@pytest.mark.parametrize("seed", range(12))
def test_no_meeting_is_missed_or_told_twice(seed: int, kind: str) -> None:
    """Against looking at 1/200 of the faster body's turn after the other, for slow, fast and nearly equal bodies."""
    rng = random.Random(seed)
    a = drawn(rng, "a", 2, 40)
    b = drawn(rng, "b", *rng.choice(((2, 40), (200, 900), (1.02 * 360 / float(a.rate), 1.3 * 360 / float(a.rate)))))
    first, many = rng.uniform(-9000, 9000), 8
    step = 1.8 / max(float(a.rate), float(b.rate))
    found = meetings(a, b, Moment(Fraction(first)), many, kind)  # type: ignore[arg-type]
    exact = enumerated(a, b, kind, first, float(found[-1].days) + 2 * step, step)
    assert len(exact) - many in (0, 1), (a, b)
    for one, other in zip(found, exact, strict=False):
        assert float(one.days) == pytest.approx(other, abs=step / 10), (a, b)
        between = getattr(a, kind)(one) - getattr(b, kind)(one)
        assert abs((between + 180) % 360 - 180) < 1e-5


def test_a_body_that_outruns_the_other_for_a_while_meets_it_three_times() -> None:
    """e = 0.25 as Pluto's: near its perihelion it is faster than a body with a slightly shorter period."""
    slow = Ellipse("slow", Fraction(36, 10), 0.25, 0.0, 0.0, greatest=equation(0.25))
    fast = Ellipse("fast", Fraction(37, 10), 0.0, -0.0, 0.0, greatest=0.0)
    start = Moment(Fraction(-300))
    found = list(islice(MeetingPair(fast, slow).after(start, "true"), 3))  # type: ignore[arg-type]
    assert len({one.number for one in found}) == 1
    exact = enumerated(fast, slow, "true", -300.0, float(found[-1].moment.days) + 5, 0.25)
    assert [float(one.moment.days) for one in found] == pytest.approx(exact[:3], abs=0.01)
    assert len(meetings(fast, slow, start, 1, "mean")) == 1  # type: ignore[arg-type]


def test_two_roots_between_neighbouring_samples_are_seen() -> None:
    assert list(roots(lambda x: (x - 3.3) ** 2 - 1e-4, [0.0, 2.0, 4.0, 6.0])) == pytest.approx([3.29, 3.31], abs=1e-6)
    assert list(roots(lambda x: (x - 3.3) ** 2 + 1e-4, [0.0, 2.0, 4.0, 6.0])) == []


def test_what_comes_after_a_meeting_is_the_next_one() -> None:
    a, b = Ellipse("a", Fraction(50), 0.1, greatest=equation(0.1)), Ellipse("b", Fraction(20), start=77)
    found = meetings(a, b, Moment(Fraction(0)), 20, "true")  # type: ignore[arg-type]
    for one, other in pairwise(found):
        later = Moment(one.days + Fraction(1, 100_000))
        assert float(meetings(a, b, later, 1, "true")[0].days - other.days) == pytest.approx(0, abs=1e-7)  # type: ignore[arg-type]


def test_the_same_number_is_the_same_meeting() -> None:
    a, b = Ellipse("a", Fraction(3), 0.2, node=40, greatest=equation(0.2)), Ellipse("b", Fraction(1), start=200)
    pair = MeetingPair(a, b)  # type: ignore[arg-type]
    for one in islice(pair.after(Moment(Fraction(100)), "true"), 9):
        mean = pair.mean_of(one.number)
        assert mean is not None and abs(float(mean.days - one.moment.days)) < equation(0.2) / 2 + 0.1


def test_where_the_source_ends_there_are_fewer() -> None:
    last = (Moment(Fraction(0)), Moment(Fraction(1000)))
    a, b = Ellipse("a", Fraction(1), covers=last), Ellipse("b", Fraction(1, 10), covers=last)
    assert [float(one.days) for one in meetings(a, b, Moment(Fraction(1)), 10, "mean")] == pytest.approx([400, 800])  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "change, said",
    [
        ({"zero": "elsewhere"}, "not counted in one plane from one zero"),
        ({"rate": Fraction(1)}, "go round alike"),
        ({"covers": (Moment(Fraction(0)), Moment(Fraction(9)))}, "the longitudes of a and b are known from"),
    ],
)
def test_what_cannot_meet_is_said_in_one_line(change: dict, said: str) -> None:
    a, b = Ellipse("a", Fraction(1)), Ellipse(**{"name": "b", "rate": Fraction(2), **change})
    with pytest.raises(SkyError, match=said) as fault:
        meetings(a, b, Moment(Fraction(20)), 1, "mean")  # type: ignore[arg-type]
    assert "\n" not in str(fault.value)
