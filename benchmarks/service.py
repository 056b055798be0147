"""What the service bears: 200 readers and 20 submissions at once, and 200 open streams.

`python -m benchmarks.service` writes SERVICE.md. The readers share the machine with the service and its workers.
"""

from __future__ import annotations

import asyncio
import json
import re
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from statistics import median, quantiles

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent
DESIGN = """title = "Saturn's moons {number}"
[bodies]
set = "saturn"
only = ["Mimas", "Tethys", "Rhea", "Titan"]
[rings]
inner_teeth = {inner}
tooth_step = 6
blanks = 1
[fit]
directions = "none"
[search]
keep = {keep}
"""


@dataclass(frozen=True)
class Load:
    """readers and streams: so many at once; submissions: likewise; seconds: for how long; pause_s: between two
    questions of one reader [s], 0 for none."""

    readers: int = 200
    streams: int = 200
    submissions: int = 20
    seconds: float = 10.0
    pause_s: float = 1.0


@dataclass(frozen=True)
class Outcome:
    """Latencies in seconds, sorted; lost: reads without an answer 200; taken: submissions that were answered; solved:
    of them, jobs that ended complete; told: streams that heard their job's end; memory_mb: of the server, before and
    after."""

    reads: list[float]
    lost: int
    submits: list[float]
    taken: int
    solved: int
    told: int
    seconds: float
    memory_mb: tuple[float, float]

    def percentile(self, number: int) -> float:
        """Of the reads [s]."""
        return quantiles(self.reads, n=100)[number - 1]


@contextmanager
def _served(data: Path) -> Iterator[tuple[int, int]]:
    """A service: its port and its process."""
    words = ["serve", "--port", "0", "--data", str(data)]
    with subprocess.Popen(
        [sys.executable, "-m", "solver", *words], cwd=ROOT, stderr=subprocess.PIPE, text=True
    ) as made:
        assert made.stderr is not None
        found = re.search(r":(\d+)/", made.stderr.readline())
        assert found is not None
        try:
            yield int(found[1]), made.pid
        finally:
            made.send_signal(signal.SIGTERM)


def _memory_mb(pid: int) -> float:
    found = re.search(r"VmRSS:\s+(\d+) kB", Path(f"/proc/{pid}/status").read_text())
    return int(found[1]) / 1024 if found else 0.0


class _Client:
    """One connection that is kept open."""

    def __init__(self, port: int) -> None:
        self._port = port
        self._ends: tuple[asyncio.StreamReader, asyncio.StreamWriter] | None = None

    async def ask(self, method: str, path: str, body: str = "") -> tuple[int, bytes]:
        if self._ends is None:
            self._ends = await asyncio.open_connection("127.0.0.1", self._port)
        reader, writer = self._ends
        data = body.encode()
        head = f"{method} {path} HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/toml\r\n"
        writer.write(f"{head}Content-Length: {len(data)}\r\n\r\n".encode() + data)
        told = await reader.readuntil(b"\r\n\r\n")
        found = re.search(rb"content-length: (\d+)", told.lower())
        assert found is not None
        return int(told.split()[1]), await reader.readexactly(int(found[1]))

    def close(self) -> None:
        if self._ends is not None:
            self._ends[1].close()


async def _read(port: int, paths: list[str], load: Load, number: int, until: float, reads: list[float]) -> int:
    """One reader, who asks for one path after the other; how many answers it missed."""
    client, lost = _Client(port), 0
    await asyncio.sleep(load.pause_s * number / load.readers)
    while time.perf_counter() < until:
        began = time.perf_counter()
        number += 1
        try:
            status, _ = await client.ask("GET", paths[number % len(paths)])
            lost += status != 200
        except (OSError, asyncio.IncompleteReadError):
            lost, client = lost + 1, _Client(port)
        reads.append(time.perf_counter() - began)
        await asyncio.sleep(max(0.0, load.pause_s - (time.perf_counter() - began)))
    client.close()
    return lost


async def _submit(port: int, number: int, submits: list[float]) -> str | None:
    client = _Client(port)
    began = time.perf_counter()
    text = DESIGN.format(number=number, inner=18 + number, keep=3 + number)
    status, body = await client.ask("POST", "/api/jobs", text)
    submits.append(time.perf_counter() - began)
    client.close()
    return str(json.loads(body)["id"]) if status in (200, 201) else None


async def _listen(port: int, job: str) -> bool:
    """One stream to its end; whether that was said."""
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    writer.write(f"GET /api/jobs/{job}/events HTTP/1.1\r\nHost: localhost\r\n\r\n".encode())
    ended = False
    while line := await reader.readline():
        ended = ended or line.startswith(b"event: end")
        if ended and line.startswith(b"data:"):
            break
    writer.close()
    return ended


async def _complete(port: int, job: str) -> bool:
    await _listen(port, job)
    client = _Client(port)
    status, body = await client.ask("GET", f"/api/jobs/{job}")
    client.close()
    return status == 200 and json.loads(body)["state"] == "complete"


async def _measured(port: int, pid: int, load: Load) -> Outcome:
    reads: list[float] = []
    submits: list[float] = []
    first = await _submit(port, 50, [])
    assert first is not None and await _complete(port, first)
    paths = [f"/api/jobs/{first}", "/api/jobs", f"/api/jobs/{first}/solutions?limit=10", f"/api/jobs/{first}/points"]
    before, until = _memory_mb(pid), time.perf_counter() + load.seconds
    readers = [asyncio.create_task(_read(port, paths, load, n, until, reads)) for n in range(load.readers)]
    jobs = await asyncio.gather(*(_submit(port, number, submits) for number in range(load.submissions)))
    taken = [job for job in jobs if job is not None]
    told = await asyncio.gather(*(_listen(port, taken[n % len(taken)]) for n in range(load.streams)))
    lost = sum(await asyncio.gather(*readers))
    seconds = load.seconds
    solved = sum(await asyncio.gather(*(_complete(port, job) for job in set(taken))))
    memory = before, _memory_mb(pid)
    return Outcome(sorted(reads), lost, sorted(submits), len(set(taken)), solved, sum(told), seconds, memory)


def measure(load: Load) -> Outcome:
    """Put a service of its own under that load."""
    with tempfile.TemporaryDirectory() as folder, _served(Path(folder) / "data") as (port, pid):
        return asyncio.run(_measured(port, pid, load))


def report(found: dict[str, tuple[Load, Outcome]]) -> str:
    """The table as Markdown."""
    load = next(iter(found.values()))[0]
    rows = {
        "reads": lambda one: f"{len(one.reads)}",
        "reads a second": lambda one: f"{len(one.reads) / one.seconds:.0f}",
        "a read takes, median": lambda one: f"{median(one.reads) * 1e3:.1f} ms",
        "**a read takes, p99**": lambda one: f"**{one.percentile(99) * 1e3:.1f} ms**",
        "a read takes, at most": lambda one: f"{one.reads[-1] * 1e3:.1f} ms",
        "**reads lost**": lambda one: f"**{one.lost}**",
        "a submission takes, median": lambda one: f"{median(one.submits):.2f} s",
        "a submission takes, at most": lambda one: f"{one.submits[-1]:.2f} s",
        "**submissions taken, and solved**": lambda one: f"**{one.taken}, {one.solved}**",
        "streams that heard their job's end": lambda one: f"{one.told}",
        "memory of the server before, after": lambda one: f"{one.memory_mb[0]:.0f}, {one.memory_mb[1]:.0f} MB",
    }
    outcomes = [outcome for _, outcome in found.values()]
    lines = [
        "# What the service bears",
        "",
        f"{load.readers} readers, {load.submissions} submissions at once and {load.streams} open streams, for "
        f"{load.seconds:g} s. A reader asks for a job,",
        "the list, ten solutions and the points, in turn. Service, workers and readers share one machine with two",
        "cores; `make bench` writes it anew.",
        "",
        f"| | {' | '.join(found)} |",
        f"|---|{'---:|' * len(found)}",
        *(f"| {name} | {' | '.join(told(one) for one in outcomes)} |" for name, told in rows.items()),
        "",
        "A submission is validated in a process of its own, two at a time, and is on the disk when it is answered.",
    ]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Measure, write, print."""
    loads = {"each reader once a second": Load(), "each reader without a pause": Load(pause_s=0.0)}
    text = report({name: (load, measure(load)) for name, load in loads.items()})
    (HERE / "SERVICE.md").write_text(text, encoding="utf-8")
    print(text)


if __name__ == "__main__":
    main()
