"""Every case by every way in one run, each in a process of its own; writes RESULTS.md and its pictures.

Usage: python -m benchmarks.run [--smoke] [--cases NAME ...] [--ways NAME ...] [--limit SECONDS] [--repeats N]
[--no-growth] [--into FOLDER] [--name NAME] [--cpu] [--fork] [--jobs N]. Times are those of the solve alone, inside its
process: imports are not counted.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import resource
import shlex
import statistics
import subprocess
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict
from pathlib import Path
from typing import Any

from benchmarks import growth, report
from benchmarks.cases import BY_NAME as CASES
from benchmarks.cases import Case
from benchmarks.report import Row
from benchmarks.ways import BY_NAME as WAYS
from benchmarks.ways import Outcome, Point, Unsupported

HERE = Path(__file__).resolve().parent
FAST = 5.0  # seconds: a way that takes less is run again
GRACE = 60.0  # seconds over the limit until a process is ended


def measure(case: Case, way: str, limit: float, repeats: int, smoke: bool, forking: bool = False) -> Row:
    """The median of `repeats` runs of a fast way; of a slow one the only run."""
    missing = WAYS[way].available()
    if missing:
        return Row(case.name, way, None, missing)
    runs: list[tuple[Outcome, float, float]] = []
    while len(runs) < (repeats if not runs or runs[0][0].seconds < FAST else 1):
        given = (forked if forking else fresh)(case.name, way, limit, smoke)
        if isinstance(given, str):
            return Row(case.name, way, None, given)
        runs.append(given)
    seconds = [outcome.seconds for outcome, *_ in runs]
    # The run whose time is the (upper) median speaks for all.
    outcome, before, cpu = runs[seconds.index(statistics.median_high(seconds))]
    return Row(case.name, way, outcome, outcome.note, len(runs), before, cpu)


def fresh(case: str, way: str, limit: float, smoke: bool) -> tuple[Outcome, float, float] | str:
    """(outcome, seconds of imports, CPU seconds of the solve) of one run in a new process, or why there is none."""
    words = [sys.executable, "-m", "benchmarks.run", "--one", case, way, str(limit), str(int(smoke))]
    try:
        done = subprocess.run(
            words,
            cwd=HERE.parent,
            env=growth.surroundings(),
            capture_output=True,
            text=True,
            timeout=limit + GRACE,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return _late()
    if done.returncode:
        return "failed: " + (done.stderr.strip().splitlines() or [f"exit code {done.returncode}"])[-1]
    return _read(json.loads(done.stdout.strip().splitlines()[-1]))


def forked(case: str, way: str, limit: float, smoke: bool) -> tuple[Outcome, float, float] | str:
    """The same in a process forked from this one, which has imported what it needs: on a busy machine a start of Python
    takes longer than most solves."""
    warm_imports(way)
    context = multiprocessing.get_context("fork")
    here, there = context.Pipe(duplex=False)
    process = context.Process(target=lambda: there.send(solved(case, way, limit, smoke, 0.0)))
    process.start()
    there.close()
    try:
        return _read(here.recv()) if here.poll(limit + GRACE) else _late()
    except EOFError:
        process.join()
        return f"failed: exit code {process.exitcode}"
    finally:
        process.kill()
        process.join()


def _late() -> str:
    return f"ended {GRACE:.0f} s after the limit, without an answer"


def _read(told: dict[str, Any]) -> tuple[Outcome, float, float] | str:
    if "unsupported" in told:
        return f"does not apply: {told['unsupported']}"
    points = tuple(Point(**point) for point in told["outcome"].pop("points"))
    return Outcome(points, **told["outcome"]), told["imports"], told["cpu"]


def one(case: str, way: str, limit: float, smoke: bool) -> None:
    """Inside the new process: import what the way needs, solve, print the outcome as one line of JSON."""
    began = time.perf_counter()
    warm_imports(way)
    print(json.dumps(solved(case, way, limit, smoke, time.perf_counter() - began)))


def solved(case: str, way: str, limit: float, smoke: bool, imports: float) -> dict[str, Any]:
    """What a way says of a case: the outcome, seconds of imports and CPU seconds of the solve, or what it lacks."""
    design = CASES[case].design(smoke)
    before = _cpu()
    try:
        outcome = WAYS[way].run(design, limit)
    except Unsupported as fault:
        return {"unsupported": str(fault)}
    return {"outcome": asdict(outcome), "imports": imports, "cpu": _cpu() - before}


def _cpu() -> float:
    """Seconds that this process and those it began have worked, all threads."""
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + children.ru_utime + children.ru_stime


def warm_imports(way: str) -> None:
    """Load the modules that a way loads on its first solve."""
    import importlib

    for module in {
        "ours": ("ortools.sat.python.cp_model", "solver.search.prove.model"),
        "ours, ten": ("ortools.sat.python.cp_model", "solver.search.prove.model"),
        "CP-SAT": ("ortools.sat.python.cp_model",),
        "HiGHS": ("highspy",),
        "evolution": ("scipy.optimize",),
        "Choco": ("pychoco",),
        "Pumpkin": ("pumpkin_solver",),
        "Pumpkin, proof": ("pumpkin_solver",),
        "DIDP": ("didppy",),
    }.get(way, ()):
        importlib.import_module(module)


def _rows(case: str, given: argparse.Namespace, repeats: int) -> list[Row]:
    rows = []
    for way in given.ways:
        row = measure(CASES[case], way, given.limit, repeats, given.smoke, given.fork)
        rows.append(row)
        print(f"{case:<16}{way:<14} {report.told(row)}", flush=True)
    return rows


def main(words: list[str]) -> int:
    if words[:1] == ["--one"]:
        one(words[1], words[2], float(words[3]), words[4] == "1")
        return 0
    parser = argparse.ArgumentParser(prog="python -m benchmarks.run", description=__doc__)
    parser.add_argument("--smoke", action="store_true", help="tiny designs, one run each")
    parser.add_argument("--cases", nargs="*", choices=list(CASES), default=list(CASES))
    parser.add_argument("--ways", nargs="*", choices=list(WAYS), default=list(WAYS))
    parser.add_argument("--limit", type=float, default=60.0, help="seconds for each case and way (60)")
    parser.add_argument("--repeats", type=int, default=3, help="runs of ways under 5 s, the median counts (3)")
    parser.add_argument("--no-growth", action="store_true", help="leave out the growth of ours")
    parser.add_argument("--into", type=Path, default=HERE, help="folder of RESULTS.md and its pictures")
    parser.add_argument("--name", default="RESULTS", help="the file without its ending, in that folder (RESULTS)")
    parser.add_argument("--cpu", action="store_true", help="ratios of CPU times, for a machine that others use too")
    parser.add_argument(
        "--fork", action="store_true", help="fork each process from this one: quicker on a busy machine"
    )
    parser.add_argument("--jobs", type=int, default=1, help="cases at once (1); more make wall times longer")
    given = parser.parse_args(words)
    repeats = 1 if given.smoke else given.repeats
    if given.jobs == 1:
        rows = [row for case in given.cases for row in _rows(case, given, repeats)]
    else:
        with ProcessPoolExecutor(given.jobs, mp_context=multiprocessing.get_context("fork")) as pool:
            cases = len(given.cases)
            found = pool.map(_rows, given.cases, [given] * cases, [repeats] * cases)
            rows = [row for here in found for row in here]
    grown = [] if given.no_growth else growth.measure(given.limit, given.smoke)
    again = "make bench" if given.name == "RESULTS" else shlex.join(["python", "-m", "benchmarks.run", *words])
    text = report.write(
        rows, grown, given.limit, repeats, given.smoke, given.into, given.name, by_cpu=given.cpu, again=again
    )
    print(f"wrote {text}")
    disagreements = report.disagreements(rows, given.smoke)
    print("\n".join(disagreements), file=sys.stderr)
    return 1 if disagreements else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
