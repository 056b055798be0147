"""Solve a stored run again and say what differs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from solver.batch.provenance import code_sha256
from solver.batch.store import StoredRun
from solver.design.design import Design
from solver.search.answer import Answer, solve
from solver.search.stop import StopRule


@dataclass(frozen=True)
class Comparison:
    """differences: a line each, empty where all is identical. notes: what may explain them."""

    answer: Answer
    differences: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def identical(self) -> bool:
        return not self.differences


def rerun(run: StoredRun, stop: StopRule | None = None) -> Comparison:
    """Solve the stored design again and compare every stored figure. Raises DesignError if it no longer reads."""
    design = Design.parse(run.design_text, str(run.folder / "design.toml"))
    answer = solve(design, stop)
    differences = [f"{name}: its content is not what was recorded when the run was stored" for name in run.damaged]
    for name, stored, solved in (
        ("config_sha256", run.record["config_sha256"], answer.config_sha256),
        ("status", run.record["status"], str(answer.status)),
        ("bound_worst_error_pct", run.record["bound_worst_error_pct"], answer.bound_worst_error_pct),
        ("solutions", len(run.solutions), len(answer.solutions)),
    ):
        if stored != solved:
            differences.append(f"{name}: stored {stored}, solved {solved}")
    for stored_solution, solved_solution in zip(run.solutions, answer.solutions, strict=False):
        where = f"solution {solved_solution.rank}"
        differences += _different(stored_solution.model_dump(), solved_solution.model_dump(), where)
    notes = []
    if run.record["code_sha256"] != code_sha256():
        notes.append("the code is not the one that stored the run")
    if not run.record["proven"]:
        notes.append("the stored run was ended by a limit, so its answer depends on the clock")
    return Comparison(answer, tuple(differences), tuple(notes))


def _different(stored: Any, solved: Any, where: str) -> Iterator[str]:
    if isinstance(stored, dict) and isinstance(solved, dict):
        for key in solved:
            yield from _different(stored.get(key), solved[key], f"{where}.{key}")
    elif isinstance(stored, list) and isinstance(solved, list) and len(stored) == len(solved):
        for index, (one, other) in enumerate(zip(stored, solved, strict=True)):
            yield from _different(one, other, f"{where}[{index}]")
    elif stored != solved:
        yield f"{where}: stored {stored}, solved {solved}"
