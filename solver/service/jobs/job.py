"""One job: as it is told, and what is kept of it in memory."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime
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
    is no solution; began: when it was begun, while it is being solved; seconds: how long that took, once it is over;
    stopping: whether it is about to end as a user wished; found_worst_error_pct: the least error of what is under way,
    which is not judged yet; bound_worst_error_pct: of a single design under way, none has a smaller error; version:
    grows with every change."""

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
    began: str | None = None
    seconds: float | None = None
    stopping: bool = False
    found_worst_error_pct: float | None = None
    bound_worst_error_pct: float | None = None
    version: int

    @property
    def over(self) -> bool:
        return self.state in ("complete", "stopped", "failed")

    @property
    def least_error_pct(self) -> float | None:
        """The least error that is known, of what is under way too; None where there is none."""
        known = (self.best_worst_error_pct, self.found_worst_error_pct)
        return min((one for one in known if one is not None), default=None)


@dataclass
class Job:
    """solving: whether it has processes; starts: how often they were begun without success; stopping: whether a user
    has stopped it and its processes are about to end; last: what they said last; began: when they were begun."""

    record: Record
    folder: Path
    points: dict[str, int]
    version: int
    best: float | None = None
    starts: int = 0
    solving: bool = False
    stopping: bool = False
    last: dict[str, Any] = field(default_factory=dict)
    began: datetime | None = None

    @property
    def state(self) -> State:
        if self.record.over is not None:
            return self.record.over.state
        return "solving" if self.solving else "waiting"

    def seconds(self) -> float | None:
        """How long it has been since it was begun; None where it was not."""
        return None if self.began is None else round((datetime.now(UTC) - self.began).total_seconds(), 1)

    def view(self) -> JobView:
        over = self.record.over
        found, bound = self.last.get("known", (None, None)) if over is None and self.solving else (None, None)
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
            began=self.began.isoformat(timespec="seconds") if over is None and self.began else None,
            seconds=None if over is None else over.seconds,
            stopping=self.stopping and over is None,
            found_worst_error_pct=found,
            bound_worst_error_pct=bound if self.record.total == 1 else None,
            version=self.version,
        )
