"""Rule `level`: what touches on other levels, told alike by search, CP-SAT, judge and explain."""

import random
import tomllib
from dataclasses import replace
from fractions import Fraction

import pytest
from brute_levels import loops_hold
from brute_running import link_holds

from constraints.level import WithinLevel
from constraints.link import Choice
from solver import judge, parse_design, solve
from solver.answer.prove import prove
from solver.design.links import KIND_BY_NAME, KINDS
from solver.design.train import Link, Train
from solver.files.text import exact_float
from solver.search.levels import least_step, levels_of
from solver.search.stop import NoStop
from solver.search.why.explain import explain

TWO = """
[[bodies.list]]
name = "a"
period = 1
[[bodies.list]]
name = "b"
period = "2.5"
[rings]
teeth = [24, 30]
tooth_pitch = 12
addendum = 4.5
rim = 6
level_spacing = {spacing}
[arbors]
wheel_teeth = {{min = 8, max = 18}}
pinion_teeth = {{min = 8, max = 18}}
[fit]
clearance = 1
directions = 6
{rollers}
[search]
max_error_pct = 100
{wire}
"""
# Loops and pins of 1.628 mm (AWG 14), tooth wire of 1.291 mm (AWG 16): 2.919 mm turn between the loops, 1 mm beside it
# on either side, so that pins are 8.174 mm long.
PINS = 2 * 1.628 + 2.919 + 2


def two(spacing: float, wire: str = "[wire]\n", rollers: str = "") -> str:
    return TWO.format(spacing=spacing, wire=wire, rollers=rollers)


@pytest.mark.parametrize(
    ("wire", "rollers", "least"),
    [
        ("[wire]\n", "", PINS + 1),
        ("[wire]\npin_length = 7\n", "", 8),
        ('[wire]\nform = "involute"\nsheet = 2\n', "", 7),  # arbors of 6 mm, and hubs as long
        ('[wire]\nform = "involute"\nsheet = 2\narbor_diameter = 4.5\n', "", 5.5),
        ('[wire]\nform = "involute"\nsheet = 7\n', "", 8),
        ('[wire]\nform = "involute"\nsheet = 2.5\n', "rollers = {count = 3, radius = 4, reach = 90}", 8.5),
    ],
)
def test_where_levels_are_as_deep_as_the_thickest_part_and_the_clearance_nothing_is_measured(wire, rollers, least):
    for more, thin in ((0.01, True), (-0.01, False)):
        levels = levels_of(parse_design(two(round(least + more, 3), wire, rollers)))
        assert levels.thin == thin
        assert thin or float(levels.spacings()[-1]) == pytest.approx(least, abs=0.002)


TRAIN = Train((24, 30), (0, 1), (Link("plain", 15, 9, ()),))


def unplaced(text: str, train: Train = TRAIN) -> dict[str, float | None]:
    """Where a train breaks the rule whatever the places, and by how much [mm]."""
    design = parse_design(text.replace("directions = 6", 'directions = "none"'))
    return {one.where: one.short_mm for one in judge(design, train).violations if one.rule == "level"}


def test_wheel_and_pinion_fill_the_spacing_and_no_more():
    """Both have pins of 8.174 mm: 8.174 / 2 twice are as much. They turn together, so that nothing is kept free."""
    assert not unplaced(two(PINS + 0.002)) and solve(parse_design(two(PINS + 0.002))).solutions
    assert unplaced(two(PINS - 0.02)) == {"link 0": pytest.approx(0.02, abs=0.002)}
    assert not solve(parse_design(two(PINS - 0.02))).solutions


@pytest.mark.parametrize(("most", "clearance"), [(13.08, 1), (15.08, 0)])
def test_pins_over_the_next_ring_leave_it_its_thickness_and_the_clearance(most, clearance):
    """Levels 9 mm apart: twice 9 mm, less the ring of 2.919 mm and twice the clearance. Only third gears have so long
    pins: on one arbor two pin gears may have 9 mm."""
    for length, fits in ((most, True), (most + 0.01, False)):
        text = two(9, f"[wire]\npin_length = {length}\n").replace("clearance = 1\n", f"clearance = {clearance}\n")
        text = text.replace("[fit]", "third_gears = 2\nthird_teeth = {min = 8, max = 9}\n[fit]")
        text = text.replace("wheel_teeth = {min = 8, max = 18}", "wheel_teeth = 14")
        text = text.replace("pinion_teeth = {min = 8, max = 18}", "pinion_teeth = 8")
        design = parse_design(text)
        answer = solve(design)
        assert answer.proven and bool(answer.solutions) == fits
        assert {link.kind for one in answer.solutions for link in one.links} == ({"third-both"} if fits else set())
        proofs = prove(design, answer.solutions, answer.front, NoStop())
        assert {one.outcome for one in proofs.proofs} == {"confirmed"}


def test_a_plain_wheel_always_stands_over_the_next_ring():
    """(8.174 + 2.919) / 2 + 4 mm of clearance are more than 9.5 mm, though two of 8.174 mm fit on the arbor."""
    text = two(9.5).replace("clearance = 1\n", "clearance = 4\n")
    text = text.replace("[wire]\n", "[wire]\npin_length = 8.174\n")
    assert unplaced(text) == {"link 0": pytest.approx((8.174 + 2.919) / 2 + 4 - 9.5, abs=0.002)}
    assert not solve(parse_design(text)).solutions


def test_pins_must_leave_a_ring_room_between_their_loops():
    for length, fits in ((6.18, True), (6.16, False)):  # 2 x 1.628 + 2.919 = 6.175
        text = two(14, f"[wire]\npin_length = {length}\n")
        design = parse_design(text)
        assert any(map(levels_of(design).link, KINDS)) == fits == loops_hold(design)
        assert bool(unplaced(text)) != fits
        assert fits or not levels_of(design).spacings()


def test_nothing_fits_is_proven_twice_and_what_spacing_and_what_pins_would_do_is_said():
    text = two(8)
    design = parse_design(text)
    answer = solve(design)
    assert not answer.solutions and answer.proven
    proofs = prove(design, answer.solutions, answer.front, NoStop())
    assert [one.outcome for one in proofs.proofs] == ["confirmed"]
    found = explain(tomllib.loads(text, parse_float=exact_float))
    changes = {(one.rule, one.field): one.then for item in found.loosenings for one in item.changes}
    assert changes[("level", "rings.level_spacing")] == "8.175" and changes[("level", "wire.pin_length")] == "8"
    for looser in (two(8.175), two(8, "[wire]\npin_length = 8\n")):
        assert solve(parse_design(looser)).solutions


@pytest.mark.deep
def test_pins_that_are_too_short_are_named():
    found = explain(tomllib.loads(two(14, "[wire]\npin_length = 5\n"), parse_float=exact_float))
    assert ("level", "wire.pin_length") in {(one.rule, one.field) for one in found.conflict}
    changes = {one.field: one.then for item in found.loosenings for one in item.changes}
    assert changes["wire.pin_length"] == "6.175"


@pytest.mark.deep
def test_a_frame_that_is_not_deep_enough_for_pins_beyond_the_levels_is_named():
    """Two levels 8.5 mm apart are 17 mm deep, and pins of 8.175 mm with 1 mm beside them 17.675 mm from end to end."""
    text = two(8.5).replace("[fit]", '[fit]\nframe = {shape = "square", side = 600, depth = 17.1}')
    assert not solve(parse_design(text)).solutions
    found = explain(tomllib.loads(text, parse_float=exact_float))
    changes = {(one.rule, one.field): one.then for item in found.loosenings for one in item.changes}
    assert changes["frame", "fit.frame.depth"] == "18.1"  # by whole millimetres
    assert Fraction(changes["level", "wire.pin_length"]) < 8 and ("frame", "rings.level_spacing") not in changes
    assert solve(parse_design(text.replace("17.1", "17.68"))).solutions
    assert not solve(parse_design(text.replace("17.1", "17.67"))).solutions


def test_without_wire_no_level_is_too_thin():
    assert solve(parse_design(two(1, ""))).solutions


def test_the_judge_says_what_is_missing():
    design = parse_design(two(8).replace("directions = 6", 'directions = "none"'))
    (told,) = (one for one in judge(design, TRAIN).violations if one.rule == "level")
    assert told.where == "link 0" and told.short_mm == pytest.approx(PINS - 8, abs=0.002)
    assert "pins of 8.174 mm and pins of 8.174 mm overlap on their arbor" in told.text
    assert "a rings.level_spacing of 8.175 mm would do" in told.text


@pytest.mark.deep
def test_search_judge_and_enumeration_tell_the_same_of_random_lengths():
    rng, seen = random.Random(7), set()
    for _ in range(300):
        third = rng.choice(("pins", "teeth"))
        design = parse_design(two(rng.choice((6, 8, 9, 10, 12)), "[wire]\n"))
        length = rng.choice((None, Fraction(rng.randint(50, 160), 10)))
        design = replace(design, wire=replace(design.wire, pin_length=length, third=third))
        design = replace(design, fit=replace(design.fit, directions=None, clearance=Fraction(rng.randint(0, 40), 10)))
        levels = levels_of(design)
        for kind in ("plain", "third-wheel", "third-both"):
            link = Link(kind, 15, 9, (8,) * KIND_BY_NAME[kind].thirds)
            broken = "level" in {one.rule for one in judge(design, Train((24, 30), (0, 1), (link,))).violations}
            allowed = levels.link(KIND_BY_NAME[kind]) and least_step(design) <= 6
            assert broken != allowed == link_holds(design, 24, 30, link)
            seen.add((broken, kind))
    assert len(seen) == 6


def test_the_constraint_allows_the_kinds_that_fit():
    rule = WithinLevel(frozenset({0}))
    plain, third = Choice(0, 15, 9, 0, 0, 39, 54), Choice(1, 15, 9, 8, 0, 39, 54)
    assert rule.allows(24, 30, plain) and not rule.allows(24, 30, third)
    assert not WithinLevel(frozenset({0}), 7).allows(24, 30, plain)
