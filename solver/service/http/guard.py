"""What stands before the application: who may ask, how much, how long; and what every answer says to a browser.

Pure ASGI. A request is refused where it comes from a page elsewhere (Origin, Sec-Fetch-Site), was sent to a name that
is not ours (DNS rebinding), lacks the token, or has a body that is too large or too slow.
"""

from __future__ import annotations

import asyncio
import ipaddress
import re
import sys
import time
import traceback
from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import parse_qs

from solver.service.http.problems import MEDIA, Problem
from solver.service.http.token import COOKIE, Token
from solver.service.limits import ServiceLimits

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

LOOPBACK = ("localhost", "127.0.0.1", "::1")
# RFC 3986, 3.2.2, of it what a browser sends: a name or an IPv4 address, or an IPv6 address in brackets; and a port.
_HOST = re.compile(r"(?:([a-z0-9._-]+)|\[([0-9a-f:.]+)\])(?::([0-9]{1,5}))?")
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
)
HEADERS = (
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"same-origin"),  # with no-referrer, forms of our own would be sent with "Origin: null"
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"x-frame-options", b"DENY"),
)
ENTER = "/enter"
OPEN_PATHS = ("/static/",)  # nothing in there is anybody's
HEALTH = "/api/health"  # says no more than that it answers
HEAD_BYTES = 1 << 16  # of the address and all headers
WRONG_S = 0.5  # how long a wrong token waits for its answer [s]
WRONG_AT_A_TIME = 8
COOKIE_S = 2_592_000  # how long a browser keeps the cookie [s]: 30 days


class Guard:
    """app: what it stands before; names: further names of this service, beside loopback and its own address; token:
    None where none is needed; enter_page: makes the page that asks for it, with what was wrong before, and whether who
    asks is let in already; log: an access log, one line for each request with neither query nor headers; None for
    none."""

    def __init__(
        self,
        app: App,
        limits: ServiceLimits,
        names: Iterable[str],
        token: Token | None,
        enter_page: Callable[[str, bool], bytes],
        log: Callable[[str], None] | None,
    ) -> None:
        self._app, self._limits, self._token, self._log = app, limits, token, log
        self._enter_page = enter_page
        self._names = frozenset(name.lower() for name in names)
        self._at_work = 0
        self._bodies = 0
        self._wrong = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
        elif scope["type"] == "http":
            await self._guarded(scope, receive, send)

    async def _guarded(self, scope: Scope, receive: Receive, send: Send) -> None:
        answer = _Answer(send, scope["path"])
        began = time.monotonic()
        self._at_work += 1
        try:
            await self._asked(scope, receive, answer)
        except Problem as problem:
            await answer.problem(problem)
        except Exception:  # the one place where a fault inside becomes an answer
            traceback.print_exc(file=sys.stderr)
            if answer.status is not None:
                raise
            await answer.problem(Problem(500, "failure inside the service; its log says more"))
        finally:
            self._at_work -= 1
            if self._log is not None:
                path = scope["path"].encode("unicode_escape").decode()
                client = (scope.get("client") or ("?",))[0].encode("unicode_escape").decode()[:60]
                ms = (time.monotonic() - began) * 1000
                self._log(f"{client} {scope['method']} {path[:200]} {answer.status} {ms:.0f} ms")

    async def _asked(self, scope: Scope, receive: Receive, answer: _Answer) -> None:
        if self._at_work > self._limits.requests:
            raise Problem(503, f"{self._limits.requests} requests are being answered; try again soon",
                          {"retry-after": "2"}, limit=self._limits.requests)  # fmt: skip
        if _head_bytes(scope) > HEAD_BYTES:
            raise too_large()
        headers = _Headers(scope["headers"])
        self._refuse_elsewhere(scope, headers)
        if self._token is not None and not _is_open(scope):
            await self._refuse_strangers(scope, headers, self._token)
        if headers.one(b"content-length").strip() in ("", "0") and not headers.one(b"transfer-encoding"):
            await self._answered(scope, b"", receive, answer)
            return
        if self._bodies >= self._limits.bodies:
            raise Problem(429, f"{self._limits.bodies} requests with a body are being answered; try again soon",
                          {"retry-after": "2", "connection": "close"}, limit=self._limits.bodies)  # fmt: skip
        self._bodies += 1
        try:
            await self._answered(scope, await self._body(headers, receive), receive, answer)
        finally:
            self._bodies -= 1

    async def _answered(self, scope: Scope, body: bytes, receive: Receive, answer: _Answer) -> None:
        if scope["path"] == ENTER:
            if self._token is None:
                raise Problem(404, "no token is needed here")
            await self._enter(scope, body, answer, self._token)
        elif scope["method"] == "HEAD":
            await self._head(scope, _after(body, receive), answer)
        else:
            await self._app(scope, _after(body, receive), answer)

    async def _head(self, scope: Scope, receive: Receive, answer: _Answer) -> None:
        """What GET would answer; the protocol leaves out its body, and a stream is not waited for."""
        work = asyncio.ensure_future(self._app({**scope, "method": "GET"}, receive, answer))
        streams = asyncio.ensure_future(answer.streams.wait())
        try:
            await asyncio.wait({work, streams}, return_when=asyncio.FIRST_COMPLETED)
            if work.done():
                work.result()
                return
            work.cancel()
            await asyncio.wait({work})
            if not answer.complete:
                await answer({"type": "http.response.body", "body": b""})
        finally:
            streams.cancel()

    # -- from where --------------------------------------------------------------------------------------------------

    def _refuse_elsewhere(self, scope: Scope, headers: _Headers) -> None:
        host = headers.one(b"host").lower()
        if not self._is_ours(host, scope):
            raise Problem(421, f"this service does not answer for the host {host[:100]!r}; --name adds a name")
        if headers.has(b"origin") and headers.one(b"origin").lower() not in (f"http://{host}", f"https://{host}"):
            raise Problem(403, "a page elsewhere (Origin) may not ask this service")
        if headers.has(b"sec-fetch-site") and headers.one(b"sec-fetch-site") not in ("same-origin", "none"):
            raise Problem(403, "a page elsewhere (Sec-Fetch-Site) may not ask this service")

    def _is_ours(self, host: str, scope: Scope) -> bool:
        """Loopback names, names that were given, and the address at which this connection came in: none of them can be
        made to mean this service by a foreign name server."""
        name = host_name(host)
        if name is None:
            return False
        if name in LOOPBACK or name in self._names or host in self._names:
            return True
        own = _address((scope.get("server") or ("",))[0])
        return own is not None and _address(name) == own

    # -- the body ----------------------------------------------------------------------------------------------------

    async def _body(self, headers: _Headers, receive: Receive) -> bytes:
        """The whole body, within its limits. An answer that refuses it closes the connection."""
        most, seconds = self._limits.body_bytes, self._limits.body_seconds
        shut = {"connection": "close"}
        large = Problem(413, f"the body has more than {most} bytes", shut, limit=most)
        length = headers.one(b"content-length").strip()
        if length and (not length.isdecimal() or len(length) > 18 or int(length) > most):
            raise large
        body = bytearray()
        try:
            async with asyncio.timeout(seconds):
                while True:
                    message = await receive()
                    if message["type"] == "http.disconnect":
                        raise Problem(400, "the connection was closed before the body was there", shut)
                    body += message.get("body", b"")
                    if len(body) > most:
                        raise large
                    if not message.get("more_body", False):
                        return bytes(body)
        except TimeoutError:
            raise Problem(408, f"the body was not there after {seconds:g} s", shut, limit=seconds) from None

    # -- who ---------------------------------------------------------------------------------------------------------

    async def _refuse_strangers(self, scope: Scope, headers: _Headers, token: Token) -> None:
        scheme, _, told = headers.one(b"authorization").partition(" ")
        if scheme.lower() == "bearer":
            if token.is_right(told.strip()):
                return
            await self._wait_after_wrong()
        elif token.is_right_cookie(_cookie(headers.one(b"cookie"))):
            return
        elif scope["method"] in ("GET", "HEAD") and "text/html" in headers.one(b"accept"):
            raise Problem(303, "the token is asked for first", {"location": ENTER})
        raise Problem(401, "this service needs its token: Authorization: Bearer TOKEN", {"www-authenticate": "Bearer"})

    async def _wait_after_wrong(self) -> None:
        """Whoever tries tokens waits, and few at a time can."""
        if self._wrong >= WRONG_AT_A_TIME:
            raise Problem(429, "too many wrong tokens at a time; wait a little", {"retry-after": "2"},
                          limit=WRONG_AT_A_TIME)  # fmt: skip
        self._wrong += 1
        try:
            await asyncio.sleep(WRONG_S)
        finally:
            self._wrong -= 1

    async def _enter(self, scope: Scope, body: bytes, answer: _Answer, token: Token) -> None:
        """The page that takes the token and gives a cookie for it, or takes the cookie back."""
        if scope["method"] in ("GET", "HEAD"):
            inside = token.is_right_cookie(_cookie(_Headers(scope["headers"]).one(b"cookie")))
            await answer.page(200, self._enter_page("", inside))
        elif scope["method"] == "POST":
            told = _fields(body)
            if "leave" in told:
                await answer.page(303, b"", (b"location", ENTER.encode()), _set_cookie(scope, "", 0))
            elif token.is_right(told.get("token", "").strip()):
                await answer.page(303, b"", (b"location", b"/"), _set_cookie(scope, token.cookie, COOKIE_S))
            else:
                await self._wait_after_wrong()
                await answer.page(403, self._enter_page("That is not the token.", False))
        else:
            raise Problem(405, "GET or POST", {"allow": "GET, HEAD, POST"})


def host_name(host: str) -> str | None:
    """The name or address in a host and port of lower-case letters, an IPv6 address as it is written shortest and
    without its brackets; None where anything else stands there too."""
    found = _HOST.fullmatch(host)
    if found is None or int(found[3] or 1) not in range(1, 1 << 16):
        return None
    if found[1] is not None:
        return str(found[1])
    try:
        return str(ipaddress.IPv6Address(found[2]))
    except ValueError:
        return None


def _address(name: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    """The address that a name is, None where it is none. One of IPv4 is told as of IPv6 where both are listened to."""
    try:
        found = ipaddress.ip_address(name)
    except ValueError:
        return None
    return (isinstance(found, ipaddress.IPv6Address) and found.ipv4_mapped) or found


def too_large() -> Problem:
    """What is told of a request's head that is too large."""
    return Problem(431, f"the address and the headers have more than {HEAD_BYTES} bytes", {"connection": "close"},
                   limit=HEAD_BYTES)  # fmt: skip


def _fields(body: bytes) -> dict[str, str]:
    """The fields of the token page's form; none where there are more than it has."""
    try:
        found = parse_qs(body.decode("utf-8", "replace"), keep_blank_values=True, max_num_fields=4)
    except ValueError:
        return {}
    return {name: values[0] for name, values in found.items()}


def _is_open(scope: Scope) -> bool:
    """Whether the path is for everybody, whatever they know."""
    return scope["path"] in (ENTER, HEALTH) or scope["path"].startswith(OPEN_PATHS)


def _set_cookie(scope: Scope, value: str, seconds: int) -> tuple[bytes, bytes]:
    """The header that has a browser keep the cookie for so long [s]; where it came by TLS, for TLS alone."""
    secure = "; Secure" if scope.get("scheme") == "https" else ""
    told = f"{COOKIE}={value}; Path=/; HttpOnly; SameSite=Strict; Max-Age={seconds}{secure}"
    return b"set-cookie", told.encode()


def _head_bytes(scope: Scope) -> int:
    """The size of a request's head. The protocol below counts only what it could not read at once."""
    address = len(scope["raw_path"]) + len(scope["query_string"])
    return address + sum(len(key) + len(value) + 4 for key, value in scope["headers"])


class _Headers:
    def __init__(self, raw: Iterable[tuple[bytes, bytes]]) -> None:
        self._raw = list(raw)

    def has(self, name: bytes) -> bool:
        return any(key.lower() == name for key, _ in self._raw)

    def one(self, name: bytes) -> str:
        """The header's value, "" where it is missing. Raises Problem where it stands more than once."""
        values = [value for key, value in self._raw if key.lower() == name]
        if len(values) > 1 and name in (b"host", b"origin", b"authorization", b"content-length", b"sec-fetch-site"):
            raise Problem(400, f"the header {name.decode()} stands more than once")
        return values[0].decode("latin-1") if values else ""


class _Answer:
    """Sends an answer with the headers that every answer has."""

    def __init__(self, send: Send, path: str) -> None:
        self._send, self._path = send, path
        self.status: int | None = None
        self.streams = asyncio.Event()  # its head is sent, and does not say how long its body will be
        self.complete = False

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.body":
            self.complete = not message.get("more_body", False)
        if message["type"] == "http.response.start":
            self.status = message["status"]
            headers = list(message.get("headers", []))
            there = {key.lower() for key, _ in headers}
            if b"content-length" not in there:
                self.streams.set()
            headers += [(key, value) for key, value in HEADERS if key not in there]
            if b"cache-control" not in there:
                headers.append((b"cache-control", b"no-store"))
            message = {**message, "headers": headers}
        await self._send(message)

    async def problem(self, problem: Problem) -> None:
        more = [(key.encode(), value.encode()) for key, value in problem.headers.items()]
        await self._whole(problem.status, MEDIA, problem.body(self._path), *more)

    async def page(self, status: int, body: bytes, *headers: tuple[bytes, bytes]) -> None:
        await self._whole(status, "text/html; charset=utf-8", body, *headers)

    async def _whole(self, status: int, media: str, body: bytes, *headers: tuple[bytes, bytes]) -> None:
        told = [(b"content-type", media.encode()), (b"content-length", str(len(body)).encode()), *headers]
        await self({"type": "http.response.start", "status": status, "headers": told})
        await self({"type": "http.response.body", "body": body})


def _after(body: bytes, receive: Receive) -> Receive:
    """What an application receives whose body has been read: that body, then whatever comes."""
    left: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]

    async def next_message() -> Message:
        return left.pop() if left else await receive()

    return next_message


def _cookie(header: str) -> str:
    try:
        found = SimpleCookie(header).get(COOKIE)
    except CookieError:
        return ""
    return "" if found is None else found.value
