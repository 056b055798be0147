"""Sweeps: what a file makes, every point once, nothing lost, nothing damaged trusted, the same bytes each time."""

from __future__ import annotations

import hashlib
import json
import os
import random
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pyarrow.parquet as pq
import pytest
from commands import ROOT
from sweeping import (
    BASE,
    HARD,
    PATIENCE_S,
    RICH,
    SMALL,
    begin,
    call,
    left_behind,
    marked,
    some_worker,
    table_bytes,
    until_solved,
    workers_of,
    write,
)

from solver import DesignError, parse_design, solve
from solver.batch.store.parts import POINT_SCHEMA
from solver.batch.store.runs import solution_row
from solver.batch.sweep.file import SweepFile, load_sweep_file, sweep_of
from solver.batch.sweep.run import load_sweep
from solver.files.schema import DesignFile

KILLS = int(os.environ.get("RINGWRIGHT_KILLS", "12"))


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory) -> Path:
    """A folder with the small sweep, run once without disturbance."""
    folder = tmp_path_factory.mktemp("undisturbed")
    write(folder, SMALL)
    code, out, err = call("sweep", "moons.toml", cwd=folder)
    assert (code, err) == (0, "stored in runs/results/moons\n"), err
    assert "60 points: 44 solved, 16 proven to have no solution" in out
    return folder


# -- the file ----------------------------------------------------------------------------------------------------------


def test_every_combination_and_every_single_point_is_a_design():
    sweep = sweep_of(
        BASE + '[vary]\nrings.inner_teeth = [18, 24]\n"rings.tooth_step" = {min = 4, max = 8, step = 2}\n'
        '[[point]]\nbodies.only = ["Mimas", "Titan"]\nsearch.keep = 1\n',
        "f.toml",
        "f",
    )
    assert [point.settings for point in sweep.points] == [
        *({"rings.inner_teeth": z, "rings.tooth_step": s} for z in (18, 24) for s in (4, 6, 8)),
        {"bodies.only": ["Mimas", "Titan"], "search.keep": 1},
    ]
    designs = [parse_design(point.text) for point in sweep.points]
    assert [design.rings.tooth_step for design in designs] == [(4,), (6,), (8,), (4,), (6,), (8,), (6,)]
    assert [body.name for body in designs[-1].bodies] == ["Mimas", "Titan"] and designs[-1].keep == 1
    assert len({point.id for point in sweep.points}) == 7


def test_a_span_of_long_numbers_is_exact():
    """Each value has 31 digits, more than decimal arithmetic keeps when it is not told to."""
    expected = [f"1.{'0' * 29}{last}" for last in (1, 2, 3)]
    span = f"{{min = {expected[0]}, max = {expected[2]}, step = 0.{'0' * 29}1}}"
    sweep = sweep_of(BASE + f"[vary]\nfit.clearance = {span}\n", "f", "f")
    assert [str(point.settings["fit.clearance"]) for point in sweep.points] == expected


def test_a_list_may_be_a_value_and_numbers_stay_exact():
    sweep = sweep_of(
        BASE + '[vary]\nrings.inner_teeth = [[18, 24], 30]\nrings.tooth_pitch = [12.7, "38/3"]\n', "f", "f"
    )
    designs = [parse_design(point.text) for point in sweep.points]
    assert [design.rings.inner_teeth for design in designs] == [(18, 24), (18, 24), (30,), (30,)]
    assert [str(design.rings.pitch.value) for design in designs[:2]] == ["127/10", "38/3"]


def test_every_table_of_a_design_may_stand_in_a_sweep_file():
    assert SweepFile.model_fields.keys() >= DesignFile.model_fields.keys()
    made = sweep_of(BASE + '[wire]\npin = 1.5\n[vary]\nwire.form = ["saw", "curved"]\n', "f", "f")
    designs = [parse_design(point.text) for point in made.points]
    assert [(design.wired, design.wire.form, design.wire.pin.mm) for design in designs] == [
        (True, "saw", 1.5),
        (True, "curved", 1.5),
    ]


def test_points_that_mean_the_same_are_one():
    sweep = sweep_of(BASE + "[vary]\nrings.inner_teeth = [24, {min = 24, max = 24}, 30]\n", "f", "f")
    assert len(sweep.points) == 2 and sweep.alike == 1


def test_a_base_is_found_beside_the_sweep_file(tmp_path):
    write(tmp_path, BASE, "base.toml")
    path = write(tmp_path, 'title = "T"\nbase = "base.toml"\n[vary]\nrings.tooth_step = [4, 6]\n')
    sweep = load_sweep_file(path)
    assert (sweep.title, sweep.name, len(sweep.points)) == ("T", "moons", 2)
    assert sweep.points[1].config_sha256 == parse_design(BASE).sha256()


@pytest.mark.parametrize(
    ("base", "told"),
    [
        ("", ": must be the name of a design file"),
        ("a\\u0000b", ": must be the name of a design file"),
        (".", ": cannot be read: Is a directory"),
        ("none.toml", ": cannot be read: No such file or directory"),
        ("b" * 300, ": cannot be read: File name too long"),
        ("pipe", ": cannot be read: is a pipe"),
        ("/dev/zero", ": the file is larger than 1000000 bytes; a design file is a few kilobytes"),
        ("/dev/null", ": is no design file: it has no table [bodies]"),
        ("moons.toml", ': is no design file: it says "base"'),
        ("train.toml", ': is no design file: it says "train"'),
        ("text.toml", ": not valid TOML: Expected '=' after a key in a key/value pair (at line 1, column 6)"),
    ],
)
def test_a_base_that_cannot_be_read_is_a_fault_of_its_field(tmp_path, base, told):
    path = write(tmp_path, f'base = "{base}"\n[vary]\nrings.tooth_step = [4, 6]\n')
    os.mkfifo(tmp_path / "pipe")
    write(tmp_path, BASE + "[train]\n", "train.toml")
    write(tmp_path, "some words", "text.toml")
    with pytest.raises(DesignError) as fault:
        load_sweep_file(path)
    said = str(fault.value)
    assert said.startswith(f"{path}: base = ") and said.endswith(told) and "\n" not in said


WRONG = {  # the messages are whole
    "nothing varied": (BASE, "f: vary: nothing is varied; give [vary] or [[point]]"),
    "no base": ("[vary]\nrings.tooth_step = [1]\n", "f: base: missing: give the name of a design file, or its tables here"),
    "both": (
        'base = "b.toml"\n' + BASE + "[vary]\nrings.tooth_step = [1]\n",
        "f: bodies: give base or the tables of a design, not both; what differs belongs in [vary]",
    ),
    "no list": (BASE + "[vary]\nrings.tooth_step = 4\n", "f: vary.rings.tooth_step = 4: must be a list of values, or {min = , max = , step = }"),
    "twice": (BASE + "[vary]\nrings.tooth_step = [4, 5, 4]\n", "f: vary.rings.tooth_step = [4, 5, 4]: names 4 twice"),
    "empty span": (
        BASE + "[vary]\nrings.tooth_step = {min = 5, max = 4}\n",
        "f: vary.rings.tooth_step = {min = 5, max = 4}: must be {min = , max = , step = } with numbers, min up to max",
    ),
    "entry of a list": (
        BASE + '[vary]\n"bodies.list[0].period" = [1, 2]\n',
        "f: vary.bodies.list[0].period: entries of a list cannot be varied; vary the whole list",
    ),
    "unknown key": (
        BASE + "[vary]\nrings.toth_step = [4, 5]\n",
        'f: point 1 (rings.toth_step = 4): rings.toth_step: unknown key; did you mean "tooth_step"? (and in 1 more point)',
    ),
    "bad value": (
        BASE + "[vary]\nrings.inner_teeth = [18, 24]\nrings.tooth_step = [4, 0]\n",
        "f: point 2 (rings.inner_teeth = 18, rings.tooth_step = 0): rings.tooth_step = 0: must lie within 1 and 1000 (and in 1 more point)",
    ),
    "through a value": (
        BASE + "[vary]\nsearch.keep.more = [1, 2]\n",
        'f: point 1 (search.keep.more = 1): search.keep.more = 1: "keep" is no table of the base, so nothing in it can be varied',
    ),
    "too many": (
        BASE + "[vary]\nrings.inner_teeth = {min = 18, max = 60}\nrings.tooth_step = {min = 1, max = 60}\n[limits]\npoints = 2579\n",
        "f: limits.points = 2579: the file makes 2580 points; allow them or vary less",
    ),
    "a step without measure": (
        BASE + "[vary]\nfit.clearance = {min = 0, max = 1, step = 1e-999999999}\n",
        "f: vary.fit.clearance = {min = 0, max = 1, step = 1E-999999999}: step: an exponent beyond ±60",
    ),
    "a span without measure": (
        BASE + "[vary]\nfit.clearance = {min = -1e999999999, max = 1}\n",
        "f: vary.fit.clearance = {min = -1E+999999999, max = 1}: min: an exponent beyond ±60",
    ),
    "more digits than are said": (
        BASE + "[vary]\nrings.tooth_step = {min = 1, max = " + "9" * 4200 + "}\n",
        "f: vary.rings.tooth_step = {min = 1, max = " + "9" * 41 + "...: max: more than 60 digits",
    ),
    "a crowd": (
        BASE + "[vary]\nfit.clearance = {min = -1e60, max = 1e60, step = 1e-60}\n",
        "f: vary.fit.clearance = {min = -1E+60, max = 1E+60, step = 1E-60}: makes more than a million values",
    ),
    "unknown limit": (BASE + "[vary]\nrings.tooth_step = [4]\n[limits]\npoint = 3\n", "f: limits.point: unknown key"),
    "unknown table": (BASE + "[very]\nrings.tooth_step = [4]\n", 'f: very: unknown key; did you mean "vary"?'),
}  # fmt: skip


@pytest.mark.parametrize("name", WRONG)
def test_what_is_wrong_with_a_file_is_said_before_anything_is_solved(name):
    text, message = WRONG[name]
    with pytest.raises(DesignError) as fault:
        sweep_of(text, "f", "f")
    assert str(fault.value).startswith(message), str(fault.value)


def test_every_fault_of_a_file_is_told_once():
    text = BASE + "[vary]\nrings.inner_teeth = [2, 18]\nrings.tooth_step = {min = 0, max = 9}\n"
    with pytest.raises(DesignError) as fault:
        sweep_of(text, "f", "f")
    assert len(fault.value.complaints) == 2


# -- the answers -------------------------------------------------------------------------------------------------------


@pytest.mark.deep
def test_each_point_holds_the_answer_of_its_design(undisturbed):
    folder = undisturbed / "runs/results/moons"
    points = pq.read_table(folder / "points.parquet")
    assert points.schema.equals(POINT_SCHEMA) and len(points) == 60
    solutions = pq.read_table(folder / "solutions.parquet").to_pylist()
    for point in points.to_pylist()[::7]:
        answer = solve(parse_design(point["design"]))
        assert (point["status"], point["solutions"]) == (answer.status, len(answer.solutions))
        rows = [{**row} for row in solutions if row["point_id"] == point["point_id"]]
        for row in rows:
            del row["point_id"]
        assert rows == [solution_row(answer, solution) for solution in answer.solutions]
    assert {point["state"] for point in points.to_pylist()} == {"solved"}
    assert {"optimal", "infeasible"} == {point["status"] for point in points.to_pylist()}


@pytest.mark.slow
def test_units_stand_in_the_schema_and_ratios_are_integers(undisturbed):
    schema = pq.read_schema(undisturbed / "runs/results/moons/solutions.parquet")
    assert schema.field("worst_error_pct").metadata == {b"unit": b"percent"}
    assert schema.field("arbor_radius_mm").metadata == {b"unit": b"mm"}
    assert {str(schema.field(name).type) for name in ("ring_ratio_num", "ring_ratio_den")} == {"list<element: int64>"}
    about = json.loads(schema.metadata[b"ringwright"])
    assert {"versions", "answer_version", "title"} <= about.keys() and "ortools" in about["versions"]


@pytest.mark.slow
def test_a_manifest_names_every_file_with_its_hash(undisturbed):
    folder = undisturbed / "runs/results/moons"
    manifest = json.loads((folder / "manifest.json").read_text())
    there = {str(path.relative_to(folder)) for path in folder.rglob("*.parquet")}
    assert manifest["files"].keys() == there and len(there) >= 3 + 60 // 8
    for name, recorded in manifest["files"].items():
        assert hashlib.sha256((folder / name).read_bytes()).hexdigest() == recorded


@pytest.mark.deep
def test_another_run_has_the_same_bytes(undisturbed, tmp_path):
    write(tmp_path, SMALL)
    assert call("sweep", "moons.toml", "--workers", "1", cwd=tmp_path)[0] == 0
    assert table_bytes(tmp_path / "runs/results/moons") == table_bytes(undisturbed / "runs/results/moons")


@pytest.mark.slow
def test_a_finished_run_is_shown_and_not_solved_again(undisturbed):
    before = (undisturbed / "runs/results/moons/report.parquet").read_bytes()
    code, out, _ = call("sweep", "moons.toml", cwd=undisturbed)
    assert code == 0 and "60 points: 44 solved, 16 proven to have no solution" in out
    assert (undisturbed / "runs/results/moons/report.parquet").read_bytes() == before


@pytest.mark.deep
def test_what_another_run_in_the_folder_has_proven_is_taken_over(undisturbed, tmp_path):
    single = BASE.replace("24", "20")
    write(tmp_path, single, "single.toml")
    assert call("solve", "single.toml", cwd=tmp_path)[0] == 0
    write(tmp_path, SMALL)
    assert call("sweep", "moons.toml", cwd=tmp_path)[0] == 0
    write(tmp_path, BASE + "[vary]\nrings.inner_teeth = {min = 18, max = 40}\nrings.tooth_step = [3, 6]\n", "more.toml")
    code, out, err = call("sweep", "more.toml", cwd=tmp_path)
    assert code == 0 and "46 points: 30 solved, 16 proven to have no solution" in out
    assert "15 points taken over from moons\n" in err and "1 point taken over from three-moons-of-saturn-" in err
    report = pq.read_table(tmp_path / "runs/results/more/report.parquet").to_pylist()
    assert sum(row["from_run"] is not None for row in report) == 16 == sum(row["tries"] == 0 for row in report)


@pytest.mark.deep
def test_a_point_that_was_taken_over_is_the_same_as_solved(tmp_path):
    text = BASE + "[vary]\nrings.inner_teeth = {min = 18, max = 22}\n"
    write(tmp_path, text, "one.toml")
    write(tmp_path, text, "two.toml")
    for name in ("one", "two"):
        assert call("sweep", f"{name}.toml", cwd=tmp_path)[0] == 0
    results = tmp_path / "runs/results"
    assert table_bytes(results / "one") == table_bytes(results / "two")


# -- changed files -----------------------------------------------------------------------------------------------------


@pytest.mark.deep
def test_a_changed_file_is_refused_with_what_changed_or_taken_on_request(tmp_path):
    text = BASE + "[vary]\nrings.inner_teeth = [18, 20]\n"
    write(tmp_path, text)
    assert call("sweep", "moons.toml", cwd=tmp_path)[0] == 0
    write(tmp_path, text.replace("[18, 20]", "[18, 20, 22]"))
    code, _, err = call("sweep", "moons.toml", cwd=tmp_path)
    assert code == 2 and "changed since: vary.rings.inner_teeth [18, 20] → [18, 20, 22]. 2 of its 2 points are" in err
    code, out, _ = call("sweep", "moons.toml", "--extend", cwd=tmp_path)
    assert code == 0 and "3 points: 3 solved" in out
    folder = tmp_path / "runs/results/moons"
    tries = [row["tries"] for row in pq.read_table(folder / "report.parquet").to_pylist()]
    assert tries == [1, 1, 1]
    write(tmp_path, text.replace("[18, 20]", "[22, 18]"))
    code, out, _ = call("sweep", "moons.toml", "--extend", cwd=tmp_path)
    assert code == 0 and "2 points: 2 solved" in out
    settings = [json.loads(row["settings"]) for row in pq.read_table(folder / "points.parquet").to_pylist()]
    assert settings == [{"rings.inner_teeth": 22}, {"rings.inner_teeth": 18}]


@pytest.mark.deep
def test_limits_and_comments_may_change(tmp_path):
    text = BASE + "[vary]\nrings.inner_teeth = [18, 20]\n"
    write(tmp_path, text)
    assert call("sweep", "moons.toml", cwd=tmp_path)[0] == 0
    write(tmp_path, "# tried again\n" + text + "[limits]\npoint_s = 3\n")
    assert call("sweep", "moons.toml", cwd=tmp_path)[0] == 0


# -- limits ------------------------------------------------------------------------------------------------------------


@pytest.mark.deep
def test_a_point_beyond_its_limit_is_stopped_and_not_solved(tmp_path):
    write(tmp_path, HARD + "point_s = 1\n")
    code, out, _ = call("sweep", "moons.toml", cwd=tmp_path)
    assert code == 4 and "3 points: 2 solved, 1 stopped" in out and "time: 1 s were not enough" in out
    stopped = pq.read_table(tmp_path / "runs/results/moons/points.parquet").to_pylist()[2]
    assert (stopped["state"], stopped["proven"]) == ("stopped", False)
    code, out, _ = call("sweep", "moons.toml", "--again", cwd=tmp_path)
    tries = [row["tries"] for row in pq.read_table(tmp_path / "runs/results/moons/report.parquet").to_pylist()]
    assert code == 4 and tries == [1, 1, 2]


# The limit is looked at once a point is solved, however slow the machine is.
AFTER_ONE = """
import sys
from solver.batch.sweep import sweeps
from solver.batch.sweep.table import PointState
real = sweeps.run_points
def run_points(folder, table, workers, stop, *words):
    return real(folder, table, workers, lambda: stop() if table.counts()[PointState.SOLVED] else None, *words)
sweeps.run_points = run_points
from solver.__main__ import main
sys.argv[0] = "ringwright"
main()
"""


@pytest.mark.deep
def test_a_sweep_beyond_its_limit_says_what_is_left_and_goes_on(tmp_path):
    write(tmp_path, HARD + "total_s = 0.01\n")
    code, out, _ = call("sweep", "moons.toml", cwd=tmp_path, driver=AFTER_ONE)
    assert code == 4 and re.search(
        r"limits.total_s = 0.01 is over: [12] points? left; the same command goes on with them", out
    )
    write(tmp_path, HARD + "point_s = 1\n")
    code, out, err = call("sweep", "moons.toml", cwd=tmp_path)
    assert code == 4 and re.search("going on: [12] of 3 points are finished", err) and "2 solved, 1 stopped" in out


AT_ONCE = "bytearray(400 << 20)"
# To the last byte, so that not even a word of it can be said before some is given back; and in other words.
LITTLE_BY_LITTLE = """kept = globals()['kept'] = []
        for size in (1000000, 10000, *range(512, 0, -8)):
            try:
                last = None
                while True:
                    last = (last, bytes(size))
            except MemoryError:
                kept.append(last)
        raise MemoryError"""
OTHERWISE = "raise OSError(12, 'Cannot allocate memory')"


@pytest.mark.deep
@pytest.mark.parametrize("greed", [AT_ONCE, LITTLE_BY_LITTLE, OTHERWISE])
def test_a_worker_that_needs_too_much_memory_ends_its_point_alone_and_is_not_tried_again(tmp_path, greed):
    write(tmp_path, HARD + "memory_mb = 300\npoint_s = 20\n")
    greedy = """
import sys
from solver.batch.sweep import workers
from solver.__main__ import main
if __name__ == "__main__":
    workers._PRELOADED = ["greedy"]
    sys.argv[0] = "ringwright"
    main()
"""
    write(
        tmp_path,
        "from solver.batch.sweep import workers\nreal = workers.solve_point\n"
        "def solve_point(task, *more):\n"
        f"    if 'planets' in task.text:\n        {greed}\n"
        "    return real(task, *more)\n"
        "workers.solve_point = solve_point\n",
        "greedy.py",
    )
    code, out, err = call(
        "sweep",
        "moons.toml",
        cwd=tmp_path,
        driver=f"import os; os.environ['PYTHONPATH'] = {str(tmp_path)!r}\n" + greedy,
    )
    assert code == 4 and "3 points: 2 solved, 1 failed" in out, err
    assert "memory too small: 300 MB were allowed beside the solver itself" in out
    report = pq.read_table(tmp_path / "runs/results/moons/report.parquet").to_pylist()
    assert sorted(row["tries"] for row in report) == [1, 1, 1]


# -- disturbances ------------------------------------------------------------------------------------------------------


@pytest.mark.deep
@pytest.mark.parametrize("kills", [1, KILLS])
def test_runners_killed_at_random_moments_lose_nothing(undisturbed, tmp_path, kills):
    seed = random.randrange(10**6)
    rng = random.Random(seed)
    print("seed", seed)
    write(tmp_path, SMALL)
    folder = tmp_path / "runs/results/moons"
    killed = 0
    while killed < kills:
        process, mark = begin("sweep", "moons.toml", "--workers", "2", cwd=tmp_path)
        try:
            process.communicate(timeout=rng.uniform(0.2, 1.6))
        except subprocess.TimeoutExpired:
            process.kill()
            killed += 1
            process.communicate()
            assert left_behind(mark) == []
        else:  # complete: begin again, now and then with a part or a table gone half way
            assert process.returncode == 0
            assert table_bytes(folder) == table_bytes(undisturbed / "runs/results/moons")
            folder.rename(tmp_path / f"complete-{killed}")
    code, out, err = call("sweep", "moons.toml", cwd=tmp_path)
    assert code == 0 and "60 points: 44 solved, 16 proven to have no solution" in out, err
    assert table_bytes(folder) == table_bytes(undisturbed / "runs/results/moons")
    assert call("sweep", "moons.toml", "--status", cwd=tmp_path)[0] == 0


@pytest.mark.deep
def test_a_killed_worker_costs_one_try(tmp_path):
    write(tmp_path, HARD + "point_s = 4\n")
    process, mark = begin("sweep", "moons.toml", "--workers", "1", cwd=tmp_path)
    until_solved(process, tmp_path / "runs/results/moons", 2)
    os.kill(busiest(workers_of(process, mark)), signal.SIGKILL)
    out, _ = process.communicate(timeout=60)
    assert process.returncode == 4 and "2 solved, 1 stopped" in out
    report = pq.read_table(tmp_path / "runs/results/moons/report.parquet").to_pylist()
    assert sorted(row["strikes"] for row in report) == [0, 0, 1] and sum(row["tries"] for row in report) == 4


def busiest(pids: list[int]) -> int:
    """The one that has used most of the processor: beside it another may wait for its task."""

    def ticks(pid: int) -> int:
        return sum(map(int, Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[11:13]))

    return max(pids, key=ticks)


_POISONED = """
import os, signal, sys
os.environ["PYTHONPATH"] = {folder!r}  # no worker looks into the working folder by itself
from solver.batch.sweep import workers
workers._PRELOADED = ["poison"]
from solver.__main__ import main
sys.argv[0] = "ringwright"
main()
"""


@pytest.mark.deep
def test_a_point_that_kills_its_workers_is_given_up_and_the_rest_completes(tmp_path):
    write(tmp_path, SMALL.replace("{min = 18, max = 32}", "{min = 24, max = 26}"))
    write(
        tmp_path,
        "import os, signal\nfrom solver.batch.sweep import workers\nreal = workers.solve_point\n"
        "def solve_point(task, *more):\n"
        "    if 'inner_teeth = 25' in task.text:\n        os.kill(os.getpid(), signal.SIGSEGV)\n"
        "    return real(task, *more)\n"
        "workers.solve_point = solve_point\n",
        "poison.py",
    )
    code, out, err = call("sweep", "moons.toml", cwd=tmp_path, driver=_POISONED.format(folder=str(tmp_path)))
    assert code == 4 and "12 points: 6 solved, 2 proven to have no solution, 4 failed" in out, err
    assert out.count("its worker was ended by SIGSEGV") == 4
    points = pq.read_table(tmp_path / "runs/results/moons/points.parquet").to_pylist()
    failed = [point for point in points if point["state"] == "failed"]
    assert {json.loads(point["settings"])["rings.inner_teeth"] for point in failed} == {25}
    report = pq.read_table(tmp_path / "runs/results/moons/report.parquet").to_pylist()
    assert {row["strikes"] for row in report if row["point_id"] in {p["point_id"] for p in failed}} == {3}
    code, out, _ = call("sweep", "moons.toml", "--again", cwd=tmp_path)
    assert code == 0 and "12 points: 8 solved, 4 proven to have no solution" in out


@pytest.mark.deep
def test_a_second_runner_is_told_who_holds_the_run(tmp_path):
    write(tmp_path, HARD)
    process, mark = begin("sweep", "moons.toml", cwd=tmp_path)
    some_worker(process, mark)
    code, out, err = call("sweep", "moons.toml", cwd=tmp_path)
    assert (code, out) == (75, "") and f"held by process {process.pid} on" in err
    code, out, _ = call("sweep", "moons.toml", "--status", cwd=tmp_path)
    assert code == 0 and f"at work: process {process.pid} on" in out
    process.send_signal(signal.SIGINT)
    out, _ = process.communicate(timeout=30)
    assert process.returncode == 130 and "interrupted" in out
    assert left_behind(mark) == []


@pytest.mark.deep
@pytest.mark.parametrize("signum", [signal.SIGINT, signal.SIGHUP])
def test_a_signal_to_a_whole_terminal_strikes_no_worker(signum, tmp_path):
    """Ctrl-C reaches every process of it, and so does its end."""
    write(tmp_path, HARD)
    process, mark = begin("sweep", "moons.toml", cwd=tmp_path)
    until_solved(process, tmp_path / "runs/results/moons", 2)
    for pid in marked(mark):
        os.kill(pid, signum)
    out, err = process.communicate(timeout=30)
    assert process.returncode == 128 + signum
    assert "interrupted: 1 point left" in out and "Traceback" not in err
    write(tmp_path, HARD + "point_s = 1\n")
    assert call("sweep", "moons.toml", cwd=tmp_path)[0] == 4
    report = pq.read_table(tmp_path / "runs/results/moons/report.parquet").to_pylist()
    assert {row["strikes"] for row in report} == {0}


@pytest.mark.deep
def test_what_an_interrupted_point_has_found_is_kept_and_it_is_solved_again_from_the_start(tmp_path):
    text = RICH + "[vary]\nsearch.keep = [3]\n[limits]\n"
    write(tmp_path, text)
    folder = tmp_path / "runs/results/moons"

    def interrupted(seconds: float) -> int:
        """How many solutions are kept, when the sweep was interrupted so long [s] after its worker appeared."""
        process, mark = begin("sweep", "moons.toml", cwd=tmp_path)
        some_worker(process, mark)
        time.sleep(seconds)
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=30)
        assert process.returncode == 130 and "interrupted: 1 point left" in out, err
        assert not (folder / "manifest.json").exists()
        (point,) = load_sweep(folder).points
        told = point["state"], point["reason"]
        assert told in (("stopped", "interrupt"), ("waiting", None))  # where it was too early to answer
        return point["solutions"]

    found = next(filter(None, map(interrupted, PATIENCE_S)))
    code, out, _ = call("rank", str(folder), "--json", cwd=tmp_path)
    assert code == 0 and {row["status"] for row in json.loads(out)["solutions"]} == {"feasible"}
    assert interrupted(0.1) == found, "less than before takes nothing away"
    write(tmp_path, text + "point_s = 0.3\n")
    code, out, _ = call("sweep", "moons.toml", cwd=tmp_path)
    assert code == 4 and "time: 0.3 s were not enough" in out
    (row,) = pq.read_table(folder / "report.parquet").to_pylist()
    assert row["tries"] >= 3 and row["strikes"] == 0


@pytest.mark.deep
def test_what_the_limit_of_a_sweep_interrupts_is_kept_and_solved_again(tmp_path):
    text = RICH + "[vary]\nsearch.keep = [3]\n[limits]\n"

    def found(seconds: int) -> int | None:
        write(tmp_path, text + f"total_s = {seconds}\n")
        code, out, err = call("sweep", "moons.toml", cwd=tmp_path)
        assert code == 4 and f"limits.total_s = {seconds} is over: 1 point left" in out, err
        return load_sweep(tmp_path / "runs/results/moons").points[0]["solutions"]

    assert next(filter(None, map(found, PATIENCE_S)))
    write(tmp_path, text + "point_s = 0.3\n")
    assert "time: 0.3 s were not enough" in call("sweep", "moons.toml", cwd=tmp_path)[1]


WRITES_TO_NOBODY = """
import os, sys
from solver.cli import sweep
real = sweep.run_sweep
def run_sweep(*words):
    nobody, writer = os.pipe()
    os.close(nobody)
    try:
        os.write(writer, b"x")
    except BrokenPipeError:
        print("told", file=sys.stderr)
    return real(*words)
sweep.run_sweep = run_sweep
sys.argv = ["ringwright", "sweep", "moons.toml"]
from solver.__main__ import main
main()
"""


@pytest.mark.deep
def test_a_worker_that_is_gone_when_it_is_written_to_does_not_end_the_sweep(tmp_path):
    write(tmp_path, SMALL)
    done = subprocess.run(
        [sys.executable, "-c", WRITES_TO_NOBODY], cwd=tmp_path, env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True, text=True, timeout=120,
    )  # fmt: skip
    assert done.returncode == 0 and "told" in done.stderr and "60 points: 44 solved, 16 proven" in done.stdout


@pytest.mark.deep
def test_the_least_memory_that_may_be_told_is_enough_for_the_readmes_example(tmp_path):
    """256 MB are the least that a sweep or the service takes; what the libraries reserve does not count."""
    changes = {"inner_teeth": "33", "tooth_step": "4", "blanks": "1"}
    code, text, _ = call("new", "--bodies", "jupiter", cwd=tmp_path)
    assert code == 0
    for name, value in changes.items():
        text = re.sub(rf"(?m)^{name} = .*", f"{name} = {value}", text)
    frame = 'frame = {shape = "square", side = 360, depth = 160}'
    text = re.sub(r"(?m)^# frame = .*", frame, text).replace("# prove = true", "prove = true")
    write(tmp_path, text, "hall.toml")
    limits = "[limits]\nmemory_mb = {}\n"
    write(tmp_path, 'base = "hall.toml"\n[vary]\nsearch.keep = [10]\n' + limits.format(256), "moons.toml")
    code, out, err = call("sweep", "moons.toml", cwd=tmp_path)
    assert code == 0 and "the only point is solved" in out, err
    write(tmp_path, 'base = "hall.toml"\n[vary]\nsearch.keep = [10]\n' + limits.format(255), "little.toml")
    code, _, err = call("sweep", "little.toml", cwd=tmp_path)
    assert code == 2 and "limits.memory_mb = 255: must be at least 256" in err
