"""What the tests of the service share: a service in a process of its own, one in a thread, its events, raw requests."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import threading
import uuid
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx
from commands import ROOT

from solver.service.http.app import service
from solver.service.http.server import Server
from solver.service.http.token import Token
from solver.service.jobs.jobs import Jobs
from solver.service.limits import ServiceLimits

TOML = {"content-type": "application/toml"}
JSON = {"content-type": "application/json"}


@dataclass
class Running:
    """A service in a process of its own. mark: borne by it and all its children (see `sweeping.marked`)."""

    process: subprocess.Popen[str]
    mark: str
    address: str
    said: list[str]

    def client(self, **more: Any) -> httpx.Client:
        return httpx.Client(base_url=self.address, timeout=60, trust_env=False, **more)

    @property
    def port(self) -> int:
        return int(self.address.rstrip("/").rsplit(":", 1)[1])

    def end(self, signum: int = signal.SIGTERM, seconds: float = 20) -> int:
        """Send a signal, and wait for the end; the exit code."""
        self.process.send_signal(signum)
        return self.process.wait(seconds)


@contextmanager
def running(data: Path, *words: str, **more: str) -> Iterator[Running]:
    """`ringwright serve` with its jobs in `data`, at a free port."""
    mark = uuid.uuid4().hex
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "SWEEP_TEST_MARK": mark, **more}
    with subprocess.Popen(
        [sys.executable, "-m", "solver", "serve", "--port", "0", "--data", str(data), *words],
        cwd=data.parent, env=environment, stderr=subprocess.PIPE, text=True,
    ) as process:  # fmt: skip
        assert process.stderr is not None
        said: list[str] = []
        first = process.stderr.readline()
        listener = threading.Thread(target=lambda: said.extend(process.stderr), daemon=True)
        listener.start()
        try:
            assert first.startswith("Ringwright is at http://"), first + "".join(said)
            yield Running(process, mark, first.split()[3], said)
        finally:
            if process.poll() is None:
                process.send_signal(signal.SIGTERM)
                process.wait(20)
            listener.join(10)


def refused(*words: str, cwd: Path, **more: str) -> tuple[int, str]:
    """Exit code and standard error of a service that cannot begin."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), **more}
    done = subprocess.run(
        [sys.executable, "-m", "solver", "serve", *words],
        cwd=cwd, env=environment, capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    return done.returncode, done.stderr


@contextmanager
def in_thread(
    data: Path, limits: ServiceLimits | None = None, names: tuple[str, ...] = (), token: str | None = None,
    log: list[str] | None = None, proxies: tuple[str, ...] = (),
) -> Iterator[tuple[int, Jobs]]:  # fmt: skip
    """A service in this process, with limits of its own: its port, and its jobs."""
    limits = limits or ServiceLimits()
    ready = threading.Event()
    with socket.create_server(("127.0.0.1", 0)) as listening, Jobs(data, limits) as jobs:
        said = None if log is None else log.append
        made = service(jobs, names, None if token is None else Token(token, "test"), said, proxies)
        server = Server(made, jobs, ready.set)
        thread = threading.Thread(target=server.run, args=([listening],), daemon=True)
        thread.start()
        assert ready.wait(20)
        try:
            yield listening.getsockname()[1], jobs
        finally:
            server.should_exit = True
            thread.join(20)
            assert not thread.is_alive()


def submitted(client: httpx.Client, text: str) -> str:
    """Submit a design or sweep; its job's id."""
    answer = client.post("/api/jobs", content=text.encode(), headers=TOML)
    assert answer.status_code in (200, 201), answer.text
    name: str = answer.json()["id"]
    return name


def events(client: httpx.Client, job: str, seen: int | None = None) -> Iterator[tuple[str, int, dict[str, Any]]]:
    """The events of a job as they come: name, id, job."""
    headers = {} if seen is None else {"last-event-id": str(seen)}
    with client.stream("GET", f"/api/jobs/{job}/events", headers=headers) as answer:
        assert answer.status_code == 200
        assert answer.headers["content-type"].startswith("text/event-stream")
        told: dict[str, str] = {}
        for line in answer.iter_lines():
            if not line and "event" in told:
                yield told["event"], int(told["id"]), json.loads(told["data"])
                told = {}
            elif line and not line.startswith(":"):
                key, _, value = line.partition(": ")
                told[key] = value


def ended(client: httpx.Client, job: str) -> dict[str, Any]:
    """Wait until a job is over; the job."""
    *_, (name, _, last) = events(client, job)
    assert name == "end"
    return last


def raw(port: int, data: bytes, seconds: float = 20) -> bytes:
    """Send bytes, and read until the other end closes or says nothing more for a moment after a whole answer. Raises
    TimeoutError where nothing comes at all."""
    with socket.create_connection(("127.0.0.1", port), timeout=seconds) as connection:
        with suppress(BrokenPipeError, ConnectionResetError):
            connection.sendall(data)
        return heard(connection)


def heard(connection: socket.socket) -> bytes:
    """One whole answer, or what came before the other end closed."""
    got = b""
    while True:
        try:
            chunk = connection.recv(1 << 16)
        except ConnectionResetError:
            return got
        if not chunk:
            return got
        got += chunk
        if is_whole(got):
            return got


def is_whole(got: bytes) -> bool:
    head, separator, body = got.partition(b"\r\n\r\n")
    if not separator:
        return False
    lines = head.lower().split(b"\r\n")
    if lines[0].split()[1] in (b"204", b"100", b"304"):
        return lines[0].split()[1] != b"100"
    for line in lines:
        if line.startswith(b"content-length:"):
            return len(body) >= int(line.split(b":")[1])
    return body.endswith(b"0\r\n\r\n")


def status(answer: bytes) -> int | None:
    """The status of a raw answer; None where the connection was closed without one."""
    return int(answer.split()[1]) if answer.startswith(b"HTTP/") else None
