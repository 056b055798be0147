"""The service killed, ended and started again in the middle of its work."""

from __future__ import annotations

import json
import os
import shutil
import signal
import socket
import sqlite3
import threading
import time

import pytest
from serving import ended, events, refused, running, submitted
from sweeping import BASE, HARD, SMALL, as_if_idle, call, marked, table_bytes, write

from solver.service.jobs.jobs import Jobs
from solver.service.limits import ServiceLimits

pytestmark = pytest.mark.deep


def all_gone(mark: str, seconds: float) -> bool:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if not marked(mark):
            return True
        time.sleep(0.02)
    return not marked(mark)


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory):
    """The tables of the small sweep, as the command `sweep` makes them."""
    folder = tmp_path_factory.mktemp("undisturbed")
    code, _, err = call("sweep", str(write(folder, SMALL)), cwd=folder)
    assert code == 0, err
    return table_bytes(folder / "runs" / "results" / "moons")


def test_killed_in_the_middle_of_a_sweep_it_goes_on_and_ends_with_the_same_bytes(tmp_path, undisturbed):
    data = tmp_path / "data"
    with running(data) as serving, serving.client() as client:
        job = submitted(client, SMALL)
        design = submitted(client, BASE)
        seen = 0
        for name, version, view in events(client, job):
            assert name == "progress"
            seen = version
            if view["finished"] >= 5:
                break
        serving.process.send_signal(signal.SIGKILL)
        assert all_gone(serving.mark, 10.0), "a process lived on after the kill"
        serving.process.wait(10)
    assert not (data / "jobs" / job / "manifest.json").exists()
    with running(data) as serving, serving.client() as client:
        versions = []
        for name, version, view in events(client, job, seen):
            if name == "progress":
                versions.append(version)
                assert view["finished"] >= 5
        assert versions == sorted(set(versions)) and versions[0] > seen
        assert (view["state"], view["finished"]) == ("complete", 60)
        assert ended(client, design)["state"] == "complete"
    assert table_bytes(data / "jobs" / job) == undisturbed


@pytest.mark.parametrize("pauses", [(0.3, 1.2, 2.0, 2.6)])
@pytest.mark.parametrize("signum", [signal.SIGKILL, signal.SIGTERM])
def test_ended_again_and_again_it_ends_with_the_same_bytes(tmp_path, undisturbed, pauses, signum):
    """Whenever it comes: while the service begins, while its runners do, while they solve."""
    data = tmp_path / "data"
    with running(data) as serving, serving.client() as client:
        job = submitted(client, SMALL)
        serving.process.kill()
    for pause in pauses:
        with running(data) as serving:
            time.sleep(pause)
            serving.process.send_signal(signum)
            assert all_gone(serving.mark, 10.0)
    with running(data) as serving, serving.client() as client:
        last = ended(client, job)
        assert last["state"] == "complete", last["reason"]
    assert table_bytes(data / "jobs" / job) == undisturbed


def test_a_runner_that_is_killed_is_begun_again(tmp_path, undisturbed):
    with running(tmp_path / "data") as serving, serving.client() as client:
        job = submitted(client, SMALL)
        killed = 0
        for _, _, view in events(client, job):
            if view["finished"] >= 5 and not killed:
                killed = _runner(serving.mark)
                os.kill(killed, signal.SIGKILL)
        assert view["state"] == "complete", view["reason"]
    assert table_bytes(tmp_path / "data" / "jobs" / job) == undisturbed


def _runner(mark: str) -> int:
    """A runner: it leads a group in which there are workers too."""
    groups = [os.getpgid(pid) for pid in marked(mark)]
    for pid in marked(mark):
        if os.getpgid(pid) == pid and groups.count(pid) > 1:
            return pid
    raise AssertionError("no runner is at work")


@pytest.mark.parametrize("signum", [signal.SIGTERM, signal.SIGINT])
def test_it_ends_within_five_seconds_with_streams_open_and_runners_at_work(tmp_path, signum):
    data = tmp_path / "data"
    with running(data, "--solve-seconds", "100000") as serving, serving.client() as client:
        job = submitted(client, HARD)
        told = []
        reached = threading.Event()

        def read() -> None:
            with serving.client() as other:
                for name, _, view in events(other, job):
                    told.append(name)
                    if view["finished"] == 2:
                        reached.set()

        readers = [threading.Thread(target=read) for _ in range(5)]
        for reader in readers:
            reader.start()
        assert reached.wait(60)
        silent = socket.create_connection(("127.0.0.1", serving.port))
        most, began = as_if_idle(5), time.monotonic()
        assert serving.end(signum) == 0
        assert time.monotonic() - began < most
        assert all_gone(serving.mark, 10.0)
        silent.close()
        for reader in readers:
            reader.join(20)
        assert "end" not in told  # the job is not over: a reader comes back
    assert not serving.said
    record = json.loads((data / "jobs" / job / "job.json").read_text())
    assert record["over"] is None and not record["stopped"]
    with sqlite3.connect(data / "jobs" / job / "jobs.sqlite") as table:
        states = sorted(row[0] for row in table.execute("SELECT state FROM points"))
    table.close()
    assert states == ["solved", "solved", "stopped"]  # with what it had found until then, and solved again


def test_a_stopped_job_stays_stopped_over_a_restart_and_its_end_is_told_once(tmp_path):
    data = tmp_path / "data"
    with running(data, "--solve-seconds", "100000") as serving, serving.client() as client:
        job = submitted(client, HARD)
        told = []
        for name, version, view in events(client, job):
            told.append((name, version))
            if view["finished"] == 2 and view["state"] == "solving":
                client.post(f"/api/jobs/{job}/stop").raise_for_status()
        (name, version), last = told[-1], view
        assert (name, last["state"], last["reason"]) == ("end", "stopped", "a user stopped it")
        assert view["points"] == {"waiting": 0, "solving": 0, "solved": 2, "stopped": 1, "failed": 0}
        assert view["finished"] == 2
        assert client.get(f"/api/jobs/{job}/solutions").json()["total"] == 6
    with running(data) as serving, serving.client() as client:
        assert client.get(f"/api/jobs/{job}").json() == view
        assert [name for name, _, _ in events(client, job, version)] == ["end"]
        assert [name for name, _, _ in events(client, job)] == ["progress", "end"]


def test_damaged_files_fail_the_job_and_resume_makes_good(tmp_path, undisturbed):
    data = tmp_path / "data"
    with Jobs(data) as jobs:
        view, _ = jobs.submit(SMALL)
    table = data / "jobs" / view.id / "jobs.sqlite"
    content = bytearray(table.read_bytes())
    content[4096:8192] = b"\xff" * 4096
    table.write_bytes(content)
    with running(data) as serving, serving.client() as client:
        failed = ended(client, view.id)
        assert failed["state"] == "failed"
        assert str(tmp_path) not in failed["reason"] and "jobs.sqlite" in failed["reason"]
        assert client.post(f"/api/jobs/{view.id}/resume").status_code == 202
        assert ended(client, view.id)["state"] == "complete"
    assert table_bytes(data / "jobs" / view.id) == undisturbed


def test_what_was_never_answered_for_is_swept_away(tmp_path):
    data = tmp_path / "data"
    with Jobs(data) as jobs:
        view, _ = jobs.submit(BASE)
    shutil.copytree(data / "jobs" / view.id, data / "jobs" / "0123456789abcdef")
    (data / "jobs" / "0123456789abcdef" / "job.json").unlink()
    (data / "new" / "half").mkdir()
    with Jobs(data) as jobs:
        assert [one.id for one in jobs.listing()[0]] == [view.id]
    assert [folder.name for folder in (data / "jobs").iterdir()] == [view.id]
    assert not list((data / "new").iterdir())


def test_a_copy_of_the_folder_is_a_backup(tmp_path, undisturbed):
    data = tmp_path / "data"
    with running(data) as serving, serving.client() as client:
        job = submitted(client, SMALL)
        before = ended(client, job)
        shutil.copytree(data, tmp_path / "backup")
    with running(tmp_path / "backup") as serving, serving.client() as client:
        assert client.get(f"/api/jobs/{job}").json() == before
    assert table_bytes(tmp_path / "backup" / "jobs" / job) == undisturbed


def test_a_folder_with_a_damaged_record_is_named(tmp_path):
    data = tmp_path / "data"
    with Jobs(data, ServiceLimits()) as jobs:
        view, _ = jobs.submit(BASE)
    (data / "jobs" / view.id / "job.json").write_text("{")
    code, said = refused("--port", "0", "--data", "data", cwd=tmp_path)
    assert code == 2
    assert said.startswith(f"data/jobs/{view.id}/job.json: cannot be read: ") and said.count("\n") == 1
