"""How far gears reach as made: search and judge against each other and against lengths worked out by hand."""

import math
import random
from dataclasses import replace
from fractions import Fraction

import pytest

from solver import judge, parse_design, solve
from solver.check.made import between_of, most_of, reach_of, rim_of
from solver.design.train import Link, Train
from solver.search.place.measures import Measures
from solver.search.reaches import BEHIND, GEAR, THIRD, UNIT, Reaches, gap_of

ROLES = {GEAR: "gear", THIRD: "third gear", BEHIND: "behind"}

# Two rings of a model that has been built (common practice, no source): pitch 1 in, addendum 0.42 in, rim 0.5 in; the
# wheel of 10 behind a third gear of 14, the arbor at 72 + 7 teeth.
LAST = """
units = "in"
[[bodies.list]]
name = "a"
period = 1
[[bodies.list]]
name = "b"
period = "1.56"
sense = "either"
[rings]
teeth = [66, 72]
tooth_pitch = 1
addendum = 0.42
rim = 0.5
level_spacing = 0.5
[arbors]
wheel_teeth = 10
pinion_teeth = 7
third_teeth = 14
third_gears = 1
[fit]
clearance = 0.02
directions = "none"
[search]
max_error_pct = 50
"""
WIRE = """
[wire]
loop = {loop}
tooth = {tooth}
pin = 0.063
pin_length = 0.479
third = "{third}"
"""


def last(third: str | None) -> str:
    return LAST + ("" if third is None else WIRE.format(third=third, loop=0.125, tooth=0.09375))


def test_pins_behind_a_third_gear_clear_the_ring_that_teeth_would_hit():
    """The pitch circles of ring 66 and wheel 10 are 3 teeth apart, 12.13 mm: less 10.67 mm of the ring's teeth and
    0.8 mm of half a pin, 0.65 mm are left; of teeth on both, 9.21 mm are missing."""
    free = 3 * 25.4 / (2 * math.pi) - 0.42 * 25.4
    assert free - 0.8 == pytest.approx(0.65, abs=0.01) and free - 0.42 * 25.4 == pytest.approx(-9.21, abs=0.01)
    link = Link("third-wheel", 10, 7, (14,))
    for third, fits in ((None, False), ("pins", False), ("teeth", True)):
        design = parse_design(last(third))
        assert (gap_of(design) <= 3) == fits
        broken = {one.rule for one in judge(design, Train((66, 72), (0, 1), (link,))).violations}
        assert ("third" in broken) != fits, third
    # The clearance decides: 0.02 in are 0.51 mm and fit, 0.03 in are 0.76 mm and do not.
    tight = parse_design(last("teeth").replace("clearance = 0.02", "clearance = 0.03"))
    assert gap_of(tight) == 4


def test_what_a_plain_disc_hides_is_found():
    assert not solve(parse_design(last(None))).solutions
    found = solve(parse_design(last("teeth")))
    assert found.proven and [one.links[0].thirds for one in found.solutions] == [[14]]


@pytest.mark.parametrize("form", ["saw", "curved", "involute", "cycloidal"])
@pytest.mark.parametrize("third", ["pins", "teeth"])
def test_search_and_judge_tell_the_same(form, third):
    if third == "teeth" and form != "saw":
        pytest.skip("third gears of this form have no teeth of their own")
    rng = random.Random(form)
    sizes = "sheet = 2\n" if form in ("involute", "cycloidal") else f'third = "{third}"\n'
    for _ in range(30):
        rings = sorted(rng.sample(range(20, 90), 2))
        text = last(None).replace("teeth = [66, 72]", f"teeth = {rings}")
        text = text.replace("wheel_teeth = 10", "wheel_teeth = {min = 7, max = 14}")
        text = text.replace("addendum = 0.42", f"addendum = {rng.choice((0, 0.25, 0.3333, 0.42))}")
        text = text.replace("rim = 0.5", f"rim = {rng.choice((0, 0.6))}")
        design = parse_design(text + f'[wire]\nform = "{form}"\n{sizes}')
        reaches = Reaches(design)
        assert reaches.rim == rim_of(design)
        assert reaches.ring + reaches.beyond(BEHIND) == between_of(design)
        assert reaches.most == most_of(design)
        for role, told in ROLES.items():
            for teeth in (14,) if role == THIRD else range(7, 15):
                assert reach_of(design, told, teeth) * 1000 == reaches.size(role, teeth) % UNIT, (role, teeth)


def test_sizes_add_up():
    design = parse_design(last("teeth"))
    measures = Measures(replace(design, fit=replace(design.fit, clearance=Fraction(1))))
    gear, third = measures.gear(GEAR, 10), measures.gear(THIRD, 14)
    far = 24 * 25.4 / (2 * math.pi) + 0.8 + 0.21 * 25.4 + 1  # half a pin, short teeth, the clearance
    assert math.sqrt(measures.gears(gear + third)) == pytest.approx(far * 1000, abs=1.1)


def test_without_wire_all_are_discs_of_one_addendum():
    design = parse_design(last(None))
    reaches = Reaches(design)
    assert {reaches.size(role, 9) for role in ROLES} == {9 * UNIT}
    assert reaches.tip == reaches.ring == design.rings.addendum and reaches.rim == design.rings.rim
