"""Stored runs: whole or not at all, read back exactly, and solved again with the same result."""

from __future__ import annotations

import hashlib
import json
import random
import shutil
import time
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from commands import CONFIGS, run, run_afresh, start, two_bodies
from shipped import shipped

from solver import parse_design, solve
from solver.batch import rerun as rerun_module
from solver.batch.rerun import rerun
from solver.batch.store import parts
from solver.batch.store.errors import StoreError
from solver.batch.store.runs import SOLUTION_SCHEMA, load_run, own_sha256, save_run, solution_from_row, solution_row

DEMO = CONFIGS / "saturn-hall.toml"
HALF_WRITTEN = ".half-written-"


@pytest.fixture
def answer():
    return shipped("saturn-hall")[1]


@pytest.fixture
def stored(tmp_path, answer) -> Path:
    picture = DEMO.with_suffix(".svg").read_text(encoding="utf-8")
    return save_run(tmp_path / "results", DEMO.read_text(), answer, {"command": "solve"}, picture)


@pytest.mark.parametrize("name", ["saturn-hall", "solar-system-3-thirds", "four-gears"])
def test_a_row_holds_a_solution_exactly(name):
    _, answer = shipped(name)
    for solution in answer.solutions:
        assert solution_from_row(solution_row(answer, solution)) == solution


def test_a_ratio_beyond_63_bits_is_kept_as_text(answer):
    ring = answer.solutions[0].rings[-1].model_copy(update={"ratio": (2**63 + 1, 2**64 - 3)})
    rings = [*answer.solutions[0].rings[:-1], ring]
    solution = answer.solutions[0].model_copy(update={"rings": rings})
    row = solution_row(answer, solution)
    assert row["ring_ratio_num"][-1] is None and row["ring_ratio_den"][-1] is None
    assert solution_from_row(row).rings[-1].ratio == (2**63 + 1, 2**64 - 3)


def test_a_run_is_read_back_whole(stored, answer):
    back = load_run(stored)
    assert back.solutions == answer.solutions and back.damaged == () and back.design_text == DEMO.read_text()
    record = back.record
    assert record["config_sha256"] == answer.config_sha256 and record["status"] == "optimal"
    assert {"python", "ortools", "ringwright"} <= set(record["versions"]) and len(record["code_sha256"]) == 64


def test_a_row_of_before_orders_were_counted_stands_for_one(answer):
    row = solution_row(answer, answer.solutions[0])
    assert row["orders"] == answer.solutions[0].orders and row["orders_settled"] is answer.solutions[0].orders_settled
    assert solution_from_row(row) == answer.solutions[0]
    before = solution_from_row({**row, "orders": None, "orders_settled": None})
    assert (before.orders, before.orders_settled) == (1, True)


def test_tables_of_sweeps_of_earlier_versions_are_read(tmp_path, answer):
    row = {"point_id": "a", **solution_row(answer, answer.solutions[0])}
    whole = pa.Table.from_pylist([row], schema=parts.PART_SCHEMA)
    added = [name for name in parts.COUNTED if name in whole.column_names]
    pq.write_table(whole.drop_columns(added), tmp_path / "solutions.parquet")
    read = parts.read_parquet(tmp_path / "solutions.parquet", parts.PART_SCHEMA)
    assert read.schema.names == parts.PART_SCHEMA.names and read["orders"].to_pylist() == [None]


def test_the_parquet_file_explains_itself(stored):
    schema = pq.read_schema(stored / "solutions.parquet")
    assert schema.equals(SOLUTION_SCHEMA)
    assert schema.field("envelope_mm").metadata[b"unit"] == b"mm"
    assert schema.field("worst_error_pct").metadata[b"unit"] == b"percent"
    provenance = json.loads(schema.metadata[b"ringwright"])
    assert provenance["config_sha256"] and provenance["versions"]["python"]


def test_equal_runs_get_names_of_their_own(tmp_path, answer):
    folders = {save_run(tmp_path, DEMO.read_text(), answer, {}) for _ in range(3)}
    assert len(folders) == 3 and all(load_run(folder).solutions for folder in folders)


@pytest.mark.slow
def test_rerun_is_identical(stored):
    code, out, err = run("rerun", str(stored), cwd=stored.parent)
    assert (code, out, err) == (0, "identical\n", "")


@pytest.mark.deep
def test_rerun_says_what_was_changed(stored):
    table = pq.read_table(stored / "solutions.parquet")
    rows = table.to_pylist()
    rows[2]["link_wheel"][3] += 1
    pq.write_table(type(table).from_pylist(rows, schema=table.schema), stored / "solutions.parquet")
    code, out, _ = run("rerun", str(stored), cwd=stored.parent)
    assert code == 1
    wheel = rows[2]["link_wheel"][3]
    assert out.splitlines() == [
        "solutions.parquet: its content is not what was recorded when the run was stored",
        f"solution 3: link_wheel[3]: stored {wheel}, solved {wheel - 1}",
    ]


@pytest.mark.deep
@pytest.mark.parametrize(
    ("name", "value", "line"),
    [
        ("proven", False, "run.json: proven: stored False, solved True"),
        ("solutions", 7, "run.json: solutions: stored 7, solved 10"),
        ("bound_worst_error_pct", 0.5, "run.json: bound_worst_error_pct: stored 0.5, solved 0.57386"),
    ],
)
def test_rerun_says_what_was_changed_in_the_record(stored, name, value, line):
    record = json.loads((stored / "run.json").read_text())
    (stored / "run.json").write_text(json.dumps({**record, name: value}))
    code, out, _ = run("rerun", str(stored), cwd=stored.parent)
    first, second = out.splitlines()
    assert code == 1 and first == "run.json: its content is not what was recorded when the run was stored"
    assert second.startswith(line)


@pytest.mark.parametrize("name", ["title", "status", "created", "parameters", "code_sha256", "point_id", "run_sha256"])
def test_no_change_of_the_record_goes_unnoticed(stored, name):
    record = json.loads((stored / "run.json").read_text())
    for changed in ({**record, name: "other"}, {key: value for key, value in record.items() if key != name}):
        (stored / "run.json").write_text(json.dumps(changed))
        try:
            assert load_run(stored).damaged == ("run.json",)
        except StoreError as fault:
            assert "not a record of this version" in str(fault)
    (stored / "run.json").write_text(json.dumps(record, indent=3))  # the same, written otherwise
    assert load_run(stored).damaged == ()


@pytest.mark.deep
def test_a_missing_picture_is_no_damage(stored, tmp_path):
    (stored / "picture.svg").unlink()
    assert load_run(stored).damaged == ()
    for words in (("rank", str(stored)), ("rerun", str(stored)), ("sheets", str(stored), "--out", "pack")):
        code, _, err = run(*words, cwd=tmp_path)
        assert code == 0 and "picture" not in err


@pytest.mark.deep
@pytest.mark.parametrize("column", [name for name in SOLUTION_SCHEMA.names if name not in ("arbor_direction_deg",)])
def test_no_column_can_be_changed_unnoticed(stored, answer, column, monkeypatch):
    """Even with the recorded hash forged: every stored number is compared with the one solved again (here: before)."""
    monkeypatch.setattr(rerun_module, "solve", lambda design, stop: answer)
    table = pq.read_table(stored / "solutions.parquet")
    rows = table.to_pylist()
    rows[0][column] = _other(rows[0][column])
    if rows[0][column] == table.to_pylist()[0][column]:
        pytest.skip("the demo has nothing in this column")
    pq.write_table(type(table).from_pylist(rows, schema=table.schema), stored / "solutions.parquet")
    record = json.loads((stored / "run.json").read_text())
    record["files"]["solutions.parquet"] = hashlib.sha256((stored / "solutions.parquet").read_bytes()).hexdigest()
    (stored / "run.json").write_text(json.dumps({**record, "run_sha256": own_sha256(record)}))
    comparison = rerun(load_run(stored))
    assert comparison.differences and all(column in line for line in comparison.differences)


def _other(value):
    """The same kind of value, changed in one place; nothing stays nothing."""
    if value is None:
        return None
    if isinstance(value, list):
        return [_other(value[0]), *value[1:]] if value else value
    if isinstance(value, bool):
        return not value
    if isinstance(value, dict):
        return {**value, "pinion": value["pinion"] + 1}
    if isinstance(value, str):
        return (
            value.replace("/", "7/")
            if "/" in value
            else {"same": "reverse", "plain": "third-wheel", "proven": "open"}.get(value, value + "x")
        )
    return value + 1


def test_a_run_without_solutions_is_stored_too(tmp_path):
    text = DEMO.read_text().replace("keep = 10", "max_error_pct = 0.5")
    folder = save_run(tmp_path, text, solve(parse_design(text)), {})
    back = load_run(folder)
    assert back.solutions == [] and back.record["status"] == "infeasible" and back.record["proven"]
    assert rerun(back).identical


def test_a_shortened_list_is_damage(stored):
    table = pq.read_table(stored / "solutions.parquet")
    rows = table.to_pylist()
    rows[0]["ring_teeth"].append(99)
    pq.write_table(type(table).from_pylist(rows, schema=table.schema), stored / "solutions.parquet")
    with pytest.raises(StoreError, match="cannot be read"):
        load_run(stored)


def test_damage_is_named(stored, tmp_path):
    for name, harm, word in (
        ("solutions.parquet", lambda file: file.write_bytes(file.read_bytes()[:-300]), "cannot be read"),
        ("run.json", lambda file: file.write_text("{"), "damaged"),
        ("run.json", lambda file: file.write_text("[]"), "not a record of this version"),
        ("design.toml", lambda file: file.unlink(), "is missing"),
    ):
        copy = tmp_path / f"copy {name} {word}"
        shutil.copytree(stored, copy)
        harm(copy / name)
        with pytest.raises(StoreError, match=word):
            load_run(copy)


@pytest.mark.slow
def test_a_flipped_byte_is_noticed(stored):
    file = stored / "solutions.parquet"
    data = bytearray(file.read_bytes())
    data[len(data) // 2] ^= 1
    file.write_bytes(data)
    try:
        assert load_run(stored).damaged == ("solutions.parquet",)
    except StoreError as fault:
        assert str(stored) in str(fault)
    code, _, err = run("rank", str(stored), cwd=stored.parent)
    assert code == 2 and "Traceback" not in err


@pytest.mark.deep
def test_a_folder_that_cannot_be_written_any_more_is_said(tmp_path, monkeypatch):
    monkeypatch.setattr("solver.cli.solve.refuse_for_runs", lambda results: None)  # it could be, when it was looked at
    code, out, err = run("solve", str(DEMO), "--results", "/proc/results", cwd=tmp_path)
    assert code == 2 and "proven best" in out and "results" in err and "Traceback" not in err


@pytest.mark.slow
@pytest.mark.parametrize("kills", [2, pytest.param(20, marks=pytest.mark.deep)])
def test_kill_at_any_moment_leaves_no_half_run(tmp_path, kills):
    """kill -9 at random moments, half of them while the run is being written: all that is there is whole."""
    rng = random.Random(20261125)
    results = tmp_path / "results"
    (tmp_path / "two.toml").write_text(two_bodies("Two", "a", "b").replace("keep = 2", "keep = 10"))
    words = ("solve", "two.toml", "--results", str(results))
    began = time.monotonic()
    assert run_afresh(*words, cwd=tmp_path)[0] == 0
    usual = time.monotonic() - began
    killed = 0
    for attempt in range(kills):
        process = start(*words, cwd=tmp_path)
        if attempt % 2:
            while process.poll() is None and not any(results.glob(f"{HALF_WRITTEN}{process.pid}-*")):
                time.sleep(0.0005)
            time.sleep(rng.uniform(0, 0.02))
        else:
            time.sleep(rng.uniform(0, usual))
        killed += process.poll() is None
        process.kill()
        process.communicate()
        for folder in results.iterdir():
            if not folder.name.startswith(HALF_WRITTEN):
                back = load_run(folder)
                assert back.damaged == () and len(back.solutions) == 10
    assert killed  # those that were not had been done before
    assert run(*words, cwd=tmp_path)[0] == 0
    assert not any(results.glob(f"{HALF_WRITTEN}*"))  # what was left half written is gone
