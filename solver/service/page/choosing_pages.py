"""The pages on which a maker chooses: why nothing fits, with what would do; and solutions side by side."""

from __future__ import annotations

from urllib.parse import urlencode

from anyio import CapacityLimiter
from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from solver.service.jobs.explained import Explanations
from solver.service.jobs.jobs import Jobs
from solver.service.jobs.senders import sender_of
from solver.service.kept.query import whole
from solver.service.page.answering import PageAnswers, form_fields
from solver.service.page.compared import MOST, choose, chosen_names, drawn, groups, names_of
from solver.service.page.explanation_page import explanation_page
from solver.service.page.rendering import html, rendered

MADE, DONE = 2, 4  # comparisons that are made at a time, and things that are done beside
OTHERS_SHOWN = 12
NAMES_READ = 12


def choosing_pages(jobs: Jobs, explanations: Explanations, locked: bool) -> APIRouter:
    """Their routes. locked: whether a token is needed, so that one can log out."""
    router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)
    making, answers = CapacityLimiter(MADE), PageAnswers(locked, DONE)

    @router.get("/jobs/{job}/explanation")
    async def explanation(job: str, point: str = "") -> Response:
        def made() -> Response:
            asked = explanations.of(job, point)
            return html(explanation_page(asked, explanations.look(asked), locked))

        return await answers.safely(made)

    @router.post("/jobs/{job}/explanation")
    async def explain(job: str, request: Request) -> Response:
        point = _posted(await request.body()).get("point", "")

        def begun() -> Response:
            explanations.begin(explanations.of(job, point))
            return RedirectResponse(f"/jobs/{job}/explanation{f'?point={point}' if point else ''}", 303)

        return await answers.safely(begun)

    @router.post("/jobs/{job}/explanation/take")
    async def take(job: str, request: Request) -> Response:
        told = _posted(await request.body())

        def taken() -> Response:
            asked = explanations.of(job, told.get("point", ""))
            view = explanations.take(asked, whole(told.get("number", "")), sender_of(request))
            return RedirectResponse(f"/jobs/{view.id}", 303)

        return await answers.safely(taken)

    @router.get("/compare")
    async def compare(request: Request) -> Response:
        items = request.query_params.multi_items()
        only = ("only", "differs") in items
        return await answers.safely(lambda: html(_compared(jobs, names_of(items), only, locked)), making)

    @router.get("/jobs/{job}/compare")
    async def chosen(job: str, request: Request) -> Response:
        """From the form of a job's page to an address that can be passed on."""
        names = chosen_names(job, request.query_params.multi_items())
        return RedirectResponse(f"/compare?{urlencode([('a', name) for name in names])}".rstrip("?"), 303)

    return router


def _posted(body: bytes) -> dict[str, str]:
    """The fields of a form by their names; of those of one name the last."""
    return {name: value.strip() for name, value in form_fields(body)}


def _compared(jobs: Jobs, names: list[str], only: bool, locked: bool) -> bytes:
    found, missing = choose(jobs, names[:NAMES_READ])
    chosen = found[:MOST]
    said = [f"{told[:1].upper()}{told[1:]}." for told in missing]
    if len(found) > MOST or len(names) > NAMES_READ:
        said.append(f"No more than {MOST} can be side by side; here are the first {MOST}.")
    listed, _ = jobs.listing(0, 10 * OTHERS_SHOWN)
    others = [job for job in listed if job.best_worst_error_pct is not None][:OTHERS_SHOWN]
    return rendered(
        "compare.html",
        locked=locked,
        chosen=chosen,
        groups=groups(chosen) if chosen else (),
        pictures=drawn(chosen) if chosen else (),
        only=only and len(chosen) > 1,
        said=said,
        others=others,
        most=MOST,
    )
