"""The pages: HTML made here, readable without a script; their routes, the form with the list, the model turning."""

from __future__ import annotations

import time
from collections.abc import Callable
from fractions import Fraction
from typing import Any
from urllib.parse import quote

from anyio import CapacityLimiter, to_thread
from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from solver.answer.document import SolutionAnswer
from solver.answer.remarks import wished_rpm
from solver.batch.store.certificates import certificates_stamp
from solver.service.jobs.job import JobView
from solver.service.jobs.jobs import Jobs
from solver.service.jobs.senders import sender_of
from solver.service.kept.query import whole
from solver.service.kept.said import wished_seconds
from solver.service.page.answering import FAULTS, PageAnswers, form_fields
from solver.service.page.dated import Dated, dated, today
from solver.service.page.driven import drive_words
from solver.service.page.job_page import Asked, job_page
from solver.service.page.motion import Motion, motion
from solver.service.page.points import point_page
from solver.service.page.rendering import KINDS, build, html, rendered, static_files
from solver.service.page.start_page import change_page, first_page, form_document, posted

MADE, DONE, CHECKED = 4, 4, 4  # pages of jobs that are made at a time, things that are done beside, forms
_YEAR = "public, max-age=31536000, immutable"


def pages(jobs: Jobs, locked: bool) -> APIRouter:
    """The pages of a service: the form and the list of jobs, a job, a model that turns; and the files they need.
    locked: whether a token is needed, so that one can log out."""
    router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)
    making, checking, answers = CapacityLimiter(MADE), CapacityLimiter(CHECKED), PageAnswers(locked, DONE)

    async def kept(job: str, asked: Any, made: Callable[..., bytes], *words: Any) -> Response:
        """A page of a job, as long as the job and what is asked for stay the same: at once where it was made before,
        since many may look at the same job."""
        try:
            view = jobs.view(job)
            beat = int(time.time()) if view.state == "solving" else 0  # its time so far is told
            key = f"page {view} {asked} {beat} {certificates_stamp(jobs.folder(job))}"
            text = jobs.kept(job, key)
        except FAULTS as fault:
            return answers.fault(fault)
        if text is not None:
            return html(text)
        return await answers.safely(
            lambda: html(jobs.answer(job, key, lambda _: made(jobs, view, *words, locked))), making
        )

    @router.get("/")
    async def start(offset: str = "0") -> Response:
        return await answers.safely(lambda: first_page(jobs, locked, whole(offset)))

    @router.post("/")
    async def submit(request: Request) -> Response:
        pairs = form_fields(await request.body())
        return await answers.safely(lambda: posted(jobs, locked, pairs, sender_of(request)), checking)

    @router.post("/form")
    async def check(request: Request) -> Response:
        pairs = form_fields(await request.body())
        return await to_thread.run_sync(form_document, jobs, pairs, limiter=checking)

    @router.get("/jobs/{job}/change")
    async def change(job: str, point: str = "") -> Response:
        return await answers.safely(lambda: change_page(jobs, locked, job, point))

    @router.get("/jobs/{job}")
    async def one_job(job: str, request: Request) -> Response:
        asked = Asked.of(request.query_params.multi_items())
        return await kept(job, asked, job_page, asked)

    @router.post("/jobs/{job}/stop")
    async def stop(job: str) -> Response:
        return await answers.safely(lambda: _back(jobs.stop(job)))

    @router.post("/jobs/{job}/resume")
    async def resume(job: str) -> Response:
        return await answers.safely(lambda: _back(jobs.resume(job)))

    @router.post("/jobs/{job}/remove")
    async def remove(job: str) -> Response:
        def gone() -> Response:
            jobs.remove(job)
            return RedirectResponse("/", 303)

        return await answers.safely(gone)

    @router.get("/jobs/{job}/points/{point}")
    async def one_point(job: str, point: str) -> Response:
        return await kept(job, ("point", point), point_page, point)

    @router.get("/jobs/{job}/{point}/{rank}")
    async def model(job: str, point: str, rank: str) -> Response:
        date = today()
        return await kept(job, (point, rank, date), _model, point, whole(rank), date)

    @router.get("/static/{made}/{name}")
    async def static(made: str, name: str) -> Response:
        content = static_files().get(name) if made == build() else None
        if content is None:
            return Response("there is no such file", 404, media_type="text/plain")
        return Response(content, media_type=KINDS[name.rpartition(".")[2]], headers={"Cache-Control": _YEAR})

    return router


def _back(view: JobView) -> Response:
    return RedirectResponse(f"/jobs/{view.id}", 303)


# -- the model turning -------------------------------------------------------------------------------------------------


def _model(jobs: Jobs, view: JobView, point: str, rank: int, date: str, locked: bool) -> bytes:
    design, solution, row = jobs.stored_solution(view.id, point, rank)
    moving, told = motion(design, solution), solution.model_dump(mode="json")
    shown = dated(design, solution, moving, date)
    return rendered(
        "model.html",
        locked=locked,
        job=view,
        point=row["point_id"],
        rank=rank,
        status=row["status"],
        title=design.title,
        units=design.units,
        solution=told,
        drive=drive_words(told["drive"], design.cranked, wished_seconds(design), wished_rpm(design, solution)),
        motion=moving,
        drawing=shown.drawing,
        sky=shown.sky,
        dated=shown,
        address=f"/api/jobs/{quote(view.id)}/solutions/{quote(row['point_id'])}/{rank}",
        days=_days_of_a_turn(moving, shown),
        best=_proven(row["status"], solution),
        twice=row["point_id"] in jobs.twice(view.id),
        periods={ring.index: _period(ring.body.period) for ring in moving.rings if ring.body is not None},
    )


def _proven(status: str, solution: SolutionAnswer) -> bool:
    """Whether this very solution is the proven best of its design."""
    return status == "optimal" and solution.rank == 1


def _days_of_a_turn(moving: Motion, shown: Dated) -> str:
    """How many days one turn of ring 0 stands for, as a float that a browser reads; nothing where that is not known."""
    if shown.sky is not None:
        return repr(shown.sky.first_days_float)
    return repr(float(Fraction(moving.reference.time))) if moving.reference.unit == "days" else ""


def _period(exact: str) -> str:
    """A period, or the two ends of a range, as decimals with ten figures at most."""
    return " to ".join(f"{float(Fraction(end)):.10g}" for end in exact.split(".."))
