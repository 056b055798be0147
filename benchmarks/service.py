"""What the service costs under load: many readers, submissions beside them, open event streams, a kill and a restart;
and what the web stack alone costs, which answers the same bytes without looking. How soon it is there and ends, and who
has to wait for whom, is in `turns.py`.

`python -m benchmarks.service` writes SERVICE.md.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import multiprocessing
import socket
import tempfile
import time
from collections.abc import Awaitable, Callable, Iterator, MutableMapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from itertools import count
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import uvicorn

from benchmarks import turns
from benchmarks.batch import SWEEP
from benchmarks.serving import LONGEST_S, Served, served

HERE = Path(__file__).resolve().parent
HEAD = SWEEP.partition("[vary]")[0]
_SPAWN = multiprocessing.get_context("spawn")


@dataclass(frozen=True)
class Size:
    """How much is asked. seconds: how long readers read; every [s]: how often each of them asks who takes his time;
    points: of the sweep that is read, and of the one that is watched; designs, sweeps: submissions; alone: requests of
    each kind by one reader alone."""

    readers: int = 200
    seconds: float = 15.0
    every: float = 4.0
    points: int = 6
    designs: int = 16
    sweeps: int = 4
    streams: int = 200
    alone: int = 100


SMOKE = Size(readers=8, seconds=0.5, every=0.1, points=2, designs=1, sweeps=1, streams=8, alone=3)


@dataclass(frozen=True)
class Asked:
    """What came of requests. ms: until the last byte of each that was answered; lost: how many were not, or otherwise
    than they should; seconds: all in all; own: CPU seconds of the process that asked."""

    ms: list[float]
    lost: int
    seconds: float
    own: float

    def at(self, percent: float) -> float:
        return float(np.percentile(self.ms, percent))

    @property
    def rate(self) -> float:
        return len(self.ms) / self.seconds


@dataclass(frozen=True)
class Submitted:
    """Submissions. jobs: ids of those that were accepted."""

    asked: Asked
    jobs: list[str]


@dataclass(frozen=True)
class Watched:
    """Event streams. early: opened while their job was not over; ends: got an end event that says it is complete;
    progress: events before; late_ms: each end event after the first one."""

    streams: int
    early: int
    ends: int
    progress: int
    late_ms: list[float]


@dataclass(frozen=True)
class Figures:
    """Everything of one run. alone: median [ms] by kind for one reader, of the service and of the limit; memory: VmRSS
    of the server [MB] by when; cpu: of one core, the part that the server used, by row; over: submissions that were
    over when the server was killed; found, complete: those that were there after, and those that were solved then."""

    size: Size
    bytes: dict[str, int]
    alone: dict[str, tuple[float, float]]
    limit: Asked
    reads: Asked
    beside: Asked
    calm: Asked
    fresh: Asked
    submitted: list[Submitted]
    watched: Watched
    memory: dict[str, float]
    cpu: dict[str, float]
    over: int
    found: int
    complete: int
    restart_s: float


# -- who asks, in a process of its own ---------------------------------------------------------------------------------


class Line:
    """One connection that is kept: HTTP/1.1 over plain asyncio streams, as much of it as is needed here."""

    def __init__(self, port: int) -> None:
        self._port = port
        self.reader: asyncio.StreamReader | None = None
        self._writer: asyncio.StreamWriter | None = None

    async def open(self) -> None:
        self.reader, self._writer = await asyncio.open_connection("127.0.0.1", self._port, limit=1 << 20)

    async def send(self, method: str, path: str, body: bytes = b"") -> int:
        """Send a request and read the answer's head; its status. Raises OSError and EOFError."""
        if self._writer is None:
            await self.open()
        assert self.reader is not None and self._writer is not None
        sized = f"content-type: application/toml\r\ncontent-length: {len(body)}\r\n" if body else ""
        self._writer.write(f"{method} {path} HTTP/1.1\r\nhost: 127.0.0.1\r\n{sized}\r\n".encode() + body)
        self._head = await self.reader.readuntil(b"\r\n\r\n")
        return int(self._head.split(b" ", 2)[1])

    async def ask(self, method: str, path: str, body: bytes = b"") -> tuple[int, bytes]:
        """Status and body of the answer. Raises OSError and EOFError."""
        status = await self.send(method, path, body)
        assert self.reader is not None
        length = self._head.lower().partition(b"content-length:")[2].split(b"\r\n")[0]
        return status, await self.reader.readexactly(int(length))

    def close(self) -> None:
        if self._writer is not None:
            self._writer.close()
        self.reader = self._writer = None


class Counted:
    """Times and losses while they come."""

    def __init__(self) -> None:
        self.ms: list[float] = []
        self.lost = 0
        self._cpu, self._began = time.process_time(), time.perf_counter()

    async def one(self, line: Line, method: str, path: str, body: bytes, right: Callable[[int, bytes], bool]) -> bytes:
        """One request, timed; the body of its answer."""
        began = time.perf_counter()
        try:
            async with asyncio.timeout(LONGEST_S):
                status, got = await line.ask(method, path, body)
        except (OSError, EOFError, TimeoutError):
            self.lost += 1
            line.close()
            return b""
        if right(status, got):
            self.ms.append((time.perf_counter() - began) * 1e3)
            return got
        self.lost += 1
        return b""

    def asked(self) -> Asked:
        return Asked(self.ms, self.lost, time.perf_counter() - self._began, time.process_time() - self._cpu)


def read(
    port: int, expected: dict[str, bytes | None], readers: int, seconds: float, every: float, texts: list[str]
) -> tuple[Asked, Submitted]:
    """Readers that ask for so long, each of them everything in turn; and at the same time submissions, all at once.
    expected: the right answer by path, None where any will do; a # in a path is another number each time; every [s]:
    how often each asks, 0 for without a pause.
    """
    return asyncio.run(_read(port, expected, readers, seconds, every, texts))


async def _read(
    port: int, expected: dict[str, bytes | None], readers: int, seconds: float, every: float, texts: list[str]
) -> tuple[Asked, Submitted]:
    lines = [Line(port) for _ in range(readers + len(texts))]
    for line in lines:
        await line.open()
    paths, numbers = list(expected), count(1000)
    reading, submitting = Counted(), Counted()
    began = time.perf_counter()
    until = began + seconds

    async def reader(line: Line, turn: int) -> None:
        due = began + every * turn / readers
        while max(due, time.perf_counter()) < until:
            await asyncio.sleep(max(0.0, due - time.perf_counter()) if every else 0)
            due += every
            path = paths[turn % len(paths)]
            asked = path.replace("#", str(next(numbers)))
            await reading.one(line, "GET", asked, b"", partial(_is_right, expected[path]))
            turn += 1

    async def submitter(line: Line, text: str) -> bytes:
        return await submitting.one(line, "POST", "/api/jobs", text.encode(), lambda status, _: status == 201)

    async def submitters() -> tuple[list[bytes], Asked]:
        answers = await asyncio.gather(*map(submitter, lines[readers:], texts))
        return answers, submitting.asked()

    (answers, submitted), *_ = await asyncio.gather(submitters(), *map(reader, lines[:readers], range(readers)))
    asked = reading.asked()
    for line in lines:
        line.close()
    return asked, Submitted(submitted, [json.loads(answer)["id"] for answer in answers if answer])


def _is_right(expected: bytes | None, status: int, got: bytes) -> bool:
    return status == 200 and expected in (None, got)


def one_reader(port: int, paths: list[str], number: int) -> list[float]:
    """The median time [ms] of each path for a reader that is alone."""

    async def alone() -> list[float]:
        line, medians = Line(port), []
        for path in paths:
            counted = Counted()
            for _ in range(number):
                await counted.one(line, "GET", path, b"", lambda status, _: status == 200)
            medians.append(counted.asked().at(50))
        line.close()
        return medians

    return asyncio.run(alone())


def watch(port: int, jobs: list[str]) -> Watched:
    """Open a stream for each of these jobs, and read each to its end."""

    async def stream(job: str) -> tuple[bool, float | None, int]:
        """Whether it was opened early, when its end came, how many events came before."""
        line = Line(port)
        early, end, progress, name = False, None, 0, b""
        try:
            async with asyncio.timeout(LONGEST_S * 4):
                status = await line.send("GET", f"/api/jobs/{job}/events")
                assert line.reader is not None
                while status == 200 and end is None and (got := await line.reader.readline()):
                    if got.startswith(b"event: "):
                        name = got[7:].strip()
                    elif got.startswith(b"data: "):
                        state = json.loads(got[6:])["state"]
                        if name == b"end" and state == "complete":
                            end = time.perf_counter()
                        elif name == b"progress":
                            early = early or state in ("waiting", "solving")
                            progress += 1
        except (OSError, EOFError, TimeoutError):
            end = None
        line.close()
        return early, end, progress

    async def streams() -> list[tuple[bool, float | None, int]]:
        return await asyncio.gather(*map(stream, jobs))

    found = asyncio.run(streams())
    ends = [end for _, end, _ in found if end is not None]
    late = [(end - min(ends)) * 1e3 for end in ends]
    return Watched(len(jobs), sum(early for early, *_ in found), len(ends), sum(one[2] for one in found), late)


# -- who answers -------------------------------------------------------------------------------------------------------


@contextlib.contextmanager
def constant(answers: dict[str, tuple[list[tuple[bytes, bytes]], bytes]]) -> Iterator[Served]:
    """The limit: the same server program and protocol, and an application that knows its answers beforehand."""
    told, telling = _SPAWN.Pipe(duplex=False)
    process = _SPAWN.Process(target=_serve_constant, args=(answers, telling))
    process.start()
    try:
        assert process.pid is not None
        yield Served(told.recv(), process.pid, process.kill, process.join)
    finally:
        process.terminate()
        process.join()


def _serve_constant(answers: dict[str, tuple[list[tuple[bytes, bytes]], bytes]], telling: Connection) -> None:
    async def app(
        scope: MutableMapping[str, Any], _receive: object, send: Callable[[dict[str, Any]], Awaitable[None]]
    ) -> None:
        headers, body = answers[scope["raw_path"].decode()]
        await send({"type": "http.response.start", "status": 200, "headers": headers})
        await send({"type": "http.response.body", "body": body})

    config = uvicorn.Config(
        app, http="h11", ws="none", lifespan="off", log_config=None, access_log=False, server_header=False,
        proxy_headers=False, backlog=512,
    )  # fmt: skip
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP) as listening:
        listening.bind(("127.0.0.1", 0))
        listening.listen(512)
        telling.send(listening.getsockname()[1])
        uvicorn.Server(config).run(sockets=[listening])


# -- the run -----------------------------------------------------------------------------------------------------------


def sweep(title: str, field: str, values: range) -> str:
    """A sweep file of a point for each value."""
    return HEAD.replace("Six target sets", title) + f"[vary]\n{field} = {list(values)}\n"


def submissions(size: Size, batch: int) -> list[str]:
    """Designs and sweeps of which no two mean the same, nor any of another batch."""
    designs = [
        HEAD.replace("Six target sets", f"Design {number}").replace("inner_teeth = 24", f"inner_teeth = {18 + number}")
        for number in range(size.designs)
    ]
    sweeps = [
        sweep(f"Sweep {number}", "rings.tooth_step", range(3, 7)).replace("inner_teeth = 24", f"inner_teeth = {number}")
        for number in range(40, 40 + size.sweeps)
    ]
    return [text.replace("keep = 100", f"keep = {100 - batch}") for text in designs + sweeps]


def measure(size: Size) -> Figures:
    """All of it, one after the other. Linux tells memory and CPU; elsewhere both are 0."""
    memory: dict[str, float] = {}
    cpu: dict[str, float] = {}
    with (
        tempfile.TemporaryDirectory() as data,
        ProcessPoolExecutor(1, mp_context=_SPAWN) as asking,
        contextlib.ExitStack() as servers,
    ):

        def ask(server: Served, row: str, *words: Any) -> tuple[Asked, Submitted]:
            before, began = server.cpu(), time.perf_counter()
            found = asking.submit(read, server.port, *words).result()
            cpu[row] = (server.cpu() - before) / (time.perf_counter() - began)
            return found

        first = servers.enter_context(served(Path(data)))
        with first.client() as client:
            job = _submit(client, sweep("Read again and again", "rings.tooth_step", range(3, 3 + size.points)))
            assert asking.submit(watch, first.port, [job]).result().ends == 1
            paths = {
                "a job": f"/api/jobs/{job}", "the list of jobs": "/api/jobs",
                "its best 50 solutions": f"/api/jobs/{job}/solutions", "its page": f"/jobs/{job}",
            }  # fmt: skip
            answers = {path: _answer(client, path) for path in paths.values()}
        expected = {path: None if path == paths["the list of jobs"] else body for path, (_, body) in answers.items()}
        memory["before"] = first.megabytes()
        with constant(answers) as limit:
            listed = list(paths.values())
            ours, theirs = (
                asking.submit(one_reader, server.port, listed, size.alone).result() for server in (first, limit)
            )
            alone = dict(zip(paths, zip(ours, theirs, strict=True), strict=True))
            most, _ = ask(limit, "limit", expected, size.readers, size.seconds, 0.0, [])
        reads, _ = ask(first, "reads", expected, size.readers, size.seconds, 0.0, [])
        memory["after reads"] = first.megabytes()
        with first.client() as client:
            watched_job = _submit(client, sweep("Watched", "rings.inner_teeth", range(60, 60 + size.points)))
        watched = asking.submit(watch, first.port, [watched_job] * size.streams).result()
        memory["after streams"] = first.megabytes()
        calm, some = ask(first, "calm", expected, size.readers, size.seconds, size.every, submissions(size, 0))
        beside, more = ask(first, "beside", expected, size.readers, size.seconds, 0.0, submissions(size, 1))
        accepted = [*some.jobs, *more.jobs]
        never = dict.fromkeys((f"/api/jobs/{job}/solutions?most=error=#", f"/jobs/{job}?error=#"))
        fresh, _ = ask(first, "fresh", never, size.readers, size.seconds, 2 * size.every, [])
        memory["at the end"] = first.megabytes()
        with first.client() as client:
            over = sum(one["id"] in accepted and one["state"] == "complete" for one in _listed(client))
        first.kill()
        began = time.perf_counter()
        second = servers.enter_context(served(Path(data)))
        restart = time.perf_counter() - began
        with second.client() as client:
            there = {one["id"] for one in _listed(client)}
        found = [job for job in accepted if job in there]
        complete = asking.submit(watch, second.port, found).result().ends if found else 0
    sizes = {name: len(answers[path][1]) for name, path in paths.items()}
    return Figures(size, sizes, alone, most, reads, beside, calm, fresh, [some, more], watched, memory, cpu, over,
                   len(found), complete, restart)  # fmt: skip


def _submit(client: httpx.Client, text: str) -> str:
    answer = client.post("/api/jobs", content=text.encode(), headers={"content-type": "application/toml"})
    assert answer.status_code == 201, answer.text
    return str(answer.json()["id"])


def _listed(client: httpx.Client) -> list[dict[str, Any]]:
    return list(client.get("/api/jobs?limit=500").json()["jobs"])


def _answer(client: httpx.Client, path: str) -> tuple[list[tuple[bytes, bytes]], bytes]:
    """Headers and body, as they are answered."""
    answer = client.get(path)
    assert answer.status_code == 200, answer.text
    return [(name, value) for name, value in answer.headers.raw if name.lower() != b"date"], answer.content


def report(figures: Figures) -> str:
    """The tables as Markdown."""
    size, watched, number = figures.size, figures.watched, figures.size.designs + figures.size.sweeps
    accepted = sum(len(one.jobs) for one in figures.submitted)
    lost = sum(one.asked.lost for one in figures.submitted)
    rows = {
        "limit": (f"**the limit**: {size.readers} readers, constant answers", figures.limit),
        "reads": (f"{size.readers} readers", figures.reads),
        "beside": (f"{size.readers} readers beside {number} submissions", figures.beside),
        "calm": (f"the same, each of whom asks every {size.every:g} s", figures.calm),
        "fresh": (f"{size.readers} readers, each every {2 * size.every:g} s, each question a new one", figures.fresh),
    }
    lines = [
        "# What the service costs under load",
        "",
        "One run on one machine with two cores; `make bench` writes it anew.",
        "",
        "Who asks is a process of its own, over plain asyncio sockets that are kept open; it shares the two cores with",
        "the server and its solves. Each reader asks for the four things below in turn. Without a pause, a time is",
        f"mostly waiting behind the {size.readers - 1} other readers: requests a second tell the cost, the times how",
        "evenly it is shared. The limit is an application in the same server program (uvicorn, h11) that answers the",
        "same bytes without looking; what the service itself costs is the ratio of the rows, which holds better from",
        "machine to machine than a time does. What was asked before and has not changed is kept, and told again; the",
        "last row asks for solutions and pages of which none was asked for before. Lost is whatever was not answered",
        f"within {LONGEST_S:.0f} s, or otherwise than with the right status and, but for the list and what is new, the",
        "same bytes as before.",
        "",
        f"## Reads, {size.seconds:g} s each",
        "",
        "| | requests | p50 ms | p95 ms | p99 ms | max ms | requests a second | of the limit | lost "
        "| server, of a core | asking, of a core |",
        "|---|" + "---:|" * 10,
        *(
            f"| {name} | {_times(asked)} | {asked.rate:.0f} | {asked.rate / figures.limit.rate * 100:.0f} % "
            f"| {asked.lost} | {figures.cpu[row] * 100:.0f} % | {asked.own / asked.seconds * 100:.0f} % |"
            for row, (name, asked) in rows.items()
        ),
        "",
        "## One reader alone",
        "",
        "| | bytes | service, median ms | limit, median ms | ratio |",
        "|---|---:|---:|---:|---:|",
        *(
            f"| {name} | {figures.bytes[name]} | {ours:.2f} | {theirs:.2f} | {ours / theirs:.1f} |"
            for name, (ours, theirs) in figures.alone.items()
        ),
        "",
        f"## {size.designs} designs and {size.sweeps} sweeps, submitted at once beside the readers, twice",
        "",
        "| | requests | p50 ms | p95 ms | p99 ms | max ms |",
        "|---|" + "---:|" * 5,
        *(
            f"| until it is on the disk and accepted, beside readers {how} | {_times(one.asked)} |"
            for how, one in zip((f"every {size.every:g} s", "without a pause"), figures.submitted, strict=True)
        ),
        "",
        "| | |",
        "|---|---:|",
        f"| accepted, lost | {accepted}, {lost} |",
        f"| over when the server was killed (`kill -9`) | {figures.over} |",
        f"| **found again after a restart** | **{figures.found} of {accepted}** |",
        f"| **solved then** | **{figures.complete} of {accepted}** |",
        f"| from the start until it can be reached | {figures.restart_s:.1f} s |",
        "",
        f"## {watched.streams} event streams of a sweep of {size.points} points",
        "",
        "| | |",
        "|---|---:|",
        f"| opened before the sweep was over | {watched.early} |",
        f"| events before the end, all in all | {watched.progress} |",
        f"| **end events** | **{watched.ends} of {watched.streams}** |",
        f"| the last one after the first | {max(watched.late_ms, default=0):.0f} ms |",
        "",
        "## Memory of the server (VmRSS, without its solves)",
        "",
        "| | MB |",
        "|---|---:|",
        *(f"| {when} | {megabytes:.0f} |" for when, megabytes in figures.memory.items()),
    ]
    return "\n".join(lines) + "\n"


def _times(asked: Asked) -> str:
    times = " | ".join(f"{asked.at(percent):.0f}" for percent in (50, 95, 99, 100))
    return f"{len(asked.ms)} | {times}"


def main() -> None:
    """Measure, write, print."""
    text = report(measure(Size())) + "\n" + turns.report(turns.measure(turns.Size()))
    (HERE / "SERVICE.md").write_text(text, encoding="utf-8")
    print(text)


if __name__ == "__main__":
    main()
