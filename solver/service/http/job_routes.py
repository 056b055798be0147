"""The routes of jobs: submitted, listed, watched, stopped, resumed, removed."""

from __future__ import annotations

from typing import Annotated

from anyio import to_thread
from fastapi import APIRouter, Query, Request
from fastapi.responses import JSONResponse, Response, StreamingResponse

from solver.design.errors import single
from solver.service.file_names import file_name, named
from solver.service.http.desk import Desk, JobId, Offset, json_response, media, of_job, shown
from solver.service.http.openapi import SUBMITTED, problems
from solver.service.http.problems import Problem
from solver.service.http.told import CheckedDocument, JobsDocument
from solver.service.jobs.job import JobView
from solver.service.jobs.senders import sender_of
from solver.service.kept.documents import Form

_EVENT = {
    "type": "object",
    "required": ["event", "id", "data"],
    "properties": {
        "event": {"enum": ["progress", "end"]},
        "id": {"type": "string", "pattern": "^[0-9]+$"},
        "data": {"type": "string", "contentMediaType": "application/json", "description": "The job."},
    },
}


def submissions(router: APIRouter, desk: Desk) -> None:
    """What is submitted, and the list of it."""
    jobs = desk.jobs

    @router.post(
        "/validate", response_model=CheckedDocument, openapi_extra={"requestBody": SUBMITTED},
        responses=problems(400, 413, 415, 422, 429), summary="Validate a design or a sweep, and no more",
    )  # fmt: skip
    async def validate(request: Request) -> Response:
        text, form = await _submitted(request)
        found = await to_thread.run_sync(jobs.check, text, None, form, limiter=desk.submitting)
        told = ("kind", "title", "points", "sha256", "text", "places", "job")
        return JSONResponse({name: getattr(found, name) for name in told})

    @router.post(
        "/jobs", response_model=JobView, status_code=201, openapi_extra={"requestBody": SUBMITTED},
        responses={
            200: {"model": JobView, "description": "It is a job already"}, 201: of_job("A new job", {"Location": {
                "description": "Where the job is", "schema": {"type": "string"}}}),
            **problems(400, 413, 415, 422, 429),
        },
        summary="Submit a design or a sweep",
    )  # fmt: skip
    async def submit(request: Request) -> Response:
        text, form = await _submitted(request)
        sender = sender_of(request)
        view, new = await to_thread.run_sync(jobs.submit, text, None, form, sender, limiter=desk.submitting)
        return shown(view, 201 if new else 200, {"location": f"/api/jobs/{view.id}"})

    @router.get("/jobs", response_model=JobsDocument, responses=problems(422), summary="Jobs, newest first")
    async def listing(
        offset: Offset = 0, limit: Annotated[int, Query(ge=1, le=500, description="So many at most.")] = 50
    ) -> Response:
        views, total = jobs.listing(offset, limit)
        shown = ",".join(view.model_dump_json() for view in views)
        return json_response(f'{{"jobs":[{shown}],"total":{total}}}')


def one_job(router: APIRouter, desk: Desk) -> None:
    """One job."""
    jobs = desk.jobs

    @router.get(
        "/jobs/{job}", response_model=JobView, responses={200: of_job("The job"), **problems(404, 422)},
        summary="A job as it is now",
    )  # fmt: skip
    async def job_view(job: JobId) -> Response:
        return shown(jobs.view(job))

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
        stream = desk.feed.stream(jobs.view(job), int(seen))
        return StreamingResponse(stream, media_type="text/event-stream", headers={"x-accel-buffering": "no"})

    @router.post(
        "/jobs/{job}/stop", response_model=JobView, status_code=202, summary="Stop a job, and keep what is found",
        description="A point that is being solved ends within a second or two, state `stopped` and reason "
        "`interrupt`, with the best that it has found so far, which is not proven. When the job is resumed, such "
        "points are solved again from the start, and what they had found stays until there is more.",
        responses={202: of_job("It is stopped, or about to be"), **problems(404, 409, 413, 422)},
    )  # fmt: skip
    async def stop(job: JobId) -> Response:
        return shown(await desk.read(jobs.stop, job), 202)

    @router.post(
        "/jobs/{job}/resume", response_model=JobView, status_code=202,
        summary="Go on with a job that was stopped, has failed, or has points that a limit stopped",
        description="A job that was stopped goes on with the points that wait or were interrupted. A job that is "
        "complete, or has failed, solves again what a limit stopped and what has failed.",
        responses={202: of_job("It waits for its turn"), **problems(404, 409, 413, 422, 429)},
    )  # fmt: skip
    async def resume(job: JobId) -> Response:
        return shown(await desk.read(jobs.resume, job), 202)

    @router.delete(
        "/jobs/{job}", status_code=204, response_class=Response, responses=problems(404, 409, 413, 422),
        summary="Remove a job and all that was found",
    )  # fmt: skip
    async def remove(job: JobId) -> Response:
        await desk.read(jobs.remove, job)
        return Response(status_code=204)

    @router.get(
        "/jobs/{job}/file", response_class=Response, summary="The file that was submitted, as TOML",
        responses={200: media("application/toml", {"type": "string"}), **problems(404, 422)},
    )  # fmt: skip
    async def file(job: JobId) -> Response:
        text = await desk.read(jobs.text, job)
        return Response(
            text.encode(), media_type="application/toml", headers=named(file_name(jobs.view(job).title, ".toml"))
        )


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
