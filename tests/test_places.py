"""Placement: the best that fits equals exhaustive enumeration over teeth and places; rollers, drive, corners, sense."""

from __future__ import annotations

import math
import random
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from itertools import combinations

import pytest
from brute_places import Lengths
from enumerated import KINDS, Answer, answer_of, differs, kept, teeth
from random_designs import random_placed_design

import solver.search.place.placing as placing
from solver import Design, Train, judge, parse_design, solve
from solver.answer.document import Status
from solver.answer.solve import answer_of as document
from solver.files.text import data_of
from solver.search.order import effort
from solver.search.order.search import search
from solver.search.place.drive import motors
from solver.search.place.measures import Measures
from solver.search.place.rollers import STEP, Wheelhouse, turned
from solver.search.roller_gaps import GRID
from solver.search.stop import WorkLimit
from solver.search.why.explain import explain

CHUNKS, SEEDS = 24, KINDS["placed"].many
LITTLE = (1, 7, 8, 13, 14, 16, 19)  # chunks that take less than half a second


def outcome(found):
    """What a search found, as `enumerated.placed` has it."""
    return [
        (
            one.key,
            teeth(one.train),
            tuple(place.radius for place in one.train.placement.links),
            [(place.direction, place.arbor, place.thirds) for place in places(one.train.placement)],
            motor(one.train.placement.drive),
        )
        for one in found
    ]


def places(placement):
    """Of every link, and of the drive."""
    return [*placement.links, *([placement.drive.at] if placement.drive else [])]


def motor(drive):
    """A motor but for its place."""
    return drive and (drive.ring, drive.rpm, drive.pinion, (*drive.thirds, None)[0])


def compare(kind: str, number: int) -> Counter:
    """Compare the search with the enumeration of a random design; what kind of case it was."""
    design = KINDS[kind].design(number)
    wanted = answer_of(kind, number, design)
    if wanted.many < 0:
        return Counter(given_up=1)
    result = search(design)
    assert result.complete
    points = sorted({(one.found.figures.error_square, one.found.figures.envelope_teeth) for one in result.front})
    found = [outcome(result.found), points]
    assert wanted.is_of(found), differs(kind, number, design, found)
    answer = document(design, result)  # every solution judged, or Unsound is raised
    assert answer.status is (Status.OPTIMAL if wanted.many else Status.INFEASIBLE)
    assert answer.trains(design)[: len(result.found)] == [one.train for one in result.found]
    drives = [one.train.placement.drive for one in result.found]
    motor_thirds = any(drive.thirds for drive in drives if drive)
    return sort_of(design, wanted) + Counter(motor_thirds=motor_thirds)


def sort_of(design: Design, wanted: Answer) -> Counter:
    drive = design.drive
    feasible = wanted.many > 0
    return Counter(
        compared=wanted.many >= 0,
        feasible=feasible,
        refused=wanted.refused > 0,
        thirds=wanted.thirds > 0,
        plate=design.fit.plate != "none" and feasible,
        frame=design.fit.frame is not None and feasible,
        driven=drive is not None and feasible,
        compact=drive is not None and "envelope" in design.rank and feasible,
        capped=drive is not None and design.limits.max_envelope is not None and feasible,
        front=bool(design.front) and feasible,
    )


@pytest.mark.slow
@pytest.mark.enumerated
@pytest.mark.parametrize(
    "chunk", [pytest.param(one, marks=() if one in LITTLE else pytest.mark.deep) for one in range(CHUNKS)]
)
def test_the_best_that_fits_equals_enumeration(chunk):
    counts = sum((compare("placed", seed) for seed in range(chunk, SEEDS, CHUNKS)), Counter())
    assert counts["compared"] >= SEEDS // CHUNKS - 2


def test_the_random_designs_are_worth_comparing():
    """Of the first hundred: many have an answer, and in many the best by teeth alone has no place."""
    counts: Counter = Counter()
    for seed in range(100):
        design = KINDS["placed"].design(seed)
        counts += sort_of(design, kept("placed", seed, design))
    assert counts["compared"] >= 95
    # 25 are refused, where it was 30 while bodies were drawn that stand out beyond ring 0, where none can.
    assert counts["feasible"] >= 45 and counts["refused"] >= 25 and counts["thirds"] >= 15
    assert counts["plate"] >= 10 and counts["frame"] >= 25
    assert counts["driven"] >= 15 and counts["compact"] >= 5 and counts["capped"] >= 5


@pytest.mark.deep
@pytest.mark.enumerated
def test_drives_with_third_gears_equal_enumeration():
    """The outer ring turns back, and the motor may not: each drive needs a third gear, which reaches out farthest."""
    seen = sum((compare("driven", number) for number in range(24)), Counter())
    assert seen["motor_thirds"] == seen["driven"] >= 12 and seen["capped"] >= 3 and seen["compact"] >= 5, seen
    assert seen["front"] >= 3


@pytest.mark.deep
@pytest.mark.enumerated
def test_a_crowd_of_ties_keeps_its_wished_drives(monkeypatch):
    """Where more tie than may be listed, the envelope is decided by caps: they must not choose other drives."""
    for name in ("LIST_LIMIT", "MODEL_LIMIT", "LIST_PER_KEPT"):
        monkeypatch.setattr(effort, name, 1)
    seen = sum((compare("tied", number) for number in range(20)), Counter())
    assert seen["driven"] >= 16 and seen["capped"] >= 6


@pytest.mark.enumerated
def test_no_body_can_stand_out_beyond_ring_0():
    """Why a design may not ask for it: where rings grow, enumeration and search find no place, however much room."""
    thirds = 0
    for number in range(8):
        free, inside = (KINDS[kind].design(number) for kind in ("turning", "inside"))
        there = answer_of("turning", number, free)
        assert there.many and answer_of("inside", number, inside).many == len(search(inside).found) == 0
        thirds += there.thirds > 0
    assert thirds >= 3


@pytest.mark.deep
def test_cp_sat_finds_the_same_places(monkeypatch):
    """Where trying takes too long the model is asked; it must say the same."""
    whole = 0
    for seed in range(40):
        design = parse_design(random_placed_design(seed))
        with monkeypatch.context() as patch:
            tried = search(design, WorkLimit(10_000))
            patch.setattr(placing, "MOST_STEPS", 1)
            if tried.complete:
                assert outcome(search(design).found) == outcome(tried.found), f"seed {seed}"
                whole += 1
    assert whole >= 36


# -- rollers -----------------------------------------------------------------------------------------------------------


def rolling(count: str, reach: int, radius: float) -> Design:
    return parse_design(
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


@pytest.mark.slow
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
    turned_back = parse_design(text.format(sense="reverse"))
    answer = solve(turned_back)
    best = answer.solutions[0]
    assert [link.kind != "plain" for link in best.links] == [False, True, False]
    assert [ring.sense for ring in best.rings] == ["same", "same", "reverse", "reverse"]
    same = parse_design(text.format(sense="same"))
    broken = judge(same, answer.trains(turned_back)[0]).violations
    assert [(one.rule, one.where, one.text) for one in broken] == [
        ("sense", "c", 'turns "reverse", should turn "same"'),
        ("sense", "d", 'turns "reverse", should turn "same"'),
    ]
    assert all(link.kind == "plain" for one in solve(same).solutions for link in one.links)


@pytest.mark.slow
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
    assert solve(parse_design(text)).status is Status.INFEASIBLE
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
    design = parse_design(DRIVEN)
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
    design = parse_design(DRIVEN + "reverse_ok = false\nthird_gears = 1\n")
    train = solve(design).trains(design)[0]
    assert train.placement.drive.thirds == ()  # all rings turn counterclockwise, the motor clockwise
    assert judge(design, train).sound
    backwards = replace(train.placement.drive, thirds=(8,), at=replace(train.placement.drive.at, thirds=((0, 0),)))
    verdict = judge(design, replace(train, placement=replace(train.placement, drive=backwards)))
    assert any("counterclockwise" in violation.text for violation in verdict.violations)
    assert all(len(motor.thirds) == 0 for motor in motors(design, train, 0))


def test_where_no_motor_has_a_place_nothing_is_found():
    text = DRIVEN.replace("[drive]", '[fit]\ndirections = [0, 180]\n[drive]\nring = "outer"')
    assert solve(parse_design(text)).status is Status.OPTIMAL
    crowded = text.replace("[0, 180]", "[0, 20]")
    assert solve(parse_design(crowded)).status is Status.INFEASIBLE


def farthest(design: Design, train: Train) -> float:
    """How far the tips of all rings and gears of a placed train reach out [mm], by its spots."""
    mm, tip = design.rings.pitch.radius_mm, float(design.rings.addendum)
    found = [mm(max(train.rings)) + tip]
    stood = [([link.wheel, link.pinion], link.thirds, at) for link, at in zip(train.links, train.placement.links)]
    drive = train.placement.drive
    stood += [([drive.pinion], drive.thirds, drive.at)] if drive else []
    for gears, thirds, at in stood:
        found += [math.hypot(*at.arbor) / 1000 + mm(teeth) + tip for teeth in gears]
        found += [math.hypot(*spot) / 1000 + mm(teeth) + tip for teeth, spot in zip(thirds, at.thirds, strict=True)]
    return max(found)


@pytest.mark.slow
@pytest.mark.parametrize("more", ["", 'ring = "outer"', 'ring = "outer"\nthird_gears = 1\nreverse_ok = false'])
def test_the_envelope_holds_the_drive(more):
    sense = 'sense = "reverse"\n' if "third" in more else ""
    text = DRIVEN.replace("[rings]", sense + "[rings]") + more
    text = text.replace("{min = 5, max = 12}", "{min = 20, max = 32}") if more else text
    design = parse_design(text + "\n[arbors]\nthird_gears = 1\n" if sense else text)
    answer = solve(design)
    assert answer.solutions
    for solution, train in zip(answer.solutions, answer.trains(design)):
        assert solution.envelope_mm == pytest.approx(farthest(design, train), abs=0.002)
        assert bool(solution.drive.thirds) is bool(sense)
    if more:  # the drive decides
        free = solve(replace(design, drive=None)).solutions[0]
        assert free.worst_error_pct == answer.solutions[0].worst_error_pct
        assert free.envelope_mm < answer.solutions[0].envelope_mm


def test_a_drive_beyond_the_greatest_envelope_is_none():
    """A motor of 12 teeth at the outer ring of 38 reaches 38 + 2 * 12 teeth of 12/(2 pi) mm, and its tips 4 mm more."""
    text = DRIVEN.replace("{min = 5, max = 12}", '12\nring = "outer"') + "[search]\nmax_envelope = {}\nkeep = 3\n"
    reach = math.ceil((62 * 12 / (2 * math.pi) + 4) * 1000) / 1000
    within = parse_design(text.replace("{}", f"{reach:.3f}"))
    answer = solve(within)
    assert answer.solutions and all(one.envelope_mm == reach for one in answer.solutions)
    assert all(judge(within, train).sound for train in answer.trains(within))
    tight = text.replace("{}", f"{reach - 0.001:.3f}")
    assert solve(parse_design(tight)).status is Status.INFEASIBLE
    (broken,) = judge(parse_design(tight), answer.trains(within)[0]).violations
    assert broken.rule == "max_envelope"
    loosened = [item.changes for item in explain(data_of(tight, "design")).loosenings]
    assert (("max_envelope", "search.max_envelope", f"{reach - 0.001:.3f}", f"{reach:.3f}"),) in loosened


def test_the_drive_that_reaches_least_comes_first_only_where_the_envelope_is_asked_for():
    """At 2 rev/min a pinion of 20 teeth turns a ring of 38 once in 57 s, one of 5 teeth in 228 s."""
    text = DRIVEN.replace('[2, "7/2", 5]', "2").replace("{min = 5, max = 12}", '[5, 20]\nring = "outer"')
    text = text.replace("Europa", "Callisto").replace("seconds = 30", "seconds = 57") + "[search]\nkeep = 1\n"
    best = {
        rank: solve(parse_design(f"{text}rank = {rank}\n")).solutions[0]
        for rank in ('["error"]', '["error", "envelope"]')
    }
    wished, small = best.values()
    assert (wished.drive.pinion, wished.drive.error_pct, small.drive.pinion) == (20, 0, 5)
    assert wished.worst_error_pct == small.worst_error_pct and wished.envelope_mm > small.envelope_mm
    also = solve(parse_design(f'{text}rank = ["error"]\nfront = ["error", "envelope"]\n'))
    assert [one.drive.pinion for one in also.solutions] == [5] * len(also.solutions)


def test_lengths_of_the_enumeration_are_the_designs():
    design = parse_design(random_placed_design(3))
    assert Lengths(design).tooth == pytest.approx(design.rings.pitch.radius_mm(1))
