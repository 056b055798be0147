"""The rule `arm`: the best train that arms reach equals enumeration; CP-SAT says the same; what fails is explained."""

from __future__ import annotations

import json
import math
import random
import tomllib
from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from decimal import Decimal, localcontext
from fractions import Fraction

import numpy as np
import pytest
from brute_arms import Gaps, armed_design, arms_of, distance, only_what_is_reached, rollered_design, thin_design
from brute_places import Lengths, TooNear
from brute_running import only_what_runs, settled
from enumerated import list_with_places, plain
from shapely.geometry import LineString, Point
from test_place_rules import kept, standing, table, with_roller
from test_places import outcome
from test_rules import possible

import solver.search.order.shared as shared
import solver.search.place.arm_ways as arm_ways
import solver.search.place.placing as placing
import solver.search.why.asking as asking
from constraints.arm import ArmsFrom, ArmsReach
from constraints.eye import EyesClear
from constraints.places import Aspect
from solver import Design, parse_design, solve
from solver.answer.document import ProofOutcome
from solver.answer.prove import prove
from solver.design.arms import FAMILY, length_of, lines
from solver.design.supports import Supports
from solver.files.load import design_from_data
from solver.files.text import exact_float
from solver.search.order.search import search
from solver.search.place.arm_ways import ArmWays
from solver.search.place.measures import Measures
from solver.search.place.placing import Fitter
from solver.search.place.shapes import link_shape
from solver.search.place.surd import Surd
from solver.search.reaches import gap_of
from solver.search.stop import NoStop
from solver.search.why.explain import explain

SMALL = """
[bodies]
list = [{{name = "a", period = 1}}, {{name = "b", period = 2}}]
[rings]
teeth = [24, 30]
tooth_pitch = 12
addendum = 4
level_spacing = {spacing}
[arbors]
wheel_teeth = [12, 13]
pinion_teeth = [6, 7]
[fit]
directions = [0]
frame = {{{frame}}}
stands = "{stands}"
[search]
max_error_pct = 60
[wire]
[supports]
arm = {arm}
"""
SQUARE = 'shape = "square", side = 300'
RECTANGLE = 'shape = "rectangle", width = 300, height = 220.0005'


def small(spacing: float = 60, frame: str = SQUARE, stands: str = "none", arm: str = "4") -> str:
    return SMALL.format(spacing=spacing, frame=frame, stands=stands, arm=arm)


# -- the family --------------------------------------------------------------------------------------------------------


def test_arms_are_straight_or_bent_once():
    """A target 30 to the right and 40 up in a frame of 200 by 240; worked by hand."""
    found = lines(30, 40, 100, 120)
    assert found[:4] == [((30, 40), (100, 40)), ((30, 40), (-100, 40)), ((30, 40), (30, 120)), ((30, 40), (30, -120))]
    assert {line[-1] for line in found[4:8]} == {(100, 120), (100, -120), (-100, 120), (-100, -120)}
    assert found[8] == ((30, 40), (-75, 40), (-75, 120)) and found[21] == ((30, 40), (75, 40), (75, -120))
    assert found[22] == ((30, 40), (30, -90), (100, -90)) and found[35] == ((30, 40), (30, 90), (-100, 90))
    assert len(found) == len(FAMILY) == 36
    assert [length_of(line) for line in (found[0], found[8])] == [70, 185]
    assert length_of(found[4]) == pytest.approx(math.hypot(70, 80))


def test_in_a_round_frame_arms_end_on_the_circle():
    found = lines(30, 40, 100, 100, round_frame=True)
    assert found[0][-1] == (pytest.approx(math.sqrt(100**2 - 40**2)), 40)
    assert all(line is None or math.hypot(*line[-1]) == pytest.approx(100) for line in found)
    assert found[4][-1] == (pytest.approx(100 * math.sqrt(0.5)),) * 2
    # At 70 to the right and 70 up what bends at three quarters, 75, would do so outside.
    bent = lines(70, 70, 100, 100, round_frame=True)
    assert [number for number, line in enumerate(bent) if line is None] == [8, 9, 20, 21, 22, 23, 34, 35]


@pytest.mark.parametrize(
    "frame",
    [SQUARE, *(pytest.param(one, marks=pytest.mark.deep) for one in (RECTANGLE, "round"))],
)
def test_what_is_clear_equals_another_librarys_distances(frame):
    """Against shapely, and against the enumeration's own family."""
    frame = 'shape = "round", diameter = 310.001' if frame == "round" else frame
    design = parse_design(small(frame=frame, arm="9"))
    ways, rng, near = Measures(design).arms, random.Random(frame), 0
    need = float(ways.arbor) / 1000
    assert need == pytest.approx(4.5 + float(design.fit.clearance) + float(design.fit.post_radius) + 1)
    for _ in range(30):
        x, y, at_x, at_y = (rng.randint(-90_000, 90_000) for _ in range(4))
        disc = Fraction(rng.randint(30_000, 110_000))
        there, at = (np.array([x]), np.array([y])), (np.array([at_x]), np.array([at_y]))
        free = ways.free("arbor", *there, disc)
        past = [ways.past(*there, np.eye(36, dtype=bool)[[number]], at)[0, 0] for number in range(36)]
        own = [ways.past_own(*there, np.eye(36, dtype=bool)[[number]], at)[0] for number in range(36)]
        spot, other = (x / 1000, y / 1000), (at_x / 1000, at_y / 1000)
        half = float(design.fit.frame.width) / 2, float(design.fit.frame.height) / 2
        found = lines(*spot, *half, round_frame=design.fit.frame.round)
        for number, (line, same) in enumerate(zip(found, arms_of(design, *spot))):
            if line is None:
                assert not free[0, number]
                continue
            if number not in (0, 1, 2, 3) or not design.fit.frame.round:
                assert LineString(line).hausdorff_distance(LineString(same)) < 1e-9
            far, axis = LineString(line).distance(Point(other)), LineString(line).distance(Point(0, 0))
            assert far == pytest.approx(distance(same, other)) and axis == pytest.approx(distance(same, (0, 0)))
            if min(abs(far - need), abs(axis - float(disc) / 1000)) > 1e-6:
                assert past[number] == own[number] == (far > need), (number, spot, other)
                assert free[0, number] == (axis > float(disc) / 1000)
                near += abs(far - need) < 3
    assert near >= 5


def test_many_targets_are_looked_at_by_parts(monkeypatch):
    ways, rng = Measures(parse_design(small(arm="20"))).arms, np.random.default_rng(7)
    xs, ys, at_x, at_y = rng.integers(-90_000, 90_000, (4, 50))
    disc = Fraction(40_000)

    def looked_at(x, y, to_x, to_y):
        free = ways.free("arbor", x, y, disc)
        own = ways.past_own(x, y, free, (to_x, to_y))
        assert (ways.reached("arbor", x, y, disc, (to_x, to_y)) == own).all()
        assert (ways.reached("arbor", x, y, disc, None) == free.any(axis=1)).all()
        return [free, own, ways.past(x, y, free, (to_x[:9], to_y[:9]))]

    spots = xs, ys, at_x, at_y
    whole, long = looked_at(*spots), looked_at(*(one.astype(object) for one in spots))  # as in very large designs
    monkeypatch.setattr(arm_ways, "_MOST", 7)
    for one, by, large in zip(whole, looked_at(*spots), long):
        assert (one == by).all() and (one == large).all() and 0 < one.sum() < one.size


@pytest.mark.parametrize("frame", [SQUARE, 'shape = "round", diameter = 300'])
def test_what_is_needed_is_exact_at_the_micrometre(frame):
    """An arm straight to the right, 5 mm below an arbor that it must be 6.5 mm from, and so on."""
    ways = Measures(parse_design(small(frame=frame, arm="4"))).arms
    need = int(ways.arbor)
    assert need == ways.arbor == 2000 + 1500 + 3000  # half an arm, the clearance, a sleeve of 2 * 2 + 2 mm
    right = np.eye(36, dtype=bool)[[0]]

    def past(x: int, y: int) -> bool:
        return bool(ways.past(np.array([10_000]), np.array([0]), right, (np.array([x]), np.array([y])))[0, 0])

    assert past(60_000, need) and not past(60_000, need - 1)
    assert past(10_000 - need, 0) and not past(10_001 - need, 0)
    assert past(150_000 + need, 0) and not past(149_999 + need, 0)  # beyond the frame


def test_the_corner_of_a_round_frame_is_exact():
    """Beyond the end of an arm along the diagonal, 150 mm out: the nearest spots that are clear, by 50 digits."""
    ways = Measures(parse_design(small(frame='shape = "round", diameter = 300', arm="4"))).arms
    with localcontext() as precise:
        precise.prec = 50
        corner = 150_000 / Decimal(2).sqrt()
        for x in range(110_660, 110_670):
            for y in range(110_660, 110_670):
                far = (x - corner) ** 2 + (y - corner) ** 2
                assert ways._exactly(4, (0, 0), (x, y), ways.arbor) == (far >= 6500**2)


def test_numbers_with_a_square_root():
    rng = random.Random(5)
    for _ in range(200):
        p, q, r, t = (Fraction(rng.randint(-20, 20), rng.randint(1, 5)) for _ in range(4))
        s = Fraction(rng.randint(0, 12), rng.randint(1, 3))
        one, other = Surd(p, q, s), Surd(r, t, s)
        for found, wanted in (
            (one + other, (p + r) + (q + t) * Fraction(math.sqrt(s))),
            (one - other, (p - r) + (q - t) * Fraction(math.sqrt(s))),
            (one * other, (p + q * Fraction(math.sqrt(s))) * (r + t * Fraction(math.sqrt(s)))),
        ):
            if abs(wanted) > 1e-9:
                assert found.sign() == (1 if wanted > 0 else -1)
    assert Surd(Fraction(2), Fraction(-1), Fraction(4)).sign() == 0 == Surd(Fraction(0), Fraction(5)).sign()


@pytest.mark.parametrize("rim", ["", "rim = 0", "rim = 7.3"])
def test_what_stands_sweep_is_what_the_rule_stand_keeps_clear_of(rim):
    measures = Measures(parse_design(small(stands="outer", arm="5").replace("[arbors]", f"{rim}\n[arbors]")))
    ways = measures.arms
    for riders, gap, largest in (((0, 1), 1, 30), ((0, 1), 0, 24), ((0,), 1, 24)):
        disc = ways.disc((24, 30), riders, gap)
        assert math.ceil(disc * disc) == measures.stand_and(largest, 0, Fraction(5, 2))[1]
    assert ways.disc((24, 30), (0, 1), -1) is None


def test_arms_that_are_too_long_for_what_they_hold_are_left_out():
    design = parse_design(small())
    told = []

    def usable(held, lengths, arms):
        told.append(held)
        return lengths() <= 100

    measures = Measures(design)
    ways = ArmWays(design, measures.high, measures.rim, usable)
    free = ways.free("roller", np.array([70_000]), np.array([20_000]), None)
    assert told == ["roller"] and free[0].tolist() == [length_of(one) <= 100 for one in lines(70, 20, 150, 150)]


# -- stated to CP-SAT --------------------------------------------------------------------------------------------------


def test_arm():
    """The smallest placement it allows, and the smallest it forbids."""
    free, no = ArmsFrom([kept(1), kept(1), kept(1)], [], []), table((0,))
    assert possible(with_roller(True), ArmsReach(free))
    assert not possible(with_roller(True), ArmsReach(replace(free, alone=[kept(0), kept(1), kept(1)])))
    assert not possible(with_roller(True), ArmsReach(replace(free, alone=[kept(1), kept(0), kept(1)])))
    assert possible(with_roller(False), ArmsReach(replace(free, alone=[kept(1), kept(1), kept(0)])))
    assert not possible(with_roller(True), ArmsReach(replace(free, rollers=[(0, Aspect(0), no)])))
    assert possible(with_roller(False), ArmsReach(replace(free, rollers=[(1, Aspect(0), no)])))
    two = ArmsFrom([kept(1), kept(1, 1)], [(Aspect(0), Aspect(1), table((0, 0)))], [])
    assert not possible(standing(1, 2), ArmsReach(two))
    assert possible(standing(1, 2), ArmsReach(replace(two, things=[(Aspect(0), Aspect(1), table((0, 1)))])))


def test_eyes():
    """Likewise of eyes: of things, of a ring's rollers and a thing, and of the rollers of one ring."""
    alone, no, both = [kept(1), kept(1), kept(1)], table((0,)), with_roller(True)
    assert possible(both, EyesClear(alone))
    assert not possible(with_roller(True), EyesClear([kept(0), kept(1), kept(1)]))
    assert not possible(with_roller(True), EyesClear(alone, rollers=[(0, Aspect(0), no)]))
    assert possible(with_roller(False), EyesClear(alone, rollers=[(1, Aspect(0), no)]))
    two = EyesClear([kept(1), kept(1, 1)], [(Aspect(0), Aspect(1), table((0, 0)))])
    assert not possible(standing(1, 2), two)
    assert possible(standing(1, 2), replace(two, pairs=[(Aspect(0), Aspect(1), table((0, 1)))]))
    for here in (0, 1):  # two directions of one ring, whose eyes meet
        train = standing(1)
        train.ring(2)
        train.model.add(train.rollers[0][0] == 1)
        train.model.add(train.rollers[0][1] == here)
        assert possible(train, EyesClear([kept(1), kept(1, 1)], rings=[(0, 0, table((1, 0), (0, 1)))])) == (not here)


def test_arm_beside_a_stand():
    """What a body's stand is in the way of matters only where one rides there."""
    two = ArmsFrom([kept(1), kept(1, 1)], [], [])
    for none in (0, 1):
        for blocked in (
            replace(two, alone=[kept(1), kept(0, 0)]),
            replace(two, things=[(Aspect(0), Aspect(1), table((0, 0)))]),
            replace(two, things=[(Aspect(1), Aspect(0), table((0,), (0,)))]),
        ):
            train = standing(1, 2)
            train.riders.append(train.model.new_constant(1 - none))
            assert possible(train, ArmsReach(two, [blocked])) == bool(none)


# -- enumeration -------------------------------------------------------------------------------------------------------


FEW = (*range(4), *range(10, 14))  # the quickest to enumerate


def compared(
    seeds: Iterable[int], form: str = "saw", short: bool = False, thin: bool = False, free: int = 0
) -> Counter:
    """Compare the search with the enumeration; what kinds of cases there were. thin: arms are, and may bend too far;
    free: how many designs that have another answer without arms are counted, which takes one more enumeration to know.
    """
    kinds: Counter = Counter()
    for seed in seeds:
        design = thin_design(seed, form) if thin else armed_design(seed, form, short)
        if design is None or not settled(design):
            continue
        with only_what_runs(), only_what_is_reached():
            counts, answer = list_with_places(design)
        if counts[0] < 0:
            continue
        found = search(design)
        assert found.complete and plain(outcome(found.found)) == plain(answer[0]), (seed, form, short)
        kinds["compared"] += 1
        kinds["found"] += bool(answer[0])
        if kinds["changed"] < free:
            with only_what_runs():
                counts, without = list_with_places(replace(design, supports=None))
            changed = counts[0] >= 0 and without[0] != answer[0]
            kinds["changed"] += changed
            kinds["others instead"] += bool(answer[0]) and changed
        if thin and kinds["bent too far"] < 10:
            stiff = replace(design, supports=replace(design.supports, sag_mm=Fraction(10**6)))
            kinds["bent too far"] += outcome(search(stiff).found) != outcome(found.found)
        kinds["driven"] += bool(answer[0]) and design.drive is not None
        kinds["third gears"] += any(link[3] for one in answer[0] for link in one[1][2])
        kinds["round"] += bool(answer[0]) and design.fit.frame.round
    return kinds


@pytest.mark.slow
def test_the_best_that_is_reached_equals_enumeration():
    kinds = compared(FEW, free=1)
    assert kinds["compared"] >= 7 and kinds["found"] >= 4 and kinds["changed"] >= 1, kinds


@pytest.mark.deep
def test_the_best_that_is_reached_equals_enumeration_for_many():
    kinds = compared([seed for seed in range(140) if seed not in FEW], free=20)
    assert kinds["compared"] >= 90 and kinds["found"] >= 40 and kinds["driven"] >= 15 and kinds["round"] >= 10, kinds
    assert kinds["changed"] >= 15 and kinds["others instead"] >= 6 and kinds["third gears"] >= 2, kinds


@pytest.mark.deep
@pytest.mark.parametrize(("form", "short", "many"), [("saw", True, 24), ("involute", False, 40), ("curved", False, 40)])
def test_the_best_of_other_gears_that_is_reached_equals_enumeration(form, short, many):
    kinds = compared(range(many), form, short)
    assert kinds["compared"] >= 12 and kinds["found"] >= 4, kinds


@pytest.mark.slow
def test_the_best_on_thin_long_arms_equals_enumeration():
    kinds = compared(range(4), thin=True)
    assert kinds["compared"] >= 3 and kinds["bent too far"] >= 1, kinds


@pytest.mark.deep
def test_the_best_on_thin_long_arms_equals_enumeration_for_many():
    kinds = compared(range(4, 77), thin=True)
    assert kinds["compared"] >= 30 and kinds["found"] >= 10 and kinds["bent too far"] >= 10, kinds


# -- rollers, CP-SAT, the second proof ---------------------------------------------------------------------------------


def checked(seeds: range, monkeypatch, proofs: bool) -> Counter:
    """Designs with rollers: what is found is reached; each roller that arms take away is one that none reaches; CP-SAT
    finds the same places, and confirms."""
    kinds: Counter = Counter()
    for seed in seeds:
        design = rollered_design(seed)
        if design is None:
            continue
        found = search(design)
        assert found.complete
        with monkeypatch.context() as patch:
            patch.setattr(placing, "MOST_STEPS", 1)
            assert outcome(search(design).found) == outcome(found.found), seed
        for one in found.found:
            assert reached(design, one.train), seed
        free = search(replace(design, supports=None)).found
        for one in (*found.found[:1], *free[:1]):
            kinds += rollers_left(design, one.train)
        kinds["compared"] += 1
        kinds["found"] += bool(found.found)
        kinds["changed"] += outcome(free) != outcome(found.found)
        if proofs:
            answer = solve(design)
            told = prove(design, answer.solutions, answer.front, NoStop())
            assert {one.outcome for one in told.proofs} <= {ProofOutcome.CONFIRMED}, seed
    return kinds


def gaps(design: Design, train, rollers=()) -> Gaps:
    """A placed train as the enumeration sees it."""

    def spots(place):
        return tuple(v / 1000 for v in place.arbor), [tuple(v / 1000 for v in spot) for spot in place.thirds]

    placement, motor = train.placement, None
    placed = [spots(place) for place in placement.links]
    if (drive := placement.drive) is not None:
        placed.append(spots(drive.at))
        motor = Motor(drive.ring, drive.pinion, (*drive.thirds, None)[0])
    return Gaps(design, Lengths(design), train, placed, motor, rollers)


class Motor:
    def __init__(self, ring: int, pinion: int, third: int | None) -> None:
        self.ring, self.pinion, self.third = ring, pinion, third


def reached(design: Design, train) -> bool:
    rollers = [[tuple(v / 1000 for v in one.spot) for one in some] for some in train.placement.rollers]
    return gaps(design, train, rollers).all_reached()


def rollers_left(design: Design, train) -> Counter:
    """Which rollers beside the links of a train the rule leaves: for each ring and direction, by enumeration."""
    fitter, bare = (Fitter(one, gap_of(one)) for one in (design, replace(design, supports=None)))
    stack, seen, count = fitter.stack(train), Counter(), len(train.rings)
    links = replace(train, placement=replace(train.placement, drive=None))
    there = gaps(design, links)

    def eye_clear(level: int, spot) -> bool:
        beside = gaps(design, links, [[spot] if ring == level else [] for ring in range(count)])
        return beside.eye_clear(len(beside.eyes) - 1)

    for level in range(count):
        left = []
        for one in (fitter, bare):
            domains, chosen = [], []
            for at, (link, place) in enumerate(zip(train.links, train.placement.links)):
                shape = link_shape(at, *train.rings[at : at + 2], link, place.radius)
                domains.append(bare.placer.among(shape, stack.rings, stack.riders))
                chosen.append(next(i for i in range(len(domains[-1])) if domains[-1].at(i) == place))
            left.append(one.holder._ring_state(level, stack, domains, chosen)[1])
        gap = level - 1 if design.fit.stands == "outer" else level
        for roller in fitter.holder.wheelhouse(level, stack).all():
            bit = 1 << round(float(roller.direction) * 72 / 360)
            try:
                spot = tuple(v / 1000 for v in roller.spot)
                wanted = there.reached(gap, spot) and not there.tall("roller")
                eye = eye_clear(level, spot)
            except TooNear:
                continue
            if left[1] & bit and not there.tall("roller"):
                assert bool(left[0] & bit) == (wanted and eye), (level, roller)
                seen["without room for an eye"] += wanted and not eye
                seen["rollers"] += 1
                seen["without an arm"] += not wanted
    return seen


@pytest.mark.deep
def test_rollers_are_reached_and_cp_sat_finds_the_same_places(monkeypatch):
    kinds = checked(range(8), monkeypatch, proofs=True)
    assert kinds["compared"] >= 7 and kinds["found"] >= 1, kinds


@pytest.mark.deep
def test_rollers_are_reached_and_cp_sat_finds_the_same_places_for_many(monkeypatch):
    kinds = checked(range(8, 60), monkeypatch, proofs=True)
    assert kinds["found"] >= 10 and kinds["changed"] >= 4 and kinds["without an arm"] >= 20, kinds
    assert kinds["without room for an eye"] >= 20, kinds


@pytest.mark.deep
def test_the_second_proof_confirms_what_is_found_without_rollers():
    confirmed = 0
    for seed in range(60):
        design = armed_design(seed)
        if design is None:
            continue
        answer = solve(design)
        told = prove(design, answer.solutions, answer.front, NoStop())
        assert {one.outcome for one in told.proofs} <= {ProofOutcome.CONFIRMED}, seed
        confirmed += bool(answer.solutions)
    assert confirmed >= 20


@pytest.mark.deep
def test_answers_are_the_same_whoever_decides(monkeypatch):
    """One train after the other, or all with the same rings by CP-SAT (`order/together`)."""

    def told(design: Design, patience: int) -> tuple[dict, int]:
        monkeypatch.setattr(shared, "PATIENCE", patience)
        found = json.loads(solve(design).model_dump_json(by_alias=True))
        return found, found.pop("report")["models_solved"]

    models = 0
    for seed in range(80):
        if (design := armed_design(seed)) is not None:
            (one_by_one, _), (at_once, asked) = told(design, 1 << 40), told(design, 1)
            assert at_once == one_by_one, seed
            models += asked
    assert models >= 50


def test_cp_sat_catches_a_search_that_forgets_arms(monkeypatch):
    """Where arms of 60 mm, beside a stand, leave the one link no place, a search without them finds one; and the other
    way round a search that finds none where there is one."""
    blocked, free = parse_design(small(150, stands="outer", arm="60")), parse_design(small(150, arm="60"))
    assert not search(blocked).found and search(free).found
    told = prove(blocked, [], [], NoStop())
    assert [one.outcome for one in told.proofs] == [ProofOutcome.CONFIRMED]
    told = prove(free, [], [], NoStop())
    assert [one.outcome for one in told.proofs] == [ProofOutcome.REFUTED]


# -- explain -----------------------------------------------------------------------------------------------------------


def changes(explanation) -> dict[str, tuple[str, str]]:
    alone = [item.changes[0] for item in explanation.loosenings if len(item.changes) == 1]
    return {one.field: (one.rule, one.then) for one in alone}


@pytest.mark.deep
def test_pins_that_leave_arms_no_room_are_explained():
    """Pins of 9.2 mm in levels of 14: 4.8 are between them, and an arm of 4 needs 1.5 on either side."""
    data = tomllib.loads(small(14), parse_float=exact_float)
    explanation = explain(data)
    assert not explanation.feasible and explanation.termination == "proved"
    assert {("arm", "supports.arm"), ("arm", "rings.level_spacing")} <= {
        (one.rule, one.field) for one in explanation.conflict
    }
    found = changes(explanation)
    assert found["supports.arm"] == ("arm", "1.8") and found["rings.level_spacing"] == ("arm", "16.175")
    assert {"fit.stands", "fit.directions"}.isdisjoint(found)
    for item in explanation.loosenings:
        assert search(design_from_data(item.data, "design")).found
        assert item.tighter is None or not search(design_from_data(item.tighter, "design")).found


@pytest.mark.deep
def test_arms_in_a_frame_that_is_no_deeper_are_explained():
    """Levels farther apart need more depth than the frame has: thinner arms do, or none."""
    data = tomllib.loads(small(14, SQUARE + ", depth = 30"), parse_float=exact_float)
    found = changes(explain(data))
    assert found["supports.arm"] == ("arm", "1.8")
    assert found["rings.level_spacing"] == ("arm", "any, without [supports]")


@pytest.mark.deep
def test_arms_that_a_stand_is_in_the_way_of_are_explained(monkeypatch):
    """With little work for each question: third gears on both sides make it large. Straight arms of 48.6 mm would pass
    the stand, but their eyes, which are wider than they are, only from 18.3 mm on."""
    for name, steps in (("STEPS", 500), ("LEAST_STEPS", 500), ("WORK", 12_000)):
        monkeypatch.setattr(asking, name, steps)
    data = tomllib.loads(small(150, stands="outer", arm="60"), parse_float=exact_float)
    found = changes(explain(data))
    assert found["supports.arm"] == ("arm", "18.3") and found["fit.stands"] == ("stand", "none")


# -- designs -----------------------------------------------------------------------------------------------------------


def test_defaults_and_names():
    """A quarter of the addendum; lengths in inches; another name for the design."""
    design = parse_design(small())
    assert design.supports.sag(design.rings.addendum) == 1 and design.armed
    told = small() + 'model = "table"\nbar = 8\nmetal = "brass"\nsag = 2\n'
    assert parse_design(told).supports == Supports("table", Fraction(4), Fraction(8), "brass", Fraction(2))
    assert parse_design('units = "in"\n' + small(8)).supports.arm_mm == Fraction("101.6")
    assert replace(design, supports=None).sha256() != design.sha256()
    plate = parse_design(small().replace('stands = "none"', 'plate = "inner"'))
    assert plate.supports is not None and not plate.armed and Measures(plate).arms is None
    assert isinstance(Measures(design).arms, ArmWays)
