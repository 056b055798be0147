"""What a worker does with one point: solve it under its limit, and hand back what the store keeps."""

from __future__ import annotations

import os
import platform
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime

from solver.answer.document import Answer
from solver.answer.solve import Solving
from solver.batch.store.parts import to_stream
from solver.batch.store.runs import answer_record, proofs_of, solution_row
from solver.batch.sweep.table import Finished, PointState
from solver.files.load import parse_design
from solver.search.order.shared import Progress
from solver.search.stop import Deadline, FirstOf, Interrupt, Termination, awake


@dataclass(frozen=True)
class Task:
    """A point for a worker. key: the fence of its lease; seconds: how long it may be solved; memory_mb: how much memory
    the worker may use, None for no limit."""

    key: int
    text: str
    seconds: float
    memory_mb: int | None = None


class UnderWay:
    """A point that is solved in one thread, while another one may end that, or ask what is known so far."""

    def __init__(self, progress: Callable[[Progress], None] | None = None) -> None:
        """progress: called now and then by the thread that solves."""
        self._progress = progress
        self._interrupt = Interrupt()
        self._solving: Solving | None = None

    def run(self, task: Task) -> Finished:
        self._task, self._began = task, awake()
        self._solving = Solving(parse_design(task.text), self._progress)
        return self._finished(self._solving.run(FirstOf(self._interrupt, Deadline(task.seconds))))

    def end(self) -> None:
        """Have it end soon, with what it has found; also where it has not begun."""
        self._interrupt.set()

    @property
    def begun(self) -> bool:
        return self._solving is not None

    def so_far(self) -> Finished:
        """What it would hand back if it ended here, once it has begun. Raises Unsound."""
        assert self._solving is not None
        return self._finished(self._solving.so_far(Termination.INTERRUPT))

    def _finished(self, answer: Answer) -> Finished:
        return _finished(self._task, answer, awake() - self._began)


def solve_point(task: Task, under_way: UnderWay | None = None) -> Finished:
    """Solve a point. Whatever ends it unproven makes it `stopped`, with the reason, never `solved`.

    under_way: where given, another thread has it, and may end it."""
    return (under_way or UnderWay()).run(task)


def _finished(task: Task, answer: Answer, seconds: float) -> Finished:
    record = answer_record(answer) | ({} if answer.proofs is None else {"proofs": proofs_of(answer)})
    report = {
        **answer.report,
        "seconds": seconds,
        "ended": datetime.now(UTC).isoformat(timespec="milliseconds"),
        "worker": f"process {os.getpid()} on {platform.node()}",
    }
    state = PointState.SOLVED if answer.proven else PointState.STOPPED
    rows = to_stream(solution_row(answer, solution) for solution in answer.solutions)
    return Finished(state, None if answer.proven else _why(answer.termination, task.seconds), record, rows, report)


def _why(termination: str, seconds: float) -> str:
    return f"time: {seconds:g} s were not enough" if termination == "time" else termination
