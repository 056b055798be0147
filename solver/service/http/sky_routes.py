"""The routes of a solution in the sky: where its bodies are at a date, and when two of them meet."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Annotated, Literal, TypeVar

from fastapi import APIRouter, Query
from fastapi.responses import Response

from solver.design.errors import show
from solver.service.http.desk import Desk, JobId, PointId, Rank, json_response
from solver.service.http.openapi import problems
from solver.service.http.problems import Problem
from solver.service.page.dated import hanging_or_why
from solver.service.page.sky_told import MeetingsDocument, SkyOfModel
from solver.sky.errors import SkyError

if TYPE_CHECKING:
    from solver.service.page.sky import Hanging
    from solver.sky.moments import Moment

T = TypeVar("T")
ONE = "/jobs/{job}/solutions/{point}/{rank}"
Scale = Annotated[Literal["utc", "tt"], Query(description="The scale of dates without a zone.")]
Date = Annotated[
    str | None,
    Query(max_length=60, description="A date, or date and time with a zone, in UTC without one. Now, unless told.",
          examples=["2026-12-24T18:00+01:00"]),
]  # fmt: skip
SetAt = Annotated[
    str | None,
    Query(alias="set", max_length=60, description="The date to which the model was set. That date, unless told."),
]
Name = Annotated[str, Query(max_length=200, description="A body of the design.", examples=["Jupiter"])]


def of_the_sky(router: APIRouter, desk: Desk) -> None:
    """A solution in the sky."""

    def hung(job: str, point: str, rank: int) -> Hanging:
        found, why = hanging_or_why(*desk.jobs.solution(job, point, rank))
        if found is None:
            raise Problem(409, why)
        return found

    @router.get(
        f"{ONE}/sky", response_model=SkyOfModel, responses=problems(404, 409, 422),
        summary="Where its bodies are at a date, and where its rings stand",
    )  # fmt: skip
    async def sky(
        job: JobId, point: PointId, rank: Rank, date: Date = None, set_at: SetAt = None, scale: Scale = "utc"
    ) -> Response:
        def told() -> bytes:
            found = hung(job, point, rank)
            moment = _moment("date", date, scale)
            placed = _placed(found, set_at, scale, moment)
            return _or_problem("date", date, lambda: found.at(moment, placed)).model_dump_json().encode()

        if date is None:
            return json_response(await desk.read(told))
        return json_response(await desk.answer(job, f"sky {point} {rank} {date} {set_at} {scale}", lambda _: told()))

    @router.get(
        f"{ONE}/meetings", response_model=MeetingsDocument, responses=problems(404, 409, 422),
        summary="When two of its bodies meet next, and when the model shows it",
    )  # fmt: skip
    async def meetings(
        job: JobId, point: PointId, rank: Rank, a: Name, b: Name, after: Date = None, set_at: SetAt = None,
        scale: Scale = "utc", count: Annotated[int, Query(ge=1, le=100, description="So many at most.")] = 10,
    ) -> Response:  # fmt: skip
        def told() -> bytes:
            found = hung(job, point, rank)
            start = _moment("after", after, scale)
            placed = _placed(found, set_at, scale, start)
            field, value = _doubtful(found, a, b) or ("after", after)
            met = _or_problem(field, value, lambda: found.meetings((a, b), start, count, placed))
            return met.model_dump_json().encode()

        if after is None:
            return json_response(await desk.read(told))
        key = f"meetings {point} {rank} {a!r} {b!r} {after} {set_at} {scale} {count}"
        return json_response(await desk.answer(job, key, lambda _: told()))


def _doubtful(found: Hanging, a: str, b: str) -> tuple[str, str] | None:
    """The field and the name of a body that the design has not, or that is named twice."""
    names = {body.name for body in found.sky}
    if a not in names:
        return "a", a
    return ("b", b) if b not in names or b == a else None


def _placed(found: Hanging, set_at: str | None, scale: str, unless: Moment) -> Moment:
    """The date to which the model was set, one to which it can be set."""
    if set_at is None:
        return unless
    placed = _moment("set", set_at, scale)
    _or_problem("set", set_at, lambda: found.set_to(placed))
    return placed


def _moment(field: str, text: str | None, scale: str) -> Moment:
    from solver.sky.moments import now, parse_moment  # which a service without the extra `sky` does without

    return now() if text is None else _or_problem(field, text, lambda: parse_moment(text, scale))


def _or_problem(field: str, text: str | None, made: Callable[[], T]) -> T:
    """What is made, or in one line what is wrong with what was asked for."""
    try:
        return made()
    except SkyError as fault:
        error = {"field": field, "value": "" if text is None else show(text), "message": str(fault)}
        raise Problem(422, str(fault), errors=[error]) from None
