"""Sweeps where the disk, a file, a worker or a clock fails: noticed by name, nothing trusted, made good on request."""

from __future__ import annotations

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import SimpleNamespace

import pyarrow.parquet as pq
import pytest
from sweeping import BASE, HARD, SMALL, begin, call, some_worker, table_bytes, write

from solver.batch.store.errors import Busy, StoreError
from solver.batch.store.lock import held, holder
from solver.batch.store.parts import part_name
from solver.batch.sweep import runner
from solver.batch.sweep.file import sweep_of
from solver.batch.sweep.sweeps import opened, run_sweep
from solver.batch.sweep.table import Finished, JobTable, PointState, journal_mode
from solver.batch.sweep.work import Task, solve_point
from solver.batch.sweep.workers import LocalWorkers, Outcome
from solver.design.errors import so_many
from solver.search.stop import Interrupt, NoStop

pytestmark = pytest.mark.deep


@pytest.fixture(scope="module")
def finished(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("finished")
    write(folder, SMALL)
    assert call("sweep", "moons.toml", cwd=folder)[0] == 0
    return folder


@pytest.fixture
def copied(finished, tmp_path) -> Path:
    """A copy of a finished sweep, to be damaged."""
    return Path(shutil.copytree(finished, tmp_path / "copy"))


@contextmanager
def small_disk(folder: Path, kilobytes: int) -> Iterator[Path]:
    """A file system of that size; skipped where this process may not mount one."""
    folder.mkdir()
    made = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={kilobytes}k", "tmpfs", str(folder)], capture_output=True
    )
    if made.returncode != 0:
        pytest.skip("no file system can be mounted here")
    try:
        yield folder
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)


# -- disks -------------------------------------------------------------------------------------------------------------


def test_a_full_disk_is_named_and_nothing_is_lost(finished, tmp_path):
    text = SMALL.replace("keep = 3", "keep = 60")
    with small_disk(tmp_path / "disk", 2048) as disk:
        write(disk, text)
        filler = disk / "filler"
        filler.write_bytes(b"x" * (1400 << 10))
        code, out, err = call("sweep", "moons.toml", cwd=disk)
        assert code == 2 and out == "" and "moons/" in err and ("is full" in err or "No space left" in err), err
        filler.unlink()
        write(tmp_path, text)
        code, out, err = call("sweep", "moons.toml", cwd=disk)
        assert code in (0, 2)
        if code == 2:  # two megabytes are not enough for all of it
            shutil.copytree(disk / "runs", tmp_path / "runs")
            code, out, err = call("sweep", "moons.toml", cwd=tmp_path)
            assert "going on" in err
            there = tmp_path / "runs/results/moons"
        else:
            there = disk / "runs/results/moons"
        assert code == 0 and "60 points: 44 solved, 16 proven to have no solution" in out
        other = tmp_path / "other"
        other.mkdir()
        write(other, text)
        assert call("sweep", "moons.toml", cwd=other)[0] == 0
        assert table_bytes(there) == table_bytes(other / "runs/results/moons")


def test_a_folder_that_cannot_be_written_is_named(tmp_path):
    with small_disk(tmp_path / "disk", 2048) as disk:
        write(disk, SMALL)
        subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
        code, out, err = call("sweep", "moons.toml", cwd=disk)
        assert (code, out) == (2, "") and err == "--results runs/results: cannot be written: .: Read-only file system\n"
    with small_disk(tmp_path / "other", 8192) as disk:
        write(disk, SMALL)
        assert call("sweep", "moons.toml", cwd=disk)[0] == 0
        subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
        code, out, err = call("sweep", "moons.toml", cwd=disk)
        assert (code, out) == (2, "") and "runs/results: cannot be written: runs/results: Read-only" in err
        assert call("sweep", "moons.toml", "--status", cwd=disk)[0] == 0
        assert call("rank", "runs/results/moons", cwd=disk)[0] == 0
        assert call("rerun", "runs/results/moons", "--best", "2", cwd=disk)[:2] == (0, "identical\n")


# -- damaged files -----------------------------------------------------------------------------------------------------


def flip(path: Path) -> None:
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 4
    path.write_bytes(bytes(data))


def cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-100])


def in_file(folder: Path, name: str) -> set[str]:
    """The points whose answers lie in a part, and nowhere else; none where the file is no part. A part is closed once
    as many points are loose as it may hold. Where several workers answer within one look there are more, and what is
    beyond makes a smaller part of its own: how many points a part has hangs on time."""
    table = JobTable(folder, read_only=True)
    inside = {point["id"] for point in table.points() if part_name(point["part"]) == name}
    table.close()
    if inside:
        assert set(pq.read_table(folder / name)["point_id"].to_pylist()) <= inside
    return inside


@pytest.mark.parametrize("hurt", [flip, *(pytest.param(one, marks=pytest.mark.deep) for one in (cut, Path.unlink))])
@pytest.mark.parametrize(
    "name", ["parts/solutions-000002.parquet", "solutions.parquet", "points.parquet", "manifest.json"]
)
def test_a_damaged_file_is_named_not_trusted_and_made_good(finished, copied, hurt, name):
    folder = copied / "runs/results/moons"
    if name == "manifest.json" and hurt is Path.unlink:
        pytest.skip("a run without a manifest is one that is not finished")
    inside = in_file(folder, name)
    hurt(folder / name)
    damaged = f"runs/results/moons/{name}: "
    code, out, err = call("sweep", "moons.toml", cwd=copied)
    assert (code, out) == (2, "") and damaged in err and "--mend" in err, err
    assert call("sweep", "moons.toml", "--status", cwd=copied)[0] == 2
    if not name.startswith("parts"):
        for words in (["rank", "runs/results/moons"], ["rerun", "runs/results/moons", "--all"]):
            code, out, err = call(*words, cwd=copied)
            assert (code, out) == (2, "") and damaged in err
    code, out, err = call("sweep", "moons.toml", "--mend", cwd=copied)
    assert code == 0 and damaged in err and "put aside" in err
    assert table_bytes(folder) == table_bytes(finished / "runs/results/moons")
    assert bool(inside) == name.startswith("parts")
    assert (f"put aside, {so_many(len(inside), 'point')} to be solved again" in err) == bool(inside)
    tries = {row["point_id"]: row["tries"] for row in pq.read_table(folder / "report.parquet").to_pylist()}
    assert len(tries) == 60 and tries == {point: 1 + (point in inside) for point in tries}
    assert call("sweep", "moons.toml", cwd=copied)[2] == "stored in runs/results/moons\n"


def test_a_damaged_job_table_is_put_aside_and_the_tables_serve_instead(finished, copied):
    folder = copied / "runs/results/moons"
    data = bytearray((folder / "jobs.sqlite").read_bytes())
    data[100:9000] = os.urandom(8900)
    (folder / "jobs.sqlite").write_bytes(bytes(data))
    code, out, err = call("sweep", "moons.toml", cwd=copied)
    assert (code, out) == (2, "") and "runs/results/moons/jobs.sqlite: " in err and "--mend" in err, err
    code, out, err = call("sweep", "moons.toml", "--mend", cwd=copied)
    assert code == 0 and "60 points taken over from moons" in err, err
    assert table_bytes(folder) == table_bytes(finished / "runs/results/moons")


def test_a_damaged_neighbour_is_not_believed(copied):
    flip(copied / "runs/results/moons/solutions.parquet")
    write(copied, SMALL, "again.toml")
    code, out, err = call("sweep", "again.toml", cwd=copied)
    assert code == 0 and "taken over" not in err and "60 points: 44 solved, 16 proven to have no solution" in out


# -- the job table -----------------------------------------------------------------------------------------------------


@pytest.fixture
def table(tmp_path) -> Iterator[JobTable]:
    table = JobTable(tmp_path)
    sweep = sweep_of(BASE + "[vary]\nrings.inner_teeth = [18, 20]\n", "f", "f")
    table.describe(sweep.points, "v", {})
    yield table
    table.close()


def result(state: PointState = PointState.SOLVED) -> Finished:
    return Finished(state, None, {"status": "optimal"}, b"rows", {})


def test_terminal_states_are_marked():
    assert [state for state in PointState if state.terminal] == ["solved", "stopped", "failed"]


def test_a_late_result_changes_nothing(table):
    late = table.lease("one", None, 1)
    assert table.void_leases() == 1
    now = table.lease("two", None, 1)
    assert late.point == now.point and late.fence < now.fence
    assert not table.finish(late, result(PointState.STOPPED)) and table.counts()[PointState.SOLVING] == 1
    assert table.finish(now, result()) and not table.finish(now, result(PointState.STOPPED))
    assert not table.finish(late, result(PointState.STOPPED)) and not table.release(late)
    assert table.strike(late, "late", 3, PointState.FAILED) is None
    assert table.counts()[PointState.SOLVED] == 1


def test_three_strikes_and_a_point_is_out_and_others_come_first(table):
    leases = [table.lease("one", None, 1)]
    assert table.strike(leases[0], "lost", 3, PointState.FAILED) == PointState.WAITING
    other = table.lease("one", None, 1)
    assert other.point != leases[0].point
    for wanted in (PointState.WAITING, PointState.FAILED):
        lease = table.lease("one", None, 1)
        assert lease.point == leases[0].point
        assert table.strike(lease, "lost", 3, PointState.FAILED) == wanted
    assert table.lease("one", None, 1) is None
    assert [(point["reason"], point["strikes"]) for point in table.points(PointState.FAILED)] == [("lost", 3)]


def test_a_change_that_fails_half_way_is_none(table):
    with pytest.raises(ZeroDivisionError), table._change() as db:
        db.execute("UPDATE points SET state = 'failed'")
        raise ZeroDivisionError
    assert table.counts()[PointState.WAITING] == 2


KILLED = """
import os, signal, sqlite3, sys
db = sqlite3.connect(sys.argv[1], isolation_level=None)
db.execute("PRAGMA cache_size = 2")  # so that changes reach the file before their end
db.execute("BEGIN IMMEDIATE")
db.execute("UPDATE points SET state = 'solved'")
for number in range(500):
    db.execute("INSERT INTO about VALUES (?, ?)", (f"key {number}", "x" * 500))
os.kill(os.getpid(), signal.SIGKILL)
"""


def test_who_only_reads_does_not_stumble_over_a_change_that_was_cut_off(table):
    """A runner that is killed while it writes leaves a change half done, and its journal beside it."""
    before = table.counts()
    subprocess.run([sys.executable, "-c", KILLED, str(table.path)], check=False, timeout=60)
    journal = table.path.with_name(table.path.name + "-journal")
    assert journal.stat().st_size > 0
    found = JobTable(table.path.parent, read_only=True)
    assert found.counts() == before and found.about("key 1") is None
    with pytest.raises(StoreError, match="readonly"):
        found.wait_again(["nothing"])
    found.close()


def test_the_journal_is_chosen_by_the_version_of_sqlite(tmp_path):
    assert [journal_mode(v) for v in ((3, 40, 1), (3, 51, 2), (3, 51, 3), (3, 52, 0), (4, 0, 0))] == [
        "TRUNCATE", "TRUNCATE", "WAL", "WAL", "WAL",
    ]  # fmt: skip
    JobTable(tmp_path).close()
    with sqlite3.connect(tmp_path / "jobs.sqlite") as db:
        assert db.execute("PRAGMA journal_mode").fetchone()[0].upper() in (
            journal_mode(sqlite3.sqlite_version_info[:3]), "DELETE",
        )  # fmt: skip


def test_a_foreign_table_is_refused(tmp_path):
    JobTable(tmp_path).close()
    with sqlite3.connect(tmp_path / "jobs.sqlite") as db:
        db.execute("UPDATE about SET value = 'other/2' WHERE key = 'schema'")
    with pytest.raises(StoreError, match=r"jobs\.sqlite: not a table of this version"):
        JobTable(tmp_path)


def test_the_lock_is_let_go_of(tmp_path):
    with held(tmp_path):
        assert f"process {os.getpid()} on" in (holder(tmp_path) or "")
        with pytest.raises(Busy, match=f"held by process {os.getpid()} on"), held(tmp_path):
            pass
    assert holder(tmp_path) is None


# -- workers that pause ------------------------------------------------------------------------------------------------


class Clock:
    """The runner's clock, which a test sets forward, so that no lease runs out because the machine is slow."""

    def __init__(self, monkeypatch) -> None:
        self.ahead = 0.0
        monkeypatch.setattr(runner, "time", SimpleNamespace(monotonic=lambda: time.monotonic() + self.ahead))


class Paused:
    """Workers of which the first one pauses beyond its lease, goes on, and hands in what it has when the point was
    solved by another one long ago."""

    def __init__(self, clock: Clock) -> None:
        self.clock = clock
        self.tasks: list[Task] = []
        self.dropped: list[int] = []
        self.late: Outcome | None = None

    def free(self) -> int:
        return 1 - len(self.tasks)

    def start(self, task: Task) -> None:
        self.tasks.append(task)

    def wait(self, seconds: float) -> list[Outcome]:
        task = self.tasks[0]
        if not self.dropped:
            self.clock.ahead += 1000
            return []
        self.tasks.clear()
        outcomes = [Outcome(task.key, solve_point(task))]
        if self.late is not None:
            outcomes.append(self.late)
            self.late = None
        return outcomes

    def drop(self, key: int) -> None:
        self.dropped.append(key)
        wrong = solve_point(Task(key, BASE, 10))
        self.late = Outcome(key, wrong)
        self.tasks = [task for task in self.tasks if task.key != key]

    def paused(self, key: int) -> float:
        return 0.0

    def close(self) -> None: ...


def test_a_worker_paused_beyond_its_lease_does_not_overwrite(tmp_path, monkeypatch):
    text = BASE + "[vary]\nrings.inner_teeth = [18, 20]\n[limits]\npoint_s = 100\n"
    sweep = sweep_of(text, "f", "paused")
    events: list[runner.Event] = []
    workers = Paused(Clock(monkeypatch))
    with opened(sweep, tmp_path, print) as (folder, table):
        ending = run_sweep(folder, table, sweep, workers, events.append, NoStop())
    assert ending.counts[PointState.SOLVED] == 2 and workers.dropped == [1] and workers.late is None
    told = [(event.state, event.reason and event.reason[:9]) for event in events]
    assert told == [("waiting", "no answer"), ("solved", None), ("solved", None)]
    write(tmp_path, text, "sound.toml")
    assert call("sweep", "sound.toml", "--results", "sound", cwd=tmp_path)[0] == 0
    mine, theirs = table_bytes(tmp_path / "paused"), table_bytes(tmp_path / "sound/sound")
    assert mine == theirs


def test_a_process_paused_beyond_its_lease_is_replaced(tmp_path, monkeypatch):
    sweep = sweep_of(HARD + "point_s = 1\n", "f", "f")
    events: list[runner.Event] = []
    clock = Clock(monkeypatch)
    paused: list[int] = []

    class Watched(LocalWorkers):
        def start(self, task: Task) -> None:
            super().start(task)
            if "planets" in task.text and not paused:
                paused.append(self.pids()[task.key])
                os.kill(paused[0], signal.SIGSTOP)
                clock.ahead += 1000

    with Watched(1) as workers, opened(sweep, tmp_path, print) as (folder, table):
        ending = run_sweep(folder, table, sweep, workers, events.append, Interrupt())
        assert not Path(f"/proc/{paused[0]}").exists()
    assert ending.counts[PointState.STOPPED] == 1 and ending.counts[PointState.SOLVED] == 2
    assert [event.state for event in events].count(PointState.WAITING) == 1


def test_a_worker_that_never_answers_is_stopped_and_not_solved(tmp_path, monkeypatch):
    sweep = sweep_of(HARD + "point_s = 8\n", "f", "f")
    clock = Clock(monkeypatch)

    class Mute(LocalWorkers):
        def start(self, task: Task) -> None:
            super().start(task)
            if "planets" in task.text:
                os.kill(self.pids()[task.key], signal.SIGSTOP)
                clock.ahead += 1000

    with Mute(1) as workers, opened(sweep, tmp_path, print) as (folder, table):
        ending = run_sweep(folder, table, sweep, workers, lambda event: None, NoStop())
        reason = table.points(PointState.STOPPED)[0]["reason"]
    assert ending.counts[PointState.STOPPED] == 1 and reason == "no answer 30 s after it was begun, with 8 s allowed"


def test_results_of_a_dead_runner_are_not_mistaken_for_the_new_ones(tmp_path):
    write(tmp_path, HARD)
    process, mark = begin("sweep", "moons.toml", cwd=tmp_path)
    some_worker(process, mark)
    time.sleep(1)
    process.kill()
    process.communicate()
    table = JobTable(tmp_path / "runs/results/moons")
    fences = table._rows("SELECT max(fence) AS last FROM points")[0]["last"]
    assert table.void_leases() >= 1
    assert table.lease("new", None, 1).fence > fences
    table.close()
