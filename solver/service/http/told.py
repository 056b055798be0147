"""What the routes tell, as the OpenAPI document describes it."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel

from solver.answer.document import ProofAnswer, SolutionAnswer
from solver.service.jobs.job import JobView
from solver.service.kept.documents import Kind


class Health(BaseModel):
    """version: told where no token is needed, since this is answered without one."""

    status: Literal["ok"]
    version: str | None = None


class CheckedDocument(BaseModel):
    """A submission that is valid, and was not submitted. sha256: what its job would be called after; text: as TOML;
    places: whether pictures and sheets can be made."""

    kind: Kind
    title: str
    points: int
    sha256: str
    text: str
    places: bool
    job: str


class JobsDocument(BaseModel):
    jobs: list[JobView]
    total: int


class Best(BaseModel):
    worst_error_pct: float
    parts: int
    jigs: int
    teeth: int
    largest: int
    envelope_mm: float | None
    new_gears: int | None = None


class PointDocument(BaseModel):
    """A point of a job; see `points.parquet`. solutions: how many; front: their ranks on the Pareto front; proofs:
    what was proven a second time, null where that was not asked for."""

    point: str
    settings: dict[str, Any]
    title: str
    state: str
    reason: str | None
    status: str | None
    proven: bool | None
    bound_worst_error_pct: float | None
    solutions: int | None
    front: list[int] | None
    proofs: list[ProofAnswer] | None
    best: Best | None


class PointsDocument(BaseModel):
    points: list[PointDocument]


class SolutionDocument(BaseModel):
    """A solution as in an answer, with where it comes from. rank: within its point."""

    title: str
    status: str
    config_sha256: str
    point: str
    rank: int
    settings: dict[str, Any]
    solution: SolutionAnswer


class SolutionsDocument(BaseModel):
    """total: how many were found within the limits, of which those from `offset` on are shown. That none was found is a
    proof that there is none only of points that are solved."""

    solutions: list[SolutionDocument]
    total: int


class SetBody(BaseModel):
    name: str
    period: str


class SetDocument(BaseModel):
    """A body set. unit: of its periods, which are exact text."""

    name: str
    title: str
    unit: str
    source: str
    bodies: list[SetBody]


class SetsDocument(BaseModel):
    sets: list[SetDocument]
