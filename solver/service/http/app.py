"""The application: API and pages behind the guard, and whatever goes wrong as a problem document."""

from __future__ import annotations

import errno
import json
import sys
import traceback
from collections.abc import Awaitable, Callable, Iterable
from dataclasses import dataclass
from typing import Any, cast

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import Response
from starlette.exceptions import HTTPException
from starlette.routing import Match
from uvicorn.middleware.proxy_headers import ProxyHeadersMiddleware

from solver.batch.store.errors import StoreError
from solver.design.errors import DesignError, show
from solver.files.complaints import allowed
from solver.service.errors import STATUS, CheckFailed, TooMany, TooSlow, status_of
from solver.service.http import openapi
from solver.service.http.api import api
from solver.service.http.desk import Desk
from solver.service.http.events import Feed
from solver.service.http.explanation_routes import explanation_routes
from solver.service.http.guard import App, Guard
from solver.service.http.problems import MEDIA, Problem, of_design
from solver.service.http.token import Token
from solver.service.jobs.explained import Explanations
from solver.service.jobs.jobs import Jobs
from solver.service.page.choosing_pages import choosing_pages
from solver.service.page.pages import pages
from solver.service.page.rendering import enter_page
from solver.service.processes.explainers import Explainers
from solver.service.processes.sheets import Packers

Handler = Callable[[Request, Exception], Awaitable[Response]]


@dataclass(frozen=True)
class Service:
    """app: the ASGI application, guarded; api: the same without its guard, for its OpenAPI document."""

    app: App
    api: FastAPI
    feed: Feed
    packers: Packers
    explainers: Explainers

    def close(self) -> None:
        """End every stream, every pack of sheets and every explanation."""
        self.feed.close()
        self.packers.close()
        self.explainers.close()


def service(
    jobs: Jobs,
    names: Iterable[str] = (),
    token: Token | None = None,
    log: Callable[[str], None] | None = None,
    proxies: tuple[str, ...] = (),
) -> Service:
    """The application for these jobs. names, token, log: see `Guard`; proxies: addresses and networks whose
    X-Forwarded-Proto and X-Forwarded-For are believed."""
    feed, packers, explainers = Feed(jobs), Packers(), Explainers(jobs.limits)
    explanations = Explanations(jobs, explainers)
    app = FastAPI(title="Ringwright", description=openapi.DESCRIPTION, openapi_url=None, docs_url=None, redoc_url=None)
    locked = token is not None
    desk = Desk(jobs, feed, packers)
    app.include_router(api(desk, locked))
    app.include_router(explanation_routes(desk, explanations))
    document = json.dumps(openapi.document(app)).encode()

    @app.get("/api/openapi.json", include_in_schema=False)
    async def openapi_json() -> Response:
        return Response(document, media_type="application/json")

    app.include_router(pages(jobs, locked), include_in_schema=False)
    app.include_router(choosing_pages(jobs, explanations, locked), include_in_schema=False)
    for kind in (*STATUS, Problem, DesignError, StoreError, OSError, RequestValidationError, HTTPException):
        app.add_exception_handler(kind, _handled)
    guard: App = Guard(app, jobs.limits, names, token, enter_page, log)
    if proxies:
        guard = cast(App, ProxyHeadersMiddleware(cast(Any, guard), list(proxies)))
    return Service(guard, app, feed, packers, explainers)


async def _handled(request: Request, fault: Exception) -> Response:
    problem = problem_of(fault)
    if problem.status == 405:
        problem.headers["allow"] = ", ".join(sorted(_methods(request)))
    return Response(problem.body(request.url.path), problem.status, problem.headers, MEDIA)


def _methods(request: Request) -> set[str]:
    """Which methods there are for the path that was asked for; the guard answers HEAD wherever there is GET."""
    scope = {**request.scope, "path_params": {}}
    found: set[str] = set()
    for method in ("GET", "POST", "DELETE"):
        for route in request.app.routes:
            if route.matches({**scope, "method": method})[0] is Match.FULL:
                found.update((method, "HEAD") if method == "GET" else (method,))
    return found


def problem_of(fault: Exception) -> Problem:
    """What is told of an exception."""
    if isinstance(fault, Problem):
        return fault
    if isinstance(fault, DesignError):
        return of_design(fault)
    if isinstance(fault, RequestValidationError):
        return _of_query(fault)
    if isinstance(fault, HTTPException):
        detail = {404: "there is nothing of that name", 405: "not by this method"}.get(fault.status_code)
        return Problem(fault.status_code, detail or str(fault.detail), fault.headers)
    if isinstance(fault, TooMany):
        return Problem(429, str(fault), {"retry-after": "60"}, "/problems/limit", limit=fault.limit)
    if isinstance(fault, TooSlow):
        return Problem(422, str(fault), None, "/problems/limit", limit=fault.seconds)
    status = status_of(fault)
    if status == 500:
        traceback.print_exception(fault, file=sys.stderr)
        full = isinstance(fault, OSError) and fault.errno in (errno.ENOSPC, errno.EDQUOT)
        if full:
            return Problem(507, "the service's disk is full")
        if isinstance(fault, CheckFailed):
            return Problem(500, f"{fault}; the service's log says more")
        return Problem(500, "stored files cannot be read or written; the service's log says more")
    return Problem(status, str(fault))


def _of_query(fault: RequestValidationError) -> Problem:
    errors = []
    for one in fault.errors()[:20]:
        where = ".".join(str(part) for part in one["loc"]).removeprefix("query.")
        errors.append({"field": where, "value": show(one.get("input")), "message": allowed(one)})
    lines = "\n".join(f"{one['field']} = {one['value']}: {one['message']}" for one in errors)
    return Problem(422, lines, errors=errors)
