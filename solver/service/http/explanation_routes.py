"""The routes of explanations: why nothing fits a job, or a point of a sweep."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Query
from fastapi.responses import Response

from solver.service.http.desk import Desk, JobId, json_response, known_query
from solver.service.http.openapi import problems
from solver.service.jobs.explained import Explanations, ExplanationView

Point = Annotated[
    str | None,
    Query(pattern="^[0-9a-f]{4,64}$", description="Of a sweep: a point's name, or its beginning.", max_length=64),
]


def explanation_routes(desk: Desk, explanations: Explanations) -> APIRouter:
    """Both of them."""
    router = APIRouter(prefix="/api", dependencies=[Depends(known_query)])
    told = {"description": "It is made, or known to fail"}

    @router.post(
        "/jobs/{job}/explanation", response_model=ExplanationView, status_code=202,
        summary="Have it explained why nothing fits",
        description="Of a job, or a point of a sweep, that has no solution. It waits for its turn, is made in a "
        "process of its own, and kept. Each loosening has a `file`, which may be submitted as it is.",
        responses={200: {**told, "model": ExplanationView}, 202: {"description": "It waits, or is being made"},
                   **problems(404, 409, 413, 422, 429)},
    )  # fmt: skip
    async def begin(job: JobId, point: Point = None) -> Response:
        view = await desk.read(lambda: explanations.begin(explanations.of(job, point or "")))
        return _shown(view, 200 if view.over else 202)

    @router.get(
        "/jobs/{job}/explanation", response_model=ExplanationView, responses=problems(404, 422),
        summary="The explanation, or how far it is; state `none` where nobody has asked for it",
    )  # fmt: skip
    async def look(job: JobId, point: Point = None) -> Response:
        return _shown(await desk.read(lambda: explanations.look(explanations.of(job, point or ""))), 200)

    return router


def _shown(view: ExplanationView, status: int) -> Response:
    return json_response(view.model_dump_json(by_alias=True), status)
