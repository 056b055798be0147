"""What all routes share: the jobs, threads for each kind of work, the words of an address, and forms of answers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Annotated, Any, TypeVar, get_args, get_origin

from anyio import CapacityLimiter, to_thread
from fastapi import Path, Query, Request
from fastapi.responses import Response

from solver.design.errors import DesignError, single, suggestion
from solver.files.complaints import MOST_COMPLAINTS
from solver.service.http.events import Feed
from solver.service.http.line import SheetsLine
from solver.service.http.openapi import JOB
from solver.service.jobs.job import JobView
from solver.service.jobs.jobs import Jobs
from solver.service.kept.results import Results
from solver.service.processes.sheets import Packers

T = TypeVar("T")
READING, SUBMITTING, DRAWING = 8, 6, 2  # at a time

JobId = Annotated[str, Path(pattern="^[0-9a-f]{16}$", description="A job's id.", examples=[JOB["id"]])]
PointId = Annotated[
    str, Path(pattern="^[0-9a-f]{12,64}$", description="A point's name, or its beginning.", examples=["f2fbf6f1c8d3"])
]
Rank = Annotated[int, Path(ge=1, le=1_000_000, description="The rank of a solution within its point.", examples=[1])]
Offset = Annotated[int, Query(ge=0, le=10_000_000, description="So many are left out.")]


@dataclass(frozen=True)
class Desk:
    """The jobs of a service, their progress and sheets; reading, submitting, drawing: how much is done at a time;
    line: where those stand who want sheets."""

    jobs: Jobs
    feed: Feed
    packers: Packers
    reading: CapacityLimiter = field(default_factory=lambda: CapacityLimiter(READING))
    submitting: CapacityLimiter = field(default_factory=lambda: CapacityLimiter(SUBMITTING))
    drawing: CapacityLimiter = field(default_factory=lambda: CapacityLimiter(DRAWING))
    line: SheetsLine = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "line", SheetsLine(self.jobs.packs))

    async def read(self, work: Callable[..., T], *words: Any) -> T:
        return await to_thread.run_sync(work, *words, limiter=self.reading)

    async def answer(self, job: str, key: str, made: Callable[[Results], bytes]) -> bytes:
        """What is kept is told without waiting for a thread."""
        kept = self.jobs.kept(job, key)
        return await self.read(self.jobs.answer, job, key, made) if kept is None else kept


async def known_query(request: Request) -> None:
    """Refuse a query with what the route does not know, with nothing said, or with one thing said twice: it would mean
    less than its sender thinks. Raises DesignError, whose fields are those of the query."""
    fields = {one.alias: one for one in request.scope["route"].dependant.query_params}
    faults = []
    for name in dict.fromkeys(request.query_params):
        values = request.query_params.getlist(name)
        if name not in fields:
            near = suggestion(name, fields)
            known = f"; known here: {', '.join(fields)}" if fields else "; nothing can be asked for here"
            faults.append(single(name[:60], None, f"unknown{near or known}"))
        elif not all(value.strip() for value in values):
            faults.append(single(name, None, "nothing is given; write what is meant, or leave it out"))
        elif len(values) > 1 and not _several(fields[name].field_info.annotation):
            faults.append(single(name, values[1], "is given twice"))
    if faults:
        raise DesignError(one for fault in faults[:MOST_COMPLAINTS] for one in fault.complaints)


def _several(annotation: Any) -> bool:
    return any(get_origin(one) is list for one in get_args(annotation))


def shown(view: JobView, status: int = 200, headers: dict[str, str] | None = None) -> Response:
    return json_response(view.model_dump_json(), status, headers)


def json_response(text: str | bytes, status: int = 200, headers: dict[str, str] | None = None) -> Response:
    return Response(text, status, headers, "application/json")


def of_job(description: str, headers: dict[str, Any] | None = None) -> dict[str, Any]:
    told: dict[str, Any] = {"description": description, "content": {"application/json": {"example": JOB}}}
    return {**told, "headers": headers} if headers else told


def media(media: str, schema: dict[str, Any]) -> dict[str, Any]:
    return {"description": "It", "content": {media: {"schema": schema}}}
