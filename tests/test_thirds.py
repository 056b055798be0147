"""Third gears with short teeth, `wire.third = "teeth"`: judged, searched, told and drawn."""

from __future__ import annotations

import json
import random
from collections import Counter
from math import cos, hypot, radians, sin

import pytest
from test_broken_files import run
from test_run_judge import random_wired

from solver import Link, Train, judge, parse_design, solve
from solver.answer.document import Answer, train_of
from solver.check.running import meshes, run_of, third_run
from solver.design.design import Design
from solver.forms import FORMS
from solver.forms.form import Spec, sizes_of
from solver.forms.pins import SHORT
from solver.search.runs import runs_of
from solver.sheets.book.running import names_of
from solver.sheets.gears.adjust import meshes_of
from solver.sheets.gears.inventory import Inventory, inventory
from solver.sheets.gears.teeth import proposed_teeth

FORM = FORMS["saw"]
ROLES = FORM.roles("teeth")
REVERSED = """
title = "reversed"
units = "in"
bodies.list = [{name = "A", period = 1}, {name = "B", period = 2}, {name = "C", period = 5, sense = "reverse"}]
[rings]
inner_teeth = 30
tooth_step = 8
tooth_pitch = 1
addendum = 0.42
rim = 0.5
level_spacing = 0.75
[arbors]
wheel_teeth = {min = 10, max = 24}
pinion_teeth = {min = 8, max = 20}
third_gears = 1
third_teeth = {min = 12, max = 16}
[fit]
frame = {shape = "square", side = 60}
[wire]
third = "teeth"
tooth = 0.09375
loop = 0.125
pin = 0.0625
jig_pin = 0.079
[drive]
motor_rpm = [2, 5]
pinion_teeth = {min = 8, max = 12}
[search]
max_error_pct = 30
keep = 3
"""


@pytest.fixture(scope="module")
def solved() -> tuple[Design, Answer, Train, Inventory]:
    design = parse_design(REVERSED)
    answer = solve(design)
    train = train_of(design, answer.solutions[0])
    return design, answer, train, inventory(design, train)


# -- judge and search --------------------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("many", [12, pytest.param(1000, marks=pytest.mark.deep)])
def test_what_the_search_takes_to_run_the_judge_takes_too(many: int) -> None:
    """Both meshes of random third gears: the judge turns them in steps, which only ever miss what is worst."""
    rng, ran, close = random.Random(3), Counter[str](), 0
    for number in range(many):
        design = random_wired(rng)
        sizes, uneven = sizes_of(design), float(design.unevenness)
        ring, third, behind = rng.randint(18, 70), rng.randint(5, 24), rng.randint(5, 24)
        for sort, one, found in (
            (ROLES.third_at_ring, ring, third_run(design, "", ring, third)),
            (ROLES.behind_third, behind, run_of(design, "", third, False, behind, short=True)),
        ):
            specs, told = sort.specs(one, third), (number, sort, one, third, design.rings, design.wire, found)
            made = not any(FORM.outline(sizes, spec).unmade for spec in specs)
            assert made == (not found.fault.startswith("cannot be made")), told
            if not made:
                continue
            table = FORM.table(sizes, sort, (one,), (third,), uneven)
            run, spare = table.runs[one, third], 0.004 * sizes.pitch_mm
            if (one, third) in table.spans:
                ran[sort.kind] += 1
                assert found.fault == "", told
            elif not found.fault:
                assert run.backlash < spare or run.slips or run.uneven > uneven * sizes.pitch_mm - spare, told
                close += 1
            if not run.slips and not run.jams:
                assert found.play_mm == pytest.approx(run.backlash, abs=0.02 * sizes.pitch_mm), told
                assert found.uneven * sizes.pitch_mm == pytest.approx(run.uneven, abs=0.02 * sizes.pitch_mm), told
    assert ran["ring"] >= many / 20 and ran["gear"] >= many / 20 and close < many / 20, (ran, close)


def test_the_judge_looks_at_the_third_gear_as_it_is_made() -> None:
    """With pins behind it, and teeth at the ring; the same train with third gears of pins runs too, but differently."""
    short, pins = parse_design(REVERSED), parse_design(REVERSED.replace('third = "teeth"', 'third = "pins"'))
    train = Train((30, 38, 46), (0, 1, 2), (Link("plain", 24, 16), Link("third-pinion", 24, 10, (16,))))
    found, other = ({mesh.where: mesh for mesh in meshes(design, train)} for design in (short, pins))
    at_ring, behind = "ring 2 with third gear at pinion of link 1", "pinion of link 1 with its third gear"
    assert list(found) == list(other) and not any(mesh.fault for mesh in found.values())
    assert found[at_ring].play_mm < 2 < other[at_ring].play_mm
    assert {where for where in found if found[where] != other[where]} == {at_ring, behind}
    small = Train((30, 38, 46), (0, 1, 2), (Link("plain", 24, 16), Link("third-pinion", 24, 5, (6,))))
    said = [str(one) for one in judge(short, small).violations if one.rule == "run"]
    assert any(one.startswith(f"run: {behind}: ") for one in said), said


@pytest.mark.slow
def test_a_search_tells_third_gears_from_others() -> None:
    runs = runs_of(parse_design(REVERSED))
    assert runs is not None and runs.ring_runs(46, 16) and runs.third_runs(46, 16) and runs.gears_run(10, 16)
    found = {(ring, third) for ring in (30, 46) for third in range(12, 17) if runs.third_runs(ring, third)}
    assert found and found == {
        (ring, third)
        for ring in (30, 46)
        for third in range(12, 17)
        if not third_run(parse_design(REVERSED), "", ring, third).fault
    }


# -- told and made -----------------------------------------------------------------------------------------------------


def test_the_answer_says_what_third_gears_have(solved: tuple[Design, Answer, Train, Inventory]) -> None:
    design, answer, train, _ = solved
    assert any(link.thirds for link in train.links) and not judge(design, train).violations
    assert json.loads(answer.to_json())["third_toothing"] == "teeth"
    usual = parse_design(REVERSED.replace('third = "teeth"', 'third = "pins"'))
    assert usual.third_toothing == "pins" and usual.sha256() != design.sha256()
    plain = parse_design(REVERSED[: REVERSED.index("[wire]")])
    assert plain.third_toothing is None and "third_toothing" not in solve(plain).to_json()
    assert parse_design(REVERSED[: REVERSED.index("[wire]")] + '[wire]\nform = "involute"\n').third_toothing is None


@pytest.mark.slow
def test_a_third_gear_has_short_teeth_and_the_gear_behind_it_pins(
    solved: tuple[Design, Answer, Train, Inventory],
) -> None:
    design, _, train, stock = solved
    third = next(made for made in stock.gears if made.part == "third gear")
    ring, behind = (stock.gears[mate] for mate in third.mates)
    assert (ring.toothing, third.toothing, behind.toothing) == ("saw teeth", "short teeth", "pins")
    assert {made.toothing for made in stock.gears if made.part != "ring" and made is not third} == {"pins"}
    shape = next(shape for shape in stock.shapes if shape.spec.toothing == "short teeth")
    assert shape.tip_radius_mm == pytest.approx(stock.sizes.radius_mm(third.gear.teeth) + 0.21 * 25.4)
    assert all(mesh.running.even for mesh in meshes_of(design, train))


def test_a_jig_serves_pins_and_short_teeth_of_one_count(solved: tuple[Design, Answer, Train, Inventory]) -> None:
    *_, train, stock = solved
    teeth = next(link.thirds[0] for link in train.links if link.thirds)
    assert teeth == train.links[0].pinion, "the answer has another count now: draw another jig"
    jig = next(jig for jig in stock.jigs if jig.kind == "gear" and jig.teeth == teeth)
    assert Counter(hole.what for hole in jig.holes) == {"tip": teeth, "root": teeth, "pin": teeth, "centre": 1}
    places = [
        (hole.radius_mm * cos(radians(hole.angle_deg)), hole.radius_mm * sin(radians(hole.angle_deg)), hole.diameter_mm)
        for hole in jig.holes
    ]
    for index, (x, y, wide) in enumerate(places):
        for x2, y2, other in places[:index]:
            assert hypot(x - x2, y - y2) > (wide + other) / 2 + 0.5


@pytest.mark.deep
def test_teeth_are_proposed_for_short_ones_too(solved: tuple[Design, Answer, Train, Inventory]) -> None:
    """The limit, curved teeth, has third gears of pins."""
    design, _, train, _ = solved
    proposal = proposed_teeth(design, train)
    now, then = proposal.now.runs, proposal.then
    assert then is not None and all(run is not None for run in (*now, *then.runs))
    worst = max(run.uneven for run in now if run is not None)
    assert max(run.uneven for run in then.runs if run is not None) < worst


def test_the_command_says_it(tmp_path, monkeypatch, capsys) -> None:
    file = tmp_path / "reversed.toml"
    file.write_text(REVERSED)
    code, out, _ = run(monkeypatch, capsys, "solve", str(file), "--json")
    assert code == 0 and json.loads(out)["third_toothing"] == "teeth"


AUDITED = """
units = "in"
[rings]
addendum = 0.42
rim = 0.5
tooth_pitch = 1
[fit]
clearance = 0.05
[wire]
third = "{third}"
tooth = 0.09375
loop = 0.125
pin = 0.0625
jig_pin = 0.079
[train]
rings = [30, 38]
[[train.links]]
kind = "third-pinion"
wheel = 24
pinion = 10
thirds = [16]
"""


def test_an_audit_turns_short_teeth(tmp_path, monkeypatch, capsys) -> None:
    told = {}
    for third in ("pins", "teeth"):
        (tmp_path / "train.toml").write_text(AUDITED.format(third=third))
        _, out, err = run(monkeypatch, capsys, "audit", str(tmp_path / "train.toml"), "--json")
        assert not err
        told[third] = {mesh["where"]: mesh["play_mm"] for mesh in json.loads(out)["meshes"]}
    at_ring = "ring 1 with third gear at pinion of link 0"
    assert told["teeth"].keys() == told["pins"].keys() and told["teeth"][at_ring] < 2 < told["pins"][at_ring]


def test_tables_tell_gears_of_one_count_apart() -> None:
    """A ring may work with twelve pins and with twelve short teeth; what is made in one way keeps its short name."""
    ring, pins, short = Spec("ring", 42, "saw teeth", (12,)), *(Spec("gear", 12, one, (42,)) for one in ("pins", SHORT))
    name = names_of((ring, pins, ring, short))
    assert [name(one) for one in (ring, pins, short)] == ["R42", "G12, pins", "G12, short teeth"]
    assert names_of((ring, pins))(pins) == "G12"
