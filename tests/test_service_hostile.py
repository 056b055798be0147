"""Requests that mean no good, byte by byte and drawn from the OpenAPI document: all are answered or closed, none with
an answer of 500 or more, none hangs, and the service does not grow."""

# ruff: noqa: E501 - requests stand as they are sent
from __future__ import annotations

import contextlib
import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis.errors import Unsatisfiable
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi import checks
from serving import Running, ended, raw, running, status, submitted
from sweeping import BASE

from solver.service.openapi import DESIGN_TOML, SWEEP_TOML

GROWTH_KB = 24_000


def lines(*words: bytes | str) -> bytes:
    return b"\r\n".join(word.encode("latin-1") if isinstance(word, str) else word for word in words) + b"\r\n\r\n"


def sent(method: str, path: str, body: bytes = b"", media: str = "application/json", *more: str) -> bytes:
    head = [f"{method} {path} HTTP/1.1", "Host: localhost", *more]
    if body or method == "POST":
        head += [f"Content-Type: {media}", f"Content-Length: {len(body)}"]
    return lines(*head) + body


def no_http() -> Iterator[bytes]:
    """What is no request at all, or two in one."""
    host = "Host: localhost"
    yield from (
        b"\r\n\r\n\r\n\r\n", b"\x00" * 100, b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + b"\x00" * 200,
        b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n", b"GET\r\n\r\n", b"GET / HTTP/9.9\r\n\r\n", b"GET /\r\n\r\n",
        b"SSH-2.0-OpenSSH_9\r\n\r\n", lines("GET / HTTP/1.1"), lines("GET / HTTP/1.0"), lines("get / http/1.1", host),
        lines("GET  /  HTTP/1.1", host), lines("GET / HTTP/1.1", host, "X" * 70_000 + ": y"),
        lines("GET / HTTP/1.1", host, "X: " + "y" * 70_000), lines("GET / HTTP/1.1", host, "A b: c"),
        lines("GET / HTTP/1.1", host, ": c"), lines("GET / HTTP/1.1", host, "X: a\x00b"),
        lines("GET / HTTP/1.1", host, " folded"), lines("GET / HTTP/1.1", host, "X: \x7f\x01"),
        lines("GET / HTTP/1.1", host, host), lines("GET / HTTP/1.1", "Host: a b"), lines("GET / HTTP/1.1", "Host:"),
        lines("GET http://localhost/ HTTP/1.1", "Host: evil.example"), lines("GET //evil.example/ HTTP/1.1", host),
        lines("CONNECT evil.example:443 HTTP/1.1", host), lines("TRACE / HTTP/1.1", host),
        lines("OPTIONS * HTTP/1.1", host), lines("GET * HTTP/1.1", host), lines("BREW /api/jobs HTTP/1.1", host),
        lines("G\x00T / HTTP/1.1", host), lines("GET /\x00 HTTP/1.1", host), lines("GET /\xff HTTP/1.1", host),
        lines("M" * 5000 + " / HTTP/1.1", host), lines("GET / HTTP/1.1", host, *(f"X-{n}: y" for n in range(3000))),
    )  # fmt: skip
    for told in ("-1", "+1", "0x10", "1e3", "", "1, 1", "99999999999999999999", "1" * 5000, "\xb2", "1 1"):
        yield lines("POST /api/jobs HTTP/1.1", host, f"Content-Length: {told}") + b"x"
    for coding in ("chunked, chunked", "gzip", "chunked, gzip", "identity", "xchunked", " chunked", "CHUNKED"):
        yield lines("POST /api/jobs HTTP/1.1", host, f"Transfer-Encoding: {coding}") + b"0\r\n\r\n"
    for chunk in (b"-1\r\nx\r\n", b"zz\r\n", b"ffffffffffffffff\r\n", b"1" * 100 + b"\r\n", b"1;" + b"x" * 70_000,
                  b"5\r\nabc\r\n0\r\n\r\n", b"0\r\nX: y\r\n\r\n", b"\r\n"):  # fmt: skip
        yield lines("POST /api/jobs HTTP/1.1", host, "Transfer-Encoding: chunked") + chunk
    yield lines("POST / HTTP/1.1", host, "Content-Length: 4", "Transfer-Encoding: chunked") + b"0\r\n\r\nGET /x"
    yield lines("POST / HTTP/1.1", host, "Content-Length: 4", "Content-Length: 5") + b"abcde"
    yield lines("GET / HTTP/1.1", host, "Upgrade: websocket", "Connection: Upgrade", "Sec-WebSocket-Key: x")
    yield lines("GET / HTTP/1.1", host, "Upgrade: h2c", "Connection: Upgrade, HTTP2-Settings")
    yield lines("POST /api/jobs HTTP/1.1", host, "Expect: 200-maybe", "Content-Length: 2") + b"{}"


def paths(job: str) -> Iterator[bytes]:
    """Ways to a file that is nobody's, and names that are none."""
    up = ("../", "..%2f", "%2e%2e/", "%2e%2e%2f", "..\\", "..%5c", "%252e%252e%252f", "..;/", "....//", "%c0%ae%c0%ae/")
    for turn in up:
        yield sent("GET", f"/static/{turn * 8}etc/passwd")
        yield sent("GET", f"/api/jobs/{turn * 8}etc/passwd")
        yield sent("GET", f"/api/jobs/{job}/{turn}{job}/job.json")
        yield sent("GET", f"/api/jobs/{job}/solutions/{turn}/1/picture")
        yield sent("DELETE", f"/api/jobs/{turn}{job}")
    for name in ("%00", f"{job}%00", f"{job}%0a", "%ff%fe", "a" * 60_000, "A" * 16, "g" * 16, "0" * 15, "0" * 17, "%",
                 "%zz", "*", "[0-9]", "'", "%22%3e%3cscript%3e", "-1", "nul", "CON", "%e2%80%ae", "~", "{job}", "$HOME"):  # fmt: skip
        yield sent("GET", f"/api/jobs/{name}")
        yield sent("GET", f"/jobs/{name}")
        yield sent("POST", f"/api/jobs/{name}/stop")
    for rank in ("0", "-1", "1e3", "9" * 400, "1.0", "%31%00", "nan", "one"):
        yield sent("GET", f"/api/jobs/{job}/solutions/{'0' * 64}/{rank}/sheets")


def bodies() -> Iterator[bytes]:
    """Designs that are none, or too much."""
    deep = 60_000
    texts: list[str | bytes] = [
        "", "null", "true", "0", "[]", '"x"', "{", "{}", "[" * deep, '{"a":' * deep, '{"bodies":' * 500 + "1" + "}" * 500,
        '{"title": NaN}', '{"title": Infinity}', '{"a": 1, "a": 2}', '{"rings": {"inner_teeth": 1e999999999}}',
        '{"rings": {"inner_teeth": ' + "9" * 100_000 + "}}", '{"rings": {"tooth_pitch": 1e-999999999}}',
        '{"rings": {"tooth_pitch": 0.' + "0" * 50_000 + "1}}", '{"title": "\\ud800"}', '{"title": "\\u0000"}',
        '{"title": "' + "x" * 900_000 + '"}', '{"__proto__": {"x": 1}}', '{"constructor": 1}', '{"": {"": ""}}',
        '{"base": "/etc/passwd", "vary": {}}', '{"base": "file:///etc/passwd"}', '{"bodies": {"set": "../x"}}',
        '{"bodies": {"set": {"$ref": "file:///etc/passwd"}}}', '{"bodies": {"list": ' + "[{}," * 2 + "{}]]}}",
        json.dumps({"bodies": {"list": [{"name": str(n), "period": n + 1} for n in range(20_000)]}}),
        json.dumps({"bodies": {"set": "saturn"}, "rings": {"inner_teeth": {"min": 3, "max": 10**12}}}),
        json.dumps({"bodies": {"set": "saturn"}, "rings": {"blanks": list(range(100_000))}}),
        json.dumps({"bodies": {"set": "saturn"}, "rings": {"blanks": 10**9}}),
        json.dumps({"bodies": {"set": "saturn"}, "vary": {"rings.blanks": {"min": 0, "max": 10**15}}}),
        json.dumps({"bodies": {"set": "saturn"}, "vary": {"rings.blanks": {"min": 0, "max": 1, "step": 0}}}),
        json.dumps({"bodies": {"set": "saturn"}, "vary": {f"rings.a{n}": [0, 1] for n in range(60)}}),
        json.dumps({"bodies": {"set": "saturn"}, "vary": {"__class__.__init__": [1]}}),
        json.dumps({"bodies": {"set": "saturn"}, "point": [{"a." * 1000: 1}]}),
        json.dumps({"bodies": {"set": "saturn"}, "point": [{}] * 20_000}),
        json.dumps({"bodies": {"set": "saturn"}, "limits": {"points": 10**100}, "point": [{}]}),
        json.dumps({"bodies": {"set": "saturn"}, "limits": {"workers": -1}, "point": [{}]}),
        json.dumps({"bodies": {"set": "saturn"}, "search": {"keep": 10**30}}),
        json.dumps({"bodies": {"set": "saturn"}, "search": {"time_limit_s": -1}}),
        b"\xff\xfe{}", b"\xef\xbb\xbf", b"\x1f\x8b\x08\x00" + b"\x00" * 100, b"{\"title\": \"\xed\xa0\x80\"}",
        '{"title": "<script>alert(1)</script>"}', "{\"title\": \"'; DROP TABLE points; --\"}",
    ]  # fmt: skip
    for text in texts:
        data = text.encode("utf-8", "surrogatepass") if isinstance(text, str) else text
        yield sent("POST", "/api/validate", data)
        yield sent("POST", "/api/jobs", data)
    tomls = ["a = " + "[" * deep, "[" + "a." * 20_000 + "a]", "a.b = 1\na = 2", "a = 1\na = 2", "x = 0x" + "f" * 90_000,
             "x = 1e999999999", "x = nan", "x = 1979-05-27T07:32:00Z", "[a]\n" * 1000, 'a = """' + "x" * 900_000,
             "a = " + '{b = ' * 5000, "\x00", "title = '\x1b[31m'", "base = '/etc/passwd'\n[vary]\nrings.blanks = [1]"]  # fmt: skip
    for text in tomls:
        yield sent("POST", "/api/jobs", text.encode(), "application/toml")
    for media in ("", "text/html", "multipart/form-data", "application/json; charset=utf-16", "a" * 5000, "*/*"):
        yield sent("POST", "/api/jobs", b"{}", media)
    yield sent("POST", "/api/jobs", b"x" * 100, "application/json", "Content-Encoding: gzip")


def queries(job: str) -> Iterator[bytes]:
    """Filters, orders and headers beyond reason."""
    words = ("limit=-1", "limit=10001", f"offset={10**40}", "by=" + "error," * 20_000, "by=%00", "by=error;drop", "by=",
             "most=error=nan", "most=error=inf", "most=error=-1e999", "most==", "&".join(["most=error=1"] * 1000),
             "where=" + "a." * 10_000 + "=1", "where=__class__=x", "where=bodies.set=%ff", "where==", "front=error,error",
             "front=" + "parts," * 50 + "x", "form=../../x", "form=parquet%00", "%ff=%ff", "&" * 10_000, "a" * 60_000,
             "limit=1&limit=2", "limit[]=1", "offset=0x10", "offset=1_000", "offset=%D9%A3", "limit=1e2")  # fmt: skip
    for word in words:
        yield sent("GET", f"/api/jobs/{job}/solutions?{word}")
    for header in ("Last-Event-ID: -1", "Last-Event-ID: " + "9" * 4000, "Last-Event-ID: x", "Range: bytes=0-1",
                   "Range: bytes=" + "0-1," * 5000, "Cookie: " + "a=b; " * 5000, "Cookie: ringwright=\xff", "Cookie: =",
                   "Authorization: Bearer " + "x" * 50_000, "Accept: " + "*/*," * 10_000, "Origin: null",
                   "Origin: http://localhost.evil.example", "X-Forwarded-For: 127.0.0.1", "X-HTTP-Method-Override: PUT",
                   "If-None-Match: *", "Sec-Fetch-Site: cross-site", "Accept-Encoding: \xff", "TE: trailers"):  # fmt: skip
        yield sent("GET", f"/api/jobs/{job}/events", b"", "", header)
    for paper in ("a5", "../a4", "", "%00"):
        yield sent("GET", f"/api/jobs/{job}/solutions/{'0' * 64}/1/sheets?paper={paper}&both_units=perhaps")


@pytest.fixture(scope="module")
def serving(tmp_path_factory):
    with running(tmp_path_factory.mktemp("hostile") / "data", "--most-points", "300", "--most-jobs", "50") as serving:
        yield serving


@pytest.fixture(scope="module")
def job(serving):
    with serving.client() as client:
        job = submitted(client, BASE)
        assert ended(client, job)["state"] == "complete"
    return job


def memory_kb(serving: Running) -> int:
    text = Path(f"/proc/{serving.process.pid}/status").read_text()
    found = re.search(r"VmRSS:\s+(\d+) kB", text)
    assert found is not None
    return int(found[1])


def test_hostile_requests_are_answered_or_closed_and_leave_nothing(serving, job):
    every = [*no_http(), *paths(job), *bodies(), *queries(job)]
    assert len(every) >= 200 and len(set(every)) == len(every)
    sizes = []
    for _ in range(3):
        for request in every:
            answer = raw(serving.port, request, 20)
            code = status(answer)
            assert code is None or code < 500, (request[:300], answer[:300])
            assert b"root:" not in answer and b"Traceback" not in answer, request[:300]
            if code is not None and code >= 400 and code != 405 and b"/jobs/" not in request[:12]:
                assert b"application/problem+json" in answer or b"text/" in answer, (request[:300], answer[:300])
        sizes.append(memory_kb(serving))
    assert sizes[2] - sizes[0] < GROWTH_KB, sizes
    assert "Traceback" not in "".join(serving.said)
    with serving.client() as client:
        assert client.get("/api/health").json()["status"] == "ok"
        assert client.get(f"/api/jobs/{job}").json()["state"] == "complete"
        for view in client.get("/api/jobs", params={"limit": 500}).json()["jobs"]:
            if view["id"] != job and view["state"] in ("waiting", "solving"):
                client.post(f"/api/jobs/{view['id']}/stop")


@schemathesis.serializer("application/toml")
def toml_text(_context, value):
    return value if isinstance(value, bytes) else str(value).encode("utf-8", "replace")


CHECKS = (
    not_a_server_error, checks.status_code_conformance, checks.content_type_conformance,
    checks.response_headers_conformance, checks.response_schema_conformance, checks.use_after_free,
)  # fmt: skip


def test_requests_drawn_from_the_openapi_document(serving, job):
    """Every operation is asked things that its schema allows and things that it does not; each answer is one that the
    document tells of."""
    with serving.client() as client:
        document = client.get("/api/openapi.json").json()
        point = client.get(f"/api/jobs/{job}/points").json()["points"][0]["point"]
    asked: dict[str, int] = {}

    def question(operation):
        """Ask one operation; every second time about what is there."""

        def ask(case):
            asked[operation.label] = asked.get(operation.label, 0) + 1
            there = {"job": job, "point": point, "rank": 1}
            if asked[operation.label] % 2 and operation.method.upper() != "DELETE":
                case.path_parameters.update({name: there[name] for name in case.path_parameters})
            case.call_and_validate(base_url=serving.address.rstrip("/"), checks=CHECKS, timeout=30)

        return ask

    limited = settings(
        max_examples=12, deadline=None, database=None, derandomize=True, suppress_health_check=list(HealthCheck),
        phases=(Phase.generate,),
    )  # fmt: skip
    for found in schemathesis.openapi.from_dict(document).get_all_operations():
        operation = found.ok()
        for mode in (schemathesis.GenerationMode.POSITIVE, schemathesis.GenerationMode.NEGATIVE):
            drawn = operation.as_strategy(generation_mode=mode)
            with contextlib.suppress(Unsatisfiable):  # nothing about it could be wrong
                limited(given(case=drawn)(question(operation)))()
    assert len(asked) == 17, asked


def test_examples_of_the_document_are_valid(serving):
    with serving.client() as client:
        for text in (DESIGN_TOML, SWEEP_TOML):
            assert client.post("/api/validate", content=text, headers={"content-type": "application/toml"}).is_success
