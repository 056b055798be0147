"""The routes under /api. Each reads its words, calls one method of `Jobs` in a thread, and writes what comes back."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Annotated, Any, Literal, TypeVar

import pyarrow.parquet as pq
from anyio import CapacityLimiter, to_thread
from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import JSONResponse, Response, StreamingResponse
from pydantic import BaseModel

from solver.cli.stored import csv_of
from solver.design.errors import single
from solver.design.sets_data import body_sets
from solver.search.answer import SolutionAnswer, train_of
from solver.service.documents import Form, Kind
from solver.service.events import Feed
from solver.service.job import JobView
from solver.service.jobs import Jobs
from solver.service.motion import Motion, motion
from solver.service.openapi import JOB, SUBMITTED, problems
from solver.service.problems import Problem
from solver.service.query import rank_query
from solver.service.results import Results
from solver.service.sheets import Full, Packers
from solver.version import VERSION

T = TypeVar("T")
READING, SUBMITTING, DRAWING = 8, 6, 2  # at a time

JobId = Annotated[str, Path(pattern="^[0-9a-f]{16}$", description="A job's id.", examples=[JOB["id"]])]
PointId = Annotated[
    str, Path(pattern="^[0-9a-f]{12,64}$", description="A point's name, or its beginning.", examples=["f2fbf6f1c8d3"])
]
Rank = Annotated[int, Path(ge=1, le=1_000_000, description="The rank of a solution within its point.", examples=[1])]
Offset = Annotated[int, Query(ge=0, le=10_000_000, description="So many are left out.")]
_FORMS = {"json": "application/json", "csv": "text/csv", "parquet": "application/vnd.apache.parquet"}
_EVENT = {
    "type": "object",
    "required": ["event", "id", "data"],
    "properties": {
        "event": {"enum": ["progress", "end"]},
        "id": {"type": "string", "pattern": "^[0-9]+$"},
        "data": {"type": "string", "contentMediaType": "application/json", "description": "The job."},
    },
}
_BINARY = {"type": "string", "format": "binary"}


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


class PointDocument(BaseModel):
    """A point of a job; see `points.parquet`. solutions: how many; front: their ranks on the Pareto front."""

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


def api(jobs: Jobs, feed: Feed, packers: Packers, locked: bool) -> APIRouter:
    """The routes, for that folder of jobs. locked: whether a token is needed."""
    router = APIRouter(prefix="/api")
    reading, submitting, drawing = (CapacityLimiter(number) for number in (READING, SUBMITTING, DRAWING))

    async def read(work: Callable[..., T], *words: Any) -> T:
        return await to_thread.run_sync(work, *words, limiter=reading)

    async def answer(job: str, key: str, made: Callable[[Results], bytes]) -> bytes:
        """What is kept is told without waiting for a thread."""
        kept = jobs.kept(job, key)
        return await read(jobs.answer, job, key, made) if kept is None else kept

    @router.get("/health", response_model=Health, summary="Whether the service answers")
    async def health() -> Response:
        return JSONResponse({"status": "ok"} if locked else {"status": "ok", "version": VERSION})

    @router.get("/sets", response_model=SetsDocument, summary="The body sets that ship")
    async def sets() -> Response:
        return JSONResponse({"sets": [_set(name) for name in body_sets()]})

    @router.post(
        "/validate", response_model=CheckedDocument, openapi_extra={"requestBody": SUBMITTED},
        responses=problems(400, 413, 415, 422, 429), summary="Validate a design or a sweep, and no more",
    )  # fmt: skip
    async def validate(request: Request) -> Response:
        text, form = await _submitted(request)
        found = await to_thread.run_sync(jobs.check, text, None, form, limiter=submitting)
        told = ("kind", "title", "points", "sha256", "text", "places", "job")
        return JSONResponse({name: getattr(found, name) for name in told})

    @router.post(
        "/jobs", response_model=JobView, status_code=201, openapi_extra={"requestBody": SUBMITTED},
        responses={
            200: {"model": JobView, "description": "It is a job already"}, 201: _job("A new job", {"Location": {
                "description": "Where the job is", "schema": {"type": "string"}}}),
            **problems(400, 413, 415, 422, 429),
        },
        summary="Submit a design or a sweep",
    )  # fmt: skip
    async def submit(request: Request) -> Response:
        text, form = await _submitted(request)
        sender = sender_of(request)
        view, new = await to_thread.run_sync(jobs.submit, text, None, form, sender, limiter=submitting)
        return _shown(view, 201 if new else 200, {"location": f"/api/jobs/{view.id}"})

    @router.get("/jobs", response_model=JobsDocument, responses=problems(422), summary="Jobs, newest first")
    async def listing(
        offset: Offset = 0, limit: Annotated[int, Query(ge=1, le=500, description="So many at most.")] = 50
    ) -> Response:
        views, total = jobs.listing(offset, limit)
        shown = ",".join(view.model_dump_json() for view in views)
        return _json(f'{{"jobs":[{shown}],"total":{total}}}')

    @router.get(
        "/jobs/{job}", response_model=JobView, responses={200: _job("The job"), **problems(404, 422)},
        summary="A job as it is now",
    )  # fmt: skip
    async def job_view(job: JobId) -> Response:
        return _shown(jobs.view(job))

    @router.get(
        "/jobs/{job}/events", response_class=StreamingResponse, summary="The progress of a job, as it happens",
        responses={200: {"description": "Events `progress`, each with a job as data and its version as id; after the "
                         "last `end`. With Last-Event-ID, what has changed since.",
                         "content": {"text/event-stream": {"schema": _EVENT}}}, **problems(404, 422)},
        openapi_extra={"parameters": [{"name": "Last-Event-ID", "in": "header", "required": False,
                                       "description": "The id of the last event seen.",
                                       "schema": {"type": "integer", "minimum": 0}}]},
    )  # fmt: skip
    async def events(job: JobId, request: Request) -> Response:
        seen = request.headers.get("last-event-id", "0").strip()
        if not (seen.isascii() and seen.isdecimal() and len(seen) <= 18):
            raise Problem(422, "Last-Event-ID: must be the id of an event of this stream",
                          errors=[{"field": "header.Last-Event-ID", "value": seen[:60], "message": "must be a whole "
                                   "number"}])  # fmt: skip
        stream = feed.stream(jobs.view(job), int(seen))
        return StreamingResponse(stream, media_type="text/event-stream", headers={"x-accel-buffering": "no"})

    @router.post(
        "/jobs/{job}/stop", response_model=JobView, status_code=202, summary="Stop a job, and keep what is found",
        description="A point that is being solved ends within a second or two, state `stopped` and reason "
        "`interrupt`, with the best that it has found so far, which is not proven. When the job is resumed, such "
        "points are solved again from the start, and what they had found stays until there is more.",
        responses={202: _job("It is stopped, or about to be"), **problems(404, 409, 413, 422)},
    )  # fmt: skip
    async def stop(job: JobId) -> Response:
        return _shown(await read(jobs.stop, job), 202)

    @router.post(
        "/jobs/{job}/resume", response_model=JobView, status_code=202,
        summary="Go on with a job that was stopped, has failed, or has points that a limit stopped",
        description="A job that was stopped goes on with the points that wait or were interrupted. A job that is "
        "complete, or has failed, solves again what a limit stopped and what has failed.",
        responses={202: _job("It waits for its turn"), **problems(404, 409, 413, 422, 429)},
    )  # fmt: skip
    async def resume(job: JobId) -> Response:
        return _shown(await read(jobs.resume, job), 202)

    @router.delete(
        "/jobs/{job}", status_code=204, response_class=Response, responses=problems(404, 409, 413, 422),
        summary="Remove a job and all that was found",
    )  # fmt: skip
    async def remove(job: JobId) -> Response:
        await read(jobs.remove, job)
        return Response(status_code=204)

    @router.get(
        "/jobs/{job}/file", response_class=Response, summary="The file that was submitted, as TOML",
        responses={200: _media("application/toml", {"type": "string"}), **problems(404, 422)},
    )  # fmt: skip
    async def file(job: JobId) -> Response:
        text = await read(jobs.text, job)
        return Response(text.encode(), media_type="application/toml", headers=_named(f"{job}.toml"))

    @router.get(
        "/jobs/{job}/points", response_model=PointsDocument, responses=problems(404, 422),
        summary="Every point of a job, with its best figures",
    )  # fmt: skip
    async def points(job: JobId) -> Response:
        def told(results: Results) -> bytes:
            return bytes(JSONResponse({"points": results.points}).body)

        return _json(await answer(job, "points", told))

    @router.get(
        "/jobs/{job}/solutions", response_model=SolutionsDocument, summary="The solutions, filtered and ordered",
        responses={200: {"description": "The solutions; of a job that goes on, what is there so far", "content": {
            "text/csv": {"schema": {"type": "string"}}, "application/vnd.apache.parquet": {"schema": _BINARY}}},
            **problems(404, 422)},
    )  # fmt: skip
    async def solutions(
        job: JobId,
        by: Annotated[str, Query(max_length=100, description="Rank keys in order, with commas.")] = "error,parts",
        most: Annotated[
            list[str] | None, Query(max_length=20, description="Keep solutions up to this value, like error=1.")
        ] = None,
        where: Annotated[
            list[str] | None, Query(max_length=20, description="Keep designs that say this, like bodies.set=saturn.")
        ] = None,
        front: Annotated[
            str, Query(max_length=100, description="Keep what no other solution beats in all of these rank keys.")
        ] = "",
        offset: Offset = 0,
        limit: Annotated[int, Query(ge=1, le=10_000, description="So many at most.")] = 50,
        form: Annotated[Literal["json", "csv", "parquet"], Query(description="The form of the answer.")] = "json",
    ) -> Response:
        query = rank_query(by, most or [], where or [], front, offset, limit)

        def found(results: Results) -> bytes:
            ranked = results.ranked(query)
            if form == "json":
                return bytes(JSONResponse({"solutions": ranked.rows, "total": ranked.total}).body)
            if form == "csv":
                return "".join(csv_of([ranked.table])).encode()
            buffer = io.BytesIO()
            pq.write_table(ranked.table, buffer, write_page_checksum=True)
            return buffer.getvalue()

        told = await answer(job, f"{form} {query}", found)
        headers = None if form == "json" else _named(f"{job}.{form}")
        return Response(told, headers=headers, media_type=_FORMS[form])

    one = "/jobs/{job}/solutions/{point}/{rank}"

    @router.get(one, response_model=SolutionDocument, responses=problems(404, 409, 422), summary="One solution")
    async def solution(job: JobId, point: PointId, rank: Rank) -> Response:
        return await read(lambda: JSONResponse(jobs.solution_document(job, point, rank)))

    @router.get(
        f"{one}/picture", response_class=Response, summary="Its front and side view",
        responses={200: _media("image/svg+xml", {"type": "string"}), **problems(404, 409, 422)},
    )  # fmt: skip
    async def picture(job: JobId, point: PointId, rank: Rank) -> Response:
        from solver.sheets.picture import picture as draw

        def drawn() -> str:
            design, found = jobs.solution(job, point, rank)
            if design.fit.directions is None:
                raise Problem(409, 'the design has no places (fit.directions = "none"), so nothing can be drawn')
            return draw(design, train_of(design, found))

        svg = await to_thread.run_sync(drawn, limiter=drawing)
        return Response(svg.encode(), media_type="image/svg+xml", headers=_named(f"{job}-{rank}.svg", "inline"))

    @router.get(
        f"{one}/motion", response_model=Motion, responses=problems(404, 409, 422),
        summary="How everything turns, exactly",
    )  # fmt: skip
    async def motion_of(job: JobId, point: PointId, rank: Rank) -> Response:
        return _json(await to_thread.run_sync(
            lambda: motion(*jobs.solution(job, point, rank)).model_dump_json(), limiter=drawing
        ))  # fmt: skip

    @router.get(
        f"{one}/sheets", response_class=Response, summary="Its sheets to build from, as a zip",
        responses={200: _media("application/zip", _BINARY), **problems(404, 409, 422, 503)},
    )  # fmt: skip
    async def sheets(
        job: JobId,
        point: PointId,
        rank: Rank,
        paper: Annotated[Literal["a4", "letter", "a3"], Query(description="The size of the pages.")] = "a4",
        both_units: Annotated[bool, Query(description="Tell lengths in millimetres and inches.")] = False,
    ) -> Response:
        await read(jobs.solution, job, point, rank)
        try:
            packed = await to_thread.run_sync(packers.zip, jobs.folder(job), point, rank, paper, both_units)
        except Full as fault:
            raise Problem(503, str(fault), {"retry-after": "5"}) from None
        return Response(packed, media_type="application/zip", headers=_named(f"{job}-{rank}-sheets.zip"))

    return router


def sender_of(request: Request) -> str:
    """The address that a request came from: the connection's, or what a trusted proxy says of it."""
    return "" if request.client is None else request.client.host


async def _submitted(request: Request) -> tuple[str, Form]:
    """The text of the body and its form. Raises Problem and DesignError."""
    media = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    forms: dict[str, Form] = {"application/toml": "toml", "application/json": "json"}
    if media not in forms:
        raise Problem(415, f"content-type {media[:60]!r}: send application/toml or application/json",
                      {"accept": ", ".join(forms)})  # fmt: skip
    data = await request.body()
    try:
        return data.decode("utf-8-sig"), forms[media]
    except UnicodeDecodeError as fault:
        line = data.count(b"\n", 0, fault.start) + 1
        raise single("", None, f"not UTF-8 text: byte 0x{data[fault.start]:02x} in line {line}") from None


def _set(name: str) -> dict[str, Any]:
    one = body_sets()[name]
    bodies = [{"name": body, "period": period} for (body, _), period in zip(one.periods, one.printed, strict=True)]
    return {"name": one.name, "title": one.title, "unit": one.unit, "source": one.source, "bodies": bodies}


def _shown(view: JobView, status: int = 200, headers: dict[str, str] | None = None) -> Response:
    return _json(view.model_dump_json(), status, headers)


def _json(text: str | bytes, status: int = 200, headers: dict[str, str] | None = None) -> Response:
    return Response(text, status, headers, "application/json")


def _named(name: str, how: str = "attachment") -> dict[str, str]:
    return {"content-disposition": f'{how}; filename="{name}"'}


def _job(description: str, headers: dict[str, Any] | None = None) -> dict[str, Any]:
    told: dict[str, Any] = {"description": description, "content": {"application/json": {"example": JOB}}}
    return {**told, "headers": headers} if headers else told


def _media(media: str, schema: dict[str, Any]) -> dict[str, Any]:
    return {"description": "It", "content": {media: {"schema": schema}}}
