"""The route of a point's certificate, where one is kept."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import Response

from solver.batch.store.identity import SHORT
from solver.service.file_names import file_name, named
from solver.service.http.desk import Desk, JobId, PointId, media
from solver.service.http.openapi import problems
from solver.service.http.problems import Problem
from solver.service.kept.certificates import certificate_of
from solver.service.kept.results import Results


def of_a_point(router: APIRouter, desk: Desk) -> None:
    """A point's certificate."""

    @router.get(
        "/jobs/{job}/points/{point}/certificate", response_class=Response,
        summary="The certificate that is kept of a point, as a zip",
        responses={200: media("application/zip", {"type": "string", "format": "binary"}), **problems(404, 422)},
    )  # fmt: skip
    async def certificate(job: JobId, point: PointId) -> Response:
        def told(results: Results) -> tuple[bytes, str]:
            found = results.point(point)
            name = found["point"]
            kept = certificate_of(results, name)
            if kept is None:
                raise Problem(404, "no certificate of this point is kept; ringwright prove --certify writes one")
            return kept.zipped(), file_name(found["title"], ".zip", *([] if single else [name[:SHORT]]), "certificate")

        single = desk.jobs.view(job).kind == "design"
        packed, name = await desk.read(desk.jobs.told, job, told)
        return Response(packed, media_type="application/zip", headers=named(name))
