"""Ranking and repeating stored runs: filters, fronts and orders against plain Python, and the README's own examples."""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
import xml.etree.ElementTree as ET
from pathlib import Path

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq
import pytest
from commands import CONFIGS
from sweeping import BASE, SMALL, call, write

from benchmarks import batch
from solver.batch.ranking import Shelf, read_solutions, shelved
from solver.batch.sweep.file import load_sweep_file

KEYS = {"error": "worst_error_pct", "parts": "parts", "jigs": "jigs", "teeth": "teeth", "largest": "largest"}


@pytest.fixture(scope="module")
def stored(tmp_path_factory) -> Path:
    """A folder with a sweep and a solved design."""
    folder = tmp_path_factory.mktemp("stored")
    write(folder, SMALL)
    write(folder, BASE.replace("24", "40").replace("Three", "Alone: three"), "alone.toml")
    assert call("sweep", "moons.toml", cwd=folder)[0] == 0
    assert call("solve", "alone.toml", cwd=folder)[0] == 0
    return folder


@pytest.fixture(scope="module")
def rows(stored) -> list[dict]:
    """Every stored solution as plain data."""
    (alone,) = (stored / "runs/results").glob("alone*")
    frame = read_solutions([stored / "runs/results/moons", alone])
    assert len(frame) > 100 and set(frame["run"]) == {"moons", alone.name}
    return frame.to_dict("records")


def ranked(stored: Path, *words: str) -> list[dict]:
    runs = sorted(str(path) for path in (stored / "runs/results").iterdir())
    code, out, err = call("rank", *runs, "--json", *words, cwd=stored)
    assert code == 0, err
    document = json.loads(out)
    assert document["schema"] == "ringwright.ranking/1"
    return document["solutions"]


@pytest.mark.slow
def test_the_order_and_the_limits_are_those_of_plain_python(stored, rows):
    found = ranked(stored, "--by", "jigs,error,teeth", "--most", "error=3", "--most", "parts=11", "--top", "30")
    kept = [row for row in rows if row["worst_error_pct"] <= 3 and row["parts"] <= 11]
    kept.sort(key=lambda row: (row["jigs"], row["worst_error_pct"], row["teeth"]))
    figures = [tuple(one["solution"][KEYS[key]] for key in ("jigs", "error", "teeth")) for one in found]
    assert figures == [(row["jigs"], row["worst_error_pct"], row["teeth"]) for row in kept[:30]] and len(kept) > 3


@pytest.mark.slow
@pytest.mark.parametrize("keys", [("error", "parts"), ("jigs", "error"), ("error", "parts", "teeth")])
def test_a_front_holds_what_no_other_solution_beats(stored, rows, keys):
    found = ranked(stored, "--front", ",".join(keys), "--top", "1000")
    values = [tuple(row[KEYS[key]] for key in keys) for row in rows]
    best = sorted(
        one for one in values if not any(other != one and all(a <= b for a, b in zip(other, one)) for other in values)
    )
    assert sorted(tuple(one["solution"][KEYS[key]] for key in keys) for one in found) == best


@pytest.mark.slow
def test_solutions_whose_new_gears_nobody_counted_come_last_and_are_told(stored):
    def noted(*words: str) -> tuple[int, str]:
        return call("rank", "runs/results/moons", "--top", "1", *words, cwd=stored)[::2]

    assert "new_gears" not in noted("--by", "error")[1]
    code, err = noted("--by", "new_gears,error")
    assert code == 0 and re.search(r"(?m)^note: no new_gears were counted for \d+ solutions, put last: ", err), err
    code, err = noted("--most", "new_gears=999")
    assert code == 0 and ", left out: the design does not ask for it\nno stored solution is within" in err


@pytest.mark.slow
def test_of_solutions_without_new_gears_only_those_are_counted_that_are_asked_for(stored, rows):
    def told(*words: str) -> str:
        code, _, err = call("rank", "runs/results/moons", "--top", "1", *words, cwd=stored)
        assert code == 0
        return "".join(re.findall(r"(?m)^note: no new_gears were counted for .*\n", err))

    some = [row for row in rows if json.loads(row["settings"]).get("rings.inner_teeth") == 20]
    near = [row for row in some if row["worst_error_pct"] <= 3]
    assert 1 < len(near) < len(some) < len(rows)
    begin = "note: no new_gears were counted for"
    words = ("--where", "rings.inner_teeth=20")
    assert told(*words, "--by", "new_gears").startswith(f"{begin} {len(some)} solutions, put last: ")
    both = (*words, "--most", "error=3")
    assert told(*both, "--by", "new_gears").startswith(f"{begin} {len(near)} solutions, put last: ")
    assert told(*both, "--most", "new_gears=999").startswith(f"{begin} {len(near)} solutions, left out: ")
    point = ("--point", some[0]["point_id"])
    of_point = [row for row in rows if row["point_id"] == point[1]]
    assert told(*point, "--by", "new_gears").startswith(f"{begin} {len(of_point)} solution")
    assert told("--where", "bodies.set=jupiter", "--by", "new_gears") == ""


@pytest.mark.slow
def test_designs_are_chosen_by_what_their_files_say(stored, rows):
    for field, value, settings in (
        ("rings.inner_teeth", "20", {"rings.inner_teeth": 20}),
        ("arbors.third_gears", "1", {"arbors.third_gears": 1}),
    ):
        found = ranked(stored, "--where", f"{field}={value}", "--top", "1000")
        wanted = [row for row in rows if json.loads(row["settings"]).items() >= settings.items()]
        assert len(found) == len(wanted) > 2
        assert all(one["settings"].items() >= settings.items() for one in found)
    assert len(ranked(stored, "--where", "bodies.set=saturn", "--top", "1000")) == len(rows)
    assert ranked(stored, "--where", "bodies.set=jupiter") == []
    assert len(ranked(stored, "--where", "rings.inner_teeth= 2e1", "--top", "1000")) == len(
        ranked(stored, "--where", "rings.inner_teeth=20", "--top", "1000")
    )
    assert call("rank", "runs/results/moons", "--where", "rings.iner_teeth=20", cwd=stored) == (
        0, "", "note: moons: 16 points of 60 without a solution: 16 proven to have none\n"
        "no stored solution is within these limits; no design says rings.iner_teeth, asked for by --where\n"
    )  # fmt: skip
    alone = ranked(stored, "--where", "rings.inner_teeth=40")
    assert alone and {one["point"] for one in alone} == {None}


@pytest.mark.slow
def test_csv_and_parquet_hold_what_the_table_shows(stored):
    words = ("rank", "runs/results/moons", "--by", "error", "--top", "4", "--csv", "--parquet", "best.parquet")
    code, out, err = call(*words, cwd=stored)
    assert code == 0 and "written to best.parquet" in err
    lines = list(csv.DictReader(io.StringIO(out)))
    table = pq.read_table(stored / "best.parquet").to_pylist()
    assert [line["point"] for line in lines] == [row["point_id"] for row in table] and len(lines) == 4
    assert [float(line["worst_error_pct"]) for line in lines] == [row["worst_error_pct"] for row in table]
    code, out, _ = call("rank", "runs/results/moons", "--by", "error", "--top", "4", cwd=stored)
    assert code == 0 and all(row["point_id"][:12] in out for row in table)


@pytest.mark.slow
def test_a_plot_is_sound_svg_and_joins_the_front(stored):
    code, _, err = call("rank", "runs/results/moons", "--plot", "front.svg", cwd=stored)
    assert code == 0 and "drawn as front.svg" in err
    root = ET.fromstring((stored / "front.svg").read_text())
    assert root.attrib["width"] == "180mm" and len(root.findall(".//{*}use")) > 10
    code, _, err = call("rank", "runs/results/moons", "--plot", "moons.toml", cwd=stored)
    assert code == 2 and "--plot moons.toml: exists already" in err


@pytest.mark.slow
def test_damaged_runs_are_named_and_the_others_ranked(stored, tmp_path):
    """One of each kind of damage, beside a design and a sweep that are sound."""
    (alone,) = (stored / "runs/results").glob("alone*")
    harms = {
        "status": lambda run: edited(run / "run.json", '"status": "optimal"', '"status": "feasible"'),
        "title": lambda run: edited(run / "run.json", "Alone: three", "Alone: four"),
        "design": lambda run: edited(run / "design.toml", "40", "41"),
        "solutions": lambda run: (run / "solutions.parquet").write_bytes(b""),
        "missing": lambda run: (run / "solutions.parquet").unlink(),
        "none": shutil.rmtree,
    }
    for name, harm in harms.items():
        harm(Path(shutil.copytree(alone, tmp_path / name)))
    sweep = Path(shutil.copytree(stored / "runs/results/moons", tmp_path / "sweep"))
    edited(sweep / "manifest.json", "Three moons", "Four moons")
    shutil.copytree(stored / "runs/results/moons", tmp_path / "moons")
    shutil.copytree(alone, tmp_path / "good")
    words = ("--json", "--top", "1000")
    code, out, err = call("rank", "good", *harms, "moons", "sweep", *words, cwd=tmp_path)
    assert code == 4 and len(err.splitlines()) == len(harms) + 1
    for line, name in zip(err.splitlines(), [*harms, "sweep"]):
        assert line.startswith((f"{name}:", f"{name}/")), line
    code, alike, err = call("rank", "good", "moons", *words, cwd=tmp_path)
    assert (code, err) == (0, "") and alike == out and len(json.loads(out)["solutions"]) > 100
    code, out, err = call("rank", *harms, *words, cwd=tmp_path)
    assert (code, out) == (2, "") and len(err.splitlines()) == len(harms)


def edited(file: Path, old: str, new: str) -> None:
    text = file.read_text()
    assert old in text
    file.write_text(text.replace(old, new))


@pytest.mark.deep
def test_a_run_that_goes_on_can_be_ranked(tmp_path):
    seconds = 0.9
    while True:
        write(tmp_path, SMALL.replace("[vary]", f"[limits]\ntotal_s = {seconds}\n[vary]"))
        code, _, _ = call("sweep", "moons.toml", "--workers", "1", cwd=tmp_path)
        seconds *= 2  # a machine may be too slow for a single point
        shelf = Shelf([shelved(tmp_path / "runs/results/moons")])
        if code == 0 or len(shelf) > 0:
            break
    assert len(shelf) > 0 and shelf.table(shelf.ordered(shelf.within({}), ["error"])[:3]).num_rows == 3


@pytest.mark.deep
def test_a_shelf_of_many_row_groups_gives_the_rows_asked_for(tmp_path):
    run = batch.many(tmp_path, 10_000)
    whole = pq.read_table(run / "solutions.parquet")
    assert pq.ParquetFile(run / "solutions.parquet").num_row_groups == 3
    shelf = Shelf([shelved(run)])
    found = shelf.table(shelf.ordered(shelf.within({"parts": 29}), ["error", "parts"])[:20])
    few = whole.filter(pc.less_equal(whole["parts"], 29))
    order = pc.sort_indices(few, [("worst_error_pct", "ascending"), ("parts", "ascending")])[:20]
    assert found["worst_error_pct"].to_pylist() == few.take(order)["worst_error_pct"].to_pylist()
    assert isinstance(found, pa.Table) and found.num_rows == 20


@pytest.mark.deep
def test_all_points_of_a_stored_sweep_solve_to_the_same_from_another_folder(stored, tmp_path):
    shutil.copytree(stored / "runs/results/moons", tmp_path / "kept")
    code, out, err = call("rerun", "kept", "--all", cwd=tmp_path)
    assert (code, out) == (0, "identical\n") and "60 points solved again" in err
    code, out, err = call("rerun", "kept", "--best", "3", cwd=tmp_path)
    assert (code, out) == (0, "identical\n") and "3 points solved again" in err
    point = pq.read_table(tmp_path / "kept/points.parquet")["point_id"][7].as_py()
    code, out, err = call("rerun", "kept", "--point", point[:10].upper(), cwd=tmp_path)
    assert (code, out) == (0, "identical\n") and "1 point solved again" in err
    code, _, err = call("rerun", "kept", "--point", "zz", cwd=tmp_path)
    assert code == 2 and err == "--point zz: no point's name begins so\n"
    code, _, err = call("rerun", "kept", cwd=tmp_path)
    assert code == 2 and err == "kept: a sweep; choose which points with --point ID, --best N or --all\n"
    code, _, err = call("rerun", "kept", "--all", "--best", "1", cwd=tmp_path)
    assert code == 2 and err == "--point, --best, --all: choose one\n"


@pytest.mark.deep
def test_a_stored_figure_that_is_not_what_solving_gives_is_told(stored, tmp_path):
    """A forger who repairs every hash is found by solving again."""
    from solver.batch.store import parts
    from solver.batch.sweep.run import read_manifest, write_manifest

    folder = Path(shutil.copytree(stored / "runs/results/moons", tmp_path / "forged"))
    table = pq.read_table(folder / "solutions.parquet")
    at = table.schema.get_field_index("teeth")
    forged = [*table["teeth"].to_pylist()]
    forged[5] += 1
    table = table.set_column(at, table.schema.field(at), pa.array(forged, pa.int32()))
    manifest = read_manifest(folder)
    manifest["files"]["solutions.parquet"] = parts.write_parquet(
        folder / "solutions.parquet", [table], parts.PART_SCHEMA, {}
    )
    write_manifest(folder, manifest)
    code, out, _ = call("rerun", "forged", "--all", cwd=tmp_path)
    assert code == 1 and re.search(r"teeth: stored \d+, solved \d+\n$", out) and len(out.splitlines()) == 1


def test_the_sweeps_that_ship_are_sound():
    sizes = {path.stem: len(load_sweep_file(path).points) for path in CONFIGS.glob("sweep-*.toml")}
    assert sizes == {"sweep-solar-system": 315, "sweep-moons": 144, "sweep-trappist-1": 289}


@pytest.mark.deep
def test_the_batch_benchmark_runs():
    cost = batch.measure_sweep(smoke=True)
    assert cost.points == 12 and 0 < cost.efficiency < 2 and cost.memory[0] > 0
    assert "parallel efficiency" in batch.report(cost, {"ringwright rank": 1.0})
