"""Which way bodies of a file's own go round, and its rings: alike in setting, drift, meetings and table."""

from __future__ import annotations

import csv
from fractions import Fraction

import pytest
from skies import apart

from solver import parse_design, solve
from solver.service.page.sky import hanging
from solver.sky.bodies import ring_angle, sky_of
from solver.sky.drift import drift
from solver.sky.errors import SkyError
from solver.sky.meeting_rows import meeting_rows
from solver.sky.moments import Moment, parse_moment
from solver.sky.paths import rounded_turn
from solver.sky.yeartable import stretch_of, year_table

AGAINST = """
title = "One against the other"
[bodies]
unit = "days"
[[bodies.list]]
name = "near"
period = 10
longitude = 350
epoch = "2026-01-01"
[[bodies.list]]
name = "far"
period = 25
longitude = 10
epoch = "2026-01-01"
sense = "reverse"
[rings]
inner_teeth = 24
tooth_step = 6
[arbors]
third_gears = 2
[fit]
directions = "none"
"""
BESIDE = """
title = "Beside Uranus' moons"
[bodies]
set = "uranus"
only = ["Ariel"]
[[bodies.list]]
name = "mine"
period = 8
longitude = 10
epoch = "2026-01-01"
[rings]
inner_teeth = 24
tooth_step = 6
[fit]
directions = "none"
"""
RANGE = """
title = "A range"
[bodies]
set = "jupiter"
only = ["Io", "Europa"]
[[bodies.list]]
name = "Ganymede"
period_range = ["7.15455296", "7.3"]
"""
EPOCH = parse_moment("2026-01-01")


def later(days: int) -> Moment:
    return Moment(EPOCH.days + days)


def off(text: str, start: str, column: str) -> list[float]:
    design = parse_design(text)
    lines = year_table(design, solve(design).solutions[0], sky_of(design), stretch_of(start, "5d"))
    return [float(row[column]) for row in csv.DictReader(lines)]


def test_a_body_against_the_others_has_a_longitude_that_falls():
    """A fifth of 25 days is 72 degrees back, clockwise on the front seen from the north."""
    design = parse_design(AGAINST)
    near, far = sky_of(design)
    assert (near.rate, far.rate) == (36, Fraction(-360, 25))
    assert far.mean(later(5)) == pytest.approx(298) and near.mean(later(5)) == pytest.approx(170)
    assert ring_angle(design, far, far.mean(later(5))) == pytest.approx((90 + 298) % 360)


def test_its_ring_turns_with_it_in_table_drift_and_drawing():
    """With an exact ratio nothing drifts; with another one the ring is ahead the way that the body goes."""
    design = parse_design(AGAINST)
    solution = solve(design).solutions[0]
    far = drift(design, solution, sky_of(design)).bodies[1]
    assert not far.wrong_way and solution.rings[-1].sense == "reverse"
    told = off(AGAINST, "2026-01-01..2026-01-31", "far off_deg")
    assert told[-1] == pytest.approx(float(far.rate * 30), abs=1e-3)
    turns = off(AGAINST, "2026-01-01..2026-01-31", "far ring_deg")
    shown = hanging(design, solution).at(later(30), EPOCH)
    assert apart(shown.ring_turns[-1] * 360, turns[-1]) < 1e-3
    assert shown.bodies[1].rate_float == pytest.approx(-1 / 25)


def test_it_meets_the_others_more_often_and_the_model_shows_it():
    """Against each other: 1/10 + 1/25 turns a day, a meeting each 50/7 days; first when 20 degrees of lead have grown
    to 360 (the lead of the first is -20)."""
    design = parse_design(AGAINST)
    found = meeting_rows(design, solve(design).solutions[0], ("near", "far"), EPOCH, 3, EPOCH)
    days = [float(row.mean.days - EPOCH.days) for row in found.rows if row.mean is not None]
    assert days == pytest.approx([(20 + 360 * lap) / 360 * 50 / 7 for lap in range(3)], abs=1e-6)
    assert found.why == "" and all(row.model is not None for row in found.rows)


def test_a_ring_that_turns_against_its_body_is_told_alike():
    text = AGAINST.replace('sense = "reverse"', 'sense = "same"').replace("third_gears = 2", "third_gears = 1")
    design = parse_design(text.replace('sense = "same"', 'sense = "either"'))
    wrong = next(one for one in solve(design).solutions if one.rings[-1].sense == "reverse")
    assert drift(design, wrong, sky_of(design)).bodies[1].wrong_way
    found = meeting_rows(design, wrong, ("near", "far"), EPOCH, 1, EPOCH)
    assert found.why == "the model shows none: its ring of far runs the other way"


def test_an_own_body_goes_the_way_of_its_set():
    """Uranus' moons run clockwise seen from the north; so does a body beside them that is not said to be against."""
    design = parse_design(BESIDE)
    solution = solve(design).solutions[0]
    mine = sky_of(design)[1]
    assert mine.clockwise
    angles = [ring_angle(design, mine, mine.mean(later(days))) for days in (0, 2)]
    assert angles == pytest.approx([80, 350])
    assert not drift(design, solution, sky_of(design)).bodies[1].wrong_way
    shown = hanging(design, solution)
    assert shown.rates[-1] < 0 and shown.at(EPOCH).bodies[1].rate_float == pytest.approx(-1 / 8)


def test_a_range_that_begins_at_the_period_of_a_set_is_still_a_range():
    with pytest.raises(SkyError, match=r"of Ganymede: .*; Ganymede must have a period, as a range says no one rate"):
        sky_of(parse_design(RANGE))


def test_no_angle_is_rounded_to_a_whole_turn():
    assert [rounded_turn(angle, 2) for angle in (359.996, 359.994, -1e-20, 0.004, 90.5)] == [0, 359.99, 0, 0, 90.5]
