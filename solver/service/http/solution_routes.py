"""The routes of what was found: points, solutions, and one solution with its picture, motion and sheets."""

from __future__ import annotations

import io
import json
from typing import Annotated, Literal

import pyarrow.parquet as pq
from anyio import to_thread
from fastapi import APIRouter, Query
from fastapi.responses import JSONResponse, Response

from solver.answer.document import made_as, train_of
from solver.batch.listing import csv_of
from solver.batch.store.certificates import certificates_stamp
from solver.batch.store.identity import SHORT
from solver.service.file_names import file_name, named
from solver.service.http.desk import Desk, JobId, Offset, PointId, Rank, json_response, media
from solver.service.http.openapi import problems
from solver.service.http.problems import Problem
from solver.service.http.told import PointsDocument, SolutionDocument, SolutionsDocument
from solver.service.kept.packs import pack_key
from solver.service.kept.query import rank_query
from solver.service.kept.results import Results
from solver.service.page.motion import Motion, motion
from solver.service.processes.sheets import Full
from solver.words.papers import PAPERS

ONE = "/jobs/{job}/solutions/{point}/{rank}"
Paper = Annotated[
    str,
    Query(
        pattern=f"^({'|'.join(PAPERS)})$",
        description="The size of the pages.",
        json_schema_extra={"enum": list(PAPERS)},
    ),
]
_FORMS = {"json": "application/json", "csv": "text/csv", "parquet": "application/vnd.apache.parquet"}
_BINARY = {"type": "string", "format": "binary"}


def of_a_job(router: APIRouter, desk: Desk) -> None:
    """All that was found for a job."""

    @router.get(
        "/jobs/{job}/points", response_model=PointsDocument, responses=problems(404, 422),
        summary="Every point of a job, with its best figures",
    )  # fmt: skip
    async def points(job: JobId) -> Response:
        def told(results: Results) -> bytes:
            return bytes(JSONResponse({"points": results.points}).body)

        return json_response(await desk.answer(job, "points", told))

    @router.get(
        "/jobs/{job}/points/{point}/design", response_class=Response, summary="The design file of a point, as TOML",
        responses={200: media("application/toml", {"type": "string"}), **problems(404, 422)},
    )  # fmt: skip
    async def design(job: JobId, point: PointId) -> Response:
        def told(results: Results) -> tuple[str, str]:
            found = results.point(point)
            name = found["point"]
            return results.design_text(name), file_name(found["title"], ".toml", *([] if single else [name[:SHORT]]))

        single = desk.jobs.view(job).kind == "design"
        text, name = await desk.read(desk.jobs.told, job, told)
        return Response(text.encode(), media_type="application/toml", headers=named(name))

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
                return "".join(csv_of([ranked.table], ranked.units)).encode()
            buffer = io.BytesIO()
            pq.write_table(ranked.table, buffer, write_page_checksum=True)
            return buffer.getvalue()

        told = await desk.answer(job, f"{form} {query}", found)
        headers = None if form == "json" else named(file_name(desk.jobs.view(job).title, f".{form}", "solutions"))
        return Response(told, headers=headers, media_type=_FORMS[form])


def of_one(router: APIRouter, desk: Desk) -> None:
    """One solution."""
    jobs = desk.jobs

    @router.get(ONE, response_model=SolutionDocument, responses=problems(404, 409, 422), summary="One solution")
    async def solution(job: JobId, point: PointId, rank: Rank) -> Response:
        return await desk.read(lambda: JSONResponse(jobs.solution_document(job, point, rank)))

    @router.get(
        f"{ONE}/picture", response_class=Response, summary="Its front and side view",
        responses={200: media("image/svg+xml", {"type": "string"}), **problems(404, 409, 422)},
    )  # fmt: skip
    async def picture(
        job: JobId, point: PointId, rank: Rank,
        trimmed: Annotated[bool, Query(description="End the page below what is drawn, for a screen.")] = False,
    ) -> Response:  # fmt: skip
        from solver.sheets.views.picture import picture as draw  # which a server that starts does without

        def drawn() -> tuple[str, str]:
            design, found = jobs.solution(job, point, rank)
            if design.fit.directions is None:
                raise Problem(409, 'the design has no places (fit.directions = "none"), so nothing can be drawn')
            return draw(made_as(design, found), train_of(design, found), trimmed), design.title

        svg, title = await to_thread.run_sync(drawn, limiter=desk.drawing)
        return Response(
            svg.encode(), media_type="image/svg+xml", headers=named(file_name(title, ".svg", rank), "inline")
        )

    @router.get(
        f"{ONE}/motion", response_model=Motion, responses=problems(404, 409, 422),
        summary="How everything turns, exactly",
    )  # fmt: skip
    async def motion_of(job: JobId, point: PointId, rank: Rank) -> Response:
        return json_response(await to_thread.run_sync(
            lambda: motion(*jobs.solution(job, point, rank)).model_dump_json(), limiter=desk.drawing
        ))  # fmt: skip

    @router.get(
        f"{ONE}/sheets", response_class=Response, summary="Its sheets to build from, as a zip",
        responses={200: media("application/zip", _BINARY), **problems(404, 409, 422, 503)},
    )  # fmt: skip
    async def sheets(
        job: JobId,
        point: PointId,
        rank: Rank,
        paper: Paper = "a4",
        both_units: Annotated[bool, Query(description="Tell lengths in millimetres and inches.")] = False,
    ) -> Response:
        def make() -> bytes:
            packed = desk.packers.zip(jobs.folder(job), point, rank, paper, both_units)
            jobs.view(job)  # of one that was removed meanwhile nothing is kept
            return packed

        def known(results: Results) -> bytes:
            title = results.solution(point, rank)[0].title
            return json.dumps([title, pack_key(results, point, rank, paper, both_units)]).encode()

        stamp = certificates_stamp(jobs.folder(job))
        title, key = json.loads(await desk.answer(job, f"pack {point} {rank} {paper} {both_units} {stamp}", known))
        try:
            packed = await desk.line.pack(job, key, make)
        except Full as fault:
            raise Problem(503, str(fault), {"retry-after": "5"}) from None
        return Response(packed, media_type="application/zip", headers=named(file_name(title, ".zip", rank, "sheets")))
