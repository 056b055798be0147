"""Hostile requests, byte by byte, in rounds: all are answered or closed, none with 500 or more, none hangs, and nothing
is left behind: no memory, no thread, no open file, no job.

RINGWRIGHT_ROUNDS=N repeats them N times, in place of five.
"""

from __future__ import annotations

import os
import socket
import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import hostile
import pytest
from serving import TOML, Running, ended, heard, running, status, submitted
from sweeping import BASE

from solver.service.http.openapi import SWEEP_TOML

pytestmark = pytest.mark.deep

ROUNDS = int(os.environ.get("RINGWRIGHT_ROUNDS", "5"))  # the first loads what is loaded when it is needed
SECONDS = 20.0  # within which every one is answered or closed, on a busy machine too
SLACK_KB = 4_000  # resident memory that a further round may add; see below
LAST = 3  # rounds


def test_there_are_hundreds():
    assert len(hostile.HOSTILE) >= 200 and len(set(hostile.HOSTILE.values())) == len(hostile.HOSTILE)
    assert len(set(hostile.further("0" * 16).values()) - set(hostile.HOSTILE.values())) >= 300
    assert sum(map(len, hostile.HOSTILE.values())) > 5_000_000


@dataclass
class Told:
    """What one round brought: how long each request took [s], its answer's status, what must not be told."""

    seconds: dict[str, float]
    statuses: dict[str, int | None]
    leaks: list[str]


def a_round(port: int, every: dict[str, bytes]) -> Told:
    told = Told({}, {}, [])
    for name, data in every.items():
        began = time.monotonic()
        answer = sent(port, data)
        told.seconds[name] = time.monotonic() - began
        told.statuses[name] = status(answer)
        if b"root:" in answer or b"Traceback" in answer or b"site-packages" in answer:
            told.leaks.append(name)
    return told


def sent(port: int, data: bytes) -> bytes:
    """Send it all, whether it is listened to or not, while listening; the first answer. Raises TimeoutError."""
    with socket.create_connection(("127.0.0.1", port), timeout=2 * SECONDS) as connection:

        def send() -> None:
            with suppress(OSError):
                connection.sendall(data)

        sender = threading.Thread(target=send)
        sender.start()
        try:
            return heard(connection)
        finally:
            with suppress(OSError):
                connection.shutdown(socket.SHUT_RDWR)
            sender.join(2 * SECONDS)
            assert not sender.is_alive()


def test_who_goes_away_while_being_answered_goes_alone(tmp_path):
    """The first words of the answer meet a closed connection, those after it a broken one."""
    with running(tmp_path / "data") as service:
        for _ in range(200):
            with socket.create_connection(("127.0.0.1", service.port), timeout=20) as connection:
                connection.sendall(b"nonsense\r\n\r\n")
        with service.client() as client:
            assert client.get("/api/health").status_code == 200
        assert service.process.poll() is None and service.said == []


def held(pid: int) -> dict[str, int]:
    """Of a process: its resident memory [kB], threads and open files."""
    lines = dict(line.split(":", 1) for line in Path(f"/proc/{pid}/status").read_text().splitlines())
    return {
        "kB": int(lines["VmRSS"].split()[0]), "threads": int(lines["Threads"]),
        "files": len(os.listdir(f"/proc/{pid}/fd")),
    }  # fmt: skip


@dataclass
class Rounds:
    """A service in a process of its own after all rounds, a job of it, what came back, what it held after each."""

    service: Running
    job: str
    further: dict[str, bytes]
    told: list[Told]
    held: list[dict[str, int]]


@pytest.fixture(scope="module")
def rounds(tmp_path_factory) -> Iterator[Rounds]:
    words = ("--most-points", "200", "--most-jobs", "2", "--solve-seconds", "1", "--workers", "1")
    with running(tmp_path_factory.mktemp("hostile") / "data", *words) as service:
        with service.client() as client:
            job = submitted(client, BASE)
            assert ended(client, job)["state"] == "complete"
        made = Rounds(service, job, hostile.further(job), [], [])
        every = {**hostile.HOSTILE, **hostile.ODDITIES, **made.further}
        for _ in range(ROUNDS):
            made.told.append(a_round(service.port, every))
            made.held.append(held(service.process.pid))
        slowest = max((seconds, name) for one in made.told for name, seconds in one.seconds.items())
        print(
            f"{len(every)} requests, {len(set(every.values()))} of them different, in {ROUNDS} rounds: {made.held}; "
            f"slowest {slowest}; {Counter(made.told[0].statuses.values())}; "
            f"{', '.join(f'{sum(one.seconds.values()):.1f} s' for one in made.told)}"
        )
        yield made


def test_each_is_refused(rounds):
    """A status from 400 on and below 500, or the connection is closed."""
    wrong = {name: one.statuses[name] for one in rounds.told for name in hostile.HOSTILE
             if one.statuses[name] is not None and not 400 <= one.statuses[name] < 500}  # fmt: skip
    assert not wrong


def test_what_is_odd_and_no_more_does_no_harm(rounds):
    wrong = {name: one.statuses[name] for one in rounds.told for name in (*hostile.ODDITIES, *rounds.further)
             if one.statuses[name] is not None and not 200 <= one.statuses[name] < 500}  # fmt: skip
    assert not wrong


def test_none_holds_the_service_up(rounds):
    slow = {name: seconds for one in rounds.told for name, seconds in one.seconds.items() if seconds > SECONDS}
    assert not slow


def test_nothing_is_left_behind(rounds):
    """Memory goes up for some six rounds, by 8 MB and less and less, now and then by 5 more, and not on; what is left
    behind by requests would add to it in each round alike."""
    *_, before, last = rounds.held
    held_kb = [one["kB"] for one in rounds.held[-1 - LAST :]]
    assert min(after - one for one, after in pairwise(held_kb)) < SLACK_KB, rounds.held
    assert (last["threads"], last["files"]) <= (before["threads"] + 1, before["files"] + 1)
    assert rounds.service.said == []  # no failure inside, on standard error
    with rounds.service.client() as client:
        jobs = client.get("/api/jobs").json()["jobs"]
    assert [(job["id"], job["state"]) for job in jobs] == [(rounds.job, "complete")]


def test_nothing_is_told_that_is_nobodys_business(rounds):
    assert [one.leaks for one in rounds.told] == [[]] * ROUNDS


def test_the_service_still_answers_and_no_thread_is_stuck(rounds):
    """More requests at a time than there are threads for them."""
    assert rounds.service.process.poll() is None
    answers: list[int] = []
    with rounds.service.client() as client:

        def ask(number: int) -> None:
            if number % 2:
                answers.append(client.post("/api/validate", content=SWEEP_TOML, headers=TOML).status_code)
            else:
                answers.append(client.get(f"/api/jobs/{rounds.job}/points").status_code)

        threads = [threading.Thread(target=ask, args=(number,)) for number in range(40)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(60)
    assert answers == [200] * 40
