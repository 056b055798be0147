"""Constraint programming through MiniZinc (chain.mzn): Gecode, the solver that Debian's package brings along."""

from __future__ import annotations

import json
import shutil
import subprocess
import tempfile
from functools import partial
from pathlib import Path
from typing import Any

from benchmarks.ways.common import SCALE, Clock, Found, Peer, Problem, Row, by_goal
from solver.design.train import Train

MODEL = Path(__file__).with_name("chain.mzn")
THREADS = 2

# The rings and seats first, then the links from the inside outwards, each from the middle of what the errors leave.
SEARCH = (
    "solve :: seq_search([int_search([family], input_order, indomain_split), "
    "int_search(place, input_order, indomain_min), "
    "int_search(units, input_order, indomain_median), "
    "int_search(thirds ++ turn ++ wheel ++ pinion, input_order, indomain_min), "
    "int_search([worst], input_order, indomain_min)]) minimize goal;"
)


def missing() -> str | None:
    """None, or what is not installed."""
    return None if shutil.which("minizinc") else "no program minizinc (Debian: apt-get install minizinc)"


def data(problem: Problem, by_jigs: bool, most_jigs: int) -> dict[str, Any]:
    """The problem as the model's parameters."""
    rows = problem.rows()
    links = range(problem.links)
    seats = [problem.seats(body) for body in range(len(problem.targets))]
    return {
        "rings": problem.rings,
        "bodies": len(problem.targets),
        "families": len(problem.families),
        "third_limit": problem.third_limit,
        "cap": int(SCALE * problem.cap),
        "senses_matter": problem.senses_matter,
        "ordered": problem.same_class,
        "by_jigs": by_jigs,
        "most_jigs": most_jigs,
        "ring_log": [[family.units(ring) for ring in range(problem.rings)] for family in problem.families],
        "group_of": [list(family.classes) for family in problem.families],
        "seats": [{"set": list(rings)} for rings in seats],
        "low": [round(SCALE * low) for low, _ in problem.targets],
        "high": [round(SCALE * high) for _, high in problem.targets],
        "sense": [-1 if sense is None else sense for sense in problem.senses],
        "row_count": len(rows),
        "rows": [list(row) for row in rows],
        "may_idle": [int(problem.idle_possible(link)) for link in links],
    }


def run(problem: Problem, clock: Clock, by_jigs: bool, most_jigs: int | None = None) -> tuple[Train | None, int, bool]:
    """(train, jigs, proven) within the time left; none and proven: there is none."""
    with tempfile.TemporaryDirectory() as folder:
        given, model = Path(folder, "chain.json"), Path(folder, "chain.mzn")
        given.write_text(json.dumps(data(problem, by_jigs, most_jigs or 0)), encoding="utf-8")
        model.write_text(MODEL.read_text(encoding="utf-8") + SEARCH, encoding="utf-8")
        done = subprocess.run(
            [
                "minizinc", "--solver", "gecode", "-p", str(THREADS), "--time-limit", str(int(1000 * clock.left()) + 1),
                "--intermediate-solutions", "--output-mode", "json", str(model), str(given),
            ],
            capture_output=True,
            text=True,
            check=False,
        )  # fmt: skip
    if done.returncode or "=====ERROR=====" in done.stdout:
        raise RuntimeError(done.stderr or done.stdout)
    if "=====UNSATISFIABLE=====" in done.stdout:
        return None, 0, True
    solutions = done.stdout.split("----------")[:-1]
    proven = "==========" in done.stdout
    if not solutions:
        return None, 0, False
    last = json.loads(solutions[-1])
    rows = [Row(*(last[name][link] for name in Row._fields)) for link in range(problem.links)]
    family = problem.families[last["family"] - 1]
    return problem.read(family, tuple(last["place"]), rows), int(last["jigs"]), proven


def solve(problem: Problem, clock: Clock) -> Found:
    """The least worst error, or the fewest jigs and then the least error within them."""
    return by_goal(problem, partial(run, problem, clock), f"{THREADS} threads")


GECODE = Peer(
    "Gecode",
    f"MiniZinc with Gecode, {THREADS} threads: one model, a table for each link, links from the inside outwards; "
    "the time includes the translation of the model",
    ("error", "jigs"),
    missing,
    solve,
)
