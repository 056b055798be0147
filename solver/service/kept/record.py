"""What the service keeps of a job beside its run: `job.json`, in the run's folder."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from solver.batch.store.errors import StoreError
from solver.batch.store.files import replace_whole

RECORD = "job.json"


class Over(BaseModel):
    """How a job ended. points: how many are in each state; interrupted: how many of the stopped ones are solved again
    when it goes on; seconds: from the beginning of its solving to its end, since it was begun last."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    state: Literal["complete", "stopped", "failed"]
    reason: str | None
    points: dict[str, int]
    best_worst_error_pct: float | None
    solutions: int | None
    interrupted: int = 0
    seconds: float | None = None


class Record(BaseModel):
    """order: its number among all jobs of the folder; answers: the code it was begun with; again: points that a limit
    stopped, or that failed, are to be solved once more; version: how often the job had changed when this was written,
    or more; sender: a number for who has sent it, others have others; over: None while it goes on."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    schema_name: Literal["ringwright.job/1"] = Field("ringwright.job/1", alias="schema")
    id: str
    kind: Literal["design", "sweep"]
    title: str
    submitted: str
    order: int
    total: int
    stopped: bool = False
    again: bool = False
    version: int = 1
    sender: int = 0
    over: Over | None = None


def read_record(folder: Path) -> Record | None:
    """The record of the job in that folder; None where there is none. Raises StoreError where it is damaged."""
    path = folder / RECORD
    try:
        return Record.model_validate_json(path.read_bytes())
    except FileNotFoundError:
        return None
    except (ValidationError, OSError) as fault:
        raise StoreError(f"{path}: cannot be read: {' '.join(str(fault).split())[:200]}") from None


def write_record(folder: Path, record: Record) -> None:
    """Put the record in its place at one stroke. Raises OSError."""
    data: dict[str, Any] = record.model_dump(mode="json", by_alias=True)
    replace_whole(folder / RECORD, (json.dumps(data, indent=1, ensure_ascii=False) + "\n").encode())
