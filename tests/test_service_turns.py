"""Turns in the running service: who is paused and goes on, what is left of it, and who never has to wait for whom."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest
from commands import LONG
from serving import ended, running, submitted
from sweeping import BASE, HARD, as_if_idle, marked

from solver.batch.sweep.peek import counts_in
from solver.batch.sweep.table import JobTable
from solver.service.jobs import senders
from solver.service.jobs.job import JobView
from solver.service.jobs.jobs import Jobs
from solver.service.limits import ServiceLimits

pytestmark = pytest.mark.deep

HEAVY = [LONG.replace("inner_teeth = 18", f"inner_teeth = {18 + n}") for n in range(6)]
SMALL = [BASE.replace("inner_teeth = 24", f"inner_teeth = {30 + n}") for n in range(60)]
ENDLESS = ServiceLimits(solve_seconds=1e6, workers=2)


def seen(what: Callable[[], bool], seconds: float = 60) -> None:
    """Wait until something holds; fails where it never does."""
    end = time.monotonic() + seconds
    while not what():
        assert time.monotonic() < end, "it never came to that"
        time.sleep(0.02)


def over(jobs: Jobs, job: str) -> JobView:
    seen(lambda: jobs.view(job).over)
    return jobs.view(job)


def tries(jobs: Jobs, job: str) -> list[int]:
    """How often each point was begun."""
    table = JobTable(jobs.folder(job), read_only=True)
    try:
        return [point["tries"] for point in table.points()]
    finally:
        table.close()


def at_work(jobs: Jobs, job: str) -> bool:
    return counts_in(jobs.folder(job))["solving"] > 0


def state_of(pid: int) -> str:
    """ "T" of a process that is paused, "" of one that is gone."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return ""


# -- who waits for whom ------------------------------------------------------------------------------------------------


def test_a_small_design_does_not_wait_for_heavy_ones_and_they_lose_nothing(tmp_path):
    with Jobs(tmp_path, ENDLESS) as jobs:
        heavy = [jobs.submit(text)[0].id for text in HEAVY[:2]]
        for job in heavy:
            seen(lambda job=job: at_work(jobs, job))
        time.sleep(2.5)  # both have had their first turns
        for text in SMALL[:3]:
            assert over(jobs, jobs.submit(text)[0].id).state == "complete"
        assert [jobs.view(job).state for job in heavy] == ["solving"] * 2
        assert [tries(jobs, job) for job in heavy] == [[1], [1]]


def test_everybody_has_a_first_turn_however_many_heavy_ones_there_are(tmp_path):
    with Jobs(tmp_path, ServiceLimits(solve_seconds=1e6, workers=1)) as jobs:
        heavy = [jobs.submit(text)[0].id for text in HEAVY[:4]]
        small = jobs.submit(SMALL[0])[0].id
        assert over(jobs, small).state == "complete"
        for job in heavy:
            seen(lambda job=job: at_work(jobs, job))
        assert [tries(jobs, job) for job in heavy] == [[1]] * 4
        assert over(jobs, jobs.submit(SMALL[1])[0].id).state == "complete"


def test_a_crowd_of_one_sender_does_not_hold_up_another(tmp_path):
    with Jobs(tmp_path, ServiceLimits(workers=1)) as jobs:
        crowd = [jobs.submit(text, sender="192.0.2.1")[0].id for text in SMALL[:24]]
        other = jobs.submit(SMALL[50], sender="192.0.2.2")[0].id
        late = jobs.submit(SMALL[51], sender="192.0.2.1")[0].id
        seen(lambda: jobs.view(other).over)
        assert sum(jobs.view(job).over for job in crowd) < 16
        assert not jobs.view(late).over
        assert over(jobs, late).state == "complete"
        assert all(jobs.view(job).over for job in crowd)


def test_the_service_tells_senders_apart_by_their_addresses(tmp_path):
    with running(tmp_path / "data", "--workers", "1") as serving:
        here, there = (
            httpx.Client(
                base_url=serving.address, timeout=60, transport=httpx.HTTPTransport(local_address=f"127.0.0.{host}")
            )
            for host in (1, 2)
        )
        with here, there:
            crowd = [submitted(here, text) for text in SMALL[:24]]
            assert ended(there, submitted(there, SMALL[50]))["state"] == "complete"
            done = sum(here.get(f"/api/jobs/{job}").json()["finished"] for job in crowd)
            assert done < 16


def test_short_points_of_a_sweep_are_not_behind_a_long_one(tmp_path):
    points = "".join(f"[[point]]\nrings.inner_teeth = {teeth}\nsearch.max_parts = 1\n" for teeth in (24, 26, 28))
    text = HEAVY[0] + "[[point]]\nrings.inner_teeth = 18\n" + points
    with Jobs(tmp_path, ServiceLimits(solve_seconds=1e6, workers=1)) as jobs:
        job = jobs.submit(text)[0].id
        seen(lambda: jobs.view(job).finished == 3)
        assert jobs.view(job).points["solving"] == 1
        assert tries(jobs, job) == [1, 1, 1, 1]


def test_what_has_no_place_in_memory_waits_for_one_after_its_first_turn(tmp_path):
    with Jobs(tmp_path, ServiceLimits(solve_seconds=1e6, workers=1, places=2)) as jobs:
        heavy = [jobs.submit(text)[0].id for text in HEAVY[:4]]
        for job in heavy:
            seen(lambda job=job: sum(tries(jobs, job)) > 0)
        seen(lambda: sum(jobs.view(job).state == "waiting" for job in heavy) == 2)
        kept = [job for job in heavy if jobs.view(job).state == "solving"]
        assert over(jobs, jobs.submit(SMALL[0])[0].id).state == "complete"
        jobs.stop(kept[0])
        assert over(jobs, kept[0]).state == "stopped"
        seen(lambda: sum(jobs.view(job).state == "solving" for job in heavy) == 2)  # another one has its place now
        assert jobs.view(kept[1]).state == "solving"
        assert tries(jobs, kept[1]) == [1]


# -- pauses ------------------------------------------------------------------------------------------------------------


@contextmanager
def two_heavy_on_one_slot(data: Path) -> Iterator[tuple]:
    """A service with one slot, and two heavy designs of which one is paused; its processes that are paused."""
    with running(data, "--workers", "1", "--solve-seconds", "100000") as serving, serving.client() as client:
        for text in HEAVY[:2]:
            submitted(client, text)
        paused: list[int] = []

        def one_is() -> bool:
            paused[:] = [pid for pid in marked(serving.mark) if state_of(pid) == "T"]
            return bool(paused)

        seen(one_is)
        yield serving, client, paused


def test_what_is_paused_dies_with_the_service(tmp_path):
    with two_heavy_on_one_slot(tmp_path / "data") as (serving, _, paused):
        serving.process.kill()
        serving.process.wait(20)
        seen(lambda: not marked(serving.mark), 20)
        assert not any(map(state_of, paused))


def test_what_is_paused_dies_with_its_runner(tmp_path):
    with two_heavy_on_one_slot(tmp_path / "data") as (_, _, paused):
        runner = os.getpgid(paused[0])
        os.kill(runner, signal.SIGKILL)
        seen(lambda: state_of(paused[0]) in ("", "Z"), 20)


def test_what_is_paused_does_not_hold_up_the_end(tmp_path):
    with two_heavy_on_one_slot(tmp_path / "data") as (serving, _, _):
        most, began = as_if_idle(5), time.monotonic()
        assert serving.end() == 0
        assert time.monotonic() - began < most
        seen(lambda: not marked(serving.mark), 20)
    assert not serving.said


def test_a_job_can_be_stopped_while_it_is_paused(tmp_path):
    with two_heavy_on_one_slot(tmp_path / "data") as (_, client, paused):
        first, second = [job["id"] for job in client.get("/api/jobs").json()["jobs"]][::-1]
        assert client.post(f"/api/jobs/{first}/stop").status_code == 202
        stopped = ended(client, first)
        assert (stopped["state"], stopped["points"]["stopped"], stopped["finished"]) == ("stopped", 1, 0)
        assert client.post(f"/api/jobs/{second}/stop").status_code == 202
        assert ended(client, second)["state"] == "stopped"
        assert not any(map(state_of, paused))


def test_everything_is_forked_from_one_process_that_has_loaded_it(tmp_path):
    with two_heavy_on_one_slot(tmp_path / "data") as (serving, _, _):
        parents = {}
        for pid in marked(serving.mark):
            if b"forkserver" in Path(f"/proc/{pid}/cmdline").read_bytes():
                parents[pid] = int(Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[1])
        servers = [pid for pid, parent in parents.items() if parent == serving.process.pid]
        assert len(servers) == 1
        forked = [pid for pid in parents if pid not in servers]
        assert len(forked) >= 5  # two runners with a worker each, and a checker
        assert {parents[pid] for pid in forked} == set(servers)


def test_the_time_for_which_a_solve_is_paused_is_not_counted(tmp_path):
    """Two designs share one slot, each with three seconds: both have all of them, although each waits as long."""
    texts = [text.replace("time_limit_s = 100000", "time_limit_s = 3") for text in HEAVY[:2]]
    with Jobs(tmp_path, ServiceLimits(workers=1)) as jobs:
        began = time.monotonic()
        names = [jobs.submit(text)[0].id for text in texts]
        for name in names:
            done = over(jobs, name)
            assert (done.state, done.points["stopped"]) == ("complete", 1)
            assert jobs.points(name)[0]["reason"] == "time: 3 s were not enough"
        assert time.monotonic() - began >= 6
        assert [tries(jobs, name) for name in names] == [[1], [1]]


# -- memory ------------------------------------------------------------------------------------------------------------


def test_a_design_whose_memory_ran_out_is_told_so(tmp_path):
    with Jobs(tmp_path, ServiceLimits(solve_seconds=1e6, memory_mb=80, workers=2)) as jobs:
        told = over(jobs, jobs.submit(LONG)[0].id)
        assert (told.state, told.reason) == (
            "failed",
            "memory too small: 80 MB were allowed beside the solver itself, of which the README's example needs 30",
        )
        assert tries(jobs, told.id) == [1]
        (point,) = jobs.points(told.id)
        assert (point["state"], point["reason"]) == ("failed", told.reason)
        sweep = over(jobs, jobs.submit(HARD)[0].id)
        assert sweep.state == "complete" and sweep.points["failed"] == 1
        assert sweep.reason == f"1 point failed, the first of them: {told.reason}"


# -- senders -----------------------------------------------------------------------------------------------------------


def test_senders_have_numbers_and_no_address_is_stored(tmp_path):
    with Jobs(tmp_path, ServiceLimits()) as jobs:
        for text, sender in zip(SMALL, ("192.0.2.1", "192.0.2.9", "192.0.2.1", "2001:db8::1", "2001:db8::2", "", "")):
            jobs.submit(text, sender=sender)
        records = [jobs._jobs[view.id].record.sender for view in jobs.listing()[0][::-1]]
    assert records == [1, 2, 1, 3, 3, 4, 4]
    assert not any(b"192.0.2" in file.read_bytes() for file in tmp_path.rglob("*.json"))
    with Jobs(tmp_path, ServiceLimits()) as jobs:
        again = jobs.submit(SMALL[10], sender="192.0.2.1")[0].id
        assert jobs._jobs[again].record.sender == 5  # nobody's number from before


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("192.0.2.1", "192.0.2.1", True),
        ("192.0.2.1", "192.0.2.2", False),
        ("::ffff:192.0.2.1", "192.0.2.1", True),
        ("2001:db8::1", "2001:db8::ffff:1", True),
        ("2001:db8::1", "2001:db8:0:1::1", False),
        ("fe80::1%eth0", "fe80::2", True),
        ("unix", "unix", True),
        ("unix", "elsewhere", False),
    ],
)
def test_what_one_machine_can_choose_is_one_sender(one, other, same):
    assert (senders.household(one) == senders.household(other)) is same


def test_only_so_many_senders_are_kept_in_mind(monkeypatch):
    monkeypatch.setattr(senders, "_KEPT", 3)
    told = senders.Senders()
    assert [told.number(str(n)) for n in (1, 2, 3, 1, 4, 1, 2)] == [1, 2, 3, 1, 4, 1, 5]


# -- beginning ---------------------------------------------------------------------------------------------------------


def test_a_start_with_many_jobs_writes_none_and_looks_into_sweeps_alone(tmp_path, monkeypatch):
    """Counted, since it must not grow: a start writes one file, whatever is there, and opens the tables of
    sweeps and of what was begun."""
    from solver.batch.sweep import peek

    with Jobs(tmp_path, ENDLESS) as jobs:
        for text in (*SMALL[:3], HEAVY[0], HEAVY[1] + "[vary]\nrings.blanks = [8, 9]\n"):
            jobs.submit(text)
        for job in [view.id for view in jobs.listing()[0]][2:]:
            over(jobs, job)
    before = {path: path.stat().st_mtime_ns for path in tmp_path.rglob("job.json")}
    looked: list[Path] = []
    real = peek._asked
    monkeypatch.setattr(peek, "_asked", lambda folder, *more: looked.append(folder) or real(folder, *more))
    monkeypatch.setattr(Jobs, "_take_turns", lambda self: None)
    with Jobs(tmp_path, ENDLESS) as jobs:
        assert sorted(view.state for view in jobs.listing()[0]) == ["complete"] * 3 + ["waiting"] * 2
        (sweep,) = [view.id for view in jobs.listing()[0] if view.kind == "sweep"]
        begun = {view.id for view in jobs.listing()[0] if not view.over and (jobs.folder(view.id) / "parts").is_dir()}
        assert {folder.name for folder in looked} == {sweep} | begun
    assert {path: path.stat().st_mtime_ns for path in tmp_path.rglob("job.json")} == before


def test_versions_grow_although_no_record_is_written_at_a_start(tmp_path, monkeypatch):
    monkeypatch.setattr(Jobs, "_take_turns", lambda self: None)
    seen_versions = []
    with Jobs(tmp_path, ENDLESS) as jobs:
        job = jobs.submit(HEAVY[0])[0].id
        seen_versions.append(jobs.view(job).version)
    for _ in range(3):
        with Jobs(tmp_path, ENDLESS) as jobs:
            seen_versions.append(jobs.view(job).version)
            jobs.stop(job)
            seen_versions.append(jobs.view(job).version)
            jobs.resume(job)
            seen_versions.append(jobs.view(job).version)
    (tmp_path / "starts").write_text("not a number")  # it was lost, and the records know enough
    with Jobs(tmp_path, ENDLESS) as jobs:
        seen_versions.append(jobs.view(job).version)
    assert seen_versions == sorted(set(seen_versions)) and seen_versions[-1] * 1000 < 2**53
