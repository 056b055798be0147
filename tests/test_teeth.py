"""The command `teeth`: what it proposes runs better, is no worse than what a plain grid finds, and is solved again."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import product
from pathlib import Path

import pytest
from test_broken_files import run

from solver import parse_design, solve
from solver.answer.document import SolutionAnswer, train_of
from solver.design.design import Design
from solver.design.errors import DesignError
from solver.design.gauges import Gauge
from solver.forms import FORMS
from solver.forms.form import sizes_of
from solver.sheets.gears.adjust import meshes_of
from solver.sheets.gears.teeth import BetterTrain, ToothLengths, better_train, proposed_teeth

LOW = """
title = "Low teeth"
[[bodies.list]]
name = "Fast"
period = 1
[[bodies.list]]
name = "Slow"
period = "2.4"
[rings]
inner_teeth = 24
tooth_step = 6
tooth_pitch = 12
addendum = 2
rim = 3
level_spacing = 14
[arbors]
third_gears = 0
[fit]
directions = 24
{fit}
[search]
keep = 3
{wire}
"""
ROOM = 'frame = {shape = "square", side = 300}'


def design_with(fit: str = ROOM, wire: str = "") -> Design:
    return parse_design(LOW.format(fit=fit, wire=wire))


@cache
def solved(design: Design) -> SolutionAnswer:
    return solve(design).solutions[0]


@cache
def better(design: Design) -> BetterTrain:
    return better_train(design, solved(design))


def strays(design: Design, lengths: ToothLengths) -> float:
    """How far the worst mesh of the design's best train strays [pitches], by the form itself; 9 where one does not
    run."""
    made = lengths.applied(design)
    form, sizes = FORMS[made.wire.form], sizes_of(made)
    found = 0.0
    for mesh in meshes_of(made, train_of(design, solved(design))):
        try:
            one = form.run(sizes, mesh.one, mesh.other)
        except DesignError:
            return 9.0
        found = max(found, 9.0 if one.jams or one.slips else one.uneven / sizes.pitch_mm)
    return found


@pytest.mark.deep
def test_no_lengths_of_a_grid_run_better_than_what_is_proposed() -> None:
    design = design_with()
    best = better(design)
    now, then, limit = best.proposal.now, best.proposal.then, best.proposal.limit
    assert then is not None and limit is not None
    worst = {one.lengths.form: one.runs[one.worst()] for one in (then, limit)}
    assert strays(design, then.lengths) == pytest.approx(worst["saw"].uneven / 12)
    assert strays(design, limit.lengths) == pytest.approx(worst["curved"].uneven / 12)
    assert strays(design, limit.lengths) < strays(design, then.lengths) < strays(design, now.lengths) / 3
    grid = product((2, 3, 4, 5), (3, 5, 7), (Fraction(1), Fraction(2), Fraction(3)))
    for addendum, rim, pin in grid:
        lengths = ToothLengths("saw", Fraction(addendum), Fraction(rim), pin)
        assert strays(design, lengths) >= strays(design, then.lengths) - 1e-9


@pytest.mark.deep
def test_the_design_is_solved_again_with_what_is_proposed() -> None:
    design = design_with()
    best = better(design)
    assert best.proposal.then is not None and best.tried is not None
    again = best.proposal.then.lengths.applied(design)
    assert again.rings.addendum > design.rings.addendum
    assert best.tried.answer.solutions == solve(again).solutions
    first = train_of(design, solved(design)).identity()
    same = [one.rank for one in best.tried.answer.solutions if train_of(again, one).identity() == first]
    assert [best.tried.rank] == (same or [None]) and best.tried.fits is True


@pytest.mark.deep
def test_where_larger_teeth_have_no_room_it_is_said() -> None:
    """The frame is as wide as the train with its own teeth, and no wider."""
    roomy = design_with()
    largest = max(one.envelope_mm or 0.0 for one in solve(roomy).solutions[:1])
    tight = design_with(f'clearance = 1\nframe = {{shape = "round", diameter = {2 * largest + 2.01:.2f}}}')
    assert solve(tight).solutions
    best = better_train(tight, solve(tight).solutions[0])
    assert best.tried is not None and best.tried.rank is None and best.tried.fits is False
    kept = better_train(tight, solve(tight).solutions[0], most_mm=2.0, most_rim_mm=3.0)
    assert kept.proposal.then is not None and kept.tried is not None and kept.tried.rank == 1
    assert kept.proposal.then.lengths.addendum <= 2 and kept.proposal.then.lengths.rim <= 3


@pytest.mark.deep
def test_in_inches_what_is_proposed_are_thousandths() -> None:
    text = LOW.format(fit='frame = {shape = "square", side = 12}', wire="").replace(
        "tooth_pitch = 12", "tooth_pitch = 0.5"
    )
    text = text.replace("addendum = 2", "addendum = 0.08").replace("rim = 3", "rim = 0.2")
    design = parse_design('units = "in"\n' + text.replace("level_spacing = 14", "level_spacing = 0.6"))
    then = proposed_teeth(design, train_of(design, solved(design))).then
    assert then is not None
    for mm in (then.lengths.addendum, then.lengths.rim, then.lengths.jig_pin):
        assert (mm / Fraction(254, 10) * 1000).denominator == 1


@pytest.mark.deep
def test_the_command_tells_every_mesh_and_its_json_the_same(tmp_path: Path, monkeypatch, capsys) -> None:
    file = tmp_path / "low.toml"
    file.write_text(LOW.format(fit=ROOM, wire=""), encoding="utf-8")
    code, out, _ = run(monkeypatch, capsys, "teeth", str(file))
    assert code == 0 and "not proven to be the best" in out and "proven best then: " in out
    code, text, _ = run(monkeypatch, capsys, "teeth", str(file), "--json")
    told = json.loads(text)
    assert code == 0 and told["schema"] == "ringwright.teeth/1" and told["proven"] is False
    for mesh in told["meshes"]:
        line = next(line for line in out.splitlines() if line.strip().startswith(" with ".join(mesh["gears"])))
        assert line.split()[4] == f"{mesh['now']['uneven_pct']:.1f}" and mesh["on"] == line.split()[3]
        assert f"{mesh['proposed']['uneven_pct']:.1f}" in line.split() and mesh["proposed"]["runs"]
    assert f"rings.addendum = {told['lengths']['proposed']['rings.addendum']:g}" in out


@pytest.mark.slow
def test_a_column_of_teeth_that_were_not_found_is_left_out(tmp_path: Path, monkeypatch, capsys) -> None:
    file = tmp_path / "low.toml"
    file.write_text(LOW.format(fit=ROOM, wire=""), encoding="utf-8")
    code, out, _ = run(monkeypatch, capsys, "teeth", str(file), "--most-addendum", "1")
    assert code == 0 and "proposed %" in out and "curved %" not in out and "of the form curved no teeth" in out


@pytest.mark.deep
def test_no_mesh_loses_play_below_a_share_of_a_pitch() -> None:
    """Thick wire, of which little play is left: 0.6 mm are 5 % of 12 mm, with which curved teeth are made."""
    design = design_with()
    train = train_of(design, solved(design))
    for pin, tooth in ((2.6, 2.0), (2.0, 2.6), (4.5, 1.3), (1.6, 1.0)):
        thick = replace(design, wire=replace(design.wire, pin=Gauge(pin), tooth=Gauge(tooth)))
        proposal = proposed_teeth(thick, train)
        for teeth in (proposal.then, proposal.limit):
            assert teeth is not None, (pin, tooth)
            for now, then in zip(proposal.now.runs, teeth.runs, strict=True):
                assert now is not None and then is not None
                assert then.backlash >= (0.6 if now.jams else min(0.6, now.backlash)) - 1e-6


@pytest.mark.parametrize(
    ("words", "wire", "message"),
    [
        (
            [],
            '[wire]\nform = "involute"',
            'wire.form = "involute": teeth are proposed for forms of wire: "saw", "curved"',
        ),
        (["--most-rim", "0.01"], "", "--most-rim 0.01: must be at least 0.1 mm"),
    ],
)
def test_what_is_refused(words: list[str], wire: str, message: str, tmp_path: Path, monkeypatch, capsys) -> None:
    file = tmp_path / "low.toml"
    file.write_text(LOW.format(fit=ROOM, wire=wire), encoding="utf-8")
    code, out, err = run(monkeypatch, capsys, "teeth", str(file), *words)
    assert (code, out) == (2, "") and message in err and err.count("\n") == 1


def test_what_does_not_fit_has_no_teeth(tmp_path: Path, monkeypatch, capsys) -> None:
    file = tmp_path / "low.toml"
    file.write_text(LOW.format(fit=ROOM.replace("300", "60"), wire=""), encoding="utf-8")
    code, out, err = run(monkeypatch, capsys, "teeth", str(file))
    assert (code, out) == (3, "") and "proven that nothing fits" in err
