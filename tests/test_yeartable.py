"""A table of dates: what the ring of each body shows after it was set at the first one, row by row."""

from __future__ import annotations

import csv
import re
from fractions import Fraction

import pytest
from cranked import cranked
from shipped import DISCS, shipped

from solver.sky.bodies import ring_angle, sky_of
from solver.sky.drift import drift
from solver.sky.errors import SkyError
from solver.sky.moments import parse_moment
from solver.sky.yeartable import MOST_ROWS, step_days, stretch_of, year_table

HALL = DISCS.name.removesuffix(".toml")
TABLE = "table"


def given(name: str):
    """A design and its answer: the hall with a motor, or the table with a crank."""
    return cranked() if name == TABLE else shipped(name)


def table(name: str, span: str, step: str, rank: int = 0):
    design, answer = given(name)
    solution, sky = answer.solutions[rank], sky_of(design)
    lines = list(year_table(design, solution, sky, stretch_of(span, step)))
    return design, solution, sky, list(csv.DictReader(lines))


def test_a_year_in_steps_of_ten_days():
    _, _, sky, rows = table(TABLE, "2027-01-01..2028-01-01", "10d")
    assert len(rows) == 37
    assert rows[0]["date"] == "2027-01-01T00:00:00Z" and rows[-1]["date"] == "2027-12-27T00:00:00Z"
    columns = [f"{body.name} {what}_deg" for body in sky for what in ("mean", "true", "ring", "off")]
    assert list(rows[0]) == ["date", *columns]


def test_the_model_is_right_when_it_is_set_and_off_as_its_drift_says():
    design, solution, sky, rows = table(TABLE, "2027-01-01..2028-01-01", "10d")
    told = drift(design, solution, sky)
    for number, row in enumerate(rows):
        for body, one in zip(sky, told.bodies, strict=True):
            mean, ring, off = (float(row[f"{body.name} {what}_deg"]) for what in ("mean", "ring", "off"))
            due = (float(one.off(Fraction(10 * number))) + 180) % 360 - 180
            assert (off - due + 180) % 360 - 180 == pytest.approx(0, abs=2e-4), (row["date"], body.name)
            shows = ring_angle(design, body, mean + off)
            assert (ring - shows + 180) % 360 - 180 == pytest.approx(0, abs=2e-4)
    assert all(float(rows[0][f"{body.name} off_deg"]) == 0 for body in sky)


def test_rings_go_on_by_their_own_exact_ratios():
    """From row to row the ring of Callisto goes on by what the first body's does, by the ratio of both."""
    design, solution, _, rows = table(TABLE, "2027-01-01..2027-01-02", "1h")
    first, last = [ring for ring in solution.rings if not ring.blank][:: len(design.bodies) - 1]
    ratio = last.ratio[0] / last.ratio[1] / (first.ratio[0] / first.ratio[1])
    gone = {}
    for name in ("Io", "Callisto"):
        angles = [float(row[f"{name} ring_deg"]) for row in rows]
        gone[name] = sum((b - a + 180) % 360 - 180 for a, b in zip(angles, angles[1:], strict=False))
    assert len(rows) == 25
    assert gone["Io"] / gone["Callisto"] == pytest.approx(ratio, rel=1e-5)


def test_a_moon_that_librates_is_off_by_that_as_well():
    """Mimas, 43.4 degrees each way in 70.6 years (TASS 1.7): an even ring does not show it."""
    design, solution, sky, rows = table(HALL, "2000-01-01..2040-01-01", "1y")
    even = drift(design, solution, sky).bodies[0]
    assert abs(even.off(Fraction(40 * 1461, 4))) < Fraction(1, 2)
    assert max(abs(float(row["Mimas off_deg"])) for row in rows) > 40


def test_what_no_source_tells_stays_empty():
    _, _, sky, rows = table(HALL, "2027-01-01..2027-02-01", "10d")
    for body in sky:
        if body.true_within is None:
            assert {row[f"{body.name} true_deg"] for row in rows} == {""}
    assert any(body.true_within is None for body in sky)


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("10d", 10),
        ("6h", Fraction(1, 4)),
        ("1y", Fraction(1461, 4)),
        ("0.5d", Fraction(1, 2)),
        ("1/3 h", Fraction(1, 72)),
    ],
)
def test_steps(text, days):
    assert step_days(text) == days


@pytest.mark.parametrize("text", ["", "d", "10", "0d", "-1d", "10 weeks", "1e5d", "1/0d", "..d", "9" * 70 + "d", "١d"])
def test_steps_that_are_none(text):
    with pytest.raises(SkyError, match=r"^step .*: give a number above 0 with its unit, like 10d, 6h or 1y$"):
        step_days(text)


@pytest.mark.parametrize(
    ("span", "step", "told"),
    [
        ("2027-01-01", "1d", "give two dates with two dots between"),
        ("2027-01-01..2028-01-01..2029-01-01", "1d", "give two dates with two dots between"),
        ("2028-01-01..2027-01-01", "1d", "the second date must be after the first"),
        ("2027-01-01..2027-01-01", "1d", "the second date must be after the first"),
        ("2027-01-01..2027-02-30", "1d", "2027-02-30"),
        ("2000-01-01..2030-01-01", "1h", "makes 262,993 rows; at most 10,000: take a longer step"),
    ],
)
def test_tables_that_are_refused_in_one_line(span, step, told):
    with pytest.raises(SkyError, match=re.escape(told)) as fault:
        stretch_of(span, step)
    assert "\n" not in str(fault.value)


def test_as_many_rows_as_are_allowed():
    assert stretch_of("2000-01-01..2027-05-18", "1d").rows == MOST_ROWS
    with pytest.raises(SkyError, match="makes 10,001 rows"):
        stretch_of("2000-01-01..2027-05-19", "1d")


def test_dates_beyond_the_source_are_refused_before_the_first_line():
    design, answer = given(HALL)
    with pytest.raises(SkyError, match=r"Mimas is known from 1800"):
        year_table(design, answer.solutions[0], sky_of(design), stretch_of("2190-01-01..2210-01-01", "1y"))


def test_dates_in_tt_and_with_a_zone():
    assert stretch_of("2027-01-01..2028-01-01", "1d", "tt").first.days == parse_moment("2027-01-01", "tt").days
    [first, *_] = stretch_of("2027-01-01T01:00+01:00..2028-01-01", "1d").moments()
    assert first == parse_moment("2027-01-01")
