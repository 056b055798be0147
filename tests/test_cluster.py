"""Sweeps on a Dask cluster: a real scheduler and real workers on this machine, some of which are lost on the way."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pyarrow.parquet as pq
import pytest
from commands import ROOT
from sweeping import HARD, SMALL, begin, call, table_bytes, until_solved, write

pytest.importorskip("distributed")

pytestmark = pytest.mark.deep

# Each worker solves some points, and waits before the next one until it may go on: it can be lost there.
HELD = """
import time
from itertools import count
from pathlib import Path
from solver.batch.sweep import cluster
real, number = cluster.solve_point, count(1)
def solve_point(task):
    while next(number) > 8 and not Path("go").exists():
        time.sleep(0.02)
    if "inner_teeth = 25" in task.text and POISON:
        import os, signal
        os.kill(os.getpid(), signal.SIGKILL)
    return real(task)
cluster.solve_point = solve_point
"""


class Cluster:
    def __init__(self, folder: Path, poison: bool) -> None:
        (folder / "held.py").write_text(HELD.replace("POISON", str(poison)))
        self.folder, self.processes, self.workers = folder, [], []
        self.environment = {**os.environ, "PYTHONPATH": f"{ROOT}{os.pathsep}{folder}"}

    def begin(self) -> None:
        self.scheduler = self._start("scheduler", "--port", "0", "--no-dashboard")
        self.address = self._address()
        for _ in range(2):
            self.add()

    def go_on(self) -> None:
        """Let the workers solve the rest."""
        (self.folder / "go").touch()

    def _start(self, *words: str) -> subprocess.Popen[bytes]:
        with (self.folder / f"{words[0]}-{time.monotonic_ns()}.log").open("wb") as log:
            process = subprocess.Popen(
                [sys.executable, "-m", f"distributed.cli.dask_{words[0]}", *words[1:]],
                cwd=self.folder, env=self.environment, stdout=log, stderr=log,
            )  # fmt: skip
        self.processes.append(process)
        return process

    def _address(self) -> str:
        end = time.monotonic() + 60
        while time.monotonic() < end:
            for log in self.folder.glob("scheduler-*.log"):
                found = re.search(r"tcp://[\d.]+:\d+", log.read_text())
                if found:
                    return found.group()
            time.sleep(0.1)
        raise AssertionError("the scheduler did not come up")

    def add(self) -> None:
        words = ("--nthreads", "1", "--no-nanny", "--no-dashboard", "--preload", "held")
        self.workers.append(self._start("worker", self.address, *words))

    def close(self) -> None:
        for process in self.processes:
            process.kill()
            process.wait()


@pytest.fixture
def cluster(tmp_path, request) -> Iterator[Cluster]:
    there = Cluster(tmp_path, getattr(request, "param", False))
    try:
        there.begin()
        yield there
    finally:
        there.close()


@pytest.fixture(scope="module")
def local(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("local")
    write(folder, SMALL)
    assert call("sweep", "moons.toml", cwd=folder)[0] == 0
    return folder / "runs/results/moons"


def test_a_cluster_that_loses_a_worker_gives_the_same_bytes(cluster, local, tmp_path):
    write(tmp_path, SMALL)
    process, _ = begin("sweep", "moons.toml", "--cluster", cluster.address, cwd=tmp_path)
    until_solved(process, tmp_path / "runs/results/moons", 10)  # each worker has solved some
    cluster.workers[0].send_signal(signal.SIGKILL)
    cluster.go_on()
    out, err = process.communicate(timeout=120)
    assert process.returncode == 0 and "60 points: 44 solved, 16 proven to have no solution" in out, err
    assert table_bytes(tmp_path / "runs/results/moons") == table_bytes(local)
    report = pq.read_table(tmp_path / "runs/results/moons/report.parquet").to_pylist()
    assert len({row["worker"] for row in report}) == 2


@pytest.mark.parametrize("cluster", [True], indirect=True)
def test_a_point_that_kills_workers_of_a_cluster_is_given_up(cluster, tmp_path):
    write(tmp_path, SMALL.replace("[3, 5]", "[3]").replace("[0, 1]", "[0]"))
    process, _ = begin("sweep", "moons.toml", "--cluster", cluster.address, cwd=tmp_path)
    cluster.go_on()
    end = time.monotonic() + 120
    while process.poll() is None and time.monotonic() < end:
        for index, worker in enumerate(cluster.workers):
            if worker.poll() is not None:
                del cluster.workers[index]
                cluster.add()
        time.sleep(0.2)
    out, err = process.communicate(timeout=10)
    assert process.returncode == 4 and "15 points: 7 solved, 7 proven to have no solution, 1 failed" in out, err
    assert "its worker was lost" in out


def test_a_scheduler_that_goes_away_is_named_and_the_sweep_goes_on_without_it(cluster, local, tmp_path):
    write(tmp_path, SMALL)
    process, _ = begin("sweep", "moons.toml", "--cluster", cluster.address, cwd=tmp_path)
    until_solved(process, tmp_path / "runs/results/moons", 10)  # each worker has solved some
    cluster.scheduler.kill()
    cluster.go_on()
    _, err = process.communicate(timeout=120)
    assert process.returncode == 4 and f"{cluster.address}: the scheduler does not answer any more" in err, err
    code, out, err = call("sweep", "moons.toml", cwd=tmp_path)
    assert code == 0 and "60 points: 44 solved, 16 proven to have no solution" in out and "going on" in err
    assert table_bytes(tmp_path / "runs/results/moons") == table_bytes(local)


def test_a_cluster_made_here(local, tmp_path):
    write(tmp_path, SMALL)
    code, _, err = call("sweep", "moons.toml", "--cluster", "local", "--workers", "2", cwd=tmp_path)
    assert code == 0 and err == "stored in runs/results/moons\n", err
    assert table_bytes(tmp_path / "runs/results/moons") == table_bytes(local)


@pytest.mark.parametrize("after_s", [0.0, 2.0])
def test_who_ends_a_sweep_on_a_cluster_made_here_reads_where_it_is_stored(after_s, tmp_path):
    """Nothing of Dask's or Python's own on what was left half done."""
    write(tmp_path, HARD)
    process, _ = begin("sweep", "moons.toml", "--cluster", "local", "--workers", "2", cwd=tmp_path)
    folder = tmp_path / "runs/results/moons"
    while not (folder / "jobs.sqlite").exists():
        time.sleep(0.05)
    time.sleep(after_s)
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=60)
    assert process.returncode == 130 and err in ("", "stored in runs/results/moons\n")
    assert err or not after_s  # the table is there a moment before the run is said to be


def test_a_cluster_that_is_not_there_is_named(tmp_path):
    write(tmp_path, SMALL)
    code, out, err = call("sweep", "moons.toml", "--cluster", "tcp://127.0.0.1:9", cwd=tmp_path)
    assert (code, out) == (2, "") and err.startswith("--cluster tcp://127.0.0.1:9: "), err
    code, out, err = call("sweep", "moons.toml", "--cluster", "nowhere", cwd=tmp_path)
    assert (code, out) == (2, "") and err.startswith("--cluster nowhere: ") and len(err.splitlines()) == 1, err
