"""Solve a stored run again and say what differs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from solver.batch.provenance import code_sha256
from solver.batch.store import COMPARED, DESIGN, StoredRun, answer_record, solution_row
from solver.design.design import Design
from solver.search.answer import Answer, solve
from solver.search.stop import StopRule


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
    design = Design.parse(run.design_text, str(run.folder / DESIGN))
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


def _different(stored: Any, solved: Any, where: str) -> Iterator[str]:
    if isinstance(stored, dict) and isinstance(solved, dict):
        for key in solved:
            yield from _different(stored.get(key), solved[key], f"{where}: {key}")
    elif isinstance(stored, list) and isinstance(solved, list) and len(stored) == len(solved):
        for index, (one, other) in enumerate(zip(stored, solved, strict=True)):
            yield from _different(one, other, f"{where}[{index}]")
    elif stored != solved:
        yield f"{where}: stored {stored}, solved {solved}"
