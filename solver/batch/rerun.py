"""Solve a stored run again and say what differs."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from solver.answer.document import Answer
from solver.answer.solve import solve
from solver.batch.store.parts import from_stream
from solver.batch.store.provenance import code_sha256
from solver.batch.store.runs import COMPARED, DESIGN, StoredRun, answer_record, solution_row
from solver.batch.sweep.run import SweepRun
from solver.batch.sweep.work import Task
from solver.batch.sweep.workers import Outcome, Workers
from solver.files.load import parse_design
from solver.search.stop import StopRule

_NO_LIMIT_S = 1e9  # the design's own limit holds


@dataclass(frozen=True)
class Comparison:
    """answer: None where it was not solved again. differences: a line each, none where all is identical. notes: what
    may explain them."""

    answer: Answer | None
    differences: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def identical(self) -> bool:
        return not self.differences


def rerun(run: StoredRun, stop: StopRule | None = None) -> Comparison:
    """Solve the stored design again and compare every stored figure. Raises DesignError if it no longer reads."""
    if DESIGN in run.damaged:
        return Comparison(None, (f"{DESIGN}: was changed after the run was stored; not compared",), ())
    design = parse_design(run.design_text, str(run.folder / DESIGN))
    answer = solve(design, stop)
    differences = [f"{name}: its content is not what was recorded when the run was stored" for name in run.damaged]
    differences += _different({name: run.record[name] for name in COMPARED}, answer_record(answer), "run.json")
    for stored, solution in zip(run.rows, answer.solutions, strict=False):
        differences += _different(stored, solution_row(answer, solution), f"solution {solution.rank}")
    notes = []
    if run.record["code_sha256"] != code_sha256():
        notes.append("the code is not the one that stored the run")
    if not run.record["proven"]:
        notes.append(f"the stored run ended unproven ({run.record['termination']}), so its answer depends on when")
    return Comparison(answer, tuple(differences), tuple(notes))


def rerun_points(
    run: SweepRun, points: Sequence[str], workers: Workers, stop: StopRule, tell: Callable[[str, tuple[str, ...]], None]
) -> int:
    """Solve points of a stored sweep again and compare every stored figure; each is told as it ends, with a line for
    each difference. Returns how many were compared, fewer than asked for where `stop` struck.

    What was not proven when it was stored is to be left out by the caller: it depends on when it was stopped.
    """
    stored = {point["point_id"]: point for point in run.points}
    rows: dict[str, list[dict[str, Any]]] = {}
    for row in run.solutions.to_pylist():
        rows.setdefault(row.pop("point_id"), []).append(row)
    left = list(reversed(list(enumerate(points))))
    begun: dict[int, str] = {}
    done = 0
    try:
        while (left or begun) and not stop():
            while left and workers.free() > 0:
                key, point = left.pop()
                begun[key] = point
                workers.start(Task(key, stored[point]["design"], _NO_LIMIT_S))
            for outcome in workers.wait(0.2):
                point = begun.pop(outcome.key)
                tell(point, tuple(_compared(stored[point], rows.get(point, []), outcome)))
                done += 1
    finally:
        for key in begun:
            workers.drop(key)
    return done


def _compared(stored: dict[str, Any], rows: list[dict[str, Any]], outcome: Outcome) -> Iterator[str]:
    if outcome.result is None:
        yield f"not solved again: {outcome.reason}"
        return
    yield from _different({name: stored.get(name) for name in COMPARED}, outcome.result.record, "point")
    solved = from_stream(outcome.result.rows).to_pylist()
    if len(solved) != len(rows):
        yield f"solutions: stored {len(rows)}, solved {len(solved)}"
    for number, (one, other) in enumerate(zip(rows, solved, strict=False), 1):
        yield from _different(one, other, f"solution {number}")


def _different(stored: Any, solved: Any, where: str) -> Iterator[str]:
    if isinstance(stored, dict) and isinstance(solved, dict):
        for key in solved:
            yield from _different(stored.get(key), solved[key], f"{where}: {key}")
    elif isinstance(stored, list) and isinstance(solved, list) and len(stored) == len(solved):
        for index, (one, other) in enumerate(zip(stored, solved, strict=True)):
            yield from _different(one, other, f"{where}[{index}]")
    elif stored != solved:
        yield f"{where}: stored {stored}, solved {solved}"
