"""The rule `run` in the judge for curved, clock and involute teeth: its own turning agrees with the search's and with
shapely's; teeth are judged as they are made, for all that a gear works with."""

from __future__ import annotations

import cmath
import math
import random
from dataclasses import replace

import pytest
from turned_by_shapely import Pair, turned_plates

from solver import Design, Link, Train, parse_design
from solver.check import running
from solver.check.gear_lengths import lengths_of
from solver.check.running import meshes, run_of
from solver.check.running_clock import _Side, clock_tooth
from solver.check.running_curved import CurvedTeeth
from solver.check.running_involute import contact, involute_from
from solver.forms import FORMS
from solver.forms.form import Spec, sizes_of
from solver.search.runs import RunningPairs
from solver.sheets.gears.gears import gears_of, specs_of

FORMS_MADE_FOR_MATES = ("curved", "cycloidal")
NEW = (*FORMS_MADE_FOR_MATES, "involute")


def design_of(form: str, rings: str, wire: str = "", uneven: float = 0.15) -> Design:
    table = f'form = "{form}"\n{wire}'
    return parse_design(f'[bodies]\nset = "saturn"\n[rings]\n{rings}\n[fit]\nunevenness = {uneven}\n[wire]\n{table}')


def random_made(rng: random.Random, form: str) -> Design:
    pitch, uneven = rng.choice((9, 12, 15)), rng.choice((0.01, 0.03, 0.1, 0.15))
    rings = f"tooth_pitch = {pitch}\naddendum = {pitch * rng.uniform(0.15, 0.5):.2f}\n"
    rings += f"rim = {pitch * rng.uniform(0.3, 0.9):.2f}"
    if FORMS[form].plate:
        wire = f"sheet = {rng.choice((1, 2, 4))}\nhub_diameter = {rng.choice((8, 11, 16))}\narbor_diameter = 6"
    else:
        wire = f"tooth = {rng.choice((0.8, 1.29, 1.6))}\npin = {rng.choice((1.2, 1.63, 2.5, 4))}\n"
        wire += f"jig_pin = {rng.choice((1.5, 2))}\nhub_diameter = {rng.choice((7, 8))}"
    return design_of(form, rings, wire, uneven)


def random_gears(rng: random.Random) -> tuple[str, int, int, int]:
    """Kind and teeth of a ring or a gear behind a third gear, a mate, and what it is made for, which is no larger."""
    kind = "ring" if rng.random() < 0.6 else "gear"
    teeth = rng.randint(18, 70) if kind == "ring" else rng.randint(7, 24)
    mate = rng.randint(4, 24)
    return kind, teeth, mate, rng.randint(4, mate) if rng.random() < 0.5 else mate


def both(form: str, kind: str, teeth: int, mate: int, served: int) -> tuple[Spec, Spec]:
    roles = FORMS[form].roles("pins")
    one, other = roles.ring, roles.gear
    return Spec(kind, teeth, one, tuple(sorted({served, mate}))), Spec("gear", mate, other, (teeth,))


@pytest.mark.slow
@pytest.mark.parametrize("form", NEW)
@pytest.mark.parametrize("many", [40, pytest.param(400, marks=pytest.mark.deep)])
def test_the_judge_says_of_a_pair_what_its_form_says(form, many):
    rng, ran, close = random.Random(f"{form} {many}"), 0, 0
    for number in range(many):
        design, (kind, teeth, mate, served) = random_made(rng, form), random_gears(rng)
        sizes, specs = sizes_of(design), both(form, kind, teeth, mate, served)
        made = not any(FORMS[form].outline(sizes, spec).unmade for spec in specs)
        found = run_of(design, "", teeth, kind == "ring", mate, (served,))
        told = (form, many, number, design.rings, design.wire, kind, teeth, mate, served, found)
        assert made == (not found.fault.startswith("cannot be made")), told
        if not made:
            continue
        run, pitch = FORMS[form].run(sizes, *specs), sizes.pitch_mm
        spare, most = 0.004 * pitch, float(design.unevenness) * pitch
        if run.within(most) != (found.fault == ""):
            # The two may differ where a pair is within a hair of its limits.
            near = abs(run.backlash) < spare or abs(run.uneven - most) < spare or abs(run.tips_mm) < 1e-5
            assert near or run.slips or "slips" in found.fault, told
            close += 1
        if not run.jams and not run.slips and not found.fault.startswith(("jams", "slips")):
            assert found.play_mm == pytest.approx(run.backlash, abs=0.01 * pitch), told
            # Its steps miss what is worst by 0.005 of a pitch at most, of curved gears with few teeth.
            assert found.uneven * pitch == pytest.approx(run.uneven, abs=0.005 * pitch), told
            ran += found.fault == ""
    assert ran > many / 8 and close <= many / 10, (ran, close)


@pytest.mark.deep
@pytest.mark.parametrize("form", NEW)
@pytest.mark.parametrize("many", [8, 60])
def test_what_the_search_takes_to_run_the_judge_takes_whatever_shares_the_teeth(form, many):
    rng, pairs = random.Random(f"shared {form} {many}"), 0
    for _ in range(many):
        design = random_made(rng, form)
        small = tuple(sorted(rng.sample(range(4, 25), 6)))
        found = RunningPairs(
            FORMS[form], sizes_of(design), FORMS[form].roles("pins"), float(design.unevenness), small, small
        )
        for kind, teeth in [("ring", rng.randint(18, 70)) for _ in range(2)] + [("gear", rng.randint(8, 24))]:
            good = [mate for mate in small if (found.ring_runs if kind == "ring" else found.gears_run)(teeth, mate)]
            for mate in good:
                for served in good:
                    told = (design.rings, design.wire, kind, teeth, mate, served)
                    assert run_of(design, "", teeth, kind == "ring", mate, (served,)).fault == "", told
                    pairs += 1
    assert pairs > 8 * many, pairs


@pytest.mark.slow
@pytest.mark.parametrize("first", [0, pytest.param(30, marks=pytest.mark.deep)])
def test_the_judge_says_of_drawn_curved_teeth_what_shapely_says(first):
    rng, ran = random.Random(f"curved {first}"), 0
    for number in range(first, 3 * first or 12):
        design, (kind, teeth, mate, served) = random_made(rng, "curved"), random_gears(rng)
        sizes, specs = sizes_of(design), both("curved", kind, teeth, mate, served)
        found = run_of(design, "", teeth, kind == "ring", mate, (served,))
        if found.fault.startswith("cannot") or "hub" in found.fault:
            continue
        turned = Pair(sizes, FORMS["curved"].shape(sizes, specs[0]).outline[0], teeth, mate).run()
        told = (number, design.rings, design.wire, kind, teeth, mate, served, found, turned)
        if turned.jams or turned.play < -0.01:
            assert found.fault.startswith("jams") or found.play_mm < 0.01 * sizes.pitch_mm, told
        elif not turned.slips and turned.caught < 0.01 and not found.fault.startswith("slips"):
            assert found.play_mm == pytest.approx(turned.play * sizes.pitch_mm, abs=0.02 * sizes.pitch_mm), told
            assert found.uneven == pytest.approx(turned.uneven, abs=0.02), told
            ran += 1
    assert ran >= 4, ran


@pytest.mark.slow
@pytest.mark.parametrize("first", [0, pytest.param(12, marks=pytest.mark.deep)])
def test_the_judge_says_of_drawn_clock_teeth_what_shapely_says(first):
    design = design_of("cycloidal", "module = 4\nrim = 12")
    sizes, rng, ran = sizes_of(design), random.Random(f"clock {first}"), 0
    for number in range(first, 3 * first or 4):
        teeth, mate = rng.randint(24, 60), rng.randint(6, 16)
        specs = both("cycloidal", "ring", teeth, mate, rng.randint(6, mate))
        found = run_of(design, "", teeth, True, mate, specs[0].mates)
        wheel, pinion = (FORMS["cycloidal"].shape(sizes, spec).outline[0] for spec in specs)
        turned = turned_plates(pinion, wheel, (mate, teeth), sizes.pitch_mm, 0.0)
        told = (number, specs, found, turned)
        if turned.jams:
            assert found.fault.startswith("jams"), told
            continue
        assert found.play_mm / sizes.pitch_mm == pytest.approx(turned.play, abs=0.004), told
        assert found.uneven == pytest.approx(turned.uneven, abs=0.004), told
        ran += 1
    assert ran >= 2, ran


# -- gears that work with several --------------------------------------------------------------------------------------


def test_every_form_has_a_twin_in_the_judge():
    assert set(running._FORMS) == set(FORMS)


def same_teeth(form: str) -> tuple[Design, Train]:
    """A train in which gears of 12 teeth are behind third gears of two sizes, and beside rings too."""
    links = (Link("third-wheel", 12, 8, (9,)), Link("plain", 14, 8), Link("third-wheel", 12, 9, (7,)))
    return design_of(form, "module = 5\nrim = 15"), Train((40, 46, 52, 58), (0, 1, 2, 3), links)


@pytest.mark.parametrize("form", ["saw", *NEW])
def test_a_mesh_is_judged_with_the_teeth_that_the_sheets_make(form):
    """Each pair of kinds of gear that the sheets list runs by the judge as it does by its form."""
    design, train = same_teeth(form)
    gears, sizes = gears_of(design, train), sizes_of(design)
    spec_of = {id(made): spec for spec, some in specs_of(gears).items() for made in some}
    wanted = []
    for index, made in enumerate(gears):
        for mate in made.mates:
            if mate > index:
                wanted.append(FORMS[form].run(sizes, spec_of[id(made)], spec_of[id(gears[mate])]))
    told = list(meshes(design, train))
    assert len(told) == len(wanted) == 8
    uneven = sorted(run.uneven / sizes.pitch_mm for run in wanted)
    assert sorted(mesh.uneven for mesh in told) == pytest.approx(uneven, abs=0.004)
    if form in FORMS_MADE_FOR_MATES:
        alone = [FORMS[form].run(sizes, *both(form, "ring", 46, 14, 14)).uneven, wanted[3].uneven]
        assert alone[0] != pytest.approx(alone[1], abs=1e-4 * sizes.pitch_mm)


def test_a_clock_gear_of_one_count_is_a_wheel_here_and_leaves_there():
    """Drawn as one, gears of 12 teeth would be wheels beside rings, whose tips have no room there."""
    design, train = same_teeth("cycloidal")
    made = {(spec.kind, spec.teeth, spec.toothing): spec for spec in specs_of(gears_of(design, train))}
    assert made["gear", 12, "clock teeth"].mates == (7, 9)
    assert made["ring", 52, "clock teeth"].mates == (7, 8) and made["gear", 9, "clock leaves"].mates == (12, 40, 58)
    assert all(mesh.fault == "" for mesh in meshes(design, train))
    shape = FORMS["cycloidal"].shape(sizes_of(design), made["gear", 9, "clock leaves"])
    assert not [remark for remark in shape.remarks if "wheel" in remark.text]


def test_teeth_for_fewer_leaves_lie_within_those_for_more():
    """What the search concludes from the lowest teeth and a pinion's own to those between."""
    for wheel in range(7, 91):
        for served in range(6, min(wheel - 1, 30)):
            low, high = (_Side(clock_tooth(wheel, (count,))) for count in (served, served + 1))
            assert low.tip < high.tip
            for index in range(1, 40):
                far = low.pitch + (low.tip - low.pitch) * index / 40
                assert low.wide(far) <= high.wide(far), (wheel, served, far)


def test_faults_are_told():
    curved, clock = (
        design_of("curved", "tooth_pitch = 12\nrim = 6", "pin = 4"),
        design_of("cycloidal", "module = 8\nrim = 20"),
    )
    assert "leaves no room" in run_of(curved, "", 40, True, 3).fault
    assert run_of(clock, "", 40, True, 5).fault == "slips: the clock form has at least 6 leaves"
    assert run_of(clock, "", 18, True, 18).fault.startswith("jams")
    assert "roots within its hub" in run_of(design_of("involute", "module = 2\nrim = 6"), "", 40, True, 7).fault
    thin = run_of(design_of("involute", "module = 4\nrim = 5"), "", 60, True, 20).fault
    assert "too little metal" in thin and "rings.rim" in thin
    rack = design_of("involute", "module = 4\nrim = 12")
    assert run_of(rack, "", 30, True, 8).fault.startswith("slips: contact lasts 0.91")
    assert run_of(rack, "", 48, True, 30).fault == ""
    fine = design_of("curved", "tooth_pitch = 15\naddendum = 6\nrim = 7.5", "pin = 3", uneven=0.001)
    assert run_of(fine, "", 40, True, 10).fault == ""
    assert run_of(fine, "", 40, True, 14, (10,)).fault == "hunts 0.00261 of a pitch; at most 0.001"


def test_undercut_takes_contact_from_few_teeth():
    # 2 / sin(20 degrees)**2 = 17.097: below it the involute begins off the base circle (any handbook).
    assert involute_from(12) > 6 * 0.93969 + 0.01 and contact(12, 12) < contact(18, 18)


def test_the_curve_of_the_judge_is_that_of_lantern_teeth():
    # Worked out by hand: module 2, 24 teeth, 8 pins of 0.4 pitches, the pin 30 degrees past the line of centres: its
    # middle 25.3889 mm off at 0.9353 degrees, the flank 24.9029 mm off at 3.5762.
    pin = 0.4 * 2 * math.pi
    made = replace(lengths_of(design_of("curved", "module = 2\nrim = 6\naddendum = 5")), pin=pin, tooth=0.1)
    teeth = CurvedTeeth(made, 24, True, 8)
    aside = math.degrees(0.05 * made.pitch / 2 / 24)  # half of the play that gears are made with
    middle, flank = teeth._pin(math.radians(30)), teeth._inside(math.radians(30), pin / 2)
    assert (abs(middle), math.degrees(cmath.phase(middle)) - aside) == pytest.approx((25.3889, 0.9353), abs=5e-5)
    assert (abs(flank), math.degrees(cmath.phase(flank)) - aside) == pytest.approx((24.9029, 3.5762), abs=5e-5)


@pytest.mark.parametrize(("teeth", "pins"), [(18, 8), (24, 8), (30, 18), (50, 6), (72, 24), (66, 10)])
def test_curved_teeth_drive_their_own_pins_evenly_by_the_judge_too(teeth, pins):
    wire = "pin = 4\nhub_diameter = 7"
    design = design_of("curved", "tooth_pitch = 25.4\naddendum = 10.668\nrim = 12.7", wire, uneven=0.001)
    found = run_of(design, "", teeth, True, pins)
    assert found.fault == "" and found.uneven < 0.001 and found.play_mm == pytest.approx(0.05 * 25.4, abs=1e-4)
