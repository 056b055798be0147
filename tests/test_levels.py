"""Rule `level`: what is too thick for its level, told alike by search, CP-SAT, judge and explain."""

import random
import tomllib
from dataclasses import replace
from fractions import Fraction

import pytest
from brute_running import levels_hold

from constraints.level import WithinLevel
from constraints.link import Choice
from solver import judge, parse_design, solve
from solver.answer.prove import prove
from solver.design.links import KIND_BY_NAME, KINDS
from solver.design.train import Link, Train
from solver.files.text import exact_float
from solver.search.levels import levels_of
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
def test_levels_as_deep_as_the_thickest_part_and_the_clearance_are_enough(wire, rollers, least):
    for more, fits in ((0.01, True), (-0.01, False)):
        design = parse_design(two(round(least + more, 3), wire, rollers))
        levels = levels_of(design)
        assert (levels.rings and levels.link(KIND_BY_NAME["plain"])) == fits == levels_hold(design)
        assert float(levels.need_mm) == pytest.approx(least, abs=0.002)
        told = (
            judge(replace(design, fit=replace(design.fit, rollers=None, directions=None)), TRAIN)
            if not rollers
            else None
        )
        assert told is None or ("level" in {one.rule for one in told.violations}) != fits


TRAIN = Train((24, 30), (0, 1), (Link("plain", 15, 9, ()),))


def test_pins_must_leave_a_ring_room_between_their_loops():
    for length, fits in ((6.18, True), (6.16, False)):  # 2 x 1.628 + 2.919 = 6.175
        design = parse_design(two(14, f"[wire]\npin_length = {length}\n"))
        assert any(map(levels_of(design).link, KINDS)) == fits == levels_hold(design)
        free = replace(design, fit=replace(design.fit, directions=None))
        assert ("level" in {one.rule for one in judge(free, TRAIN).violations}) != fits
        assert fits or levels_of(design).need_mm is None


def test_nothing_fits_is_proven_twice_and_what_spacing_would_do_is_said():
    text = two(9)
    design = parse_design(text)
    answer = solve(design)
    assert not answer.solutions and answer.proven
    proofs = prove(design, answer.solutions, answer.front, NoStop())
    assert [one.outcome for one in proofs.proofs] == ["confirmed"]
    found = explain(tomllib.loads(text, parse_float=exact_float))
    changes = {(one.rule, one.field): one.then for item in found.loosenings for one in item.changes}
    assert changes[("level", "rings.level_spacing")] == "9.175"
    assert solve(parse_design(two(9.175))).solutions


def test_pins_that_are_too_short_are_named():
    found = explain(tomllib.loads(two(14, "[wire]\npin_length = 5\n"), parse_float=exact_float))
    assert ("level", "wire.pin_length") in {(one.rule, one.field) for one in found.conflict}
    changes = {one.field: one.then for item in found.loosenings for one in item.changes}
    assert changes["wire.pin_length"] == "6.175"


def test_without_wire_no_level_is_too_thin():
    assert solve(parse_design(two(1, ""))).solutions


def test_the_judge_says_what_is_missing():
    design = replace(parse_design(two(9)), fit=replace(parse_design(two(9)).fit, directions=None))
    (told,) = (one for one in judge(design, TRAIN).violations if one.rule == "level")
    assert told.where == "link 0" and told.short_mm == pytest.approx(PINS + 1 - 9, abs=0.002)
    assert "pins of 8.174 mm, levels leave 8 mm; a rings.level_spacing of 9.175 mm would do" in told.text


def test_search_and_judge_tell_the_same_of_random_lengths():
    rng, seen = random.Random(7), set()
    for _ in range(300):
        third = rng.choice(("pins", "teeth"))
        design = parse_design(two(rng.choice((6, 8, 9, 10, 12)), "[wire]\n"))
        length = rng.choice((None, Fraction(rng.randint(50, 110), 10)))
        design = replace(design, wire=replace(design.wire, pin_length=length, third=third))
        design = replace(design, fit=replace(design.fit, directions=None, clearance=Fraction(rng.randint(0, 30), 10)))
        levels = levels_of(design)
        for kind in ("plain", "third-wheel", "third-both"):
            thirds = (8,) * KIND_BY_NAME[kind].thirds
            train = Train((24, 30), (0, 1), (Link(kind, 15, 9, thirds),))
            broken = "level" in {one.rule for one in judge(design, train).violations}
            assert broken != levels.link(KIND_BY_NAME[kind])
            seen.add(broken)
    assert seen == {True, False}


def test_the_constraint_allows_the_kinds_that_fit():
    rule = WithinLevel(frozenset({0}))
    plain, third = Choice(0, 15, 9, 0, 0, 39, 54), Choice(1, 15, 9, 8, 0, 39, 54)
    assert rule.allows(24, 30, plain) and not rule.allows(24, 30, third)
