"""The rule `run` in the judge: its own turning of gears agrees with shapely's and with the search's tables."""

from __future__ import annotations

import json
import random
import re

import pytest
from test_broken_files import run
from turned_by_shapely import Pair

from solver import Link, Train, judge, parse_design
from solver.check.running import meshes, run_of
from solver.forms import FORMS
from solver.forms.form import MeshSort, Spec, sizes_of
from solver.forms.saw import SAW

WIRED = """
[bodies]
set = "saturn"
[rings]
tooth_pitch = {pitch}
addendum = {add}
rim = {rim}
[fit]
{fit}
[wire]
{wire}
"""


def wired(pitch: float = 12, add: float = 4.8, rim: float = 6, wire: str = "", fit: str = ""):
    return parse_design(WIRED.format(pitch=pitch, add=add, rim=rim, wire=wire, fit=fit))


def random_wired(rng: random.Random):
    pitch = rng.choice((9, 12, 15))
    wire = f"tooth = {rng.choice((0.8, 1.29, 1.6))}\npin = {rng.choice((1.2, 1.63, 2.5))}\n"
    wire += f"jig_pin = {rng.choice((1.5, 2))}"
    fit = f"unevenness = {rng.choice((0.03, 0.06, 0.1, 0.15))}"
    return wired(pitch, round(pitch * rng.uniform(0.15, 0.5), 2), round(pitch * rng.uniform(0.3, 0.6), 2), wire, fit)


def sides(rng: random.Random) -> tuple[int, bool, int]:
    ring = rng.random() < 0.6
    return rng.randint(18, 70) if ring else rng.randint(5, 24), ring, rng.randint(5, 24)


@pytest.mark.deep
@pytest.mark.parametrize("many", [60, 600])
def test_what_the_search_takes_to_run_the_judge_takes_too(many):
    rng, ran, close = random.Random(1), 0, 0
    for number in range(many):
        design = random_wired(rng)
        teeth, ring, pins = sides(rng)
        sizes, kind = sizes_of(design), "ring" if ring else "gear"
        sort = MeshSort(kind, SAW, "pins")
        form = FORMS["saw"]
        table = form.table(sizes, sort, (teeth,), (pins,), float(design.unevenness))
        made = not form.outline(sizes, Spec(kind, teeth, SAW, (pins,))).unmade
        made &= not form.outline(sizes, Spec("gear", pins, "pins", (teeth,))).unmade
        found = run_of(design, "", teeth, ring, pins)
        told = (number, design.rings, design.wire, teeth, ring, pins, found)
        assert made == (not found.fault.startswith("cannot be made")), told
        if (teeth, pins) in table.spans and made:
            ran += 1
            assert found.fault == "", told
        elif made and found.fault == "":
            run = table.runs[teeth, pins]  # within the table's margin of what is allowed
            spare = 0.004 * sizes.pitch_mm
            assert (
                run.backlash < spare or run.uneven > float(design.unevenness) * sizes.pitch_mm - spare or run.slips
            ), told
            close += 1
        if made and not run_slips(table, teeth, pins):
            run = table.runs[teeth, pins]
            assert found.play_mm == pytest.approx(run.backlash, abs=0.01 * sizes.pitch_mm), told
            assert found.uneven * sizes.pitch_mm == pytest.approx(run.uneven, abs=0.01 * sizes.pitch_mm), told
    assert ran > many / 8 and close < many / 20, (ran, close)


def run_slips(table, teeth: int, pins: int) -> bool:
    return table.runs[teeth, pins].slips or table.runs[teeth, pins].backlash < 0


@pytest.mark.slow
@pytest.mark.parametrize("first", [0, pytest.param(40, marks=pytest.mark.deep)])
def test_the_judge_says_of_drawn_gears_what_shapely_says(first):
    """The wire as the sheets draw it, buffered, and discs, turned by shapely: another way for the same gears."""
    rng, ran, refused = random.Random(f"shapely {first}"), 0, 0
    for number in range(first, 4 * first or 24):
        design = random_wired(rng)
        teeth, ring, pins = sides(rng)
        sizes, spec = sizes_of(design), Spec("ring" if ring else "gear", teeth, SAW, (pins,))
        found = run_of(design, "", teeth, ring, pins)
        if found.fault.startswith("cannot") or "hub" in found.fault:
            continue
        turned = Pair(sizes, FORMS["saw"].shape(sizes, spec).outline[0], teeth, pins).run()
        told = (number, design.rings, design.wire, teeth, ring, pins, found, turned)
        if turned.jams or turned.play < -0.01:
            assert found.fault.startswith("jams") or found.play_mm < 0.01 * sizes.pitch_mm, told
        elif turned.slips or turned.caught > 0.01:
            assert found.fault, told
        else:
            assert turned.caught > -0.01 or not found.fault.startswith("slips"), told
            assert found.play_mm == pytest.approx(turned.play * sizes.pitch_mm, abs=0.02 * sizes.pitch_mm), told
            assert found.uneven == pytest.approx(turned.uneven, abs=0.02), told
            ran += not found.fault
        refused += bool(found.fault)
    assert ran >= 4 and refused >= 4, (ran, refused)


def test_violations_name_the_mesh_and_the_figure():
    design = wired(fit="unevenness = 0.02")
    link = Link("third-wheel", 12, 6, (8,))
    train = Train((24, 30, 36, 42, 48, 54, 60), tuple(range(7)), (link,) + (Link("plain", 12, 6),) * 5)
    said = [str(one) for one in judge(design, train).violations if one.rule == "run"]
    mesh = r"run: ring \d with (wheel|pinion) of link \d: hunts 0\.\d+ of a pitch; at most 0\.02"
    assert any(re.fullmatch(mesh, one) for one in said), said
    where = [mesh.where for mesh in meshes(design, train)][:3]
    assert where[:2] == ["ring 0 with third gear at wheel of link 0", "wheel of link 0 with its third gear"]
    assert where[2] == "ring 1 with pinion of link 0"
    jams = wired(wire="tooth = 2\npin = 6\njig_pin = 1")
    assert "jams: " in run_of(jams, "", 30, True, 12).fault and run_of(jams, "", 30, True, 12).short_mm > 0
    assert run_of(wired(add=1), "", 30, True, 6).fault.startswith("slips")
    assert "cannot be made" in run_of(wired(), "", 30, True, 3).fault


def test_without_a_table_nothing_is_judged():
    plain = parse_design(WIRED.format(pitch=12, add=0.1, rim=6, wire="", fit="").replace("[wire]", ""))
    train = Train((24, 30, 36, 42, 48, 54, 60), tuple(range(7)), (Link("plain", 11, 5),) * 6)
    assert "run" not in {one.rule for one in judge(plain, train).violations}
    assert "run" in {one.rule for one in judge(wired(add=0.1), train).violations}


AUDITED = """
[rings]
addendum = 4.8
tooth_pitch = 12
[fit]
clearance = 1.5
unevenness = 0.1
[wire]
[train]
rings = [18, 24, 30]
[[train.links]]
wheel = 13
pinion = 7
[[train.links]]
wheel = 11
pinion = 5
"""


def test_an_audit_says_how_each_mesh_runs(tmp_path, monkeypatch, capsys):
    (tmp_path / "train.toml").write_text(AUDITED)
    code, out, err = run(monkeypatch, capsys, "audit", str(tmp_path / "train.toml"), "--json")
    told = json.loads(out)
    assert (code, err) == (3, "")
    assert [one["rule"] for one in told["violations"]] == ["run"]
    assert told["violations"][0]["where"] == "ring 2 with pinion of link 1" and told["violations"][0]["short_mm"] > 0.2
    assert [bool(one["fault"]) for one in told["meshes"]] == [False, False, False, True]
    assert all(0 < one["uneven"] < 0.1 and one["play_mm"] > 3 for one in told["meshes"])
    code, out, err = run(monkeypatch, capsys, "audit", str(tmp_path / "train.toml"))
    assert code == 3 and "ring 1 with wheel of link 1" in out and "hunts % of a pitch" in out


def test_an_audit_judges_no_mesh_without_wire_and_every_form_with_it(tmp_path, monkeypatch, capsys):
    (tmp_path / "train.toml").write_text(AUDITED.replace("[wire]", "").replace("unevenness = 0.1", ""))
    code, out, _ = run(monkeypatch, capsys, "audit", str(tmp_path / "train.toml"), "--json")
    assert code == 0 and json.loads(out)["meshes"] is None
    without = AUDITED.replace("unevenness = 0.1", "").replace("addendum = 4.8", "addendum = 4.8\nrim = 7")
    (tmp_path / "train.toml").write_text(without.replace("[wire]", '[wire]\nform = "involute"'))
    code, out, _ = run(monkeypatch, capsys, "audit", str(tmp_path / "train.toml"), "--json")
    told = json.loads(out)
    assert code == 3 and [one["rule"] for one in told["violations"]] == ["run", "run"]
    faults = [one["fault"][:24] for one in told["meshes"]]
    assert faults == ["", "slips: contact lasts 0.8", "", "cannot be made: the gear"]
