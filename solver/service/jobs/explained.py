"""Why nothing fits the design of a job or of a point of a sweep: asked for, waited for, kept; and its loosenings, each
of which becomes a job of its own."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from solver.batch.store.errors import StoreError
from solver.batch.sweep.table import PointState
from solver.design.errors import DesignError, single
from solver.files.load import parse_design
from solver.service.errors import NotNow
from solver.service.jobs.job import JobView
from solver.service.jobs.jobs import Jobs
from solver.service.kept.explanations import (
    ExplainedPoint,
    MadeFrom,
    explained_point,
    keep_explanation,
    keep_origin,
    kept_explanation,
    kept_origin,
)
from solver.service.processes.explainers import Explainers, ExplanationUnderWay

ExplanationState = Literal["none", "waiting", "working", "complete", "failed"]


class ToldConflict(BaseModel):
    """A limit that cannot be met together with the others that are named. needed: without it they could be; false: that
    is not known."""

    rule: str
    field: str
    now: str
    needed: bool


class ToldChange(BaseModel):
    """A limit that is loosened: its rule and field, its value in the file, and then."""

    rule: str
    field: str
    now: str
    then: str


class ToldLoosening(BaseModel):
    """What is enough: it was confirmed by solving the design with it. least: with one step less nothing fits; false:
    that is not known. worst_error_pct: of the best solution then, null where that is dear to find. file: the design
    file with it; null while the explanation is being made."""

    changes: list[ToldChange]
    least: bool
    worst_error_pct: float | None
    file: str | None = None


class ToldExplanation(BaseModel):
    """As `ringwright explain --json` says it, with the file of each loosening. feasible: something fits after all."""

    schema_name: Literal["ringwright.explanation/1"] = Field("ringwright.explanation/1", alias="schema")
    feasible: bool
    termination: str
    left_open: list[str]
    conflict: list[ToldConflict]
    loosenings: list[ToldLoosening]


class ExplanationView(BaseModel):
    """An explanation as it is now. ahead: how many are made before it; seconds: how long it is being made; doing: what
    is looked at; reason: why it failed; explanation: as far as it is known."""

    model_config = ConfigDict(frozen=True, title="Explanation")

    job: str
    point: str
    state: ExplanationState
    ahead: int = 0
    seconds: float | None = None
    doing: str = ""
    reason: str | None = None
    explanation: ToldExplanation | None = None

    @property
    def over(self) -> bool:
        return self.state in ("complete", "failed")

    @property
    def finished(self) -> bool:
        """Whether nothing more would come of asking again."""
        return self.state == "complete" and self.explanation is not None and self.explanation.termination == "proved"


@dataclass(frozen=True)
class WhyAsked:
    """A job and its point of which it is asked why nothing fits."""

    view: JobView
    point: ExplainedPoint


class Explanations:
    """Thread-safe."""

    def __init__(self, jobs: Jobs, explainers: Explainers) -> None:
        self._jobs, self._explainers = jobs, explainers

    def of(self, job: str, point: str = "") -> WhyAsked:
        """The point that is meant: of a design its only one, unless told. Raises NoSuchJob, NoSuchSolution, StoreError,
        and DesignError where one of several has to be named."""
        view = self._jobs.view(job)
        if not point and view.total > 1:
            raise single("point", None, "a sweep has many points; name one of them")
        return WhyAsked(view, self._jobs.told(job, lambda results: explained_point(results, point)))

    def begin(self, asked: WhyAsked) -> ExplanationView:
        """Have it made, unless it is there or under way. Raises NotNow where there is nothing to explain, TooMany,
        DesignError and NoSuchJob."""
        point, job = asked.point, asked.view.id
        known = self.look(asked)
        if known.finished or known.state in ("waiting", "working"):
            return known
        if why := unexplainable(point):
            raise NotNow(why)
        folder = self._jobs.folder(job)
        limit = min(parse_design(point.text, "").time_limit_s, self._jobs.limits.solve_seconds)
        self._explainers.begin(
            f"{job}.{point.point}", point.text, limit, lambda made: keep_explanation(folder, point.point, made)
        )
        return self.look(asked)

    def look(self, asked: WhyAsked) -> ExplanationView:
        """How far it is. Raises NoSuchJob."""
        name: dict[str, Any] = {"job": asked.view.id, "point": asked.point.point}
        under_way = self._explainers.look(f"{asked.view.id}.{asked.point.point}")
        if under_way is not None and not under_way.failed:
            return _under_way(name, under_way)
        kept = kept_explanation(self._jobs.folder(asked.view.id), asked.point.point)
        if kept is not None:
            return ExplanationView(**name, state="complete", explanation=_of(kept))
        if under_way is not None:
            return ExplanationView(**name, state="failed", reason=under_way.failed)
        return ExplanationView(**name, state="none")

    def take(self, asked: WhyAsked, number: int, sender: str) -> JobView:
        """Submit the design with the loosening of that number, from 1, as a job, of which it is kept where it came
        from. Raises NotNow where there is no such loosening, and as `Jobs.submit`."""
        made = self.look(asked).explanation
        if made is None or not 1 <= number <= len(made.loosenings) or made.loosenings[number - 1].file is None:
            raise NotNow("there is no such loosening; look at the explanation first")
        chosen = made.loosenings[number - 1]
        try:
            view, _ = self._jobs.submit(str(chosen.file), "design", "toml", sender)
        except DesignError as fault:
            raise NotNow(f"the loosened design is refused here: {fault}") from None
        point = asked.point.point if asked.view.total > 1 else ""
        changes = ", ".join(f"{one.field} {one.now} → {one.then}" for one in chosen.changes)
        folder = self._jobs.folder(view.id)
        if view.id != asked.view.id and kept_origin(folder) is None:
            keep_origin(folder, MadeFrom(asked.view.id, asked.view.title, point, changes))
            self._jobs.forget_answers(view.id)
        return view


def unexplainable(point: ExplainedPoint) -> str:
    """Why there is nothing to explain of a point; "" where there is."""
    if point.solutions:
        return "a solution was found; there is nothing to explain"
    if point.state in (PointState.WAITING, PointState.SOLVING):
        return "it is not solved yet; whether anything fits is not known"
    if point.state == PointState.FAILED:
        return "it has failed; whether anything fits is not known"
    return ""


def _of(told: dict[str, Any]) -> ToldExplanation:
    try:
        return ToldExplanation.model_validate(told)
    except ValueError as fault:
        raise StoreError(f"an explanation cannot be read: {' '.join(str(fault).split())[:200]}") from None


def _under_way(name: dict[str, Any], now: ExplanationUnderWay) -> ExplanationView:
    if now.began is None:
        return ExplanationView(**name, state="waiting", ahead=now.ahead)
    known = None if now.known is None else _of(now.known)
    return ExplanationView(
        **name, state="working", seconds=round(time.monotonic() - now.began, 1), doing=now.doing, explanation=known
    )
