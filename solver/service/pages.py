"""The pages: HTML made here, readable without a script; scripts and style come as files from a fixed list."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import Any
from urllib.parse import parse_qs, quote, urlencode

from anyio import CapacityLimiter, to_thread
from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape

from solver.batch.errors import StoreError
from solver.cli.stored import settings_words
from solver.design.errors import Complaint, DesignError
from solver.design.schema import RANK_KEYS
from solver.search.answer import SolutionAnswer
from solver.service import form, wording
from solver.service.errors import CheckFailed, NoSuchJob, NoSuchSolution, NotNow, TooMany, TooSlow
from solver.service.jobs import Jobs, JobView
from solver.service.motion import motion
from solver.service.plot import Plot, Shown, plot
from solver.service.results import RankQuery
from solver.service.turning import turning

MADE, DONE = 4, 4  # pages of jobs that are made at a time, and things that are done beside
JOBS_SHOWN = 50
ROWS_SHOWN = 25
BARREN_SHOWN = 50
PLOTTED = 2000  # of the best solutions, and all that no other one beats
READ_FOR_TEXT = 2000  # of the best solutions, where a text is looked for in them
MOST_TEXT = 200
NUMBERS = ("error", "parts", "jigs")  # what the table can be limited by
KINDS = {
    "css": "text/css; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "svg": "image/svg+xml",
}
_YEAR = "public, max-age=31536000, immutable"
_FAULTS: dict[type[Exception], int] = {  # what a page says of a fault, and with which status
    NoSuchJob: 404,
    NoSuchSolution: 404,
    NotNow: 409,
    TooMany: 429,
    TooSlow: 422,
    CheckFailed: 500,
    StoreError: 500,
}


@cache
def static_files() -> dict[str, bytes]:
    """Every file that is served as it is, by name: the fixed list."""
    folder = files("solver.service").joinpath("static")
    found = sorted(folder.iterdir(), key=lambda entry: entry.name)
    return {entry.name: entry.read_bytes() for entry in found if entry.name.rpartition(".")[2] in KINDS}


@cache
def build() -> str:
    """A hash of all of them: part of their address, so that they may be kept for long and never be out of date."""
    told = hashlib.sha256()
    for name, content in static_files().items():
        told.update(f"{name} {len(content)}\n".encode() + content)
    return told.hexdigest()[:12]


@cache
def templates() -> Environment:
    """The templates: everything that is put in is escaped, and a name that is not there is a fault."""
    found = Environment(
        loader=PackageLoader("solver.service"),
        autoescape=select_autoescape(default=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    found.filters.update(
        percent=wording.percent, mm=wording.length, settings=settings_words, short=wording.settings_short
    )
    found.globals.update(
        static=lambda name: f"/static/{build()}/{name}",
        state_words=wording.STATES,
        status_words=wording.STATUSES,
        points_words=wording.points_words,
        link_words=wording.link_words,
        ring_words=wording.ring_words,
    )
    return found


def page(template: str, code: int = 200, /, **told: Any) -> HTMLResponse:
    """A template as an answer that no one keeps, since jobs change."""
    return _html(_rendered(template, **told), code)


def _rendered(template: str, /, **told: Any) -> bytes:
    return templates().get_template(template).render(**told).encode()


def _html(text: bytes, code: int = 200) -> HTMLResponse:
    return HTMLResponse(text, code, {"Cache-Control": "no-store"})


def enter_page(fault: str) -> bytes:
    """The page that asks for the token; fault: what was wrong with the last one, or nothing."""
    return _rendered("enter.html", fault=fault)


def pages(jobs: Jobs) -> APIRouter:
    """The pages of a service: the form and the list of jobs, a job, a model that turns; and the files they need."""
    router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

    making, doing = CapacityLimiter(MADE), CapacityLimiter(DONE)

    async def safely(answer: Callable[[], Response], limiter: CapacityLimiter = doing) -> Response:
        """The answer, made in a thread; or a page that says why there is none."""
        try:
            return await to_thread.run_sync(answer, limiter=limiter)
        except tuple(_FAULTS) as fault:
            return _fault(fault)

    async def kept(job: str, asked: Any, made: Callable[..., bytes], *words: Any) -> Response:
        """A page of a job, as long as the job and what is asked for stay the same: at once where it was made before,
        since many may look at the same job."""
        try:
            view = jobs.view(job)
            key = f"page {view} {asked}"
            text = jobs.kept(job, key)
        except tuple(_FAULTS) as fault:
            return _fault(fault)
        if text is not None:
            return _html(text)
        return await safely(lambda: _html(jobs.answer(job, key, lambda _: made(jobs, view, *words))), making)

    @router.get("/")
    async def start(offset: str = "0") -> Response:
        return await safely(lambda: _start(jobs, _whole(offset)))

    @router.post("/")
    async def submit(request: Request) -> Response:
        text = _posted(await request.body()).get("text", "")
        return await run_in_threadpool(_submitted, jobs, text)

    @router.get("/jobs/{job}")
    async def one_job(job: str, request: Request) -> Response:
        asked = Asked.of(request.query_params.multi_items())
        return await kept(job, asked, _job, asked)

    @router.post("/jobs/{job}/stop")
    async def stop(job: str) -> Response:
        return await safely(lambda: _back(jobs.stop(job)))

    @router.post("/jobs/{job}/resume")
    async def resume(job: str) -> Response:
        return await safely(lambda: _back(jobs.resume(job)))

    @router.post("/jobs/{job}/remove")
    async def remove(job: str) -> Response:
        def gone() -> Response:
            jobs.remove(job)
            return RedirectResponse("/", 303)

        return await safely(gone)

    @router.get("/jobs/{job}/{point}/{rank}")
    async def model(job: str, point: str, rank: str) -> Response:
        return await kept(job, (point, rank), _model, point, _whole(rank))

    @router.get("/static/{made}/{name}")
    async def static(made: str, name: str) -> Response:
        content = static_files().get(name) if made == build() else None
        if content is None:
            return Response("there is no such file", 404, media_type="text/plain")
        return Response(content, media_type=KINDS[name.rpartition(".")[2]], headers={"Cache-Control": _YEAR})

    return router


def _fault(fault: Exception) -> Response:
    """A page that says why there is no other."""
    status = next(code for kind, code in _FAULTS.items() if isinstance(fault, kind))
    return page("fault.html", status, code=status, message=str(fault))


def _whole(text: str) -> int:
    """A whole number that stands in an address; 0 for anything else."""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else 0


def _posted(body: bytes) -> dict[str, str]:
    """The fields of a form as browsers send them; what is no UTF-8 is replaced, and refused later as no TOML."""
    fields = parse_qs(body.decode("utf-8", "replace"), keep_blank_values=True, encoding="utf-8", errors="replace")
    return {name: values[-1].replace("\r\n", "\n") for name, values in fields.items()}


def _back(view: JobView) -> Response:
    return RedirectResponse(f"/jobs/{view.id}", 303)


# -- the form and the list ---------------------------------------------------------------------------------------------


def _start(jobs: Jobs, offset: int, text: str = "", faults: tuple[Complaint, ...] = (), said: str = "",
           status: int = 200) -> Response:  # fmt: skip
    found, total = jobs.listing(offset, JOBS_SHOWN)
    return page(
        "start.html",
        status,
        jobs=found,
        total=total,
        offset=offset,
        shown=JOBS_SHOWN,
        groups=form.GROUPS,
        sets=form.sets(),
        chosen_set=form.SET,
        text=text,
        faults=faults,
        said=said,
    )


def _submitted(jobs: Jobs, text: str) -> Response:
    """A whole file from the box, sent by a browser without script."""
    try:
        view, _ = jobs.submit(text, None, "json" if text.lstrip().startswith("{") else "toml")
    except DesignError as fault:
        return _start(jobs, 0, text, fault.complaints, status=422)
    except (TooMany, TooSlow, CheckFailed) as fault:
        return _start(jobs, 0, text, said=str(fault), status=_FAULTS[type(fault)])
    return _back(view)


# -- a job -------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Asked:
    """What the address of a job's page asks for. most: text as typed, by rank key; wrong: those that are no numbers;
    compare: "point.rank" of the solutions that were chosen."""

    by: str
    falling: bool
    most: dict[str, str]
    wrong: tuple[str, ...]
    text: str
    compare: tuple[str, ...]
    page: int

    @classmethod
    def of(cls, items: list[tuple[str, str]]) -> Asked:
        """The last word on each counts; anything that makes no sense is as if it were not there."""
        said = dict(items)
        by = said.get("by", "error")
        most = {key: said[key].strip() for key in NUMBERS if said.get(key, "").strip()}
        return cls(
            by=by.removeprefix("-") if by.removeprefix("-") in RANK_KEYS else "error",
            falling=by.startswith("-"),
            most=most,
            wrong=tuple(key for key, value in most.items() if _number(value) is None),
            text=said.get("text", "")[:MOST_TEXT].strip(),
            compare=tuple(dict.fromkeys(value for key, value in items if key == "compare"))[:20],
            page=max(_whole(said.get("page", "1")), 1),
        )

    @property
    def limits(self) -> dict[str, float]:
        """The limits that make sense."""
        return {key: number for key, value in self.most.items() if (number := _number(value)) is not None}

    def address(self, **changes: Any) -> str:
        """The query of the same with changes."""
        told: list[tuple[str, str]] = [("by", ("-" if self.falling else "") + self.by), *self.most.items()]
        told += [("text", self.text)] if self.text else []
        told += [("compare", one) for one in self.compare]
        told += [("page", str(self.page))]
        kept = [(key, value) for key, value in told if key not in changes]
        return "?" + urlencode(kept + [(key, str(value)) for key, value in changes.items() if value is not None])


def _number(text: str) -> float | None:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        return None
    return value if 0 <= value < 1e12 else None


@dataclass(frozen=True)
class Listed:
    """The rows of a page of the table; total: how many there are in all; partly: a text was looked for in the best of
    them alone."""

    rows: list[dict[str, Any]]
    total: int
    partly: bool
    pages: int

    @property
    def names(self) -> frozenset[str]:
        """ "point.rank" of its rows."""
        return frozenset(f"{row['point']}.{row['rank']}" for row in self.rows)


def _listed(jobs: Jobs, job: str, asked: Asked) -> Listed:
    keys = (asked.by, *(key for key in ("error", "parts") if key != asked.by))
    if asked.text:
        found = jobs.ranked(job, RankQuery(keys, asked.limits, limit=READ_FOR_TEXT))
        words = asked.text.lower()
        rows = [row for row in found.rows if words in wording.searched(row)]
        if asked.falling:
            rows.reverse()
        first = (asked.page - 1) * ROWS_SHOWN
        return Listed(rows[first : first + ROWS_SHOWN], len(rows), found.total > READ_FOR_TEXT, _pages(len(rows)))
    first = (asked.page - 1) * ROWS_SHOWN
    if not asked.falling:
        found = jobs.ranked(job, RankQuery(keys, asked.limits, offset=first, limit=ROWS_SHOWN))
        return Listed(found.rows, found.total, False, _pages(found.total))
    total = jobs.ranked(job, RankQuery(keys, asked.limits, limit=0)).total
    last = max(total - first, 0)
    start = max(last - ROWS_SHOWN, 0)
    rows = jobs.ranked(job, RankQuery(keys, asked.limits, offset=start, limit=last - start)).rows
    return Listed(rows[::-1], total, False, _pages(total))


def _pages(total: int) -> int:
    return max(-(-total // ROWS_SHOWN), 1)


def _job(jobs: Jobs, view: JobView, asked: Asked) -> bytes:
    listed = _listed(jobs, view.id, asked)
    compared = [row for one in asked.compare if (row := _row(jobs, view.id, one)) is not None]
    return _rendered(
        "job.html",
        job=view,
        asked=asked,
        listed=listed,
        columns=COLUMNS,
        compared=compared,
        both=_side_by_side(compared) if len(compared) == 2 else [],
        plot=_plotted(jobs, view.id, asked),
        limits=NUMBERS,
        points=_barren(jobs, view),
    )


COLUMNS = (  # rank key, heading, what it is
    ("error", "Error, %", "worst error"),
    ("parts", "Parts", "rings, arbor gears and arbors"),
    ("jigs", "Jigs", "different gears"),
    ("teeth", "Teeth", "all teeth"),
    ("largest", "Largest", "teeth of the largest arbor gear"),
    ("envelope", "Envelope, mm", "radius of the circle around everything"),
)


@dataclass(frozen=True)
class Barren:
    """Points that are done and have no solution: how many, and the first of them."""

    count: int
    first: list[dict[str, Any]]


def _barren(jobs: Jobs, view: JobView) -> Barren:
    points = jobs.points(view.id) if view.finished else []
    found = [point for point in points if point["state"] in ("solved", "stopped", "failed") and not point["solutions"]]
    return Barren(len(found), found[:BARREN_SHOWN])


def _row(jobs: Jobs, job: str, named: str) -> dict[str, Any] | None:
    """A solution that an address names as "point.rank"; None where there is none of that name."""
    point, _, rank = named.rpartition(".")
    try:
        return jobs.solution_document(job, point, _whole(rank))
    except (NoSuchSolution, NotNow):
        return None


def _side_by_side(compared: list[dict[str, Any]]) -> list[tuple[str, str, str]]:
    """What is compared of two solutions: heading, one, other."""
    one, other = (row["solution"] for row in compared)
    lines = [
        ("Worst error, %", wording.percent(one["worst_error_pct"]), wording.percent(other["worst_error_pct"])),
        *((title, str(one[key]), str(other[key])) for key, title, _ in COLUMNS[1:5]),
        ("Envelope, mm", wording.length(one["envelope_mm"]), wording.length(other["envelope_mm"])),
    ]
    for index in range(max(len(one["rings"]), len(other["rings"]))):
        lines.append((f"Ring {index}", _ring_told(one, index), _ring_told(other, index)))
    for index in range(max(len(one["links"]), len(other["links"]))):
        told = [
            wording.link_words(each["links"][index]) if index < len(each["links"]) else "–" for each in (one, other)
        ]
        lines.append((f"Link {index}, wheel / pinion", told[0], told[1]))
    return lines


def _ring_told(solution: dict[str, Any], index: int) -> str:
    if index >= len(solution["rings"]):
        return "–"
    ring = solution["rings"][index]
    error = "" if ring["blank"] else f", {wording.percent(ring['period_error_pct'], True)} %"
    return f"{ring['name']}: {ring['teeth']} teeth{error}{', reverse' if ring['sense'] == 'reverse' else ''}"


def _plotted(jobs: Jobs, job: str, asked: Asked) -> Plot | None:
    """The best solutions within the limits, and all that no other one beats in error and parts."""
    shown = {}
    for query in (
        RankQuery(("error", "parts"), asked.limits, limit=PLOTTED),
        RankQuery(("error", "parts"), asked.limits, front=("error", "parts"), limit=PLOTTED),
    ):
        columns = ("point_id", "rank", "worst_error_pct", "parts")
        for row in jobs.figures(job, query).select(columns).to_pylist():
            name = row["point_id"], row["rank"]
            shown[name] = Shown(*name, row["worst_error_pct"], row["parts"])
    return plot(list(shown.values()))


# -- the model turning -------------------------------------------------------------------------------------------------


def _model(jobs: Jobs, view: JobView, point: str, rank: int) -> bytes:
    design, solution, row = jobs.stored_solution(view.id, point, rank)
    moving = motion(design, solution)
    return _rendered(
        "model.html",
        job=view,
        point=row["point_id"],
        rank=rank,
        status=row["status"],
        title=design.title,
        solution=solution.model_dump(mode="json"),
        motion=moving,
        drawing=turning(moving),
        address=f"/api/jobs/{quote(view.id)}/solutions/{quote(row['point_id'])}/{rank}",
        days=_days(moving.reference.time) if moving.reference.unit == "days" else "",
        best=_proven(row["status"], solution),
        periods={ring.index: _period(ring.body.period) for ring in moving.rings if ring.body is not None},
    )


def _proven(status: str, solution: SolutionAnswer) -> bool:
    """Whether this very solution is the proven best of its design."""
    return status == "optimal" and solution.rank == 1


def _days(time: str) -> str:
    """A time of the motion document as a float that a browser reads."""
    return repr(float(Fraction(time)))


def _period(exact: str) -> str:
    """A period, or the two ends of a range, as decimals with ten figures at most."""
    return " to ".join(f"{float(Fraction(end)):.10g}" for end in exact.split(".."))
