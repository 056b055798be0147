"""Dates: TT from civil time, and back; what is no date is refused in one line."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta
from fractions import Fraction

import astronomy
import pytest

from solver.sky.deltat import delta_t
from solver.sky.errors import SkyError
from solver.sky.moments import Moment, civil, delta, now, parse_moment, tt_text

# TAI less UTC [s] from these days on (IERS, Bulletin C; the first by the definition of UTC before 1972).
LEAPS = [("1972-01-01", 10), ("1980-01-01", 19), ("1999-01-01", 32), ("2006-01-01", 33), ("2017-01-01", 37)]


@pytest.mark.parametrize(("day", "seconds"), LEAPS)
def test_leap_seconds_are_those_of_the_iers(day, seconds):
    assert delta(parse_moment(day)) == seconds + Fraction(32184, 1000)


def test_tt_is_69_184_seconds_ahead_of_utc_in_2026():
    moment = parse_moment("2026-12-24T18:00+01:00")
    assert delta(moment) == Fraction(69184, 1000)
    assert tt_text(moment) == "2026-12-24T17:01:09.184"
    assert civil(moment) == "2026-12-24T17:00:00Z"
    assert civil(moment, 60) == "2026-12-24T18:00:00+01:00"
    assert parse_moment("2026-12-24T17:01:09.184", "tt") == moment


def test_j2000_is_noon_in_tt():
    assert parse_moment("2000-01-01T12:00", "tt") == Moment(Fraction(0))
    assert parse_moment("2000-01-01T11:58:55.816Z") == Moment(Fraction(0))  # IERS: 11:58:55.816 UTC
    assert parse_moment("2026-01-01", "tt").jd == 2461041.5
    assert Moment(Fraction(36525, 100)).years == 1.0


def test_a_zone_moves_a_date_and_none_is_utc():
    told = (
        "2026-12-24T17:00Z",
        "2026-12-24T17:00",
        "2026-12-24 17:00",
        "2026-12-24T22:45:00+05:45",
        "2026-12-24T05:00-12:00",
    )
    assert len({parse_moment(one) for one in told}) == 1
    assert parse_moment("2026-12-24") == parse_moment("2026-12-24T00:00:00Z")


def test_a_leap_second_is_a_second_of_its_own():
    before, leap, after = ("2016-12-31T23:59:59Z", "2016-12-31T23:59:60Z", "2017-01-01T00:00:00Z")
    times = [parse_moment(one).days * 86400 for one in (before, leap, after)]
    assert [late - early for early, late in zip(times, times[1:])] == [1, 1]
    assert [civil(parse_moment(one)) for one in (before, leap, after)] == [before, leap, after]
    assert parse_moment("2017-01-01T00:59:60+01:00") == parse_moment(leap)
    assert civil(parse_moment(leap), 60) == "2017-01-01T00:59:60+01:00"


@pytest.mark.parametrize("year", [1, 499, 501, 1000, 1599, 1650, 1750, 1850, 1880, 1910, 1930, 1950, 1959])
def test_delta_t_is_that_of_another_library(year):
    """astronomy-engine has the same polynomials of Espenak and Meeus; its argument is in days from J2000.0."""
    assert delta_t(year) == pytest.approx(astronomy.DeltaT_EspenakMeeus((year - 2000) * 365.24217 + 14), abs=0.02)


def test_civil_time_runs_on_where_utc_begins():
    """UT1 by Delta T up to 1960, UTC by ERFA from then on: within 0.05 s of each other."""
    last, first = parse_moment("1959-12-31T23:59:59Z"), parse_moment("1960-01-01T00:00:00Z")
    assert abs(float(first.days - last.days) * 86400 - 1) < 0.05


EPOCH = datetime(2000, 1, 1, tzinfo=UTC)


def test_a_date_written_and_read_is_the_same():
    """Whole seconds of the years 4 to 9985, in all zones, and about every leap second."""
    rng = random.Random(3)
    whole = [rng.randint(-63_000_000_000, 252_000_000_000) for _ in range(1000)]
    new_years = [int((datetime(year, month, 1, tzinfo=UTC) - EPOCH).total_seconds())
                 for year in range(1958, 2020) for month in (1, 7)]  # fmt: skip
    for seconds in (*whole, *(day + near for day in new_years for near in (-2, -1, 0, 1))):
        text = (EPOCH + timedelta(seconds=seconds)).strftime("%Y-%m-%dT%H:%M:%SZ").rjust(20, "0")
        moment = parse_moment(text)
        assert civil(moment) == text
        assert parse_moment(civil(moment, rng.randint(-720, 840))) == moment, text


def test_a_moment_is_written_to_the_nearest_second():
    rng = random.Random(4)
    for _ in range(2000):
        moment = Moment(Fraction(rng.randint(-700_000 * 10**9, 2_900_000 * 10**9), 10**9))
        assert abs(parse_moment(civil(moment)).days - moment.days) * 86400 <= Fraction(502, 1000), moment


def test_now_is_now():
    there = datetime.fromisoformat(civil(now()))
    assert abs(there - datetime.now(UTC)) < timedelta(minutes=5)


TIME = "no such time of day: hours are from 00 to 23, minutes from 00 to 59, seconds from 00 to 59"
ZONE = "must end with a zone like Z or +01:00, from -12:00 to +14:00, or with none"
DATE = "must be a date like 2026-12-24, or a date and time like 2026-12-24T18:00+01:00"
NONSENSE = [
    "", "x", "24.12.2026", "2026-1-1", "99999999999-01-01", "-2026-01-01", "２０２６-01-01", "2026-12-24T", "1e9",
    "2026-12-24T18", "2026-12-24T18:00:00." + "0" * 30,
]  # fmt: skip
WRONG = [
    ("2026-02-30", "no such day: that month has no day 30"),
    ("2027-02-29", "no such day: that month has no day 29"),
    ("2026-13-01", "no such month: they are from 01 to 12"),
    ("0000-01-01", "no such year: they are from 0001 to 9999"),
    ("2026-12-24T23:60", TIME),
    ("2026-12-24T24:00", TIME),
    ("2026-12-24T23:59:61", TIME),
    ("2026-12-24T12:00:60Z", "no such second: a leap second is 23:59:60 UTC"),
    ("2026-12-24T23:59:60Z", "no such second: no leap second was added to that day"),
    ("2026-12-24T18:00+25:00", ZONE),
    ("2026-12-24T18:00+01:60", ZONE),
    ("2026-12-24T18:00CET", ZONE),
    ("2026-12-24T18:00Europe/Berlin", ZONE),
    ("0001-01-01T00:00+01:00", "must be from 0001-01-01 to 9999-12-31 in UTC"),
    ("9999-12-31T23:00-02:00", "must be from 0001-01-01 to 9999-12-31 in UTC"),
    *((text, DATE) for text in NONSENSE),
]


@pytest.mark.parametrize(("text", "why"), WRONG)
def test_what_is_no_date_is_refused_in_a_line(text, why):
    with pytest.raises(SkyError) as raised:
        parse_moment(text)
    assert str(raised.value) == f"date {text}: {why}" and len(str(raised.value).splitlines()) == 1


def test_tt_has_neither_zones_nor_leap_seconds():
    with pytest.raises(SkyError, match="has a zone, and TT has none"):
        parse_moment("2026-12-24T18:00Z", "tt")
    with pytest.raises(SkyError, match="TT has no leap seconds"):
        parse_moment("2016-12-31T23:59:60", "tt")
    with pytest.raises(SkyError, match="choose utc or tt"):
        parse_moment("2026-12-24", "tai")


def test_no_text_does_more_than_be_refused():
    rng = random.Random(11)
    for _ in range(3000):
        text = "".join(rng.choice("0123456789-:TZ+. \nx\x1b") for _ in range(rng.randint(0, 90)))
        try:
            parse_moment(text)
        except SkyError as fault:
            assert len(str(fault).splitlines()) == 1 and "\x1b" not in str(fault)
