"""Requests that mean no good, as bytes: what is no HTTP, sizes that lie, paths that climb, designs without measure."""

# ruff: noqa: E501 - requests stand as they are sent
from __future__ import annotations

import json
from collections.abc import Iterator

from solver.service.http.openapi import DESIGN_JSON


def request(method: bytes, path: bytes, *lines: bytes, body: bytes | None = None, host: bytes = b"localhost") -> bytes:
    length = [] if body is None else [b"Content-Length: %d" % len(body)]
    head = [method + b" " + path + b" HTTP/1.1", b"Host: " + host, *length, *lines, b"", body or b""]
    return b"\r\n".join(head)


def posted(path: bytes, media: bytes, body: bytes) -> bytes:
    return request(b"POST", path, b"Content-Type: " + media, body=body)


GET = b"GET /api/health HTTP/1.1\r\n"
HOST = b"Host: localhost\r\n"
POST = b"POST /api/validate HTTP/1.1\r\n" + HOST + b"Content-Type: application/toml\r\n"
CHUNKED = POST + b"Transfer-Encoding: chunked\r\n\r\n"
NOBODY = b"/api/jobs/" + b"0" * 16
ONE = NOBODY + b"/solutions/" + b"0" * 12

HEADS: dict[str, bytes] = {
    "no Host": GET + b"\r\n",
    "two Hosts": GET + HOST + HOST + b"\r\n",
    "two Hosts, one of them ours": GET + HOST + b"Host: evil.example\r\n\r\n",
    "an empty Host": GET + b"Host:\r\n\r\n",
    "a header of 100 kB": GET + HOST + b"X-Long: " + b"a" * 100_000 + b"\r\n\r\n",
    "20,000 headers": GET + HOST + b"X: y\r\n" * 20_000 + b"\r\n",
    "a path of 100 kB": request(b"GET", b"/" + b"a" * 100_000),
    "a method of 100 kB": request(b"G" * 100_000, b"/"),
    "a header's name with a space": GET + HOST + b"X Y: z\r\n\r\n",
    "a space before the colon": GET + b"Host : localhost\r\n\r\n",
    "a header without a colon": GET + HOST + b"nonsense\r\n\r\n",
    "a header without a name": GET + HOST + b": value\r\n\r\n",
    "a continued line first": GET + b" Host: localhost\r\n\r\n",
    "a continued Host": GET + b"Host: local\r\n host\r\n\r\n",
    "a lone CR": GET + HOST + b"X: a\rb\r\n\r\n",
    "HTTP/0.9": b"GET /\r\n\r\n",
    "HTTP/2's first words": b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
    "HTTP/1.10": b"GET / HTTP/1.10\r\n" + HOST + b"\r\n",
    "http in small letters": b"GET / http/1.1\r\n" + HOST + b"\r\n",
    "no blank between": b"GET/HTTP/1.1\r\n" + HOST + b"\r\n",
    "blanks before": b"   GET / HTTP/1.1\r\n" + HOST + b"\r\n",
    "a blank in the path": b"GET /a b HTTP/1.1\r\n" + HOST + b"\r\n",
    "TLS": bytes.fromhex("16030100a5010000a10303") + bytes(range(150)) + b"\r\n\r\n",
    "SSH": b"SSH-2.0-OpenSSH_9.6\r\n\r\n",
    "SMTP": b"EHLO localhost\r\nMAIL FROM:<a@b>\r\n\r\n",
    "nothing but zeros": bytes(5_000),
    "nothing but 0xff": b"\xff" * 5_000 + b"\r\n\r\n",
    "an upgrade to a web socket nowhere": request(
        b"GET", b"/ws", b"Upgrade: websocket", b"Connection: Upgrade", b"Sec-WebSocket-Version: 13",
        b"Sec-WebSocket-Key: AAAAAAAAAAAAAAAAAAAAAA=="),
    "an absolute address elsewhere": request(b"GET", b"http://evil.example/", host=b"evil.example"),
    "an absolute address of ours": request(b"GET", b"http://localhost/api/health"),
    "a file's address": request(b"GET", b"file:///etc/passwd"),
    "CONNECT": b"CONNECT evil.example:443 HTTP/1.1\r\n" + HOST + b"\r\n",
    "TRACE": request(b"TRACE", b"/api/health"),
    "OPTIONS *": request(b"OPTIONS", b"*"),
    "a method nobody has": request(b"FROBNICATE", b"/api/jobs"),
    "a method that is no word": request(b"G(E)T", b"/api/jobs"),
    "a get in small letters": request(b"get", b"/api/health"),
    "a version and no more": request(b"PROPFIND", b"/", b"Depth: infinity"),
}  # fmt: skip
HEADS |= {f"the byte {byte!r} in {where}": data for byte in (b"\x00", b"\x01", b"\x7f", b"\x0b") for where, data in {
    "a value": GET + HOST + b"X: a" + byte + b"b\r\n\r\n",
    "a name": GET + HOST + b"X" + byte + b": b\r\n\r\n",
    "the path": request(b"GET", b"/a" + byte + b"b"),
    "the method": request(b"G" + byte + b"T", b"/"),
    "the Host": request(b"GET", b"/api/health", host=b"local" + byte + b"host"),
}.items() if where != "a value" or byte in (b"\x00", b"\x0b")}  # fmt: skip
HEADS |= {f"the Host {host!r}": request(b"GET", b"/api/jobs", host=host) for host in (
    b"localhost:99999", b"localhost:-1", b"localhost:80:80", b"[::1", b"::1", b"[::ffff:127.0.0.1%eth0]", b"localhost.",
    b"127.1", b"0x7f.1", b"2130706433", b"localhost\\@evil.example", b"\xe2\x93\x9bocalhost", b"a" * 10_000, b"*",
    b"..",
)}  # fmt: skip

LENGTHS = {f"Content-Length: {length[:20]!r}": POST + b"Content-Length: " + length + b"\r\n\r\nx = 1" for length in (
    b"-1", b"+5", b"5,5,6", b"0x5", b"5.0", b"1e3", b"five", b"", b"5 5", b"9" * 18, b"9" * 400, b"1000001",
    b"\xd9\xa5", b"4294967296", b"18446744073709551616", b"9223372036854775807",
)}  # fmt: skip
LENGTHS |= {f"chunks: {name}": CHUNKED + chunks for name, chunks in {
    "no size": b"\r\nx\r\n0\r\n\r\n", "no number": b"zz\r\nx\r\n0\r\n\r\n", "negative": b"-1\r\nx\r\n0\r\n\r\n",
    "0x": b"0x1\r\nx\r\n0\r\n\r\n", "huge": b"f" * 30 + b"\r\nx", "beyond the limit": b"ffffff\r\n" + b"#" * 1_100_000,
    "too long for its size": b"1\r\nxxxxxxxxxx\r\n0\r\n\r\n", "a blank before": b" 1\r\nx\r\n0\r\n\r\n",
    "an endless extension": b"1;" + b"a" * 100_000 + b"\r\nx\r\n0\r\n\r\n",
    "a bad trailer": b"1\r\n#\r\n0\r\nno trailer\r\n\r\n", "of one byte each": b"1\r\n=\r\n" * 20_000 + b"0\r\n\r\n",
}.items()}  # fmt: skip
LENGTHS |= {
    "both lengths": POST + b"Content-Length: 5\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\nGET / HTTP/1.1\r\n\r\n",
    "two lengths": POST + b"Content-Length: 5\r\nContent-Length: 6\r\n\r\nx = 1",
    "an unknown coding": POST + b"Transfer-Encoding: gzip, chunked\r\n\r\n0\r\n\r\n",
    "chunked twice": POST + b"Transfer-Encoding: chunked\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
    "chunked, misspelt": POST + b"Transfer-Encoding: xchunked\r\n\r\n0\r\n\r\n",
    "chunked in HTTP/1.0": CHUNKED.replace(b"HTTP/1.1", b"HTTP/1.0") + b"0\r\n\r\n",
    "a body that is packed": posted(b"/api/validate", b"application/json\r\nContent-Encoding: gzip", b"\x1f\x8b" * 50),
    "expects what is too large": POST + b"Content-Length: 2000000\r\nExpect: 100-continue\r\n\r\n",
}  # fmt: skip

PATHS = {f"the path {path[:40]!r}": request(b"GET", path) for path in (
    b"/%2e%2e/%2e%2e/etc/passwd", b"/../../etc/passwd", b"/static/../../../etc/passwd", b"/static/..%2f..%2fapp.py",
    b"/static/%2e%2e/app.py", b"/static/%252e%252e%252fapp.py", b"/static/..%5c..%5capp.py", b"/static/", b"/static//x",
    b"/static/%00", b"/%00", b"/api/jobs/%00", b"/%c0%ae%c0%ae/", b"/static/%c0%af", b"/api/jobs/%ed%a0%80", b"/%ff%fe",
    b"/api/jobs/%e2%80%ae", b"/%", b"/%zz", b"/api//jobs/", b"//evil.example/%2f..", b"/;/api/jobs", b"/api/jobs;x=1",
    b"/.git/config", b"/admin", b"/cgi-bin/sh", b"/jobs/../api", b"/jobs/%0d%0aSet-Cookie:%20a=b",
    b"/jobs/" + b"0" * 16, NOBODY.upper(), b"/api/jobs/0", b"/api/jobs/" + b"0" * 10_000, b"/api/jobs/-1",
    b"/api/jobs/0123456789abcdeg", b"/api/jobs/0123456789ABCDEF", b"/api/jobs/..%2f..%2f", b"/api/jobs/.",
    b"/api/jobs/*",
    b"/api/jobs/0123456789abcdef%0a", b"/api/jobs/%d9%a0" + b"0" * 15, b"/api/jobs/' OR 1=1--".replace(b" ", b"%20"),
    b"/api/jobs/{{7*7}}", b"/api/jobs/$%7bjndi:ldap:%2f%2fevil.example%7d", NOBODY + b"/file%00.toml", NOBODY + b"/no",
    *(ONE + b"/" + rank for rank in (b"0", b"-1", b"%2b1", b"1.0", b"1e3", b"18446744073709551616", b"9" * 5_000, b"x",
                                    b"%d9%a1", b"1_000", b"nan", b"null", b"1/picture/more", b"1/sheets?paper=a0",
                                    b"1/sheets?both_units=perhaps", b"1%00", b"0x1", b"", b"true")),
)}  # fmt: skip
QUERIES = {f"the query {query[:40]!r}": request(b"GET", NOBODY + b"/solutions?" + query) for query in (
    b"most=error=1&" * 1_000, b"where=bodies.set=saturn&" * 1_000, b"by=" + b"error," * 1_000, b"by=error&" * 1_000,
    b"front=" + b"a" * 5_000, b"by=__class__", b"most=error=nan", b"most=error=inf", b"most==",
    b"most=error=1e999999999",
    b"where==", b"where=" + b"a." * 2_000 + b"=1", b"where=bodies.set=%00", b"where=%ff=%fe",
    b"where=a=" + b"9" * 5_000,
    b"offset=-1", b"offset=1e9", b"offset=" + b"9" * 5_000, b"limit=0", b"limit=10001", b"limit=%d9%a1%d9%a2",
    b"limit=",
    b"form=../../x", b"form=json%00", b"form=json&form=exe", b"&" * 10_000, b"=" * 10_000, b"%", b"a[b][c]=1", b"[]",
    b"by=error%0d%0aX:%20y", b"by=%f0%9f%92%a3", b"x=" + b"%25" * 5_000,
)}  # fmt: skip
FIELDS = {f"{line[:50]!r} of no job": request(b"GET", NOBODY + path, line) for path, line in (
    *((b"/events", b"Last-Event-ID: " + seen) for seen in (
        b"-1", b"1e3", b"9" * 400, b"\xff", b"\xd9\xa1", b"0x1", b"1 2", b"nan", b"1,2", b"'", b"+1", b"1_0")),
    *((b"/file", b"Range: " + span) for span in (
        b"bytes=-1", b"bytes=5-1", b"bytes=" + b"0-1," * 5_000, b"bytes=" + b"9" * 400 + b"-", b"lines=1", b"=")),
    *((b"/solutions", b"Accept: " + kinds) for kinds in (
        b"*/*;q=9e999", b"/" * 10_000, b"text/html," * 5_000, b"\xff\xfe", b";q=", b"application/x-java-object")),
    *((b"", b"Cookie: " + cookie) for cookie in (b"a=b;" * 5_000, b"=", b"\xff=\xfe", b'a="\\', b"$Version=1")),
    *((b"", line) for line in (
        b"If-None-Match: " + b'"a",' * 5_000, b"If-Modified-Since: never", b"Authorization: Basic \xff",
        b"X-Forwarded-For: "
        b"::1", b"X-HTTP-Method-Override: DELETE", b"X-Original-URL: /admin", b"Forwarded: host=evil.example",
        b"Accept-Language: ../../etc", b"Connection: close, keep-alive, upgrade", b"TE: trailers, deflate;q=9",
        b"Max-Forwards: -1", b"Content-Type: application/json; charset=utf-7")),
)}  # fmt: skip
FIELDS |= {f"{line!r}": request(b"GET", b"/api/jobs", line) for line in (
    b"Origin: null", b"Origin: http://localhost.evil.example", b"Origin: \xff", b"Origin: http://[",
    b"Sec-Fetch-Site: x",
)}  # fmt: skip

DESIGN = b'[bodies]\nset = "saturn"\nonly = ["Mimas", "Tethys", "Titan"]\n'
JSONS: dict[str, bytes] = {
    "depth": b"[" * 400_000, "depth of objects": b'{"a":' * 150_000 + b"1" + b"}" * 150_000,
    "depth below a table": b'{"bodies":' + b"[" * 900 + b"]" * 900 + b"}",
    "NaN": b'{"drive":{"motor_rpm":NaN}}', "Infinity": b'{"drive":{"motor_rpm":-Infinity}}',
    "keys twice": b'{"title":"a","title":"b"}', "a huge int": b'{"rings":{"inner_teeth":' + b"9" * 5_000 + b"}}",
    "an int beyond TOML": b'{"rings":{"inner_teeth":' + b"9" * 30 + b"}}",
    "a huge exponent": b'{"search":{"max_error_pct":1e999999999}}',
    "a tiny exponent": b'{"search":{"max_error_pct":1e-999999999}}',
    "a long number": b'{"search":{"max_error_pct":0.' + b"3" * 100_000 + b"}}",
    "a lone surrogate": b'{"title":"\\ud800"}', "surrogates the wrong way": b'{"title":"\\udc00\\ud800"}',
    "a surrogate as key": b'{"\\udfff":1}', "NUL": b'{"title":"\\u0000"}', "a raw NUL": b'{"title":"\x00"}',
    "BOM alone": b"\xef\xbb\xbf", "two BOMs": b"\xef\xbb\xbf\xef\xbb\xbf{}", "UTF-16": '{"title":"x"}'.encode("utf-16"),
    "UTF-32": '{"title":"x"}'.encode("utf-32"), "overlong": b'{"title":"\xc0\xaf"}',
    "CESU": b'{"title":"\xed\xa0\x80"}',
    "nothing": b"", "null": b"null", "a list": b"[]", "a number": b"1", "two documents": b"{}{}", "an object": b"{}",
    "a comment": b"/* */{}", "a trailing comma": b'{"a":1,}', "single quotes": b"{'a':1}", "cut short": b'{"title":"',
    "a prototype": b'{"__proto__":{"set":"saturn"},"constructor":1}', "a long key": b'{"' + b"k" * 500_000 + b'":1}',
    "100,000 keys": b"{" + b",".join(b'"%d":1' % key for key in range(70_000)) + b"}",
    "many bodies": json.dumps({"bodies": {"set": "saturn", "only": ["Titan"] * 60_000}}).encode(),
    "a base": b'{"base":"/etc/passwd","vary":{"rings.blanks":[1]}}',
    "a span of 1e9": json.dumps({**DESIGN_JSON, "vary": {"rings.blanks": {"min": 0, "max": 10**9}}}).encode(),
    "a span of 1e9 fractions": json.dumps({**DESIGN_JSON, "vary": {"fit.clearance": {"min": 0, "max": 1,
    "step": 1e-9}}}).encode(),
}  # fmt: skip
TOMLS: dict[str, bytes] = {
    "depth": b"a = " + b"[" * 400_000, "depth of tables": b"a = " + b"{a = " * 100_000,
    "a long key": b"a." * 300_000 + b"a",
    "many tables": b"".join(b"[a%d]\n" % one for one in range(30_000)), "one table twice": b"[bodies]\n[bodies]\n",
    "deep tables": b"".join(b"[" + b"a." * 200 + b"b%d]\n" % one for one in range(1_500)),
    "a huge int": b"[rings]\ninner_teeth = " + b"9" * 5_000,
    "a huge exponent": b"[search]\nmax_error_pct = 1e999999999", "nan": b"[search]\nmax_error_pct = nan",
    "inf": b"[search]\nmax_error_pct = -inf", "a tiny exponent": b"[search]\nmax_error_pct = 1e-999999999",
    "a huge exponent as text": DESIGN + b'[[bodies.entry]]\nname = "A"\nperiod = "1e999999999"\n',
    "a date": b"title = 1979-05-27T07:32:00Z", "a time": b"[rings]\ninner_teeth = 07:32:00",
    "a date that is none": b"title = 2026-02-31", "NUL": b'title = "\x00"', "a surrogate": b'title = "\\ud800"',
    "UTF-16": 'title = "x"'.encode("utf-16"), "two BOMs": b"\xef\xbb\xbf\xef\xbb\xbf", "0xff": b"\xff", "nothing": b"",
    "an open text": b'title = """' + b"x" * 500_000, "CR alone": b"title = 'a'\rx = 1",
    "binary": bytes(range(256)) * 50,
    "10,000 points": DESIGN + b"[[point]]\nrings.blanks = 0\n" * 10_000,
    "a span of 1e9": DESIGN + b"[vary]\nrings.blanks = {min = 0, max = 1000000000}\n",
    "a span of 2**63": DESIGN + b"[vary]\nrings.blanks = {min = -9223372036854775808, max = 9223372036854775807}\n",
    "a span of 1e9 steps": DESIGN + b"[vary]\nfit.clearance = {min = 0, max = 1, step = 1e-9}\n",
    "a step of 0": DESIGN + b"[vary]\nrings.blanks = {min = 0, max = 9, step = 0}\n",
    "ten spans of 100": DESIGN + b"[vary]\n" + b"".join(
        b"%s = {min = 1, max = 100}\n" % field for field in (
            b"rings.blanks", b"rings.inner_teeth", b"rings.tooth_step", b"search.keep", b"search.max_error_pct",
            b"fit.clearance", b"arbors.third_gears", b"drive.motor_rpm", b"fit.frame.side", b"fit.frame.depth")),
    "a span of a text": DESIGN + b'[vary]\nrings.blanks = {min = "a", max = "b"}\n',
    "vary nothing": DESIGN + b"[vary]\n",
    "vary itself": DESIGN + b"[vary]\nvary.vary = [1, 2]\n", "a list of 60,000": DESIGN + b"[vary]\nrings.blanks = ["
    + b"1," * 60_000 + b"]\n", "a base": b'base = "../../etc/passwd"\n[vary]\nrings.blanks = [1]\n',
    "more time than there is": DESIGN + b"[search]\ntime_limit_s = 1e300\n", "less than no time": DESIGN
    + b"[search]\ntime_limit_s = -1\n", "keep 2**63": DESIGN + b"[search]\nkeep = 9223372036854775808\n",
    "hexadecimal without end": b"[rings]\ninner_teeth = 0x" + b"f" * 100_000,
    "a step of 1e-999999999": DESIGN + b"[vary]\nfit.clearance = {min = 0, max = 1, step = 1e-999999999}\n",
    "more teeth than atoms": DESIGN + b"[rings]\ninner_teeth = 9000000000000000000\n",
}  # fmt: skip
BODIES = {f"JSON to {path.decode()}: {name}": posted(path, b"application/json", body)
          for name, body in JSONS.items() for path in (b"/api/validate", b"/api/jobs")}  # fmt: skip
BODIES |= {f"TOML to {path.decode()}: {name}": posted(path, b"application/toml", body)
           for name, body in TOMLS.items() for path in (b"/api/validate", b"/api/jobs")}  # fmt: skip
BODIES |= {f"media type {media[:30]!r}": posted(b"/api/jobs", media, b"{}") for media in (
    b"", b"text/plain", b"application/json,application/toml", b"a" * 10_000, b"\xff",
    b"multipart/form-data; boundary=x",
    b"application/x-www-form-urlencoded", b"application/xml", b"application/jsonx", b"*/*", b"application/x-pickle",
)}  # fmt: skip

HOSTILE = {**HEADS, **LENGTHS, **PATHS, **QUERIES, **FIELDS, **BODIES}
# What a sender may well say and means no harm by; answered like any other, and after each of them the next.
ODDITIES = {
    "pipelined": request(b"GET", b"/api/health") * 50,
    "a bare LF": b"GET /api/health HTTP/1.1\nHost: localhost\n\n",
    "empty lines before": b"\r\n\r\n" + request(b"GET", b"/api/health"),
    "a version that is none": b"GET /api/health HTTP/9.9\r\n" + HOST + b"\r\n",
    "a slash more": request(b"GET", b"/api/openapi.json/"),
    "an odd value": request(b"GET", b"/api/health", b"X: a\x01b"),
    "a part of the sets": request(b"GET", b"/api/sets", b"Range: bytes=" + b"0-0," * 1_000),
    "nothing acceptable": request(b"GET", b"/api/sets", b"Accept: nonsense/*;q=-1"),
    "a query repeated": request(b"GET", b"/api/jobs?" + b"limit=1&" * 1_000),
    "a body to read with": request(b"GET", b"/api/jobs", body=b"{}"),
}


# -- with a job that is there, and more of all kinds -------------------------------------------------------------------


def lines(*words: bytes | str) -> bytes:
    return b"\r\n".join(word.encode("latin-1") if isinstance(word, str) else word for word in words) + b"\r\n\r\n"


def put(method: str, path: str, body: bytes = b"", media: str = "application/json", *more: str) -> bytes:
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
    for chunk in (b"-1\r\nx\r\n", b"zz\r\n", b"1" * 100 + b"\r\n", b"1;" + b"x" * 70_000,
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
        yield put("GET", f"/static/{turn * 8}etc/passwd")
        yield put("GET", f"/api/jobs/{turn * 8}etc/passwd")
        yield put("GET", f"/api/jobs/{job}/{turn}{job}/job.json")
        yield put("GET", f"/api/jobs/{job}/solutions/{turn}/1/picture")
        yield put("DELETE", f"/api/jobs/{turn}{job}")
    for name in ("%00", f"{job}%00", f"{job}%0a", "%ff%fe", "a" * 60_000, "A" * 16, "g" * 16, "0" * 15, "0" * 17, "%",
                 "%zz", "*", "[0-9]", "'", "%22%3e%3cscript%3e", "-1", "nul", "CON", "%e2%80%ae", "~", "{job}", "$HOME"):  # fmt: skip
        yield put("GET", f"/api/jobs/{name}")
        yield put("GET", f"/jobs/{name}")
        yield put("POST", f"/api/jobs/{name}/stop")
    for rank in ("0", "-1", "1e3", "9" * 400, "1.0", "%31%00", "nan", "one"):
        yield put("GET", f"/api/jobs/{job}/solutions/{'0' * 64}/{rank}/sheets")


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
        yield put("POST", "/api/validate", data)
        yield put("POST", "/api/jobs", data)
    tomls = ["a = " + "[" * deep, "[" + "a." * 20_000 + "a]", "a.b = 1\na = 2", "a = 1\na = 2", "x = 0x" + "f" * 90_000,
             "x = 1e999999999", "x = nan", "x = 1979-05-27T07:32:00Z", "[a]\n" * 1000, 'a = """' + "x" * 900_000,
             "a = " + '{b = ' * 5000, "\x00", "title = '\x1b[31m'", "base = '/etc/passwd'\n[vary]\nrings.blanks = [1]"]  # fmt: skip
    for text in tomls:
        yield put("POST", "/api/jobs", text.encode(), "application/toml")
    for media in ("", "text/html", "multipart/form-data", "application/json; charset=utf-16", "a" * 5000, "*/*"):
        yield put("POST", "/api/jobs", b"{}", media)
    yield put("POST", "/api/jobs", b"x" * 100, "application/json", "Content-Encoding: gzip")


def queries(job: str) -> Iterator[bytes]:
    """Filters, orders and headers beyond reason."""
    words = ("limit=-1", "limit=10001", f"offset={10**40}", "by=" + "error," * 20_000, "by=%00", "by=error;drop", "by=",
             "most=error=nan", "most=error=inf", "most=error=-1e999", "most==", "&".join(["most=error=1"] * 1000),
             "where=" + "a." * 10_000 + "=1", "where=__class__=x", "where=bodies.set=%ff", "where==", "front=error,error",
             "front=" + "parts," * 50 + "x", "form=../../x", "form=parquet%00", "%ff=%ff", "&" * 10_000, "a" * 60_000,
             "limit=1&limit=2", "limit[]=1", "offset=0x10", "offset=1_000", "offset=%D9%A3", "limit=1e2")  # fmt: skip
    for word in words:
        yield put("GET", f"/api/jobs/{job}/solutions?{word}")
    for header in ("Last-Event-ID: -1", "Last-Event-ID: " + "9" * 4000, "Last-Event-ID: x", "Range: bytes=0-1",
                   "Range: bytes=" + "0-1," * 5000, "Cookie: " + "a=b; " * 5000, "Cookie: ringwright=\xff", "Cookie: =",
                   "Authorization: Bearer " + "x" * 50_000, "Accept: " + "*/*," * 10_000, "Origin: null",
                   "Origin: http://localhost.evil.example", "X-Forwarded-For: 127.0.0.1", "X-HTTP-Method-Override: PUT",
                   "If-None-Match: *", "Sec-Fetch-Site: cross-site", "Accept-Encoding: \xff", "TE: trailers"):  # fmt: skip
        yield put("GET", f"/api/jobs/{job}/events", b"", "", header)
    for paper in ("a5", "../a4", "", "%00"):
        yield put("GET", f"/api/jobs/{job}/solutions/{'0' * 64}/1/sheets?paper={paper}&both_units=perhaps")


def further(job: str) -> dict[str, bytes]:
    """More of them; some ask for what is there, or are odd and no more: those may be answered well."""
    kinds = {"no HTTP": no_http(), "paths": paths(job), "bodies": bodies(), "queries": queries(job)}
    return {f"{kind}, {number}": data for kind, all_of_it in kinds.items() for number, data in enumerate(all_of_it)}
