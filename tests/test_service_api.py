"""The API: every route, in a real exchange; its problems, its stream, its OpenAPI document."""

from __future__ import annotations

import csv
import io
import json
import re
import socket
import zipfile
from xml.etree import ElementTree

import httpx
import pyarrow.parquet as pq
import pytest
from commands import CONFIGS
from serving import JSON, TOML, ended, events, in_thread, submitted
from sweeping import BASE, HARD, SMALL

from solver.answer.solve import solve
from solver.files.body_sets import body_sets
from solver.files.load import parse_design
from solver.files.text import data_of
from solver.service.errors import CheckFailed
from solver.service.limits import ServiceLimits

pytestmark = pytest.mark.slow

PLACED = BASE.replace('directions = "none"', "directions = 24")
LIMITS = ServiceLimits(solve_seconds=1e6, most_points=200, most_jobs=20)


@pytest.fixture(scope="module")
def client(tmp_path_factory):
    data = tmp_path_factory.mktemp("api") / "data"
    with in_thread(data, LIMITS) as (port, _), httpx.Client(trust_env=False, timeout=60) as client:
        client.base_url = f"http://127.0.0.1:{port}"
        yield client


@pytest.fixture(scope="module")
def placed(client):
    job = submitted(client, PLACED)
    ended(client, job)
    return job


@pytest.fixture(scope="module")
def swept(client):
    job = submitted(client, SMALL)
    ended(client, job)
    return job


def solution_path(client: httpx.Client, job: str) -> str:
    point = client.get(f"/api/jobs/{job}/points").json()["points"][0]["point"]
    return f"/api/jobs/{job}/solutions/{point}/1"


def problem(answer: httpx.Response, status: int) -> dict:
    assert answer.status_code == status, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    told = answer.json()
    assert (told["status"], told["instance"]) == (status, answer.request.url.path)
    return told


def test_a_design_is_submitted_once(client):
    text = BASE.replace("keep = 3", "keep = 2")
    answer = client.post("/api/jobs", content=text, headers=TOML)
    job = answer.json()
    assert (answer.status_code, answer.headers["location"]) == (201, f"/api/jobs/{job['id']}")
    again = client.post("/api/jobs", json=json.loads(json.dumps(data_of(text, ""), default=float)))
    assert (again.status_code, again.json()["id"]) == (200, job["id"])
    assert client.get(answer.headers["location"]).json()["id"] == job["id"]
    assert client.get(f"/api/jobs/{job['id']}/file").text == text


def test_validating_submits_nothing(client):
    total = client.get("/api/jobs").json()["total"]
    told = client.post("/api/validate", content=SMALL, headers=TOML).json()
    assert (told["kind"], told["points"], told["text"], told["places"]) == ("sweep", 60, SMALL, False)
    assert told["sha256"].startswith(told["job"])
    assert client.get("/api/jobs").json()["total"] == total


def test_a_wrong_design_has_the_fields_of_the_command_line(client):
    text = BASE.replace('"saturn"', '"satrun"') + "[drive]\nmotor_rpm = 0\n"
    told = problem(client.post("/api/jobs", content=text, headers=TOML), 422)
    assert told["type"] == "/problems/design"
    assert told["errors"][0]["field"].startswith("drive.motor_rpm")
    told = problem(client.post("/api/validate", json={"bodies": {"set": "satrun"}}), 422)
    assert told["errors"] == [
        {"field": "bodies.set", "value": '"satrun"', "message": 'no set of that name; did you mean "saturn"?'}
    ]
    told = problem(client.post("/api/validate", content=BASE + "[vary]\nrings.blanks = [0, -1]\n", headers=TOML), 422)
    assert told["errors"][0]["field"] == "rings.blanks"
    assert told["errors"][0]["message"].startswith("point 2 (rings.blanks = -1): ")


def test_the_fields_of_the_sky_are_those_of_the_command_line(client):
    mine = '[[bodies.list]]\nname = "Mine"\nperiod = 99\nlongitude = 3\nepoch = 2026-01-01\n'
    assert client.post("/api/validate", content=BASE + mine, headers=TOML).status_code == 200
    hung = BASE + '[sky]\nzero_deg = 0\nseen_from = "south"\n'
    told, plain = (client.post("/api/validate", content=text, headers=TOML).json() for text in (hung, BASE))
    assert told["kind"] == "design" and told["sha256"] != plain["sha256"]
    wrong = BASE + '[sky]\nzero_deg = 361\n[[bodies.list]]\nname = "Mine"\nperiod = 99\nepoch = "2026-02-30"\n'
    faults = problem(client.post("/api/validate", content=wrong, headers=TOML), 422)["errors"]
    assert [(one["field"], one["message"]) for one in faults] == [
        ("bodies.list[0].epoch", "no such day: that month has no day 30"),
        ("sky.zero_deg", "must be degrees greater than -360 and at most 360"),
    ]


def test_a_file_named_in_a_sweep_is_not_opened(client):
    path = CONFIGS / "saturn-hall.toml"
    told = problem(client.post("/api/jobs", json={"base": str(path), "vary": {"rings.blanks": [1]}}), 422)
    assert told["errors"][0]["field"] == "base"


@pytest.mark.parametrize(
    ("content", "headers", "status"),
    [
        (b"x", {"content-type": "text/plain"}, 415),
        (b"x", {}, 415),
        (b"\xff\xfe", TOML, 422),
        (b"", TOML, 422),
        (b"", JSON, 422),
        (b"#" * 1_000_001, TOML, 413),
    ],
)
def test_bodies_that_are_none(client, content, headers, status):
    problem(client.post("/api/jobs", content=content, headers=headers), status)


def test_limits_are_told_with_their_values(client):
    more = BASE + "[vary]\nrings.inner_teeth = {min = 18, max = 300}\n"
    told = problem(client.post("/api/jobs", content=more, headers=TOML), 422)
    assert "makes 283 points; at most 200" in told["detail"]
    long = BASE + "time_limit_s = 2000000\n"
    told = problem(client.post("/api/jobs", content=long, headers=TOML), 422)
    assert told["errors"][0]["field"] == "search.time_limit_s" and "at most 1e+06 s" in told["detail"]


def test_open_jobs_are_limited(tmp_path):
    limits = ServiceLimits(most_jobs=1, solve_seconds=1e6)
    with in_thread(tmp_path / "data", limits) as (port, jobs), httpx.Client(trust_env=False, timeout=60) as client:
        client.base_url = f"http://127.0.0.1:{port}"
        job = submitted(client, HARD)
        answer = client.post("/api/jobs", content=BASE, headers=TOML)
        assert problem(answer, 429)["limit"] == 1 and answer.headers["retry-after"]
        problem(client.delete(f"/api/jobs/{job}"), 409) if jobs.view(job).state == "solving" else None
        assert client.post(f"/api/jobs/{job}/stop").status_code == 202
        ended(client, job)
        assert client.delete(f"/api/jobs/{job}").status_code == 204
        problem(client.get(f"/api/jobs/{job}"), 404)


def test_jobs_are_listed(client, placed, swept):
    told = client.get("/api/jobs", params={"limit": 500}).json()
    assert told["total"] == len(told["jobs"])
    names = [job["id"] for job in told["jobs"]]
    assert names.index(swept) < names.index(placed)
    second = client.get("/api/jobs", params={"offset": 1, "limit": 1}).json()
    assert [job["id"] for job in second["jobs"]] == names[1:2]


def test_solutions_as_json_csv_and_parquet(client, swept):
    url = f"/api/jobs/{swept}/solutions"
    told = client.get(url, params={"limit": 7, "by": "parts,error"}).json()
    assert (told["total"], len(told["solutions"])) == (108, 7)
    keys = [(one["solution"]["parts"], one["solution"]["worst_error_pct"]) for one in told["solutions"]]
    assert keys == sorted(keys)
    rows = list(csv.DictReader(io.StringIO(client.get(url, params={"form": "csv", "limit": 7}).text)))
    answer = client.get(url, params={"form": "parquet", "limit": 7})
    table = pq.read_table(io.BytesIO(answer.content), page_checksum_verification=True)
    assert [row["point"] for row in rows] == table["point_id"].to_pylist()
    assert [float(row["worst_error_pct"]) for row in rows] == table["worst_error_pct"].to_pylist()
    assert answer.headers["content-disposition"] == 'attachment; filename="Three-moons-of-Saturn-solutions.parquet"'


def test_solutions_are_filtered_and_on_the_front(client, swept):
    url = f"/api/jobs/{swept}/solutions"
    query = {"most": ["error=2", "parts=9"], "where": ["rings.tooth_step=5", "rings.inner_teeth=21"]}
    told = client.get(url, params=query).json()
    assert told["total"] == len(told["solutions"]) > 0
    for one in told["solutions"]:
        assert one["solution"]["worst_error_pct"] <= 2
        assert (one["settings"]["rings.tooth_step"], one["settings"]["rings.inner_teeth"]) == (5, 21)
    every = client.get(url, params={"limit": 1000}).json()["solutions"]
    front = client.get(url, params={"front": "error,parts"}).json()["solutions"]

    def figures(one: dict) -> tuple:
        return one["solution"]["worst_error_pct"], one["solution"]["parts"]

    best = [a for a in map(figures, every) if not any(b != a and b[0] <= a[0] and b[1] <= a[1]
                                                      for b in map(figures, every))]  # fmt: skip
    assert sorted(map(figures, front)) == sorted(best)


@pytest.mark.parametrize(
    ("query", "field"),
    [("by=eror", "by"), ("front=jgs", "front"), ("most=error", "most"), ("most=error=nan", "most"),
     ("most=error=1e999", "most"), ("most=error=1&most=error=2", "most"),
     ("most=x=1", "most"), ("where=bodies", "where"), ("offset=-1", "offset"), ("limit=0", "limit"),
     ("limit=a", "limit"), ("form=exe", "form"), (f"offset={10**30}", "offset"),
     ("by=", "by"), ("by=%20", "by"), ("front=", "front"), ("most=", "most"), ("where=", "where"), ("limit=", "limit"),
     ("bye=error", "bye"), ("x=1", "x"), ("=1", ""), ("limit=1&limit=2", "limit"), ("by=error&by=parts", "by"),
     ("&".join(["most=error=1"] * 21), "most")],
)  # fmt: skip
def test_wrong_queries_name_their_field(client, swept, query, field):
    told = problem(client.get(f"/api/jobs/{swept}/solutions?{query}"), 422)
    assert told["errors"][0]["field"] == field
    assert field + (" = " if told["errors"][0]["value"] else ": ") in told["detail"] or not field
    assert "should" not in told["detail"]  # pydantic's own words


@pytest.mark.parametrize("path", ["/api/jobs", "/api/sets", "/api/health", "/api/jobs/{}", "/api/jobs/{}/points"])
def test_no_route_passes_over_a_query_that_it_does_not_know(client, swept, path):
    for query, said in (("limits=3", "limits: unknown"), ("x", "x: unknown")):
        told = problem(client.get(f"{path.format(swept)}?{query}"), 422)
        assert told["detail"].startswith(said) and [one["field"] for one in told["errors"]] == [query.split("=")[0]]


@pytest.mark.deep
def test_one_solution_its_picture_motion_and_sheets(client, placed):
    path = solution_path(client, placed)
    one = client.get(path).json()
    assert one == client.get(f"/api/jobs/{placed}/solutions").json()["solutions"][0]
    assert one["solution"]["rank"] == one["rank"] == 1
    picture = client.get(f"{path}/picture")
    assert picture.headers["content-type"] == "image/svg+xml"
    whole, cut = (float(ElementTree.fromstring(svg).attrib["viewBox"].split()[3]) for svg in (
        picture.content, client.get(f"{path}/picture", params={"trimmed": "true"}).content))  # fmt: skip
    assert ElementTree.fromstring(picture.content).tag.endswith("svg") and cut < whole
    assert len(client.get(f"{path}/motion").json()["rings"]) == 3
    sheets = client.get(f"{path}/sheets", params={"paper": "letter", "both_units": "true"})
    with zipfile.ZipFile(io.BytesIO(sheets.content)) as archive:
        assert archive.testzip() is None
        assert {"index.html", "sheets.pdf", "parts.csv"} <= set(archive.namelist())
    assert client.get(f"{path}/sheets", params={"paper": "letter", "both_units": "true"}).content == sheets.content


def test_the_design_of_a_point_is_a_file_that_solves_to_the_same(client, swept):
    point = client.get(f"/api/jobs/{swept}/points").json()["points"][7]
    answer = client.get(f"/api/jobs/{swept}/points/{point['point'][:12]}/design")
    assert answer.headers["content-type"].startswith("application/toml")
    name = f'filename="Three-moons-of-Saturn-{point["point"][:12]}.toml"'
    assert answer.headers["content-disposition"] == f"attachment; {name}"
    best = solve(parse_design(answer.text)).solutions[0]
    assert best.rings[0].teeth == point["settings"]["rings.inner_teeth"]
    assert best.worst_error_pct == point["best"]["worst_error_pct"]
    problem(client.get(f"/api/jobs/{swept}/points/{'0' * 12}/design"), 404)


@pytest.mark.deep
def test_without_places_nothing_is_drawn(client, swept):
    path = solution_path(client, swept)
    problem(client.get(f"{path}/picture"), 409)
    told = problem(client.get(f"{path}/sheets"), 409)
    assert "places" in told["detail"]


@pytest.mark.parametrize("path", ["", "/events", "/points", "/solutions", "/file", "/solutions/000000000000/1",
                                  "/solutions/000000000000/1/motion"])  # fmt: skip
def test_no_such_job(client, path):
    problem(client.get(f"/api/jobs/{'0' * 16}{path}"), 404)


def test_no_such_solution(client, placed):
    path = solution_path(client, placed)
    problem(client.get(path.removesuffix("/1") + "/9"), 404)
    problem(client.get(f"/api/jobs/{placed}/solutions/{'0' * 64}/1"), 404)
    problem(client.get(path.removesuffix("/1") + "/0"), 422)
    problem(client.get(f"/api/jobs/{placed}/solutions/..%2f..%2fetc/1"), 404)


@pytest.mark.parametrize(("method", "path", "allow"), [
    ("PUT", "/api/jobs", "GET, HEAD, POST"), ("DELETE", "/api/health", "GET, HEAD"),
    ("PATCH", f"/api/jobs/{'0' * 16}", "DELETE, GET, HEAD"), ("HEAD", "/api/validate", "POST"),
])  # fmt: skip
def test_other_methods_are_refused_with_those_that_are_not(client, method, path, allow):
    answer = client.request(method, path)
    if method == "HEAD":
        assert (answer.status_code, answer.content) == (405, b"")
    else:
        problem(answer, 405)
    assert answer.headers["allow"] == allow


@pytest.mark.deep
def test_head_is_answered_wherever_get_is(client, placed):
    """As GET would be, without its body; the connection goes on, also after a stream that would never end."""
    going_on = submitted(client, HARD)
    one = solution_path(client, placed)
    point = one.split("/")[-2]
    paths = client.get("/api/openapi.json").json()["paths"]
    asked = [path.format(job=placed, point=point, rank=1) for path, routes in paths.items() if "get" in routes]
    page = client.get("/").text
    asked += ["/", f"/jobs/{placed}", f"/jobs/{placed}/{point}/1", "/api/openapi.json", f"/api/jobs/{going_on}/events"]
    asked += [re.search(r"/static/\S+?\.css", page)[0], "/jobs/0000000000000000", "/nothing", "/api/jobs?limit=0"]
    assert len(asked) > 20
    with socket.create_connection(("127.0.0.1", client.base_url.port), timeout=60) as connection:
        for path in asked:
            path += "?date=2026-12-24" if path.endswith("/sky") else ""  # without, it is the sky of the moment
            head = f"HEAD {path} HTTP/1.1\r\nHost: localhost:{client.base_url.port}\r\n\r\n"
            connection.sendall(head.encode())
            told = b""
            while not told.endswith(b"\r\n\r\n"):
                chunk = connection.recv(1 << 16)
                assert chunk, path
                told += chunk
            lines = told.decode().lower().split("\r\n")
            if not path.endswith(("/sheets", "/events")):
                answer = client.get(path)
                assert lines[0].split()[1] == str(answer.status_code), path
                for name in ("content-type", "content-length", "content-security-policy"):
                    assert f"{name}: {answer.headers[name].lower()}" in lines, (path, name)
            else:
                assert lines[0].split()[1] == "200", (path, told)
    client.post(f"/api/jobs/{going_on}/stop")
    ended(client, going_on)
    client.delete(f"/api/jobs/{going_on}")


def test_the_sets_are_as_printed(client):
    told = {one["name"]: one for one in client.get("/api/sets").json()["sets"]}
    assert set(told) == set(body_sets())
    saturn = body_sets()["saturn"]
    assert [body["period"] for body in told["saturn"]["bodies"]] == list(saturn.printed)


def test_the_stream_says_each_change_once(client):
    job = submitted(client, SMALL.replace("keep = 3", "keep = 1"))
    told = list(events(client, job))
    assert [name for name, _, _ in told] == ["progress"] * (len(told) - 1) + ["end"]
    versions = [version for _, version, _ in told]
    assert versions[:-1] == sorted(set(versions[:-1])) and versions[-1] == versions[-2]
    finished = [view["finished"] for _, _, view in told]
    assert finished == sorted(finished) and finished[-1] == 60 and len(set(finished)) > 3
    seen = versions[-2]
    assert [(name, version) for name, version, _ in events(client, job, seen)] == [("end", seen)]
    assert [version for _, version, _ in events(client, job, seen - 1)] == [seen, seen]


@pytest.mark.parametrize("seen", ["-1", "x", "1.5", "9" * 40, "\xb2"])
def test_an_id_that_no_event_has_is_refused(client, swept, seen):
    answer = client.get(f"/api/jobs/{swept}/events", headers={"last-event-id": seen.encode("latin-1")})
    problem(answer, 422)


def test_a_silent_stream_shows_that_it_is_there(client, monkeypatch):
    from solver.service.http import events as source

    monkeypatch.setattr(source, "HEARTBEAT_S", 0.1)
    job = submitted(client, HARD)
    with client.stream("GET", f"/api/jobs/{job}/events") as answer:
        assert any(line == ": still here" for line in answer.iter_lines())
    client.post(f"/api/jobs/{job}/stop")
    ended(client, job)


def test_the_openapi_document_has_examples_and_every_route(client):
    told = client.get("/api/openapi.json").json()
    assert told["openapi"].startswith("3.1")
    assert {"DesignFile", "SweepFile", "Problem", "Job"} <= set(told["components"]["schemas"])
    assert len(told["paths"]) == 20
    body = told["paths"]["/api/jobs"]["post"]["requestBody"]["content"]
    for media, said in body.items():
        for example in said["examples"].values():
            value = example["value"]
            content = value if media == "application/toml" else json.dumps(value)
            assert client.post("/api/validate", content=content, headers={"content-type": media}).status_code == 200
    for path, methods in told["paths"].items():
        for operation in methods.values():
            assert operation["summary"], path
            assert not any("HTTPValidationError" in json.dumps(said) for said in operation["responses"].values())


@pytest.mark.parametrize("text", [
    "[rings]\ninner_teeth = 0x" + "f" * 100_000,
    BASE + "[vary]\nfit.clearance = {min = 0, max = 1, step = 1e-999999999}\n",
    "x." * 300_000 + "x = 1",
], ids=["digits", "step", "key"])  # fmt: skip
@pytest.mark.parametrize("path", ["/api/validate", "/api/jobs"])
def test_what_cannot_be_counted_or_read_is_the_submitters_fault(client, path, text):
    answer = client.post(path, content=text, headers=TOML)
    assert answer.status_code == 422, answer.text
    assert answer.json()["type"] == "/problems/design"


def test_a_fault_of_the_check_is_not_said_to_be_one_of_stored_files(client, monkeypatch):
    def ended(*_):
        raise CheckFailed("the process that checks submissions ended without an answer")

    monkeypatch.setattr("solver.service.processes.checkers.Checkers.check", ended)
    answer = client.post("/api/validate", content=BASE, headers=TOML)
    assert answer.status_code == 500
    assert answer.json()["detail"] == (
        "the process that checks submissions ended without an answer; the service's log says more"
    )
