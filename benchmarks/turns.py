"""How soon the service is there, how soon it ends, and who has to wait for whom: a start with a thousand jobs and a
thousand neighbouring runs, a small design alone, beside heavy ones, behind a crowd of small ones of another sender.

`python -m benchmarks.service` writes what is measured here into SERVICE.md; `python -m benchmarks.turns` prints it.
"""

from __future__ import annotations

import contextlib
import json
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from statistics import median

import httpx

from benchmarks.serving import Served, served
from solver.service.kept.documents import meant
from solver.service.kept.entered import enter
from solver.service.kept.record import Over, Record, write_record
from solver.service.limits import ServiceLimits

SMALL = """
title = "Small, {number}"
[bodies]
set = "saturn"
only = ["Mimas", "Tethys", "Rhea"]
[rings]
inner_teeth = {teeth}
tooth_step = 6
[search]
keep = 3
"""
# No machine is done with it soon.
HEAVY = """
title = "Heavy, {number}"
[bodies]
set = "planets"
sense = "either"
[rings]
inner_teeth = {teeth}
tooth_step = 6
blanks = 9
addendum = 0
[arbors]
wheel_teeth = {{min = 4, max = 60}}
pinion_teeth = {{min = 4, max = 60}}
third_gears = 8
third_teeth = {{min = 4, max = 60}}
[fit]
clearance = 0
[search]
time_limit_s = {seconds}
"""
ANOTHER = "127.0.0.2"  # a second sender, on the same machine


@dataclass(frozen=True)
class Size:
    """jobs: open ones, and as many that are over, in the folder at the start; alone: small designs, one after the
    other; heavy: designs that are being solved beside; seconds: their limit [s]; crowd: small designs of one sender,
    before one of another; rest: until a service has settled [s]; busy: processes that only keep the cores busy."""

    jobs: int = 1000
    alone: int = 7
    heavy: int = 2
    seconds: float = 40.0
    crowd: int = 100
    rest: float = 3.0
    busy: int = 2


SMOKE = Size(jobs=3, alone=1, heavy=1, seconds=1.0, crowd=2, rest=0.2, busy=0)


@dataclass(frozen=True)
class Figures:
    """All in seconds. start: until a service with all these jobs can be reached; busy_start: while two processes keep
    both cores busy; end, busy_end: from SIGTERM to its end with solves at work; alone, neighbours: from the submission
    of a small design to its end, in an empty folder and beside all these jobs; beside: the same with heavy ones being
    solved; crowded: of another sender's, after a crowd."""

    size: Size
    start: float
    busy_start: float
    end: float
    busy_end: float
    alone: list[float]
    neighbours: list[float]
    beside: list[float]
    crowded: float
    crowd: float


def populate(data: Path, number: int) -> None:
    """A folder with so many open jobs, heavy ones, and as many that are over."""
    jobs = data / "jobs"
    jobs.mkdir(parents=True)
    with served(data) as first, first.client() as client:
        done = completed(client, SMALL.format(number=0, teeth=20))
    (over,) = jobs.iterdir()
    record = json.loads((over / "job.json").read_text())
    assert record["over"]["state"] == done["state"]
    waiting = data / "waiting"
    found = meant(HEAVY.format(number=0, teeth=18, seconds=600), "toml", None, ServiceLimits())
    enter(waiting, found)
    for index in range(number):
        name = f"{index:016x}"
        shutil.copytree(over, jobs / name)
        (jobs / name / "job.json").write_text(json.dumps({**record, "id": name, "order": index + 2}))
        name = f"f{index:015x}"
        shutil.copytree(waiting, jobs / name)
        write_record(jobs / name, Record(schema="ringwright.job/1", id=name, kind="design", title=found.title, total=1,
                                         submitted="2026-01-31T09:30:00+00:00", order=number + index + 2))  # fmt: skip
    shutil.rmtree(waiting)


def closed(data: Path) -> None:
    """Have every open job of a folder be over, as if it had been stopped."""
    for folder in (data / "jobs").glob("f*"):
        record = Record.model_validate_json((folder / "job.json").read_bytes())
        over = Over(state="stopped", reason=None, points={"waiting": 1}, best_worst_error_pct=None, solutions=None)
        write_record(folder, record.model_copy(update={"over": over, "stopped": True}))


@contextlib.contextmanager
def busy(number: int) -> Iterator[None]:
    """So many processes that do nothing but keep cores busy."""
    words = [sys.executable, "-c", "while True: pass"]
    processes = [subprocess.Popen(words) for _ in range(number)]
    try:
        yield
    finally:
        for process in processes:
            process.kill()
            process.wait()


def submit(client: httpx.Client, text: str) -> str:
    """The id of a new job."""
    answer = client.post("/api/jobs", content=text.encode(), headers={"content-type": "application/toml"})
    assert answer.status_code in (200, 201), answer.text
    return str(answer.json()["id"])


def ended(client: httpx.Client, job: str) -> dict[str, object]:
    """A job, once it is over."""
    with client.stream("GET", f"/api/jobs/{job}/events") as stream:
        last = ""
        for line in stream.iter_lines():
            last = line if line.startswith("data: ") else last
    told: dict[str, object] = json.loads(last.removeprefix("data: "))
    return told


def completed(client: httpx.Client, text: str) -> dict[str, object]:
    told = ended(client, submit(client, text))
    assert told["state"] == "complete", told
    return told


def timed(client: httpx.Client, text: str) -> float:
    """From the submission of a design to its end [s]."""
    began = time.perf_counter()
    completed(client, text)
    return time.perf_counter() - began


def _listed(client: httpx.Client) -> list[dict[str, object]]:
    found: list[dict[str, object]] = []
    while more := client.get(f"/api/jobs?limit=500&offset={len(found)}").json()["jobs"]:
        found += more
    return found


def _start_and_end(data: Path, size: Size) -> tuple[float, float]:
    began = time.perf_counter()
    with served(data) as service:
        start = time.perf_counter() - began
        with service.client() as client:
            while not any(job["state"] == "solving" for job in _listed(client)):
                time.sleep(0.1)
        time.sleep(size.rest)
        began = time.perf_counter()
        service.end(signal.SIGTERM)
        return start, time.perf_counter() - began


def _crowded(service: Served, size: Size) -> tuple[float, float]:
    """Another sender's small design behind a crowd of one sender: until it is complete, and until the crowd is."""
    with service.client() as one, service.client(ANOTHER) as other:
        began = time.perf_counter()
        jobs = [submit(one, SMALL.format(number=number, teeth=30 + number)) for number in range(size.crowd)]
        waited = timed(other, SMALL.format(number=999, teeth=29))
        for job in jobs:
            ended(one, job)
        return waited, time.perf_counter() - began


def measure(size: Size) -> Figures:
    """All of it, one after the other."""
    with tempfile.TemporaryDirectory() as place:
        many, empty = Path(place) / "many", Path(place) / "empty"
        populate(many, size.jobs)
        start, end = _start_and_end(many, size)
        with busy(size.busy):
            busy_start, busy_end = _start_and_end(many, size)
        closed(many)
        with served(many) as service:
            neighbours = _alone(service, size)
        with served(empty) as service:
            alone = _alone(service, size)
            beside = _beside(service, size)
            crowded, crowd = _crowded(service, size)
    return Figures(size, start, busy_start, end, busy_end, alone, neighbours, beside, crowded, crowd)


def _alone(service: Served, size: Size) -> list[float]:
    with service.client() as client:
        time.sleep(size.rest)
        return [timed(client, SMALL.format(number=n, teeth=200 + n)) for n in range(size.alone)]


def _beside(service: Served, size: Size) -> list[float]:
    with service.client() as client:
        heavy = [submit(client, HEAVY.format(number=n, teeth=18 + n, seconds=size.seconds)) for n in range(size.heavy)]
        for job in heavy:
            while client.get(f"/api/jobs/{job}").json()["state"] == "waiting":
                time.sleep(0.05)
        time.sleep(size.rest)
        beside = [timed(client, SMALL.format(number=n, teeth=100 + n)) for n in range(max(size.alone // 2, 1))]
        for job in heavy:
            client.post(f"/api/jobs/{job}/stop")
            ended(client, job)
        return beside


def report(figures: Figures) -> str:
    """The table as Markdown."""
    size = figures.size

    def of(times: list[float]) -> str:
        return f"{median(times):.2f} s (at most {max(times):.2f} s)"

    return "\n".join(
        [
            "## Starting, ending, and taking turns",
            "",
            f"| | quiet | {size.busy} other processes keep the cores busy |",
            "|---|---:|---:|",
            f"| start with {size.jobs} open jobs and {size.jobs} that are over, until it can be reached "
            f"| {figures.start:.1f} s | {figures.busy_start:.1f} s |",
            f"| from SIGTERM to the end, with solves at work | {figures.end:.1f} s | {figures.busy_end:.1f} s |",
            "",
            "| a small design, from its submission to its end | median |",
            "|---|---:|",
            f"| alone | {of(figures.alone)} |",
            f"| alone, beside {2 * size.jobs} other jobs that are over | {of(figures.neighbours)} |",
            f"| while {size.heavy} heavy ones are solved, each with {size.seconds:g} s | {of(figures.beside)} |",
            f"| after {size.crowd} small ones of another sender, which take {figures.crowd:.0f} s "
            f"| {figures.crowded:.2f} s |",
        ]
    )


def main() -> None:
    """Measure and print."""
    print(report(measure(Size())))


if __name__ == "__main__":
    main()
