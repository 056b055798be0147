"""Lengths of stored solutions are told in the unit of their designs; a limit on one is read in it (25.4 mm an inch)."""

from __future__ import annotations

import csv
import io

import pytest
from commands import run, two_bodies
from sweeping import BASE, write

from solver.batch.units import UnclearUnit, limit_in_mm, units_of

INCHES = two_bodies("Inches", "In", "Out").replace("\ntitle", '\nunits = "in"\ntitle').replace("640", "26")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A design in inches, and the same gears in millimetres."""
    here = tmp_path_factory.mktemp("units")
    (here / "in.toml").write_text(INCHES)
    (here / "mm.toml").write_text(two_bodies("Millimetres", "In", "Out"))
    return here


def rows(folder, *words):
    code, out, err = run("rank", *words, "--csv", cwd=folder)
    assert code == 0, err
    return list(csv.DictReader(io.StringIO(out)))


def test_a_design_in_inches_has_its_radius_in_inches(folder):
    code, out, _ = run("rank", "in.toml", cwd=folder)
    assert code == 0 and "radius in" in out and "radius mm" not in out
    for row in rows(folder, "in.toml"):
        assert float(row["envelope_in"]) == pytest.approx(float(row["envelope_mm"]) / 25.4, abs=6e-5)
    assert "envelope_in" not in rows(folder, "mm.toml")[0]


def test_of_designs_in_both_each_length_stands_with_its_unit(folder):
    code, out, _ = run("rank", "in.toml", "mm.toml", cwd=folder)
    lines = [line for line in out.splitlines() if line.startswith((" A", " B"))]
    assert code == 0 and len(lines) == 4
    assert all((" in " in line) != (" mm " in line) for line in lines)
    assert all((" in " in line) == line.startswith(" A") for line in lines)
    assert all(row["envelope_in"] for row in rows(folder, "in.toml", "mm.toml"))


def test_a_limit_on_the_radius_is_in_the_unit_of_the_designs(folder):
    least = min(float(row["envelope_in"]) for row in rows(folder, "in.toml"))
    assert len(rows(folder, "in.toml", "--most", f"envelope={least + 0.001}")) == 1
    assert len(rows(folder, "in.toml", "--most", f"envelope={(least + 0.001) * 25.4}mm")) == 1
    assert not rows(folder, "in.toml", "--most", f"envelope={least - 0.001}in")
    code, _, err = run("rank", "in.toml", "mm.toml", "--most", "envelope=5", cwd=folder)
    told = "--most envelope=5: in which unit? some designs are in inches: write 5in or 5mm\n"
    assert (code, err) == (2, told)
    code, _, err = run("rank", "in.toml", "--most", "error=5mm", cwd=folder)
    assert code == 2 and "needs a number" in err


def test_units_that_a_sweep_varies():
    texts = {"a": 'units = "in"\n', "b": "", "c": 'units = "mm"\n'}
    assert units_of(texts, {"a": {"units": "in"}, "b": {}, "c": {"units": "mm"}}) == {"a": "in", "b": "mm", "c": "mm"}
    assert units_of({"": 'units = "in"'}, {"": {}}) == {"": "in"}
    assert units_of({"a": 'units = "in"'}, {"a": {"units": "in"}}) == {"a": "in"}
    assert limit_in_mm(2.0, None, ["in"]) == pytest.approx(50.8) and limit_in_mm(2.0, None, []) == 2.0
    with pytest.raises(UnclearUnit):
        limit_in_mm(2.0, None, ["in", "mm"])


@pytest.mark.deep
def test_a_run_without_a_solution_is_named_with_what_is_known(tmp_path):
    write(tmp_path, BASE + "[vary]\nsearch.max_error_pct = [0.000001, 50]\n")
    (tmp_path / "none.toml").write_text(BASE + "max_error_pct = 0.000001\n")
    assert run("sweep", "moons.toml", cwd=tmp_path)[0] == 0
    assert run("solve", "none.toml", cwd=tmp_path)[0] == 3
    names = sorted(f"runs/results/{path.name}" for path in (tmp_path / "runs/results").iterdir())
    code, out, err = run("rank", *names, cwd=tmp_path)
    assert code == 0 and "max_error_pct = 50 (proven)" in out
    told = err.splitlines()
    assert told[0] == "note: moons: 1 point of 2 without a solution: 1 proven to have none"
    assert told[1].startswith("note: three-moons-of-saturn-") and told[1].endswith(": proven that nothing fits")
