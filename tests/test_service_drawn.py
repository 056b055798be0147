"""Requests drawn from the OpenAPI document: no failure inside, and every answer is one that the document tells of.

RINGWRIGHT_FUZZ=N draws N requests of each kind for each operation, in place of a few.
"""

from __future__ import annotations

import json
import os
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import httpx
import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from schemathesis import Case, GenerationMode
from schemathesis.specs.openapi.checks import positive_data_acceptance
from serving import JSON, TOML, ended, in_thread, submitted
from sweeping import BASE

from solver.service.http.openapi import DESIGN_JSON, DESIGN_TOML, SWEEP_TOML
from solver.service.limits import ServiceLimits

pytestmark = pytest.mark.deep

MANY = int(os.environ.get("RINGWRIGHT_FUZZ", "0"))
FEW = 6
LIMITS = ServiceLimits(most_jobs=4, most_points=20, solve_seconds=0.5, workers=1)
DOOMED = BASE.replace("keep = 3", "keep = 1")  # what is stopped and removed
PLACED = BASE.replace('directions = "none"', "directions = 24")

POSITIVE, NEGATIVE = GenerationMode.POSITIVE, GenerationMode.NEGATIVE


# -- from the document -------------------------------------------------------------------------------------------------


@schemathesis.serializer("application/toml")
def _toml(_: Any, value: Any) -> bytes:
    return value if isinstance(value, bytes) else str(value).encode("utf-8", "surrogatepass")


@dataclass
class Drawn:
    """A service, the operations of its document, and a solution that is there."""

    client: httpx.Client
    operations: dict[str, Any]
    there: dict[str, Any]
    doomed: str
    statuses: Counter[tuple[str, int]]


@pytest.fixture(scope="module")
def drawn(tmp_path_factory) -> Iterator[Drawn]:
    with in_thread(tmp_path_factory.mktemp("fuzz") / "data", LIMITS) as (port, _):
        address = f"http://127.0.0.1:{port}"
        with httpx.Client(base_url=address, trust_env=False, timeout=60) as client:
            schema = schemathesis.openapi.from_dict(client.get("/api/openapi.json").json())
            schema.config.base_url = address
            operations = {found.ok().label: found.ok() for found in schema.get_all_operations()}
            job = submitted(client, PLACED)
            assert ended(client, job)["state"] == "complete"
            point = client.get(f"/api/jobs/{job}/points").json()["points"][0]["point"]
            there = {"job": job, "point": point, "rank": 1}
            made = Drawn(client, operations, there, submitted(client, DOOMED), Counter())
            yield made
            print(f"{made.statuses.total()} requests drawn: {sorted(made.statuses.items())}")


OPERATIONS = [
    "GET /api/health", "GET /api/sets", "POST /api/validate", "POST /api/jobs", "GET /api/jobs", "GET /api/jobs/{job}",
    "DELETE /api/jobs/{job}", "GET /api/jobs/{job}/events", "POST /api/jobs/{job}/stop", "POST /api/jobs/{job}/resume",
    "GET /api/jobs/{job}/explanation", "POST /api/jobs/{job}/explanation",
    "GET /api/jobs/{job}/points/{point}/design", "GET /api/jobs/{job}/points/{point}/certificate",
    "GET /api/jobs/{job}/file", "GET /api/jobs/{job}/points", "GET /api/jobs/{job}/solutions",
    *(f"GET /api/jobs/{{job}}/solutions/{{point}}/{{rank}}{what}" for what in (
        "", "/picture", "/motion", "/sheets", "/sky", "/meetings")),
]  # fmt: skip
WORDLESS = ("GET /api/health", "GET /api/sets")  # nothing can be said to them, so nothing wrong


def test_every_operation_is_drawn_from(drawn):
    assert set(OPERATIONS) == set(drawn.operations)


def asked(drawn: Drawn, case: Case) -> None:
    """Send what was drawn; its answer has to be one that the document tells of."""
    answer = case.call_and_validate(excluded_checks=[positive_data_acceptance], timeout=30)
    drawn.statuses[case.operation.label, answer.status_code] += 1
    assert answer.status_code < 500


def each(strategy: Any, ask: Any, dear: int = 1) -> None:
    """dear: how many times as long as others such a request takes."""
    settings(
        max_examples=-(-(MANY or FEW) // dear), derandomize=True, database=None, deadline=None, phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )(given(strategy)(ask))()  # fmt: skip


@pytest.mark.parametrize("label", OPERATIONS)
def test_what_the_document_allows(drawn, label):
    each(drawn.operations[label].as_strategy(POSITIVE), lambda case: asked(drawn, case))


@pytest.mark.parametrize("label", [label for label in OPERATIONS if label not in WORDLESS])
def test_what_the_document_does_not_allow(drawn, label):
    each(drawn.operations[label].as_strategy(NEGATIVE), lambda case: asked(drawn, case))


@pytest.mark.parametrize("label", [label for label in OPERATIONS if "{job}" in label])
def test_of_what_is_there(drawn, label):
    """The same of a job that is there; one that is stopped and removed is submitted again first."""
    operation = drawn.operations[label]
    changes = not label.startswith("GET")

    def ask(case: Case) -> None:
        if changes:
            submitted(drawn.client, DOOMED)
        there = {**drawn.there, "job": drawn.doomed} if changes else drawn.there
        case.path_parameters = {name: there[name] for name in case.path_parameters}
        asked(drawn, case)

    each(operation.as_strategy(POSITIVE), ask, 3 if label.endswith("/sheets") else 1)


def leaves(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The way to each table and value within."""
    yield path
    for key, item in value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ():
        yield from leaves(item, (*path, key))


ODD = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=8), st.just([]), st.just({}),
    st.sampled_from(["1e999999999", "9" * 5000, "1/0", "-0", "\ud800", "\x00", "12:00:00", 10**400, -1, 1e308, 5e-324,
                     ["Titan"] * 300, {"": {"": {}}}, [[[]]], {"min": 0, "max": 10**9}]),
)  # fmt: skip


@st.composite
def nearly_designs(draw: Any) -> bytes:
    """A design of which one table or value is another."""
    design = json.loads(json.dumps(DESIGN_JSON))
    *way, last = draw(st.sampled_from([path for path in leaves(design) if path]))
    table = design
    for key in way:
        table = table[key]
    table[last] = draw(ODD)
    return json.dumps(design).encode()


@pytest.mark.parametrize("path", ["/api/validate", "/api/jobs"])
def test_designs_that_are_nearly_right(drawn, path):
    def ask(body: bytes) -> None:
        answer = drawn.client.post(path, content=body, headers=JSON)
        drawn.statuses[f"POST {path}, nearly right", answer.status_code] += 1
        assert answer.status_code in (200, 201, 422, 429), (body, answer.text)
        if answer.status_code == 422:
            assert answer.json()["errors"], body

    each(nearly_designs(), ask)


def test_examples_of_the_document_are_valid(drawn):
    for text in (DESIGN_TOML, SWEEP_TOML):
        assert drawn.client.post("/api/validate", content=text, headers=TOML).is_success
