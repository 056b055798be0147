"""What is said of a job's solutions is what is known: in every state, with and without solutions, proven and not; on
the list, on the job's page and by the API."""

from __future__ import annotations

import json
import re
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from html import unescape
from pathlib import Path

import httpx
import pyarrow as pa
import pytest
from commands import LONG
from serving import ended, events, in_thread, submitted
from sweeping import BASE, HARD, RICH

from solver.batch.store.parts import PART_SCHEMA, part_name, read_parquet, write_parquet
from solver.batch.sweep.run import MANIFEST
from solver.batch.sweep.sweeps import finish
from solver.batch.sweep.table import JobTable
from solver.service.kept.documents import meant
from solver.service.kept.entered import enter
from solver.service.kept.record import Over, Record, read_record, write_record
from solver.service.limits import ServiceLimits

pytestmark = pytest.mark.deep

LIMITS = ServiceLimits(solve_seconds=1e6, workers=2)
TWO = "[vary]\nrings.inner_teeth = [24, 26]\n"
NONE = BASE + "max_error_pct = 0\nmax_parts = 1\n"  # proven at once: three rings alone are more than one part
ENDLESS = LONG.replace("A long search", "A long search of its own")
BRIEF = LONG.replace("time_limit_s = 100000", "time_limit_s = 0.05")  # ends long before anything is found
ONE_HARD = HARD.replace("keep = 3", "keep = 3\nmax_parts = 1").replace('"Hard"', '"Hard"\nsearch.max_parts = 99')


@dataclass(frozen=True)
class Case:
    """text: of a design or sweep; then: what is done to it until it is looked at; said: below the heading of its page,
    listed: on the list; state, proven, solutions: by the API."""

    text: str
    then: str
    said: str
    listed: str
    state: str
    proven: bool
    found: int


NOBODY_KNOWS = "No solution was found. Whether there is one is not known."
CASES = {
    "design, proven": Case(
        BASE, "ended", "3 solutions", r"solved, best is proven design best error [\d.]+ %", "complete", True, 3),
    "design, proven that there is none": Case(
        NONE, "ended", "There is no solution.", "no solution, proven design", "complete", True, 0),
    "design, not proven": Case(
        BASE.replace("keep = 3", "keep = 2"), "unproven", "2 solutions",
        r"ended by a limit, not proven design best error [\d.]+ %, not proven", "complete", False, 2),
    "design, nothing found in its time": Case(
        BRIEF, "ended", NOBODY_KNOWS, "ended by a limit, nothing found design", "complete", False, 0),
    "design, stopped with nothing found": Case(
        LONG, "stopped", NOBODY_KNOWS, "stopped, not proven design", "stopped", False, 0),
    "design, going on": Case(
        ENDLESS, "going on", "No solution yet.", "being solved design best error so far – %", "solving", False, 0),
    "design, failed": Case(
        BASE.replace("keep = 3", "keep = 4"), "failed", NOBODY_KNOWS, "failed design", "failed", False, 0),
    "sweep, proven": Case(
        BASE + TWO, "ended", "6 solutions", r"every point is proven sweep best error [\d.]+ %", "complete", True, 6),
    "sweep, proven that there is none": Case(
        NONE + TWO, "ended", "No point has a solution; this is proven of each.", "no solution, proven sweep",
        "complete", True, 0),
    "sweep, not proven": Case(
        BASE.replace("keep = 3", "keep = 2") + TWO, "unproven", "4 solutions",
        r"over, 1 of 2 points is proven sweep best error [\d.]+ %, not proven", "complete", False, 4),
    "sweep, nothing found in its time": Case(
        BRIEF + TWO, "ended", NOBODY_KNOWS, "over, 0 of 2 points are proven sweep", "complete", False, 0),
    "sweep, stopped with nothing found": Case(
        LONG + TWO, "stopped", NOBODY_KNOWS, "stopped, not proven sweep", "stopped", False, 0),
    "sweep, stopped with solutions": Case(
        HARD, "stopped after two", "6 solutions",
        r"stopped, not proven sweep best error so far [\d.]+ %, not proven", "stopped", False, 6),
    "design, stopped with solutions": Case(
        RICH, "stopped after a while", "3 solutions",
        r"stopped, not proven design best error so far [\d.]+ %, not proven", "stopped", False, 3),
    "sweep, stopped where some have none": Case(
        ONE_HARD, "stopped after two", "No solution was found. Of 2 of 3 points it is proven that there is none.",
        "stopped, not proven sweep", "stopped", False, 0),
    "sweep, going on": Case(
        ENDLESS + TWO, "going on", "No solution yet.", "being solved sweep best error so far – %", "solving", False, 0),
}  # fmt: skip

NTH = ("proven best", "proven to be the 2nd in order", "proven to be the 3rd in order")
PROOFS = {
    "design, proven": NTH,
    "design, not proven": ("not proven",) * 2,
    "sweep, proven": NTH * 2,
    "sweep, not proven": (*NTH[:2], *("not proven",) * 2),  # of one point each
    "sweep, stopped with solutions": NTH * 2,  # of the two points that were solved before
    "design, stopped with solutions": ("not proven",) * 3,
}


def unproven(folder: Path) -> None:
    """Make of a solved run what a limit would have left that struck when its first point's solutions were there."""
    table = JobTable(folder)
    point = table.points()[0]
    record = {**json.loads(point["record"]), "status": "feasible", "proven": False, "termination": "time"}
    with table._change() as db:
        db.execute(
            "UPDATE points SET state = 'stopped', reason = 'time: 1 s were not enough', record = ? WHERE id = ?",
            (json.dumps(record), point["id"]),
        )
    name = part_name(point["part"])
    rows = read_parquet(folder / name, PART_SCHEMA).to_pylist()
    told = [row | {"status": "feasible"} if row["point_id"] == point["id"] else row for row in rows]
    files = {name: write_parquet(folder / name, [pa.Table.from_pylist(told, schema=PART_SCHEMA)], PART_SCHEMA, {})}
    table.bound(point["part"], [one["id"] for one in table.points()], files)
    (folder / MANIFEST).unlink()
    finish(folder, table, "Not proven")
    table.close()
    kept = read_record(folder)
    points = {**kept.over.points, "solved": kept.total - 1, "stopped": 1}
    write_record(folder, kept.model_copy(update={"over": kept.over.model_copy(update={"points": points})}))


def failed(data: Path, text: str) -> str:
    """A job whose runner was lost again and again; its id."""
    found = meant(text, "toml", None, LIMITS)
    folder = data / "jobs" / found.job
    enter(folder, found)
    over = Over(state="failed", reason="its runner was ended by SIGKILL, 3 times in a row", points={"waiting": 1},
                best_worst_error_pct=None, solutions=None)  # fmt: skip
    write_record(folder, Record(schema="ringwright.job/1", id=found.job, kind=found.kind, title=found.title, total=1,
                                submitted="2026-01-31T09:30:00+00:00", order=1000, over=over))  # fmt: skip
    return found.job


@contextmanager
def client_of(port: int) -> Iterator[httpx.Client]:
    with httpx.Client(base_url=f"http://127.0.0.1:{port}", trust_env=False, timeout=60) as client:
        yield client


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    """A client, and the id of each case's job, which is in its state."""
    data = tmp_path_factory.mktemp("known") / "data"
    ids = {}
    with in_thread(data, LIMITS) as (port, _), client_of(port) as client:
        for name, case in CASES.items():
            if case.then in ("ended", "unproven"):
                ids[name] = submitted(client, case.text)
                assert ended(client, ids[name])["state"] == "complete"
            elif case.then.startswith("stopped"):
                ids[name] = submitted(client, case.text)
                wanted = 2 if case.then == "stopped after two" else 0
                for _, _, view in events(client, ids[name]):
                    if view["state"] == "solving" and view["finished"] == wanted and view["points"]["solving"]:
                        time.sleep(10 if case.then == "stopped after a while" else 0)
                        client.post(f"/api/jobs/{ids[name]}/stop")
    for name, case in CASES.items():
        if case.then == "unproven":
            unproven(data / "jobs" / ids[name])
        elif case.then == "failed":
            ids[name] = failed(data, case.text)
    with in_thread(data, LIMITS) as (port, _), client_of(port) as client:
        for name, case in CASES.items():
            if case.then == "going on":
                ids[name] = submitted(client, case.text)
                for _, _, view in events(client, ids[name]):
                    if view["state"] == "solving":
                        break
        yield client, ids


@pytest.mark.parametrize("name", CASES)
def test_no_more_is_said_than_is_known(served, name):
    client, ids = served
    case, job = CASES[name], ids[name]
    told = client.get(f"/api/jobs/{job}").json()
    assert (told["state"], told["proven"]) == (case.state, case.proven)
    assert told["solutions"] == (case.found if case.state in ("complete", "stopped") else None)
    assert client.get(f"/api/jobs/{job}/solutions").json()["total"] == case.found

    page = client.get(f"/jobs/{job}").text
    assert text_of(page, '<p id="count"', "</p>") == case.said
    filtered = text_of(client.get(f"/jobs/{job}?parts=1").text, '<p id="count"', "</p>")
    assert filtered == ("None of the solutions found is within these limits." if case.found else case.said)
    assert ("Why nothing fits" in page) == (name == "design, proven that there is none")
    proofs = re.findall(r'<td class="proof">([^<]*)</td>', page)
    assert len(proofs) == case.found
    assert Counter(proofs) == Counter(PROOFS.get(name, ()))
    some_proven = name in ("sweep, proven that there is none", "sweep, stopped where some have none")
    assert ("points have no solution" in page) is some_proven
    assert ("o solution was found of 2 points" in page) is (name == "sweep, nothing found in its time")
    assert ("Solutions so far" in page) == (case.state in ("stopped", "solving"))

    listed = client.get("/").text.partition(f'data-job="{job}"')[2].partition("</li>")[0]
    said = text_of(listed, '<p class="job-state"', "<time")
    assert re.fullmatch(case.listed, said), said


def text_of(page: str, start: str, end: str) -> str:
    """The text between two marks of a page, tags left out."""
    part = page.partition(start)[2].partition(end)[0]
    return " ".join(unescape(re.sub("<[^>]*>", "", part.partition(">")[2])).split())
