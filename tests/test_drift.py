"""How far each body is off after so long: the table against models that are turned day by day, and by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

import pytest
from cranked import cranked
from shipped import DISCS, shipped

from solver import load_design, parse_design, solve
from solver.files.body_sets import body_sets
from solver.sky.bodies import sky_of
from solver.sky.drift import YEAR_DAYS, drift, drive_turns, half_unit
from solver.sky.errors import SkyError
from solver.sky.rates import model_rates

HALL = DISCS.name.removesuffix(".toml")
TABLE = "table"


def given(name: str):
    """A design and its answer: the hall with a motor, or the table with a crank."""
    return cranked() if name == TABLE else shipped(name)


OWN = """
[bodies]
{unit}
sense = "{sense}"
list = [{{name = "a", period = {first}}}, {{name = "b", period = {second}}}]
[rings]
teeth = [30, 36]
[arbors]
wheel_teeth = 10
pinion_teeth = 6
reverted = false
third_gears = {thirds}
third_teeth = 7
[fit]
directions = "none"
[search]
keep = 1
"""


def own(first="1", second="2", unit='unit = "days"', sense="same", thirds=0):
    design = parse_design(OWN.format(first=first, second=second, unit=unit, sense=sense, thirds=thirds))
    return design, solve(design).solutions[0]


def turned_by_hand(solution, turns: Fraction) -> list[Fraction]:
    """Degrees that each ring goes on when ring 0 makes so many turns, tooth by tooth along the links: as many teeth
    pass at a ring as at the gear that works with it."""
    angles, teeth_passed = [360 * turns], turns * solution.rings[0].teeth
    for link, ring in zip(solution.links, solution.rings[1:], strict=True):
        arbor = teeth_passed / link.wheel
        teeth_passed = arbor * link.pinion
        angles.append(360 * teeth_passed / ring.teeth)
    return angles


@pytest.mark.deep
@pytest.mark.parametrize("name", [TABLE, HALL])
@pytest.mark.parametrize("known", [False, True])
def test_a_model_that_is_turned_day_by_day_is_off_when_the_table_says(name, known):
    design, answer = given(name)
    for solution in answer.solutions[:3]:
        sky = sky_of(design) if known else None
        told = drift(design, solution, sky)
        rates = [
            one.rate if known else 360 / body.low for one, body in zip(sky or design.bodies, design.bodies, strict=True)
        ]
        first: dict[tuple[str, Fraction], int] = {}
        for day in range(1, 400):  # set on day 0, and turned on every day by the first body's own period
            rings = turned_by_hand(solution, day / design.bodies[0].low)
            riding = [angle for angle, ring in zip(rings, solution.rings, strict=True) if not ring.blank]
            for body, angle, rate, one in zip(design.bodies, riding, rates, told.bodies, strict=True):
                off = angle - rate * day
                assert off == one.off(Fraction(day)), (body.name, day)
                for step in (1, 5, 10):
                    if abs(off) >= step:
                        first.setdefault((body.name, Fraction(step)), day)
        for one in told.bodies:
            for when in one.crossings:
                due = math.ceil(when.days) if when.days is not None and when.days <= 399 else None
                assert first.get((one.name, when.degrees)) == due, (one.name, when)
        assert len(first) >= 6


@pytest.mark.deep
def test_what_the_whole_model_waits_for_is_the_first_body():
    design, answer = given(HALL)
    for degrees in (Fraction(5), Fraction(1, 2)):
        told = drift(design, answer.solutions[0], sky_of(design), again_deg=degrees)
        assert told.again is not None and told.again_deg == degrees
        name, when = told.again
        fastest = max(told.bodies, key=lambda one: abs(one.rate))
        assert name == fastest.name and when.days == degrees / abs(fastest.rate)


def test_gears_and_the_file_are_told_apart():
    """Both add up; Saturn's periods are printed to a millionth of a day, and the sky's rates to 1e-8 degrees a day."""
    design, answer = given(HALL)
    told = drift(design, answer.solutions[0], sky_of(design))
    for one, sky in zip(told.bodies, sky_of(design), strict=True):
        assert one.gears + one.period == one.rate
        assert abs(one.period - (360 / _period(one.name) - sky.rate)) == 0
    assert told.bodies[0].gears == 0 and told.bodies[0].period != 0


def _period(name: str) -> Fraction:
    return dict(body_sets()["saturn"].periods)[name]


@pytest.mark.parametrize(
    ("name", "printed", "half"),
    [("saturn", "0.942422", "0.0000005"), ("jupiter", "1.769137786", "0.0000000005"), ("planets", "87.969256", "5e-7")],
)
def test_half_a_unit_of_the_last_digit(name, printed, half):
    assert body_sets()[name].printed[0] == printed
    design = parse_design(f'[bodies]\nset = "{name}"\n')
    assert half_unit(design, design.bodies[0]) == Fraction(half)


def test_the_range_is_what_the_ends_of_the_period_give():
    """With the period half a unit longer and shorter, in the file's own words, the model is off when the range says."""
    design, answer = given(HALL)
    solution = answer.solutions[0]
    told = drift(design, solution)
    for index, (one, body) in enumerate(zip(told.bodies, design.bodies, strict=True)):
        edges = []
        for by in (-one.half_unit, one.half_unit):
            bodies = list(design.bodies)
            bodies[index] = replace(body, low=body.low + by, high=body.low + by)
            if index:  # the clock keeps its period
                edges.append(drift(replace(design, bodies=tuple(bodies)), solution).bodies[index].rate)
            else:
                edges.append(360 / body.low - 360 / (body.low + by))
        assert [one.least, one.most] == edges and one.least < one.rate < one.most
        for when in one.crossings:
            times = [when.degrees / abs(edge) for edge in edges]
            assert when.earliest == min(times)
            assert when.latest == (None if one.least < 0 < one.most else max(times))


def test_an_exact_ratio_of_a_period_that_is_certain_is_never_off():
    design, solution = own(second="2")  # 36/30 * 10/6
    told = drift(design, solution, None)
    for one in told.bodies:
        assert one.rate == one.least == one.most == 0
        assert [(when.days, when.earliest, when.latest) for when in one.crossings] == [(None, None, None)] * 3
    assert told.again is None


def test_an_exact_ratio_of_a_printed_period_may_be_off_some_day():
    design, answer = given(HALL)
    clock = drift(design, answer.solutions[0]).bodies[0]
    [one, five, _] = clock.crossings
    assert (one.days, one.latest) == (None, None) and one.earliest is not None
    assert five.earliest == 5 * one.earliest
    least = Fraction("0.942422") - Fraction("0.0000005")
    assert one.earliest == 1 / (360 / least - 360 / Fraction("0.942422"))


def test_a_body_that_turns_the_wrong_way_drifts_at_the_sum_of_both_rates():
    """360 degrees a day for the body that goes once in two days, on a ring that goes once in two days the other way."""
    design, _ = own(second="2", sense="either", thirds=1)
    back = next(s for s in solve(replace(design, keep=50)).solutions if s.rings[1].sense == "reverse")
    right = next(s for s in solve(replace(design, keep=50)).solutions if s.rings[1].sense == "same")
    assert [one.wrong_way for one in drift(design, right).bodies] == [False, False]
    told = drift(design, back).bodies[1]
    assert told.wrong_way and told.rate == -360
    assert told.crossings[0].days == Fraction(1, 360)
    asked, back = own(second="2", sense="reverse", thirds=1)
    told = drift(asked, back).bodies[1]
    assert not told.wrong_way and told.rate == 0


def test_a_moon_on_a_ring_that_turns_back_is_wrong_whatever_the_file_asks():
    text = '[bodies]\nset = "jupiter"\nonly = ["Io", "Europa"]\nsense = "reverse"\n'
    text += '[rings]\nteeth = [30, 36]\n[arbors]\nthird_gears = 1\n[fit]\ndirections = "none"\n[search]\nkeep = 1\n'
    design = parse_design(text)
    solution = solve(design).solutions[0]
    told = drift(design, solution, sky_of(design)).bodies[1]
    assert told.wrong_way and told.rate == -model_rates(design, solution)[1] - sky_of(design)[1].rate < -190


@pytest.mark.parametrize(("unit", "days"), [("hours", Fraction(1, 24)), ("days", 1), ("years", Fraction(1461, 4))])
def test_the_unit_of_the_periods_counts(unit, days):
    design, solution = own(second="2.01", unit=f'unit = "{unit}"')
    assert drift(design, solution).bodies[1].rate == (180 - 360 / Fraction("2.01")) / days


def test_without_a_unit_nothing_is_said():
    design, solution = own(unit="")
    with pytest.raises(SkyError, match="unit of the periods is not known"):
        drift(design, solution)


def test_a_range_has_no_drift_and_is_told():
    text = '[bodies]\nset = "jupiter"\nonly = ["Io", "Europa"]\n[[bodies.list]]\nname = "x"\nperiod_range = [7, 9]\n'
    design = parse_design(text + '[fit]\ndirections = "none"\n[search]\nkeep = 1\n')
    told = drift(design, solve(design).solutions[0])
    assert [one.name for one in told.bodies] == ["Io", "Europa"] and told.left_out == ("x",)


def test_a_common_rate_is_the_clock_where_none_is_held_exact():
    text = '[bodies]\nset = "jupiter"\nonly = ["Io", "Europa"]\nreference = "best"\n[fit]\ndirections = "none"\n'
    design = parse_design(text + "[search]\nkeep = 1\n")
    told = drift(design, solve(design).solutions[0])
    io, europa = (one.rate / (360 / body.low) for one, body in zip(told.bodies, design.bodies, strict=True))
    assert told.reference is None
    assert float(io) == pytest.approx(-float(europa), rel=1e-2) and io != 0  # the error is shared alike


def test_turns_of_the_crank_by_hand():
    """The table's crank has 8 teeth beside Callisto's ring of 48: six turns for one of Callisto, or 28/3 of Io's ring,
    and Io takes 1.769137786 days."""
    design, answer = given(TABLE)
    solution = answer.solutions[0]
    assert (solution.rings[3].teeth, solution.drive.pinion, solution.rings[3].ratio) == (48, 8, (28, 3))
    turns = drive_turns(design, solution)
    assert turns is not None and turns.crank
    callisto = Fraction(28, 3) * Fraction("1.769137786")
    assert turns.turns(callisto) == 6
    assert turns.a_year == 6 * Fraction("365.25") / callisto
    assert float(turns.a_year) == pytest.approx(132.722037, abs=1e-6)
    assert float(turns.turns(Fraction(31))) == pytest.approx(11.264567, abs=1e-6)
    told = drift(design, solution)
    assert told.drive == turns and Fraction("365.25") == YEAR_DAYS


@pytest.mark.slow
def test_the_table_that_ships_is_the_one_reckoned_by_hand():
    _, small = cranked()
    _, whole = shipped("jupiter-table")
    assert small.solutions[0].rings == whole.solutions[0].rings
    assert small.solutions[0].drive == whole.solutions[0].drive


def test_turns_of_a_motor_are_its_speed_times_the_seconds_that_the_judge_tells():
    design, answer = given(HALL)
    solution = answer.solutions[0]
    turns = drive_turns(design, solution)
    assert turns is not None and not turns.crank
    for ring, seconds in zip(solution.rings, solution.drive.ring_seconds, strict=True):
        days = Fraction(*ring.ratio) * design.bodies[0].low
        made = Fraction(solution.drive.motor_rpm) * Fraction(seconds) / 60
        assert float(turns.turns(days)) == pytest.approx(float(made), rel=1e-12)


def test_without_a_drive_there_are_no_turns():
    design = replace(load_design(DISCS), drive=None, keep=1)
    assert drive_turns(design, solve(design).solutions[0]) is None
