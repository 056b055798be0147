"""What the tests of sweeps share: small sweep files, the command with small parts, and the processes it leaves."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
import uuid
from contextlib import suppress
from pathlib import Path

from commands import ROOT, run

from solver.batch.store.errors import StoreError
from solver.batch.sweep import runner
from solver.batch.sweep.table import JobTable, PointState

BASE = """
title = "Three moons of Saturn"
[bodies]
set = "saturn"
only = ["Mimas", "Tethys", "Rhea"]
[rings]
inner_teeth = 24
tooth_step = 6
[fit]
directions = "none"
[search]
keep = 3
"""
# 60 points that take some milliseconds each; a few have no solution.
SMALL = (
    BASE
    + """
[vary]
rings.inner_teeth = {min = 18, max = 32}
rings.tooth_step = [3, 5]
arbors.third_gears = [0, 1]
"""
)
# Two points that are done at once, and one that no machine is done with soon.
HARD = (
    BASE
    + """
[vary]
rings.inner_teeth = [24, 26]
[[point]]
title = "Hard"
bodies.set = "planets"
bodies.only = ["Mercury", "Venus", "Earth", "Mars", "Jupiter", "Saturn", "Uranus", "Neptune"]
bodies.sense = "either"
rings.inner_teeth = 18
rings.blanks = 9
rings.addendum = 0
arbors.wheel_teeth = {min = 4, max = 60}
arbors.pinion_teeth = {min = 4, max = 60}
arbors.third_teeth = {min = 4, max = 60}
arbors.third_gears = 8
fit.clearance = 0
fit.directions = 24
search.time_limit_s = 100000
[limits]
"""
)

# A design that has solutions at once, and no proof soon.
RICH = """
title = "Any rings"
[bodies]
set = "saturn"
[rings]
inner_teeth = {min = 18, max = 60}
tooth_step = {min = 2, max = 12}
blanks = {min = 0, max = 6}
[arbors]
third_gears = 4
[fit]
directions = "none"
[search]
keep = 3
time_limit_s = 100000
rank = ["jigs", "error"]
"""

# How long it may be solved until it has some, tried one after the other [s]: machines may have little time for it.
PATIENCE_S = (3, 12, 60)

# The command with parts of a few points, and with faults that a test plants in its workers.
_DRIVER = """
import os, sys
from solver.batch.sweep import runner
from solver.batch.sweep import work
from solver.batch.sweep import workers
runner.PART_POINTS = 7
from solver.__main__ import main
sys.argv[0] = "ringwright"
main()
"""


begun: list[tuple[subprocess.Popen[str], str]] = []  # what a test has begun, and may have left


def write(folder: Path, text: str, name: str = "moons.toml") -> Path:
    path = folder / name
    path.write_text(text)
    return path


def begin(*words: str, cwd: Path, driver: str = _DRIVER, **more: str) -> tuple[subprocess.Popen[str], str]:
    """The command `ringwright WORDS` in a process of its own, and the mark that it and all its children bear."""
    mark = uuid.uuid4().hex
    environment = {**os.environ, "PYTHONPATH": f"{ROOT}{os.pathsep}{ROOT / 'tests'}", "SWEEP_TEST_MARK": mark, **more}
    process = subprocess.Popen(
        [sys.executable, "-c", driver, *words],
        cwd=cwd, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    begun.append((process, mark))
    return process, mark


def end_all() -> None:
    """End what a test has begun, where it has not: a test that fails leaves nothing either."""
    while begun:
        process, mark = begun.pop()
        if process.poll() is None:
            process.kill()
        process.communicate()
        for pid in marked(mark):
            with suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)


def call(*words: str, cwd: Path, driver: str = _DRIVER, **more: str) -> tuple[int, str, str]:
    """Exit code, standard output and standard error of the command; in a copy of this process, which has the solver
    loaded, where nothing is planted."""
    if driver is _DRIVER and not more:
        usual, runner.PART_POINTS = runner.PART_POINTS, 7
        try:
            return run(*words, cwd=cwd)
        finally:
            runner.PART_POINTS = usual
    process, _ = begin(*words, cwd=cwd, driver=driver, **more)
    out, err = process.communicate(timeout=300)
    return process.returncode, out, err


def as_if_idle(seconds: float) -> float:
    """What so many seconds of an idle machine are now: a process begins within a twentieth of a second there."""
    began = time.monotonic()
    subprocess.run([sys.executable, "-S", "-c", "pass"], check=True)
    return seconds * max(1.0, (time.monotonic() - began) / 0.05)


def left_behind(mark: str, seconds: float = 20) -> list[int]:
    """The processes that bear the mark and do not end by themselves: a helper ends a little later than its server."""
    until = time.monotonic() + seconds
    while (found := marked(mark)) and time.monotonic() < until:
        time.sleep(0.05)
    return found


def marked(mark: str) -> list[int]:
    """The processes alive that bear the mark."""
    found = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                bears = mark.encode() in (entry / "environ").read_bytes()
                dead = (entry / "stat").read_text().rsplit(")", 1)[1].split()[0] in "ZX"
            except OSError:
                continue
            if bears and not dead:
                found.append(int(entry.name))
    return found


def workers_of(process: subprocess.Popen[str], mark: str) -> list[int]:
    """The workers of a runner: the children of its fork server."""
    own = marked(mark)
    parents = {}
    for pid in own:
        try:
            parents[pid] = int(Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[1])
        except OSError:
            continue
    servers = {pid for pid, parent in parents.items() if parent == process.pid}
    return [pid for pid, parent in parents.items() if parent in servers]


def some_worker(process: subprocess.Popen[str], mark: str, seconds: float = 30) -> int:
    """A worker that is at work. Fails where none appears."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        found = workers_of(process, mark)
        if found:
            return found[0]
        time.sleep(0.02)
    process.send_signal(signal.SIGKILL)
    raise AssertionError("no worker appeared")


def until_solved(process: subprocess.Popen[str], folder: Path, number: int, seconds: float = 120) -> None:
    """Wait until a sweep that runs has solved so many of its points."""
    end = time.monotonic() + seconds
    while process.poll() is None and time.monotonic() < end:
        with suppress(StoreError):  # the table is just being made
            table = JobTable(folder, read_only=True)
            solved = table.counts()[PointState.SOLVED]
            table.close()
            if solved >= number:
                return
        time.sleep(0.02)
    process.kill()
    raise AssertionError(f"not so many points were solved: {process.communicate()}")


def table_bytes(folder: Path) -> dict[str, bytes]:
    """The two tables that follow from the sweep alone."""
    return {name: (folder / name).read_bytes() for name in ("points.parquet", "solutions.parquet")}
