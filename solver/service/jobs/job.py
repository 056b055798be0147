"""One job: as it is told, and what is kept of it in memory."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from solver.batch.sweep.table import PointState
from solver.service.kept.documents import Kind
from solver.service.kept.record import Record

State = Literal["waiting", "solving", "complete", "stopped", "failed"]


class JobView(BaseModel):
    """A job as it is now. points: how many are in each state; finished: of these, all that are solved, stopped by a
    limit, or failed, and not those that were under way when the job was stopped; solutions: how many were found, null
    until it is over; proven: whether every point is solved, so that what is said of it is proven, also that there
    is no solution; version: grows with every change."""

    model_config = ConfigDict(frozen=True, title="Job")

    id: str = Field(pattern="^[0-9a-f]{16}$")
    kind: Kind
    title: str
    state: State
    reason: str | None
    submitted: str
    points: dict[PointState, int]
    total: int
    finished: int
    best_worst_error_pct: float | None
    solutions: int | None
    proven: bool
    version: int

    @property
    def over(self) -> bool:
        return self.state in ("complete", "stopped", "failed")


@dataclass
class Job:
    """solving: whether it has processes; starts: how often they were begun without success; stopping: whether a user
    has stopped it and its processes are about to end; last: what they said last."""

    record: Record
    folder: Path
    points: dict[str, int]
    version: int
    best: float | None = None
    starts: int = 0
    solving: bool = False
    stopping: bool = False
    last: dict[str, Any] = field(default_factory=dict)

    @property
    def state(self) -> State:
        if self.record.over is not None:
            return self.record.over.state
        return "solving" if self.solving else "waiting"

    def view(self) -> JobView:
        over = self.record.over
        points = dict(self.points if over is None else over.points)
        return JobView(
            id=self.record.id,
            kind=self.record.kind,
            title=self.record.title,
            state=self.state,
            reason=None if over is None else over.reason,
            submitted=self.record.submitted,
            points={state: points.get(state, 0) for state in PointState},
            total=self.record.total,
            finished=sum(points.get(state, 0) for state in PointState if state.terminal)
            - (0 if over is None else over.interrupted),
            best_worst_error_pct=self.best if over is None else over.best_worst_error_pct,
            solutions=None if over is None else over.solutions,
            proven=points.get(PointState.SOLVED, 0) == self.record.total,
            version=self.version,
        )
