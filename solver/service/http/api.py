"""The routes under /api. Each reads its words, calls one method of `Jobs` in a thread, and writes what comes back."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Depends
from fastapi.responses import JSONResponse, Response

from solver.files.body_sets import body_sets
from solver.service.http import certificate_routes, job_routes, sky_routes, solution_routes
from solver.service.http.desk import Desk, known_query
from solver.service.http.openapi import problems
from solver.service.http.told import Health, SetsDocument
from solver.version import VERSION


def api(desk: Desk, locked: bool) -> APIRouter:
    """All of them. locked: whether a token is needed."""
    router = APIRouter(prefix="/api", dependencies=[Depends(known_query)])
    _of_the_service(router, locked)
    job_routes.submissions(router, desk)
    job_routes.one_job(router, desk)
    solution_routes.of_a_job(router, desk)
    solution_routes.of_one(router, desk)
    certificate_routes.of_a_point(router, desk)
    sky_routes.of_the_sky(router, desk)
    return router


def _of_the_service(router: APIRouter, locked: bool) -> None:
    @router.get("/health", response_model=Health, responses=problems(422), summary="Whether the service answers")
    async def health() -> Response:
        return JSONResponse({"status": "ok"} if locked else {"status": "ok", "version": VERSION})

    @router.get("/sets", response_model=SetsDocument, responses=problems(422), summary="The body sets that ship")
    async def sets() -> Response:
        return JSONResponse({"sets": [_set(name) for name in body_sets()]})


def _set(name: str) -> dict[str, Any]:
    one = body_sets()[name]
    bodies = [{"name": body, "period": period} for (body, _), period in zip(one.periods, one.printed, strict=True)]
    return {"name": one.name, "title": one.title, "unit": one.unit, "source": one.source, "bodies": bodies}
