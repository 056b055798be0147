"""Placement: the best that fits equals exhaustive enumeration over teeth and places; rollers, drive, corners, sense."""

from __future__ import annotations

import math
import random
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import combinations

import pytest
from brute_places import Lengths, TooNear, ranked_with_places
from random_designs import random_placed_design

import solver.search.placing as placing
from solver import Design, Link, Train, judge, solve
from solver.design.load import data_of
from solver.design.train import LinkPlace, Placement
from solver.search.answer import Status, answer_of
from solver.search.candidates import Candidates
from solver.search.drive import motors
from solver.search.explain import explain
from solver.search.levels import search
from solver.search.measures import Measures
from solver.search.rollers import GRID, STEP, Wheelhouse, turned

CHUNKS, SEEDS = 24, 168


def outcome(found):
    """What a search found, as the enumeration gives it."""
    return [
        (
            replace(one.train, placement=None),
            tuple(place.radius for place in one.train.placement.links),
            [
                (place.direction, (mm(place.arbor), [mm(spot) for spot in place.thirds]))
                for place in one.train.placement.links
            ],
        )
        for one in found
    ]


def mm(spot):
    return spot[0] / 1000, spot[1] / 1000


@cache
def compared(seed: int) -> Counter:
    """Compare one random design; what kind of case it was."""
    design = Design.parse(random_placed_design(seed))
    try:
        wanted, refused = ranked_with_places(design, design.keep)
    except TooNear:
        return Counter(near=1)
    result = search(design)
    assert result.complete
    assert outcome(result.found) == [entry[1:] for entry in wanted], f"seed {seed}\n{random_placed_design(seed)}"
    answer = answer_of(design, result)  # every solution judged, or Unsound is raised
    assert answer.status is (Status.OPTIMAL if wanted else Status.INFEASIBLE)
    assert answer.trains(design) == [one.train for one in result.found]
    links = [link for _, train, _, _ in wanted for link in train.links]
    return Counter(
        compared=1,
        feasible=bool(wanted),
        refused=refused > 0,
        thirds=any(link.thirds for link in links),
        plate=design.fit.plate != "none" and bool(wanted),
        frame=design.fit.frame is not None and bool(wanted),
    )


@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_the_best_that_fits_equals_enumeration(chunk):
    counts = sum((compared(seed) for seed in range(chunk, SEEDS, CHUNKS)), Counter())
    assert counts["compared"] >= SEEDS // CHUNKS - 2


def test_the_random_designs_are_worth_comparing():
    """Of the first hundred: many have an answer, and in many the best by teeth alone has no place."""
    counts: Counter = Counter()
    for seed in range(100):
        counts += compared(seed)
    assert counts["compared"] >= 95
    assert counts["feasible"] >= 45 and counts["refused"] >= 30 and counts["thirds"] >= 15
    assert counts["plate"] >= 10 and counts["frame"] >= 25


def test_cp_sat_finds_the_same_places(monkeypatch):
    """Where trying takes too long the model is asked; it must say the same."""
    for seed in range(40):
        design = Design.parse(random_placed_design(seed))
        with monkeypatch.context() as patch:
            tried = outcome(search(design).found)
            patch.setattr(placing, "MOST_STEPS", 1)
            assert outcome(search(design).found) == tried, f"seed {seed}"


# -- rollers -----------------------------------------------------------------------------------------------------------


def rolling(count: str, reach: int, radius: float) -> Design:
    return Design.parse(
        '[bodies]\nset = "jupiter"\n[rings]\ninner_teeth = 20\ntooth_step = 6\n'
        f"[fit]\nrollers = {{count = {count}, reach = {reach}, radius = {radius}}}\n"
    )


def holds(design: Design, some: tuple[int, ...], meshes: tuple[float, ...]) -> bool:
    """Whether rollers in these directions of the grid hold the ring of 20 teeth, from the rule's own words."""
    rollers = design.fit.rollers
    far = 20 * 12 / (2 * math.pi) - 6 - float(rollers.radius)
    turns = [float(STEP * index) for index in some]
    gaps = [(b - a) % 360 for a, b in zip(turns, (*turns[1:], turns[0]))]
    apart = min(2 * far * math.sin(math.radians(gap / 2)) for gap in gaps)
    near = all(min(turned(turn, mesh) for turn in turns) <= float(rollers.reach) for mesh in meshes)
    return max(gaps) < 180 and near and apart >= 2 * float(rollers.radius) + 1.5


def test_rollers_hold_a_ring_exactly_where_enumeration_says_so():
    rng = random.Random(5)
    yes = no = 0
    for _ in range(400):
        design = rolling(rng.choice(("3", "4", "{min = 3, max = 4}")), rng.choice((10, 30, 60)), rng.choice((3, 9)))
        house = Wheelhouse(Measures(design), 0, 20, range(0))
        allowed = sum(1 << index for index in rng.sample(range(GRID), rng.randint(3, 12)))
        meshes = tuple(rng.uniform(0, 360) for _ in range(rng.randint(1, 2)))
        found = next(house.holding(allowed, meshes, lambda: None), None)
        free = [index for index in range(GRID) if allowed >> index & 1]
        choices = (some for count in design.fit.rollers.count for some in combinations(free, count))
        wanted = any(holds(design, some, meshes) for some in choices)
        assert (found is not None) == wanted, (bin(allowed), meshes, design.fit.rollers)
        assert found is None or holds(design, found, meshes)
        yes, no = yes + wanted, no + (not wanted)
    assert yes >= 60 and no >= 60


def test_every_ring_of_an_answer_is_held():
    design = rolling("{min = 3, max = 5}", 25, 5)
    for train in solve(design).trains(design):
        assert judge(design, train).sound
        for level, rollers in enumerate(train.placement.rollers):
            assert len(rollers) in (3, 4, 5), level


def test_fewest_rollers_come_first_and_larger_reach_needs_fewer():
    def count(reach: int) -> int:
        design = rolling("{min = 3, max = 8}", reach, 3)
        return sum(map(len, solve(design).trains(design)[0].placement.rollers))

    assert count(180) == count(60) == 3 * 4
    assert count(60) <= count(20)


def test_a_ring_too_small_for_rollers_is_said():
    design = rolling("4", 60, 40)
    assert solve(design).status is Status.INFEASIBLE


# -- the corner --------------------------------------------------------------------------------------------------------

CORNER = """
[bodies]
list = [{{name = "inner", period = 1}}, {{name = "outer", period = 2}}]
[rings]
teeth = {rings}
tooth_pitch = 25.4
addendum = {addendum}
rim = 0
[arbors]
wheel_teeth = {{min = 3, max = 60}}
pinion_teeth = {{min = 3, max = 60}}
[fit]
frame = {{shape = "square", side = 635}}
clearance = 0
directions = {directions}
"""
RINGS = tuple(range(18, 73, 6))


def last_link(addendum: float, direction: int, wheel: int):
    """The rules that the outermost plain link breaks with that wheel in that direction, and the most that is missing
    for each [mm]."""
    text = CORNER.format(rings=list(RINGS[-2:]), addendum=addendum, directions=[direction])
    design = Design.parse(text)
    arbor = 66 + wheel
    far = arbor * 25.4 / (2 * math.pi) * 1000
    turn = math.radians(direction)
    place = LinkPlace(Fraction(direction), arbor, (round(far * math.cos(turn)), round(far * math.sin(turn))))
    pinion = max(wheel - 6, 1)  # one that turns would not be wanted, but only the wheel is measured
    train = Train(RINGS[-2:], (0, 1), (Link("plain", wheel, pinion),), Placement((place,)))
    short: dict[str, float] = {}
    for one in judge(design, train).violations:
        if one.rule not in ("error", "teeth", "reverted"):
            short[one.rule] = max(short.get(one.rule, 0), one.short_mm)
    return short


@pytest.mark.parametrize(
    ("addendum", "direction", "most"),
    [(0, 45, 18), (0, 0, 6), (12.7, 45, 16), (12.7, 0, 4)],
)
def test_how_large_the_outermost_wheel_may_be(addendum, direction, most):
    """Rings of 18 to 72 teeth by 6, pitch 25.4 mm, square frame of 635 mm (common practice, no source; computed):
    r = 25.4/(2 pi) = 4.0425 mm a tooth, 317.5 mm to the side. In the corner (66 + a) cos 45 + a teeth must fit, at the
    side 66 + 2 a: 18 and 6 teeth with addendum 0, 16 and 4 with 12.7 mm (which is pi teeth). At a side no plain link
    remains, since its pinion would have none or less."""
    tooth, half = 25.4 / (2 * math.pi), 317.5 - addendum
    cosine = math.cos(math.radians(direction))
    assert most == math.floor((half / tooth - 66 * cosine) / (1 + cosine))
    assert "frame" not in last_link(addendum, direction, most)
    assert "frame" in last_link(addendum, direction, most + 1)
    design = Design.parse(CORNER.format(rings=list(RINGS[-2:]), addendum=addendum, directions=[direction]))
    wheels = [one.wheel for one in Candidates(design).between(66, 72)]
    assert max(wheels, default=None) == (most if most - 6 >= 3 else None)


@pytest.mark.parametrize(("addendum", "short"), [(0, 22.984), (12.7, 35.684)])
def test_a_wheel_of_22_is_refused_in_the_corner(addendum, short):
    broken = last_link(addendum, 45, 22)
    assert list(broken) == ["frame"]
    tooth = 25.4 / (2 * math.pi)
    assert broken["frame"] == pytest.approx(88 * tooth * math.sqrt(0.5) + 22 * tooth + addendum - 317.5, abs=1e-3)
    assert broken["frame"] == pytest.approx(short, abs=1e-3)


# -- the sense ---------------------------------------------------------------------------------------------------------


def test_one_third_gear_reverses_all_outer_bodies():
    """Counting meshes (common practice, no source)."""
    text = """
[bodies]
list = [
    {{name = "a", period = 1}},
    {{name = "b", period = 2}},
    {{name = "c", period = 4, sense = "{sense}"}},
    {{name = "d", period = 8, sense = "{sense}"}},
]
[rings]
inner_teeth = 20
tooth_step = 6
[arbors]
third_gears = 1
"""
    turned_back = Design.parse(text.format(sense="reverse"))
    answer = solve(turned_back)
    best = answer.solutions[0]
    assert [link.kind != "plain" for link in best.links] == [False, True, False]
    assert [ring.sense for ring in best.rings] == ["same", "same", "reverse", "reverse"]
    same = Design.parse(text.format(sense="same"))
    broken = judge(same, answer.trains(turned_back)[0]).violations
    assert [(one.rule, one.where, one.text) for one in broken] == [
        ("sense", "c", 'turns "reverse", should turn "same"'),
        ("sense", "d", 'turns "reverse", should turn "same"'),
    ]
    assert all(link.kind == "plain" for one in solve(same).solutions for link in one.links)


def test_what_only_a_reversal_could_do_is_refused_and_explained():
    """Between rings of 20 and 26 teeth a plain link slows down by 1.3 * a/(a - 6) at least; 1.2 needs a third gear, and
    one alone turns the outer body about."""
    text = """
[bodies]
sense = "same"
list = [{name = "a", period = 1}, {name = "b", period = "1.2"}]
[rings]
inner_teeth = 20
tooth_step = 6
[arbors]
third_gears = 1
[search]
max_error_pct = 5
"""
    assert solve(Design.parse(text)).status is Status.INFEASIBLE
    explanation = explain(data_of(text, "design"))
    assert "sense" in {one.rule for one in explanation.conflict}
    changes = [change for item in explanation.loosenings for change in item.changes]
    assert ("sense", "bodies.sense", "same", "either") in changes
    assert ("third", "arbors.third_gears", "1", "2") in changes


# -- the drive ---------------------------------------------------------------------------------------------------------

DRIVEN = """
[bodies]
set = "jupiter"
[rings]
inner_teeth = 20
tooth_step = 6
[drive]
motor_rpm = [2, "7/2", 5]
pinion_teeth = {min = 5, max = 12}
turn = {body = "Europa", seconds = 30}
"""


def test_the_drive_is_the_nearest_to_the_wished_time():
    design = Design.parse(DRIVEN)
    answer = solve(design)
    for solution, train in zip(answer.solutions, answer.trains(design)):
        ratios = [Fraction(*ring.ratio) for ring in solution.rings]
        best = min(
            max(seconds / 30, 30 / seconds)
            for ring in range(4)
            for rpm in (2, Fraction(7, 2), 5)
            for pinion in range(5, 13)
            for seconds in (60 * Fraction(train.rings[ring], pinion) / rpm * ratios[1] / ratios[ring],)
        )
        assert solution.drive.error_pct == pytest.approx(float(best - 1) * 100, rel=1e-12)
        assert solution.drive.seconds == pytest.approx(solution.drive.ring_seconds[1])
        # The motor's own speed follows from the ring's by the meshes alone.
        drive = solution.drive
        turns = 60 / drive.ring_seconds[drive.ring] * train.rings[drive.ring] / drive.pinion
        assert turns == pytest.approx(float(Fraction(drive.motor_rpm)))


def test_a_motor_that_may_not_turn_back_needs_a_third_gear_for_a_reversed_ring():
    design = Design.parse(DRIVEN + "reverse_ok = false\nthird_gears = 1\n")
    train = solve(design).trains(design)[0]
    assert train.placement.drive.thirds == ()  # all rings turn counterclockwise, the motor clockwise
    assert judge(design, train).sound
    backwards = replace(train.placement.drive, thirds=(8,), at=replace(train.placement.drive.at, thirds=((0, 0),)))
    verdict = judge(design, replace(train, placement=replace(train.placement, drive=backwards)))
    assert any("counterclockwise" in violation.text for violation in verdict.violations)
    assert all(len(motor.thirds) == 0 for motor in motors(design, train, 0))


def test_where_no_motor_has_a_place_nothing_is_found():
    text = DRIVEN.replace("[drive]", '[fit]\ndirections = [0, 180]\n[drive]\nring = "outer"')
    assert solve(Design.parse(text)).status is Status.OPTIMAL
    crowded = text.replace("[0, 180]", "[0, 20]")
    assert solve(Design.parse(crowded)).status is Status.INFEASIBLE


def test_lengths_of_the_enumeration_are_the_designs():
    design = Design.parse(random_placed_design(3))
    assert Lengths(design).tooth == pytest.approx(design.rings.pitch.radius_mm(1))
