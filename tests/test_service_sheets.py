"""Sheets that many ask for: they stand in line, each pack is made once and kept, and its file has the design's name."""

from __future__ import annotations

import io
import threading
import zipfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from urllib.parse import unquote

import httpx
import pytest
from serving import ended, in_thread, submitted
from sweeping import BASE

from solver.service.file_names import file_name, named
from solver.service.http import line
from solver.service.kept.packs import Packs
from solver.service.limits import ServiceLimits
from solver.service.processes.sheets import Packers

PLACED = BASE.replace('directions = "none"', "directions = 24")
LIMITS = ServiceLimits(solve_seconds=1e6)


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Saturn's large moons, entrance hall", "Saturns-large-moons-entrance-hall.zip"),
        ("Měsíce Jupiteru", "Měsíce-Jupiteru.zip"),
        ('"; rm -rf ../../\r\nSet-Cookie: a=b', "rm-rf-Set-Cookie-a-b.zip"),
        ("../..", "design.zip"),
        ("", "design.zip"),
        ("x" * 500, "x" * 80 + ".zip"),
    ],
)
def test_a_title_becomes_the_name_of_a_file(title: str, name: str) -> None:
    assert file_name(title, ".zip") == name


def test_a_name_in_a_header_is_ascii_and_whole_beside_it() -> None:
    # RFC 6266, section 4.3: filename* takes precedence where both are understood; RFC 8187, section 3.2.1: ext-value.
    assert named("plain-1.zip") == {"content-disposition": 'attachment; filename="plain-1.zip"'}
    told = named("Měsíce-木星-1.zip", "inline")["content-disposition"]
    assert told.isascii() and "\n" not in told
    kind, plain, whole = told.split("; ")
    assert (kind, plain) == ("inline", 'filename="Mesice-1.zip"')
    assert unquote(whole.removeprefix("filename*=UTF-8''")) == "Měsíce-木星-1.zip"


def test_packs_are_kept_until_there_are_too_many_and_damaged_ones_are_not_told(tmp_path: Path) -> None:
    packs = Packs(tmp_path / "sheets", most_bytes=2500)
    assert packs.of("a", "0") is None
    for key in "012":
        packs.keep("a", key, key.encode() * 1000)
    assert [packs.of("a", key) is not None for key in "012"] == [False, True, True]
    damaged = next(tmp_path.glob("sheets/a-1*"))
    damaged.write_bytes(damaged.read_bytes()[:-1])
    assert packs.of("a", "1") is None and not damaged.exists()
    packs.keep("b", "1", b"other")
    packs.forget("a")
    assert packs.of("a", "2") is None and packs.of("b", "1") == b"other"


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory):
    data = tmp_path_factory.mktemp("sheets") / "data"
    with in_thread(data, LIMITS) as (port, jobs), httpx.Client(trust_env=False, timeout=300) as client:
        client.base_url = f"http://127.0.0.1:{port}"
        yield client, jobs


def address_of(client: httpx.Client, title: str) -> tuple[str, str]:
    """A new job, and the address of its best solution."""
    job = submitted(client, PLACED.replace("Three moons of Saturn", title))
    ended(client, job)
    found = client.get(f"/api/jobs/{job}/solutions").json()["solutions"][0]
    return job, f"/api/jobs/{job}/solutions/{found['point']}/1"


@pytest.mark.slow
def test_eight_at_once_wait_in_line_and_each_pack_is_made_once(served, monkeypatch: pytest.MonkeyPatch) -> None:
    client, _ = served
    _, path = address_of(client, "Měsíce")
    lock, made, at_once, most = threading.Lock(), [], 0, 0
    enough = threading.Event()

    def slow(self: Packers, folder: Path, point: str, rank: int, paper: str, both_units: bool) -> bytes:
        nonlocal at_once, most
        with lock:
            at_once += 1
            most = max(most, at_once)
            made.append((paper, both_units))
        assert enough.wait(60)
        with lock:
            at_once -= 1
        return f"{paper} {both_units}".encode()

    monkeypatch.setattr(Packers, "zip", slow)
    wanted = [(paper, both) for paper in ("a4", "letter") for both in ("true", "false")] * 2
    with ThreadPoolExecutor(8) as pool:
        asked = [pool.submit(client.get, f"{path}/sheets", params={"paper": paper, "both_units": both})
                 for paper, both in wanted]  # fmt: skip
        while len(made) < line.AT_A_TIME:
            threading.Event().wait(0.01)
        assert not any(one.done() for one in asked)
        enough.set()
        answers = [one.result() for one in asked]
    assert [answer.status_code for answer in answers] == [200] * 8
    assert [answer.text for answer in answers] == [f"{paper} {both.title()}" for paper, both in wanted]
    assert most == line.AT_A_TIME
    assert len(made) == len(set(made)) == 4
    assert "filename*=UTF-8''M%C4%9Bs%C3%ADce-1-sheets.zip" in answers[0].headers["content-disposition"]
    assert client.get(f"{path}/sheets", params={"paper": "a4", "both_units": "true"}).text == "a4 True"
    assert len(made) == 4


@pytest.mark.slow
def test_where_the_line_is_full_one_is_told_to_come_again(served, monkeypatch: pytest.MonkeyPatch) -> None:
    client, _ = served
    _, path = address_of(client, "Full")
    begun, go_on = threading.Event(), threading.Event()

    def slow(*_: object) -> bytes:
        begun.set()
        assert go_on.wait(60)
        return b"zip"

    monkeypatch.setattr(Packers, "zip", slow)
    monkeypatch.setattr(line, "MOST_WAITING", 1)
    with ThreadPoolExecutor(1) as pool:
        first = pool.submit(client.get, f"{path}/sheets")
        assert begun.wait(30)
        try:
            answer = client.get(f"{path}/sheets")
            assert (answer.status_code, answer.headers["retry-after"]) == (503, "5")
            assert answer.json()["detail"] == "1 wait for sheets already, and no more may; try again soon"
        finally:
            go_on.set()
        assert first.result().content == b"zip"


@pytest.mark.deep
def test_eight_real_packs_at_once_are_sheets_and_go_with_their_job(served) -> None:
    client, jobs = served
    job, path = address_of(client, "Real")
    wanted = [{"paper": paper, "both_units": both} for paper in ("a4", "letter") for both in ("true", "false")] * 2
    with ThreadPoolExecutor(8) as pool:
        answers = list(pool.map(lambda asked: client.get(f"{path}/sheets", params=asked), wanted))
    assert {answer.status_code for answer in answers} == {200}
    for one, same in zip(answers[:4], answers[4:], strict=True):
        assert one.content == same.content
        with zipfile.ZipFile(io.BytesIO(one.content)) as archive:
            assert archive.testzip() is None and "index.html" in archive.namelist()
    kept = list((jobs.data / "sheets").glob(f"{job}-*"))
    assert len(kept) == 4
    assert client.delete(f"/api/jobs/{job}").status_code == 204
    assert not list((jobs.data / "sheets").glob(f"{job}-*"))
