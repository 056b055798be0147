"""The OpenAPI document: what the routes say, with the schemas of the files that are sent and an example of each."""

from __future__ import annotations

import json
from typing import Any

from fastapi import FastAPI
from pydantic.json_schema import models_json_schema

from solver.batch.sweep.file import SweepFile
from solver.files.schema import DesignFile
from solver.service.http.problems import MEDIA, ProblemDocument
from solver.version import VERSION

DESCRIPTION = """Designs and sweeps of ring-gear orreries: submit them, watch them being solved, read what was found.

A job is durable before its submission is answered, and one design is one job, however often it is sent. Whatever is
refused is a problem document (RFC 9457); of a design, with the field paths of the design file."""

DESIGN_TOML = """title = "Saturn's moons, entrance hall"

[bodies]
set = "saturn"
only = ["Mimas", "Tethys", "Titan"]

[rings]
inner_teeth = 24
tooth_step = 6
blanks = 1

[fit]
frame = {shape = "square", side = 640, depth = 160}

[search]
keep = 3
max_error_pct = 10
"""
SWEEP_TOML = """title = "Which rings for the entrance hall?"

[bodies]
set = "saturn"
only = ["Mimas", "Tethys", "Titan"]

[search]
keep = 3

[vary]
rings.blanks = [0, 1]
rings.tooth_step = {min = 4, max = 6}
"""
DESIGN_JSON: dict[str, Any] = {
    "title": "Saturn's moons, entrance hall",
    "bodies": {"set": "saturn", "only": ["Mimas", "Tethys", "Titan"]},
    "rings": {"inner_teeth": 24, "tooth_step": 6, "blanks": 1},
    "fit": {"frame": {"shape": "square", "side": 640, "depth": 160}},
    "search": {"keep": 3, "max_error_pct": 10},
}
JOB: dict[str, Any] = {
    "id": "0f3c5a9be1d27c48", "kind": "sweep", "title": "Which rings for the entrance hall?", "state": "solving",
    "reason": None, "submitted": "2026-01-31T09:30:00+00:00",
    "points": {"waiting": 2, "solving": 2, "solved": 2, "stopped": 0, "failed": 0}, "total": 6, "finished": 2,
    "best_worst_error_pct": 0.7312, "solutions": None, "proven": False, "began": "2026-01-31T09:30:01+00:00",
    "seconds": None, "stopping": False, "found_worst_error_pct": None, "bound_worst_error_pct": None, "version": 7,
}  # fmt: skip
PROBLEM: dict[str, Any] = {
    "type": "/problems/design", "title": "Unprocessable Entity", "status": 422,
    "detail": 'bodies.set = "satrun": no set of that name; did you mean "saturn"?', "instance": "/api/jobs",
    "errors": [{"field": "bodies.set", "value": '"satrun"', "message": 'no set of that name; did you mean "saturn"?'}],
}  # fmt: skip
SUBMITTED: dict[str, Any] = {
    "required": True,
    "content": {
        "application/toml": {
            "schema": {"type": "string", "title": "TOML text of a design or sweep file"},
            "examples": {"design": {"value": DESIGN_TOML}, "sweep": {"value": SWEEP_TOML}},
        },
        "application/json": {
            "schema": {
                "anyOf": [{"$ref": "#/components/schemas/DesignFile"}, {"$ref": "#/components/schemas/SweepFile"}]
            },
            "examples": {"design": {"value": DESIGN_JSON}},
        },
    },
}


def problems(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """What a route says of the problem documents it may answer with."""
    said = {
        400: "Not a request that can be read", 404: "No such job, point or solution", 409: "Not in the job's state",
        413: "The body is too large", 415: "Not TOML or JSON", 422: "A design, or a part of the query, is wrong",
        429: "Too many at a time", 503: "As many as can be are being made",
    }  # fmt: skip
    content = {MEDIA: {"schema": {"$ref": f"#/components/schemas/{ProblemDocument.model_config['title']}"}}}
    return {status: {"description": said[status], "content": content} for status in statuses}


def document(app: FastAPI) -> dict[str, Any]:
    """The whole document."""
    app.openapi_schema = None
    template = "#/components/schemas/{model}"
    # A job is called so, whatever its class is.
    told: dict[str, Any] = json.loads(json.dumps(FastAPI.openapi(app)).replace('/JobView"', '/Job"'))
    _, schemas = models_json_schema([(DesignFile, "validation"), (SweepFile, "validation")], ref_template=template)
    components = told.setdefault("components", {}).setdefault("schemas", {})
    components["Job"] = components.pop("JobView")
    components.update(schemas["$defs"])
    problem = ProblemDocument.model_json_schema(ref_template=template)
    components.update(problem.pop("$defs", {}))
    components["Problem"] = {**problem, "examples": [PROBLEM]}
    for unused in ("HTTPValidationError", "ValidationError"):
        components.pop(unused, None)
    told["info"]["version"] = VERSION
    return told
