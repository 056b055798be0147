"""What the pages on the service and its API say, against the service."""

from __future__ import annotations

import json
import re
import subprocess
import sys

import pytest
from commands import ROOT
from serving import ended, running, submitted

pytestmark = pytest.mark.slow
API, SERVICE = ((ROOT / "docs" / name).read_text(encoding="utf-8") for name in ("api.md", "service.md"))


@pytest.fixture(scope="module")
def serving(tmp_path_factory):
    with running(tmp_path_factory.mktemp("docs") / "data") as serving:
        yield serving


@pytest.mark.deep
def test_the_exchange_is_what_the_service_answers(serving):
    (design,) = re.findall(r"```toml\n(.*?)```", API, re.S)
    told = re.search(r"data: (\{.*\"complete\".*\})", API)
    assert told is not None
    shown = json.loads(told[1])
    with serving.client() as client:
        job = submitted(client, design)
        found = ended(client, job)
        same = ("id", "kind", "title", "state", "points", "total", "finished", "best_worst_error_pct", "solutions")
        assert {key: found[key] for key in same} == {key: shown[key] for key in same}
        heads, row = client.get(f"/api/jobs/{job}/solutions?form=csv&by=error&limit=1").text.splitlines()
        point = re.compile("[0-9a-f]{64}")  # it changes with the code that answers
        assert heads in API and point.sub("P", row) in point.sub("P", API)
        refused = client.post("/api/validate", json={"bodies": {"set": "satrun"}})
        assert refused.text in API


@pytest.mark.deep
def test_the_python_client_runs(serving, tmp_path):
    code = "".join(re.findall(r"```python\n(.*?)```", API, re.S)).replace("http://127.0.0.1:8137/", serving.address)
    done = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    told = done.stdout.splitlines()
    at = told.index("0.1569 % [24, 30, 36, 42, 48]")
    assert told[at - 1] == "complete 1 of 1"
    assert told[at + 1].startswith("[{'rule': ") and "'field': 'search.max_error_pct'" in "".join(told[at + 1 :])


def test_every_route_is_told_of(serving):
    with serving.client() as client:
        paths = client.get("/api/openapi.json").json()["paths"]
    table = API.split("| under `/api` | |\n")[1].split("\n\n")[0]
    told = set(re.findall(r"`(?:GET|POST|DELETE) ([^`]+)`", table))
    told |= {f"jobs/ID/solutions/POINT/RANK/{name}" for name in re.findall(r"`/(\w+)`", table)}
    names = {path.removeprefix("/api/").replace("{job}", "ID").replace("{point}", "POINT").replace("{rank}", "RANK")
             for path in paths}  # fmt: skip
    assert told - {"openapi.json"} == names


def test_the_options_that_are_told_of_are_there():
    options = set(re.findall(r"--[a-z][a-z-]+", API + SERVICE)) - {"--data-binary", "--certify"}  # of other commands
    helped = subprocess.run(
        [sys.executable, "-m", "solver", "serve", "--help"], cwd=ROOT, capture_output=True, text=True, timeout=60,
        env={"COLUMNS": "200", "PATH": ""},
    )  # fmt: skip
    assert all(option in helped.stdout for option in options), options
