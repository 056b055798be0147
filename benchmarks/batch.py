"""What batch jobs cost: a sweep against its single solves, and ranking many stored solutions against general readers.

`python -m benchmarks.batch` writes BATCH.md.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from statistics import median

import pyarrow as pa
import pyarrow.parquet as pq

from solver.batch.store import parts
from solver.batch.store.runs import SOLUTIONS
from solver.batch.sweep.file import Sweep, sweep_of
from solver.batch.sweep.run import SWEEP_SCHEMA, load_sweep, write_manifest
from solver.batch.sweep.runner import run_points
from solver.batch.sweep.sweeps import opened, run_sweep
from solver.batch.sweep.table import PointState
from solver.batch.sweep.work import Task, solve_point
from solver.batch.sweep.workers import LocalWorkers
from solver.search.stop import NoStop

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent
SWEEP = """
title = "Six target sets"
[bodies]
set = "saturn"
sense = "either"
[rings]
inner_teeth = 24
blanks = {min = 0, max = 3}
tooth_pitch = 12.0
addendum = 2
rim = 3
[fit]
frame = {shape = "square", side = 900}
clearance = 1
rollers = {count = {min = 3, max = 4}, radius = 6, reach = 70}
[search]
keep = 100
max_error_pct = 5
[vary]
bodies = [
    {set = "jupiter", sense = "either"}, {set = "saturn", sense = "either"}, {set = "uranus", sense = "either"},
    {set = "trappist-1", sense = "either"}, {set = "moon-months", sense = "either"},
    {set = "planets", only = ["Mercury", "Venus", "Earth", "Mars"], sense = "either"},
]
rings.inner_teeth = [18, 21, 24, 30, 33]
rings.tooth_step = {min = 3, max = 8}
arbors.third_gears = [0, 1]
"""
SMOKE = {"{min = 3, max = 8}": "[4]", "[18, 21, 24, 30, 33]": "[24]"}


@dataclass(frozen=True)
class Cost:
    """Of one sweep [s]: single solves in one process one after the other, the same in the workers, all in all, and the
    start and the end of a process that solves nothing; memory of the runner [MB] after a third, and the most."""

    points: int
    workers: int
    singles: float
    inside: float
    wall: float
    process: float
    memory: tuple[float, float]

    @property
    def efficiency(self) -> float:
        return self.singles / (self.wall * self.workers)

    @property
    def overhead(self) -> float:
        """Seconds of a worker for each point that are not its solve: the start and end of its process, what of them is
        not hidden behind other solves, the job table, the parts and the tables at the end."""
        return (self.wall * self.workers - self.inside) / self.points


def sweep(smoke: bool) -> Sweep:
    """The sweep that is measured: 324 points, or a few."""
    text = SWEEP
    for now, then in SMOKE.items() if smoke else ():
        text = text.replace(now, then)
    return sweep_of(text, "benchmark", "benchmark")


class _Nothing(LocalWorkers):
    """Workers whose process is begun and ended and told nothing to solve."""

    def one(self) -> float:
        began = time.perf_counter()
        process = self._context.Process(target=int)
        process.start()
        process.join()
        return time.perf_counter() - began


def measure_sweep(smoke: bool = False, slots: int = 2) -> Cost:
    """Solve each point here, then all of them as a sweep."""
    task = sweep(smoke)
    memory: list[float] = []
    with _Nothing(slots) as workers, tempfile.TemporaryDirectory() as results:
        process = median(workers.one() for _ in range(20))
        began = time.perf_counter()
        with opened(task, Path(results), print) as (folder, table):
            ending = run_sweep(folder, table, task, workers, lambda event: memory.append(_megabytes()))
        wall = time.perf_counter() - began
        assert ending.complete
        most = max(*memory, _megabytes())
        report = pq.read_table(folder / parts.REPORT)
        inside = sum(report["seconds"].to_pylist())
    solve_point(Task(0, task.points[0].text, 60))
    began = time.perf_counter()
    for point in task.points:
        assert solve_point(Task(0, point.text, 60)).state == PointState.SOLVED, point.settings
    singles = time.perf_counter() - began
    return Cost(len(task.points), slots, singles, inside, wall, process, (memory[len(memory) // 3], most))


def _megabytes() -> float:
    """The runner's memory now [MB]."""
    pages = int(Path("/proc/self/statm").read_text().split()[1]) if sys.platform == "linux" else 0
    return pages * resource.getpagesize() / 1e6


# -- ranking -----------------------------------------------------------------------------------------------------------

QUERY = "select * from '{file}' where parts <= {parts} order by worst_error_pct, parts limit 20"


def many(folder: Path, number: int) -> Path:
    """A finished run of about so many solutions: those of the sweep, again and again with other errors."""
    task = sweep(smoke=True)
    with LocalWorkers(2) as workers, opened(task, folder, print) as (run, table):
        run_points(run, table, workers, NoStop(), lambda event: None)
        run_sweep(run, table, task, workers, lambda event: None)
    found = load_sweep(run)
    rows = found.solutions
    copies = []
    for copy in range(-(-number // len(rows))):
        factor = 1 + (copy * 2654435761 % 1000) / 1000
        errors = pa.array([error * factor for error in rows["worst_error_pct"].to_pylist()])
        at = rows.schema.get_field_index("worst_error_pct")
        copies.append(rows.set_column(at, rows.schema.field(at), errors))
    table_of_all = pa.concat_tables(copies).slice(0, number)
    files = json.loads((run / "manifest.json").read_text())["files"]
    about = {"title": task.title}
    files[SOLUTIONS] = parts.write_parquet(run / SOLUTIONS, [table_of_all], parts.PART_SCHEMA, about)
    write_manifest(run, {"schema": SWEEP_SCHEMA, "title": task.title, "files": files})
    return run


def measure_rank(smoke: bool = False) -> dict[str, float]:
    """Seconds of whole processes that list the best twenty of many stored solutions under a limit of parts."""
    number = 2_000 if smoke else 100_000
    with tempfile.TemporaryDirectory() as results:
        run = many(Path(results), number)
        file, limit = run / SOLUTIONS, 29
        pandas = f"import pandas; f = pandas.read_parquet({str(file)!r}); f = f[f.parts <= {limit}]; " + (
            "print(f.sort_values(['worst_error_pct', 'parts']).head(20))"
        )
        narrow = f"import pandas; f = pandas.read_parquet({str(file)!r}, columns=['worst_error_pct', 'parts']); " + (
            f"f = f[f.parts <= {limit}]; print(f.sort_values(['worst_error_pct', 'parts']).head(20))"
        )
        duck = f'import duckdb; print(duckdb.sql("{QUERY.format(file=file, parts=limit)}").fetchall())'
        words = ["-m", "solver", "rank", str(run), "--most", f"parts={limit}", "--top", "20", "--json"]
        return {
            "ringwright rank": _timed(words),
            "pandas, all columns": _timed(["-c", pandas]),
            "pandas, two columns": _timed(["-c", narrow]),
            "DuckDB, all columns": _timed(["-c", duck]),
            "a process that imports DuckDB alone": _timed(["-c", "import duckdb"]),
            "a process that imports pandas alone": _timed(["-c", "import pandas"]),
            "ringwright --version": _timed(["-m", "solver", "--version"]),
        }


def _timed(words: list[str]) -> float:
    seconds = []
    for _ in range(3):
        began = time.perf_counter()
        subprocess.run([sys.executable, *words], check=True, capture_output=True, cwd=ROOT)
        seconds.append(time.perf_counter() - began)
    return min(seconds)


def report(cost: Cost, ranks: dict[str, float]) -> str:
    """Both tables as Markdown."""
    lines = [
        "# What batch jobs cost",
        "",
        "One run on one machine with two cores; `make bench` writes it anew.",
        "",
        f"## A sweep of {cost.points} points with {cost.workers} workers",
        "",
        "| | |",
        "|---|---:|",
        f"| single solves, one after the other in one process | {cost.singles:.2f} s |",
        f"| the same solves within the workers | {cost.inside:.2f} s |",
        f"| the sweep, from opening to the finished tables | {cost.wall:.2f} s |",
        f"| **parallel efficiency**, single solves over sweep and workers | **{cost.efficiency * 100:.1f} %** |",
        f"| start and end of a process that solves nothing | {cost.process * 1e3:.1f} ms |",
        f"| **for each point, besides its solve** (process, table, parts) | **{cost.overhead * 1e3:.1f} ms** |",
        f"| memory of the runner after a third, at most | {cost.memory[0]:.0f}, {cost.memory[1]:.0f} MB |",
        "",
        "## The best twenty of 100,000 stored solutions, at most 29 parts",
        "",
        "Whole processes, files in memory. `rank` judges the file by its hash, reads twenty solutions whole, and",
        "prints them as JSON.",
        "",
        "| | seconds |",
        "|---|---:|",
        *(f"| {name} | {seconds:.2f} |" for name, seconds in ranks.items()),
    ]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Measure, write, print."""
    text = report(measure_sweep(), measure_rank())
    (HERE / "BATCH.md").write_text(text, encoding="utf-8")
    print(text)


if __name__ == "__main__":
    main()
