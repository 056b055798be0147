"""What a worker does with one point: solve it under its limit, and hand back what the store keeps."""

from __future__ import annotations

import os
import platform
from dataclasses import dataclass
from datetime import UTC, datetime

from solver.answer.solve import solve
from solver.batch.store.parts import to_stream
from solver.batch.store.runs import answer_record, solution_row
from solver.batch.sweep.table import Finished, PointState
from solver.design.design import Design
from solver.search.stop import Deadline, awake


@dataclass(frozen=True)
class Task:
    """A point for a worker. key: the fence of its lease; seconds: how long it may be solved; memory_mb: how much memory
    the worker may use, None for no limit."""

    key: int
    text: str
    seconds: float
    memory_mb: int | None = None


def solve_point(task: Task) -> Finished:
    """Solve a point. Whatever ends it unproven makes it `stopped`, with the reason, never `solved`."""
    began = awake()
    answer = solve(Design.parse(task.text), Deadline(task.seconds))
    record = answer_record(answer)
    report = {
        **answer.report,
        "seconds": awake() - began,
        "ended": datetime.now(UTC).isoformat(timespec="milliseconds"),
        "worker": f"process {os.getpid()} on {platform.node()}",
    }
    state = PointState.SOLVED if answer.proven else PointState.STOPPED
    rows = to_stream(solution_row(answer, solution) for solution in answer.solutions)
    return Finished(state, None if answer.proven else _why(answer.termination, task.seconds), record, rows, report)


def _why(termination: str, seconds: float) -> str:
    return f"time: {seconds:g} s were not enough" if termination == "time" else termination
