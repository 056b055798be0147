"""Who may ask the service, how much, how long it may take: pages elsewhere, foreign names, tokens, bodies, heads."""

from __future__ import annotations

import asyncio
import json
import os
import re
import socket
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

import httpx
import pytest
from commands import ROOT
from serving import TOML, heard, in_thread, raw, refused, running, status
from sweeping import marked

from solver.service.errors import ServiceError
from solver.service.http.guard import Guard
from solver.service.http.server import Setup, serve, trusted
from solver.service.http.token import COOKIE, Token
from solver.service.limits import ServiceLimits

pytestmark = pytest.mark.slow

TOKEN = "correct-horse-battery"


@pytest.fixture(scope="module")
def port(tmp_path_factory):
    limits = ServiceLimits(body_bytes=1000)
    with in_thread(tmp_path_factory.mktemp("guard") / "data", limits, names=("orrery.museum.example",)) as (port, _):
        yield port


@pytest.fixture(scope="module")
def hasty(tmp_path_factory):
    """One that has no patience: a machine that is busy may well be too slow for it."""
    limits = ServiceLimits(body_seconds=0.4, head_seconds=0.4)
    with in_thread(tmp_path_factory.mktemp("hasty") / "data", limits) as (port, _):
        yield port


@pytest.fixture(scope="module")
def patient(tmp_path_factory):
    """The port of a service that waits as long as usual."""
    with in_thread(tmp_path_factory.mktemp("patient") / "data", ServiceLimits()) as (port, _):
        yield port


def get(port: int, *lines: str, path: str = "/api/health", host: str | None = None) -> int | None:
    host = f"127.0.0.1:{port}" if host is None else host
    head = "\r\n".join([f"GET {path} HTTP/1.1", f"Host: {host}", *lines, "", ""])
    return status(raw(port, head.encode()))


def document(answer: bytes) -> dict:
    head, _, body = answer.partition(b"\r\n\r\n")
    assert b"content-type: application/problem+json" in head.lower()
    found = json.loads(body)
    assert found["status"] == status(answer)
    assert {"type", "title", "detail", "instance"} <= set(found)
    return found


# -- from where --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("host", ["127.0.0.1:{}", "localhost:{}", "[::1]:{}", "LOCALHOST:9", "orrery.museum.example"])
def test_our_own_names_are_answered_for(port, host):
    assert get(port, host=host.format(port)) == 200


@pytest.mark.parametrize(
    "host",
    ["evil.example", "evil.example:{}", "127.0.0.1.evil.example:{}", "localhost.evil.example", "localhost@evil.example",
     "evil.example:80@localhost", "10.0.0.7:{}", "", "localhost:port", "[::1", "localhost/..", "0.0.0.0:{}",
     "[::1]x", "[::1]x:{}", "[::1]evil.example", "x[::1]", "[::1]]", "[[::1]]", "[::1]:{0}:{0}", "::1", "[127.0.0.1]",
     "[localhost]", "[::1%lo]", "[::1%25lo]", "[v1.x]", "[]", "localhost:", "localhost:+{}", "localhost:8_1",
     "localhost: 81", "localhost:65536", "localhost:0", "localhost:000081", "localhost:81:81", ":{}", "localhost.",
     "localhost..", ".localhost", "127.0.0.1.", "127.1", "2130706433", "0x7f.0.0.1", "0177.0.0.1", "localhost,evil",
     "user@localhost", "@localhost", "localhost@", "localhost#x", "localhost?x", "localhost\\x", "localhost%00",
     "local host", "localhost\x85", "l\xf6calhost", "orrery.museum.example.", "orrery.museum.example.evil.example"],
)  # fmt: skip
def test_a_name_that_is_made_to_mean_this_machine_is_refused(port, host):
    """DNS rebinding: the page's own name leads here, and stands in Host."""
    answer = raw(port, f"GET /api/jobs HTTP/1.1\r\nHost: {host.format(port)}\r\n\r\n".encode("latin-1"))
    assert document(answer)["status"] in (400, 421)


@pytest.mark.parametrize(
    ("server", "host", "expected"),
    [("192.0.2.7", "192.0.2.7:81", 200), ("::ffff:192.0.2.7", "192.0.2.7:81", 200), ("192.0.2.7", "192.0.2.8:81", 421),
     ("2001:db8::7", "[2001:db8::7]:81", 200), ("2001:db8::7", "[2001:DB8:0:0::7]", 200), (None, "localhost", 200),
     ("2001:db8::7", "[2001:db8::7]x", 421), ("2001:db8::7", "2001:db8::7", 421), (None, "192.0.2.7", 421)],
)  # fmt: skip
def test_the_address_at_which_a_connection_came_in_is_ours(server, host, expected):
    """Where both kinds of addresses are listened to, one of IPv4 comes in as one of IPv6 (RFC 4291, 2.5.5.2)."""
    told = []

    async def app(scope, receive, send):
        await send({"type": "http.response.start", "status": 200, "headers": []})

    async def send(message):
        told.append(message)

    scope = {"type": "http", "method": "GET", "path": "/", "raw_path": b"/", "query_string": b"",
             "headers": [(b"host", host.encode())], "server": server and (server, 81)}  # fmt: skip
    asyncio.run(Guard(app, ServiceLimits(), (), None, lambda _: b"", None)(scope, None, send))
    assert told[0]["status"] == expected


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "https://127.0.0.1", "http://127.0.0.1:1",
                                    "http://localhost.evil.example", "file://", "", "http://127.0.0.1:{}/",
                                    "http://127.0.0.1:{}x", "http://x@127.0.0.1:{}", "ftp://127.0.0.1:{}",
                                    "http://localhost:{}"])  # fmt: skip
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_a_page_elsewhere_may_not_ask(port, origin, method):
    head = f"{method} /api/jobs HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nOrigin: {origin.format(port)}\r\n"
    head += "Content-Length: 0\r\n\r\n"
    assert document(raw(port, head.encode()))["status"] == 403


@pytest.mark.parametrize("site", ["cross-site", "same-site", "whatever", ""])
def test_what_the_browser_calls_cross_site_is_refused(port, site):
    assert get(port, f"Sec-Fetch-Site: {site}") == 403


def test_our_own_page_may_ask(port):
    assert get(port, f"Origin: http://127.0.0.1:{port}", "Sec-Fetch-Site: same-origin") == 200
    assert get(port, "Sec-Fetch-Site: none") == 200


def test_no_answer_invites_pages_elsewhere(port):
    answer = raw(port, f"OPTIONS /api/jobs HTTP/1.1\r\nHost: localhost:{port}\r\n"
                 "Access-Control-Request-Method: POST\r\n\r\n".encode())  # fmt: skip
    assert status(answer) == 405
    assert b"access-control" not in answer.lower()


def test_a_form_of_another_page_cannot_submit(port):
    """A form can be sent without being asked about, but not as TOML or JSON."""
    for media in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", ""):
        head = f"POST /api/jobs HTTP/1.1\r\nHost: localhost:{port}\r\n"
        head += f"Content-Type: {media}\r\nContent-Length: 2\r\n\r\n{{}}"
        assert document(raw(port, head.encode()))["status"] == 415


def test_headers_that_must_stand_once_are_refused_twice(port):
    assert get(port, "Origin: http://evil.example", f"Origin: http://127.0.0.1:{port}") == 400
    assert get(port, "Host: evil.example") == 400


@pytest.mark.parametrize("path", ["/", "/api/health", "/nothing", "/api/jobs/0123456789abcdef", "/static/no.js"])
def test_every_answer_says_what_a_browser_may_do(port, path):
    with httpx.Client(base_url=f"http://127.0.0.1:{port}", trust_env=False) as client:
        headers = client.get(path).headers
    assert "default-src 'none'" in headers["content-security-policy"]
    assert "frame-ancestors 'none'" in headers["content-security-policy"]
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"
    assert headers["cross-origin-resource-policy"] == "same-origin"
    assert headers["cross-origin-opener-policy"] == "same-origin"
    assert "server" not in headers


# -- how much, how long ------------------------------------------------------------------------------------------------


def test_a_body_that_says_it_is_too_large_is_refused_before_it_is_sent(port):
    head = f"POST /api/jobs HTTP/1.1\r\nHost: localhost:{port}\r\n"
    head += "Content-Type: application/toml\r\nContent-Length: 1001\r\n\r\n"
    found = document(raw(port, head.encode()))
    assert (found["status"], found["limit"]) == (413, 1000)
    assert "1000 bytes" in found["detail"]


def test_a_body_that_says_nothing_of_its_size_is_counted(port):
    head = f"POST /api/jobs HTTP/1.1\r\nHost: localhost:{port}\r\n"
    head += "Content-Type: application/toml\r\nTransfer-Encoding: chunked\r\n\r\n"
    chunks = b"1f4\r\n" + b"#" * 500 + b"\r\n"
    found = document(raw(port, head.encode() + chunks * 3))
    assert (found["status"], found["limit"]) == (413, 1000)


@pytest.mark.parametrize("length", ["1" * 17, "1" * 30, "9" * 400])
def test_a_size_beyond_all_measure_is_refused(port, length):
    head = f"POST /api/jobs HTTP/1.1\r\nHost: localhost:{port}\r\nContent-Length: {length}\r\n\r\n"
    assert status(raw(port, head.encode())) in (400, 413)


@pytest.mark.parametrize("head", ["GET /api/jobs?{much}", "GET /{much}", "GET /api/jobs HTTP/1.1\r\nX: {much}"])
@pytest.mark.parametrize("pieces", [1, 20])  # of 20, more than is taken comes before the end
def test_a_head_that_is_too_large_is_refused_however_it_arrives(patient, head, pieces):
    head = head.format(much="x" * 70_000)
    data = f"{head}{'' if 'HTTP' in head else ' HTTP/1.1'}\r\nHost: localhost:{patient}\r\n\r\n".encode()
    with socket.create_connection(("127.0.0.1", patient), timeout=20) as connection:
        for start in range(0, len(data), -(-len(data) // pieces)):
            with suppress(OSError):  # it need not be heard to its end
                connection.sendall(data[start : start - (-len(data) // pieces)])
            time.sleep(0.02 * (pieces > 1))
        found = document(heard(connection))
    assert (found["status"], found["limit"]) == (431, 65_536)


def test_what_is_too_large_in_a_body_is_not_said_to_be_its_head(port):
    head = f"POST /api/jobs HTTP/1.1\r\nHost: localhost:{port}\r\n"
    head += "Content-Type: application/toml\r\nTransfer-Encoding: chunked\r\n\r\n"
    assert status(raw(port, head.encode() + b"1;" + b"x" * 70_000)) in (400, 413)


def test_a_slow_body_is_refused(hasty):
    with socket.create_connection(("127.0.0.1", hasty), timeout=20) as connection:
        connection.sendall(f"POST /api/jobs HTTP/1.1\r\nHost: localhost:{hasty}\r\nContent-Type: application/toml\r\n"
                           "Content-Length: 100\r\n\r\ntitle".encode())  # fmt: skip
        found = document(heard(connection))
        assert (found["status"], found["limit"]) == (408, 0.4)
        assert connection.recv(1) == b""


def test_slow_headers_are_refused(hasty):
    with socket.create_connection(("127.0.0.1", hasty), timeout=20) as connection:
        connection.sendall(b"GET / HTTP/1.1\r\nHost: loc")
        assert document(heard(connection))["status"] == 408
        assert connection.recv(1) == b""


def test_headers_that_trickle_in_are_refused_all_the_same(hasty):
    with socket.create_connection(("127.0.0.1", hasty), timeout=20) as connection:
        connection.sendall(b"GET / HTTP/1.1\r\n")
        connection.settimeout(0.05)
        for number in range(400):
            try:
                connection.sendall(b"X-%d: y\r\n" % number)
                if connection.recv(100) is not None:
                    return
            except TimeoutError:
                continue
            except OSError:
                return
        raise AssertionError("the connection stayed open for 20 s")


def test_a_second_request_must_come_in_time_too(hasty):
    with socket.create_connection(("127.0.0.1", hasty), timeout=20) as connection:
        connection.sendall(f"GET /api/health HTTP/1.1\r\nHost: localhost:{hasty}\r\n\r\n".encode())
        assert status(heard(connection)) == 200
        connection.sendall(b"GET /api/hea")
        assert status(heard(connection)) == 408


def test_a_connection_that_says_nothing_is_closed(hasty):
    with socket.create_connection(("127.0.0.1", hasty), timeout=20) as connection:
        assert status(heard(connection)) == 408
        assert connection.recv(1) == b""


def test_no_more_connections_than_allowed(tmp_path):
    with in_thread(tmp_path / "data", ServiceLimits(connections=3)) as (port, _):
        held = [socket.create_connection(("127.0.0.1", port), timeout=20) for _ in range(3)]
        try:
            for connection in held:
                connection.sendall(f"GET /api/health HTTP/1.1\r\nHost: localhost:{port}\r\n\r\n".encode())
                assert status(heard(connection)) == 200
            assert raw(port, f"GET /api/health HTTP/1.1\r\nHost: localhost:{port}\r\n\r\n".encode()) == b""
        finally:
            for connection in held:
                connection.close()


def test_no_more_bodies_than_allowed(tmp_path):
    with in_thread(tmp_path / "data", ServiceLimits(bodies=0)) as (port, _), httpx.Client(trust_env=False) as client:
        answer = client.post(f"http://127.0.0.1:{port}/api/validate", content="x", headers=TOML)
        assert (answer.status_code, answer.json()["limit"]) == (429, 0)
        assert answer.headers["retry-after"]
        assert client.get(f"http://127.0.0.1:{port}/api/health").status_code == 200


# -- who ---------------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def locked(tmp_path_factory):
    log: list[str] = []
    client = httpx.Client(trust_env=False, timeout=30)
    with in_thread(tmp_path_factory.mktemp("locked") / "data", token=TOKEN, log=log) as (port, _), client:
        client.base_url = f"http://127.0.0.1:{port}"
        yield client, log


def test_without_the_token_nothing_is_answered(locked):
    client, _ = locked
    for path in ("/api/jobs", "/api/openapi.json", "/nothing", "/", "/api/health/", "/api/health/x", "//api/health"):
        answer = client.get(path)
        assert answer.status_code == 401
        assert answer.headers["content-type"] == "application/problem+json"
        assert answer.headers["www-authenticate"] == "Bearer"
    assert client.post("/api/jobs", content="", headers=TOML).status_code == 401


def test_whether_it_answers_is_told_without_the_token_and_no_more(locked):
    client, _ = locked
    for headers in ({}, {"authorization": f"Bearer {TOKEN}"}, {"authorization": "Bearer wrong"}):
        answer = client.get("/api/health", headers=headers)
        assert (answer.status_code, answer.json()) == (200, {"status": "ok"})
    assert client.head("/api/health").status_code == 200
    assert client.post("/api/health").status_code == 405
    assert client.get("/api/health", headers={"host": "evil.example"}).status_code == 421


@pytest.mark.parametrize(
    "told",
    [
        f"Bearer {TOKEN[:-1]}",
        f"Basic {TOKEN}",
        *(pytest.param(one, marks=pytest.mark.deep) for one in (f"Bearer {TOKEN}x", "Bearer", "Bearer \xff\xfe")),
    ],
)
def test_a_wrong_token_is_refused(locked, told):
    client, _ = locked
    assert client.get("/api/jobs", headers={"authorization": told.encode("latin-1")}).status_code == 401


def test_the_right_token_opens(locked):
    client, _ = locked
    assert client.get("/api/jobs", headers={"authorization": f"Bearer {TOKEN}"}).status_code == 200


def test_a_browser_enters_by_a_page(locked):
    client, _ = locked
    sent = client.get("/", headers={"accept": "text/html"})
    assert (sent.status_code, sent.headers["location"]) == (303, "/enter")
    assert 'name="token"' in client.get("/enter").text
    assert client.post("/enter", data={"token": "wrong"}).status_code == 403
    entered = client.post("/enter", data={"token": TOKEN})
    assert (entered.status_code, entered.headers["location"]) == (303, "/")
    cookie = entered.headers["set-cookie"]
    assert "HttpOnly" in cookie and "SameSite=Strict" in cookie
    assert TOKEN not in cookie
    assert client.get("/api/jobs", headers={"cookie": cookie.partition(";")[0]}).status_code == 200
    assert client.get("/api/jobs", headers={"cookie": f"{COOKIE}=0"}).status_code == 401
    client.cookies.clear()


def test_a_browser_logs_out_on_the_page_of_the_token(locked):
    client, _ = locked
    entered = client.post("/enter", data={"token": TOKEN})
    inside = {"cookie": entered.headers["set-cookie"].partition(";")[0]}
    client.cookies.clear()
    assert "Log out" not in client.get("/enter").text
    assert 'href="/enter">Log out<' in client.get("/", headers=inside).text
    page = client.get("/enter", headers=inside).text
    assert 'name="leave"' in page and 'name="token"' not in page
    left = client.post("/enter", data={"leave": "yes"}, headers=inside)
    assert (left.status_code, left.headers["location"]) == (303, "/enter")
    cookie = left.headers["set-cookie"]
    assert cookie.startswith(f"{COOKIE}=;") and cookie.endswith("Max-Age=0") and "Path=/;" in cookie
    client.cookies.clear()
    wild = client.post("/enter", content="&".join(f"field{n}=x" for n in range(9)),
                       headers={"content-type": "application/x-www-form-urlencoded"})  # fmt: skip
    assert wild.status_code == 403


def test_where_no_token_is_needed_nobody_can_log_out(port):
    with httpx.Client(base_url=f"http://127.0.0.1:{port}", trust_env=False) as client:
        assert "Log out" not in client.get("/").text
        assert client.get("/enter").status_code == 404


@pytest.mark.deep
@pytest.mark.parametrize(
    ("proxies", "headers", "secure"),
    [
        ((), {"x-forwarded-proto": "https"}, False),
        (("127.0.0.1",), {"x-forwarded-proto": "http"}, False),
        (("127.0.0.1",), {"x-forwarded-proto": "https"}, True),
        (("10.0.0.0/8",), {"x-forwarded-proto": "https"}, False),
        (("127.0.0.1",), {}, False),
        (("10.0.0.2", "127.0.0.0/8"), {"x-forwarded-proto": "https"}, True),
        (("127.0.0.1",), {"x-forwarded-proto": "gopher"}, False),
        (("127.0.0.1",), {"forwarded": "proto=https"}, False),
    ],
)
def test_a_cookie_that_came_by_tls_goes_by_tls_alone(tmp_path, proxies, headers, secure):
    """Only what a trusted proxy says of how a request came counts."""
    with (
        in_thread(tmp_path / "data", token=TOKEN, proxies=trusted(proxies)) as (port, _),
        httpx.Client(base_url=f"http://127.0.0.1:{port}", trust_env=False) as client,
    ):
        for fields in ({"token": TOKEN}, {"leave": "yes"}):
            answer = client.post("/enter", data=fields, headers=headers)
            assert answer.status_code == 303
            assert ("; Secure" in answer.headers["set-cookie"]) is secure


def test_of_whom_a_trusted_proxy_speaks_stands_in_the_log(tmp_path):
    told = {"x-forwarded-for": "1.1.1.1, 203.0.113.9, 127.0.0.1"}
    for proxies, client in ((("127.0.0.1",), "203.0.113.9"), ((), "127.0.0.1")):
        log: list[str] = []
        with in_thread(tmp_path / client, log=log, proxies=trusted(proxies)) as (port, _):
            assert httpx.get(f"http://127.0.0.1:{port}/api/health", headers=told, trust_env=False).status_code == 200
        assert log[0].startswith(f"{client} GET /api/health 200 ")


def test_trusted_proxies_are_addresses_or_networks():
    assert trusted(("10.0.0.2", "fd00::/8")) == ("10.0.0.2/32", "::ffff:10.0.0.2/128", "fd00::/8")
    for wrong in ("proxy.example", "10.0.0.5/8", "", "*"):
        with pytest.raises(ServiceError, match=f"--proxy {re.escape(wrong)}: must be an address or a network"):
            trusted((wrong,))


def test_the_token_does_not_open_for_pages_elsewhere(locked):
    client, _ = locked
    right = {"authorization": f"Bearer {TOKEN}"}
    assert client.get("/api/jobs", headers={**right, "origin": "http://evil.example"}).status_code == 403
    assert client.get("/api/jobs", headers={**right, "host": "evil.example"}).status_code == 421


def test_few_wrong_tokens_are_tried_at_a_time(tmp_path, monkeypatch):
    from solver.service.http import guard

    monkeypatch.setattr(guard, "WRONG_AT_A_TIME", 0)
    with in_thread(tmp_path / "data", token=TOKEN) as (port, _), httpx.Client(trust_env=False) as client:
        url = f"http://127.0.0.1:{port}/api/jobs"
        assert client.get(url, headers={"authorization": "Bearer wrong"}).status_code == 429
        assert client.get(url, headers={"authorization": f"Bearer {TOKEN}"}).status_code == 200


def test_a_wrong_token_costs_time(locked):
    client, _ = locked
    began = time.monotonic()
    client.get("/api/jobs", headers={"authorization": "Bearer wrong"})
    assert time.monotonic() - began >= 0.5


def test_the_log_has_no_secrets(locked):
    client, log = locked
    client.get(f"/api/jobs?token={TOKEN}&offset=3", headers={"authorization": f"Bearer {TOKEN}"})
    client.post("/enter", data={"token": TOKEN})
    client.get("/api/a%0Ab%1b%5b31m", headers={"authorization": f"Bearer {TOKEN}"})
    told = "\n".join(log)
    assert "GET /api/jobs 422" in told and "POST /enter 303" in told
    assert TOKEN not in told and "offset" not in told
    assert all(line.isprintable() for line in log)


def test_a_token_is_never_shown():
    token = Token(TOKEN, "here")
    assert TOKEN not in f"{token!r} {token}" and TOKEN not in token.cookie
    for weak in ("", "short", "with spaces in it, and long", "with\nlines-and-more-of-it", "é" * 20):
        with pytest.raises(ServiceError, match="here: a token has at least 16") as fault:
            Token(weak, "here")
        assert not weak or weak not in str(fault.value)


# -- beginning ---------------------------------------------------------------------------------------------------------


@pytest.mark.deep
def test_another_address_needs_a_token(tmp_path):
    code, said = refused("--host", "0.0.0.0", "--port", "0", "--data", str(tmp_path / "data"), cwd=tmp_path)
    assert code == 2
    assert said == "--host 0.0.0.0: others can reach this address, so a token is needed; give --token-file FILE\n"
    assert not (tmp_path / "data").exists()


@pytest.mark.deep
def test_another_address_with_a_token(tmp_path):
    secret = tmp_path / "token"
    secret.write_text(TOKEN + "\n")
    with running(tmp_path / "data", "--host", "0.0.0.0", "--token-file", str(secret)) as serving:
        url = f"http://127.0.0.1:{serving.port}"
        with httpx.Client(base_url=url, trust_env=False) as client:
            assert client.get("/api/jobs").status_code == 401
            assert client.get("/api/jobs", headers={"authorization": f"Bearer {TOKEN}"}).status_code == 200
            told = serving.address.removeprefix("http://").rstrip("/")  # the machine's name, at which it says it is
            assert client.get("/api/jobs", headers={"host": told}).status_code == 401
    assert not any(TOKEN in line for line in serving.said)


@pytest.mark.parametrize("name", ["http://hall.example", "hall example", "", "hall.example:port", "[::1", "*", "a/b"])
def test_a_name_that_no_browser_sends_is_refused(name, tmp_path):
    with pytest.raises(ServiceError) as fault:
        serve(Setup("127.0.0.1", 0, tmp_path / "data", (name,)), pytest.fail)
    assert str(fault.value) == f"--name {name}: must be the name of a host, like orrery.museum.example"


@pytest.mark.deep
def test_a_token_from_the_environment_is_not_handed_on(tmp_path):
    with running(tmp_path / "data", RINGWRIGHT_TOKEN=TOKEN) as serving, serving.client() as client:
        right = {"authorization": f"Bearer {TOKEN}"}
        assert client.get("/api/jobs").status_code == 401
        bad = client.post("/api/validate", content="", headers={**TOML, **right})
        assert bad.status_code == 422  # and so a process that checks has begun
        children = [pid for pid in marked(serving.mark) if pid != serving.process.pid]
        assert children
        for pid in children:
            assert TOKEN.encode() not in Path(f"/proc/{pid}/environ").read_bytes()


@pytest.mark.deep
def test_a_weak_token_is_refused_unseen(tmp_path):
    (tmp_path / "token").write_text("tiny-token")
    code, said = refused("--token-file", "token", "--port", "0", cwd=tmp_path)
    assert (code, said.count("\n")) == (2, 1)
    assert said.startswith("--token-file token: a token has at least 16 characters") and "tiny-token" not in said


@pytest.mark.deep
def test_a_token_file_without_end_is_refused(tmp_path):
    code, said = refused("--token-file", "/dev/zero", "--port", "0", cwd=tmp_path)
    assert (code, said) == (2, "--token-file /dev/zero: longer than 4096 bytes\n")


@pytest.mark.deep
def test_what_keeps_it_from_beginning_is_one_line_each(tmp_path):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        code, said = refused("--port", str(port), "--data", "data", cwd=tmp_path)
    assert (code, said) == (2, f"--host 127.0.0.1 --port {port}: Address already in use; choose another\n")
    (tmp_path / "file").write_text("")
    code, said = refused("--port", "0", "--data", "file/data", cwd=tmp_path)
    assert (code, said) == (2, "--data file/data: file is no folder\n")
    code, said = refused("--port", "0", "--host", "no.such.host.invalid", cwd=tmp_path)
    assert (code, said) == (2, "--host no.such.host.invalid: no such host\n")
    code, said = refused("--port", "0", "--token-file", "missing", cwd=tmp_path)
    assert (code, said) == (2, "--token-file missing: No such file or directory\n")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_that_cannot_be_written_is_one_line(tmp_path):
    (tmp_path / "closed").mkdir(mode=0o500)
    code, said = refused("--port", "0", "--data", "closed/data", cwd=tmp_path)
    assert (code, said) == (2, "closed/data: Permission denied\n")


@pytest.mark.deep
def test_one_service_for_one_folder(tmp_path):
    with running(tmp_path / "data") as serving:
        code, said = refused("--port", "0", "--data", "data", cwd=tmp_path)
        assert code == 75
        assert said.startswith(f"data: held by process {serving.process.pid} on ") and said.count("\n") == 1


def test_without_the_extra_it_says_what_to_install(tmp_path):
    blocked = """import sys
import importlib.util as util

real = util.find_spec
util.find_spec = lambda name, *more: None if name == "fastapi" else real(name, *more)
sys.modules["fastapi"] = None
sys.argv = ["ringwright", "serve"]
"""
    done = subprocess.run(
        [sys.executable, "-c", blocked + "from solver.__main__ import main; main()"],
        cwd=tmp_path, env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert done.returncode == 2
    assert done.stderr == "fastapi is not installed; the service needs it: pip install 'ringwright[service]'\n"
