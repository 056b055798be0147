"""Models of hand-bent wire as they are built: common practice, no published source."""

from __future__ import annotations

import math
import re
from fractions import Fraction

import pytest
from armed import ten_links
from auditing import link, rings
from gears_drawn import sizes, spec
from shipped import PLAIN
from trains import ratio_of

from solver import Link, Train, judge, load_design, parse_design, solve
from solver.answer.audit import find_places
from solver.check.audit import audit_rings
from solver.design.train import LinkPlace, Placement
from solver.design.train_data import RingTrain
from solver.files.train_file import parse_train
from solver.forms import FORMS
from solver.forms.cycloidal import recess
from solver.search.options.candidates import Candidates
from solver.search.stop import NoStop
from solver.sheets.gears.inventory import inventory
from solver.sheets.stock.cuts import cut_list, joints_of


@pytest.mark.parametrize(
    ("teeth", "link", "ratio"),
    [((18, 24), Link("plain", 13, 7), Fraction(52, 21)), ((66, 72), Link("plain", 10, 7), Fraction(120, 77))],
    ids=["2.476", "1.56"],
)
def test_plain_links_between_neighbours_have_their_exact_ratio(teeth, link, ratio):
    assert ratio_of(teeth, link) == ratio


def test_a_plain_link_between_trade_rings():
    # Between rings of 18 and 24 teeth the link is 13/7; 12/7 has no arbor.
    text = """
[bodies]
list = [{name = "a", period = 1}, {name = "b", period = "52/21"}]
[rings]
teeth = [18, 24]
[fit]
directions = "none"
"""
    design = parse_design(text)
    assert judge(design, Train((18, 24), (0, 1), (Link("plain", 13, 7),))).error_square == 1
    verdict = judge(design, Train((18, 24), (0, 1), (Link("plain", 12, 7),)))
    assert [violation.rule for violation in verdict.violations] == ["reverted"]


def test_a_wrong_sum_is_found_and_put_right():
    # 18 and 24 teeth with 13/7 give 52/21 = 2.476; 2.467 has two digits exchanged.
    audit = rings("[train]\nrings = [18, 24]\n" + link(13, 7, 'ratio = "2.467"'))
    (claim,) = audit.claims
    assert (claim.value, claim.verdict, claim.due) == (Fraction(52, 21), "wrong", "2.476")
    assert not audit.findings and not audit.sound
    assert rings("[train]\nrings = [18, 24]\n" + link(13, 7, 'ratio = "2.476"')).sound


def test_contact_after_the_line_of_centres() -> None:
    # Pinions of 10 and more leaves can be driven wholly after the line of centres with full epicycloids, fewer cannot
    # (common practice, no source); the shortened tips of BS 978-2 move that to about 12.
    assert recess(60, 6) < recess(80, 8) < recess(100, 10) < 1 < recess(140, 14)


def test_four_pins_turn_a_large_ring_smoothly() -> None:
    # "A pinion of four pins still turns a large ring smoothly": with usual proportions and
    # a pitch of one inch it strays less than a tenth of a tooth and never lets go.
    given = sizes("", "tooth_pitch = 25.4")
    pairing = FORMS["saw"].pair(given, spec("ring", 66, "saw teeth", 4), spec("gear", 4, "pins", 66))
    assert pairing.remarks == ()
    uneven = next(f.value for f in pairing.figures if f.what.startswith("unevenness"))
    assert uneven < 0.1 * 25.4


@pytest.mark.deep
def test_a_ten_ring_model_of_hand_bent_wire() -> None:
    """About 1000 solder joints, 400 ft of wire, one jig for every gear size, one to three holes a tooth (common
    practice, no source; how the wire of such a model is counted is not told, so the bounds are wide)."""
    design = load_design(PLAIN / "solar-system-1-thirds.toml")
    stock = inventory(design, solve(design).trains(design)[0])
    assert len(stock.train.rings) == 10 and stock.sizes.pitch_mm == pytest.approx(25.4)
    made = cut_list(stock)
    cuts, plans = made.cuts, made.plans
    joints = sum(count for _, count in joints_of(stock, cuts))
    assert 700 < joints < 1400
    net_ft = sum(cut.count * cut.net_mm for cut in cuts) / 304.8
    bought_ft = sum(plan.packing.total_mm for plan in plans) / 304.8
    assert 130 < net_ft <= bought_ft < 400
    assert len(stock.jigs) == len({(made.gear.kind, made.gear.teeth) for made in stock.gears})
    for jig in stock.jigs:
        assert 1 <= (len(jig.holes) - 1) / jig.teeth <= 3


# -- the corner of a frame ---------------------------------------------------------------------------------------------

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
    design = parse_design(text)
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


@pytest.mark.parametrize(("addendum", "direction", "most"), [(0, 45, 18), (0, 0, 6), (12.7, 45, 16), (12.7, 0, 4)])
def test_how_large_the_outermost_wheel_may_be(addendum, direction, most):
    """Rings of 18 to 72 teeth by 6, pitch 25.4 mm, square frame of 635 mm (computed):
    r = 25.4/(2 pi) = 4.0425 mm a tooth, 317.5 mm to the side. In the corner (66 + a) cos 45 + a teeth must fit, at the
    side 66 + 2 a: 18 and 6 teeth with addendum 0, 16 and 4 with 12.7 mm (which is pi teeth). At a side no plain link
    remains, since its pinion would have none or less."""
    tooth, half = 25.4 / (2 * math.pi), 317.5 - addendum
    cosine = math.cos(math.radians(direction))
    assert most == math.floor((half / tooth - 66 * cosine) / (1 + cosine))
    assert "frame" not in last_link(addendum, direction, most)
    assert "frame" in last_link(addendum, direction, most + 1)
    design = parse_design(CORNER.format(rings=list(RINGS[-2:]), addendum=addendum, directions=[direction]))
    wheels = [one.wheel for one in Candidates(design).between(66, 72)]
    assert max(wheels, default=None) == (most if most - 6 >= 3 else None)


@pytest.mark.parametrize(("addendum", "short"), [(0, 22.984), (12.7, 35.684)])
def test_a_wheel_of_22_is_refused_in_the_corner(addendum, short):
    broken = last_link(addendum, 45, 22)
    assert list(broken) == ["frame"]
    tooth = 25.4 / (2 * math.pi)
    assert broken["frame"] == pytest.approx(88 * tooth * math.sqrt(0.5) + 22 * tooth + addendum - 317.5, abs=1e-3)
    assert broken["frame"] == pytest.approx(short, abs=1e-3)


# Ten rings as they have been built and run for years (common practice, no source): 18 to 72 teeth by 6, an inch apart;
# saw teeth about an inch on an edge, wire 3/32 in on loops of 1/8 in; levels half an inch apart, gears of 4 to 17 pins,
# a frame of 25 in; the last link 10/7 with a third gear of 14. The links between are chosen here.
TEN = """
units = "in"
[bodies]
set = "planets"
sense = "either"
[[bodies.list]]
name = "Pluto"
period = 90560
[rings]
{rings}
tooth_pitch = 1
addendum = 0.42
rim = 0.5
level_spacing = 0.5
{arbors}
[fit]
frame = {{shape = "square", side = 25, depth = 8}}
clearance = 0.02
directions = 180
post_radius = 0.06
[wire]
loop = 0.125
tooth = 0.09375
pin = 0.063
pin_length = 0.479
jig_pin = 0.08
third = "teeth"
"""


def ten_rings(clearance: str = "0.02", third: str = "teeth", **lengths: str) -> RingTrain:
    """The train, to be audited. lengths: that the file has otherwise."""
    text = TEN.format(rings="", arbors="").replace("clearance = 0.02", f"clearance = {clearance}")
    text = text.replace('third = "teeth"', f'third = "{third}"')
    for name, length in lengths.items():
        text, count = re.subn(rf"\b{name} = [\d.]+", f"{name} = {length}", text)
        assert count == 1
    return parse_train(text + ten_links())


def test_ten_rings_as_built_break_no_rule_of_fit_and_have_places():
    given = ten_rings()
    audit = audit_rings(given)
    assert audit.findings == () and audit.meshes is not None and len(audit.meshes) == 19
    # "They still turn relatively smoothly": four pins and more stray at most a twentieth of a pitch.
    assert max(mesh.uneven for mesh in audit.meshes) < 0.05 and min(mesh.play_mm for mesh in audit.meshes) > 1
    places = find_places(given, NoStop()).found
    assert places is not None
    placed = audit_rings(given, places)
    assert placed.findings == () and placed.train.placement is not None


def level_of(given: RingTrain, places: bool = True) -> dict[str, float | None]:
    """Where the train breaks the rule `level`, and by how much [in], at places that keep all other rules."""
    found = find_places(given, NoStop()).found
    assert (found is not None) == places
    audit = audit_rings(given, found)
    assert {one.rule for one in audit.findings} <= {"level"}
    return {one.where: (one.short_mm or 0) / 25.4 for one in audit.findings}


def test_the_longest_pins_of_ten_rings_half_an_inch_apart():
    """Pins of 7/8 in, the longest that were built (common practice, no source), cannot stand in the middle of levels
    1/2 in apart: wheel and pinion of one arbor, both with pins, overlap by 3/8 in. Pins as long as the spacing touch
    there, and turn together; everywhere else they find places with the clearance of 1/50 in."""
    assert level_of(ten_rings(pin_length="0.5")) == {}
    links = {f"link {index}" for index in range(9)}
    assert level_of(ten_rings(pin_length="0.501")) == dict.fromkeys(links, pytest.approx(0.001))
    long = audit_rings(ten_rings(pin_length="0.875"))
    assert {one.where for one in long.findings if one.rule == "level"} >= links
    assert max(one.short_mm or 0 for one in long.findings) == pytest.approx(0.375 * 25.4)
    assert find_places(ten_rings(pin_length="0.875"), NoStop()).found is None


def test_pins_of_seven_eighths_stand_on_levels_as_far_apart():
    """Ten levels of 7/8 in, and the clearance beyond the pins on the first and on the last: 8.77 in of depth."""
    assert level_of(ten_rings(pin_length="0.875", level_spacing="0.875", depth="8.77")) == {}
    assert find_places(ten_rings(pin_length="0.875", level_spacing="0.875", depth="8.76"), NoStop()).found is None
    assert "link 0" in level_of(ten_rings(pin_length="0.875", level_spacing="0.87", depth="9"))


def test_with_teeth_behind_the_third_gear_the_last_link_hits_its_ring():
    """As wheels and pinions of one addendum would: 0.36 in and the clearance are missing."""
    (found,) = audit_rings(ten_rings(third="pins")).findings
    assert (found.rule, found.where) == ("third", "link 8") and found.short_mm == pytest.approx(
        (0.3625 + 0.02) * 25.4, abs=0.02
    )


@pytest.mark.slow
def test_what_is_proven_of_ten_rings_is_no_worse_than_what_was_built():
    arbors = "[arbors]\n" + "".join(f"{name}_teeth = {{min = 4, max = 17}}\n" for name in ("wheel", "pinion", "third"))
    text = TEN.format(rings="inner_teeth = 18\ntooth_step = 6\nblanks = 1", arbors=arbors + "third_gears = 1")
    design = parse_design(text.replace("directions = 180", "directions = 72") + "[search]\nkeep = 1\n")
    answer = solve(design)
    built = audit_rings(ten_rings()).verdict.worst_error
    assert answer.proven and answer.solutions[0].worst_error_pct < 100 * built
    assert answer.solutions[0].worst_error_pct == pytest.approx(5.8762, abs=1e-4)  # our own figure
    stock = inventory(design, answer.trains(design)[0])
    assert not [remark for remark in stock.remarks if not remark.runs]
