"""HTTP/1.1 over uvicorn, with what it leaves out: a limit to how long a request's head may take, one to how many
connections may be open, and problem documents for what is no HTTP at all."""

from __future__ import annotations

import asyncio
import socket
import sys
from typing import Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

from solver.service.http.guard import HEADERS, too_large
from solver.service.http.problems import MEDIA, Problem
from solver.service.limits import ServiceLimits


def protocol(limits: ServiceLimits) -> type[asyncio.Protocol]:
    """The protocol class with these limits."""

    class Limited(LimitedProtocol):
        pass

    Limited.limits = limits
    return Limited


class LimitedProtocol(H11Protocol):
    limits = ServiceLimits()
    _head: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        connection = transport.get_extra_info("socket")
        if connection.family in (socket.AF_INET, socket.AF_INET6):
            # Head and body are two writes: without this the second waits for the client's delayed acknowledgement.
            connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        if len(self.connections) > self.limits.connections:
            transport.abort()
            return
        self._await_head()

    def data_received(self, data: bytes) -> None:
        super().data_received(data)
        self._judge_head()

    def on_response_complete(self) -> None:
        super().on_response_complete()
        self._judge_head()

    def connection_lost(self, exc: Exception | None) -> None:
        self._head_is_there()
        super().connection_lost(exc)

    def _judge_head(self) -> None:
        """The clock runs while a head has begun and no request is being answered."""
        if self.cycle is not None and not self.cycle.response_complete:
            self._head_is_there()
        elif self._head is None and not self.transport.is_closing() and self.conn.trailing_data[0]:
            self._await_head()

    def _await_head(self) -> None:
        self._head = self.loop.call_later(self.limits.head_seconds, self._too_slow)

    def _head_is_there(self) -> None:
        if self._head is not None:
            self._head.cancel()
            self._head = None

    def _too_slow(self) -> None:
        self._head = None
        if self.transport.is_closing():
            return
        seconds = self.limits.head_seconds
        if self.conn.their_state is h11.IDLE and self.conn.our_state is h11.IDLE:
            self._refuse(Problem(408, f"no request was there after {seconds:g} s", limit=seconds))
        else:
            self.transport.abort()

    def send_400_response(self, msg: str) -> None:
        if self.conn.our_state in (h11.IDLE, h11.SEND_RESPONSE):
            # Called while h11's fault is handled; of a head the same is said as of one that was there at once.
            head = self.conn.our_state is h11.IDLE
            large = head and getattr(sys.exc_info()[1], "error_status_hint", 400) == 431
            self._refuse(too_large() if large else Problem(400, "this is not HTTP/1.1 as the service understands it"))
        else:
            self.transport.close()

    def _refuse(self, problem: Problem) -> None:
        body = problem.body("/")
        told: list[Any] = [
            (b"content-type", MEDIA.encode()), (b"content-length", str(len(body)).encode()), (b"connection", b"close"),
            *HEADERS,
        ]  # fmt: skip
        events = (h11.Response(status_code=problem.status, headers=told), h11.Data(data=body), h11.EndOfMessage())
        for event in events:
            self.transport.write(self.conn.send(event) or b"")
        self.transport.close()
