"""Certificates that are kept with a stored run: its hashes stay, and what reads the run says that there is one."""

from __future__ import annotations

import io
import json
import zipfile
from pathlib import Path

import httpx
import pytest
from certificates import DESIGNS, design_text
from commands import run as from_shell
from serving import ended, in_thread, submitted
from test_broken_files import run

from solver.answer.certificate.files import FILES
from solver.batch.store.certificates import certificate_folder, kept_certificate
from solver.batch.store.runs import load_run
from solver.batch.sweep.run import load_sweep
from solver.files.load import parse_design
from solver.service.limits import ServiceLimits
from solver.sheets.book.pack import Pack

pytest.importorskip("pumpkin_solver")


@pytest.fixture
def stored(tmp_path, monkeypatch, capsys) -> Path:
    (tmp_path / "hall.toml").write_text(DESIGNS["plain"], encoding="utf-8")
    run(monkeypatch, capsys, "solve", str(tmp_path / "hall.toml"), "--results", str(tmp_path / "results"))
    (folder,) = (tmp_path / "results").iterdir()
    return folder


def test_a_run_keeps_its_certificate(stored, monkeypatch, capsys):
    before = {path.name: path.read_bytes() for path in stored.iterdir()}
    sha = load_run(stored).record["config_sha256"]
    assert kept_certificate(stored, sha) is None
    for _ in range(2):  # the second one takes the place of the first
        code, out, err = run(monkeypatch, capsys, "prove", str(stored), "--certify", "--json")
        assert (code, err) == (0, "")
        (proof,) = json.loads(out)["proofs"]
        assert proof["by"] == "certificate" and proof["outcome"] == "confirmed" and proof["steps"] > 0
        assert proof["best"] == "the best train has exactly the error E"
    assert {name: (stored / name).read_bytes() for name in before} == before and not load_run(stored).damaged
    assert sorted(path.name for path in stored.iterdir()) == sorted([*before, "certificate"])
    kept = kept_certificate(stored, sha)
    assert kept is not None and kept.claim == proof["claim"] and kept.folder == certificate_folder(stored)
    assert run(monkeypatch, capsys, "check", str(kept.folder))[0] == 0
    with zipfile.ZipFile(io.BytesIO(kept.zipped())) as packed:
        assert sorted(packed.namelist()) == sorted(f"certificate/{name}" for name in FILES)
    assert run(monkeypatch, capsys, "rank", str(stored))[0] == 0


def test_where_a_link_stands_in_its_place_nothing_behind_it_is_removed(stored, tmp_path, monkeypatch, capsys):
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "own").write_text("somebody's")
    certificate_folder(stored).symlink_to(tmp_path / "other")
    before = sorted(path.name for path in stored.iterdir())
    code, _, err = run(monkeypatch, capsys, "prove", str(stored), "--certify")
    assert code != 0 and err.count("\n") == 1 and (tmp_path / "other" / "own").read_text() == "somebody's"
    assert sorted(path.name for path in stored.iterdir()) == before


def test_one_of_another_design_or_with_a_file_less_does_not_count(stored, monkeypatch, capsys):
    run(monkeypatch, capsys, "prove", str(stored), "--certify")
    sha = load_run(stored).record["config_sha256"]
    assert kept_certificate(stored, sha) is not None and kept_certificate(stored, "0" * 64) is None
    (certificate_folder(stored) / "proof.json.gz").unlink()
    assert kept_certificate(stored, sha) is None


@pytest.mark.deep
def test_one_point_of_several_is_asked_for_before_any_is_read(tmp_path, monkeypatch, capsys):
    (tmp_path / "hall.toml").write_text(DESIGNS["plain"] + "[vary]\nrings.inner_teeth = [20, 21]\n", encoding="utf-8")
    assert from_shell("sweep", "hall.toml", "--name", "two", cwd=tmp_path)[0] == 0
    (folder,) = (tmp_path / "runs" / "results").iterdir()
    points = [point["point_id"] for point in load_sweep(folder).points]
    read = []
    real = parse_design
    monkeypatch.setattr("solver.cli.source.parse_design", lambda *words: read.append(words) or real(*words))
    for named in ((), ("--point", points[0], "--point", points[1])):
        code, _, err = run(monkeypatch, capsys, "prove", str(folder), *named, "--certify")
        told = f"--certificate: of one answer, and {folder} has 2; choose one with --point\n"
        assert (code, err, read) == (2, told, [])
    assert run(monkeypatch, capsys, "prove", str(folder), "--point", points[1], "--certify")[0] == 0
    assert len(read) == 1 and [path.name for path in (folder / "certificates").iterdir()] == [points[1]]


PLACED = DESIGNS["plain"].replace('directions = "none"', "directions = 24")
FEW_JIGS = design_text(["1", "2.4", "5.3"]).replace("max_error_pct = 50", "max_error_pct = 50\nmax_jigs = 5")
BY_TEETH = "; a certificate of the least error by teeth is kept with the run"
SAID = {
    "by error": (PLACED, "1", "proven best; a certificate of it is kept with the run"),
    "the second": (PLACED, "2", "proven to be the 2nd in order"),
    "by jigs": (PLACED + 'rank = ["jigs", "error"]\n', "1", f"proven best{BY_TEETH}"),
    "better by teeth": (FEW_JIGS.replace('directions = "none"', "directions = 24"), "1", f"proven best{BY_TEETH}"),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", SAID)
def test_sheets_say_what_the_certificate_is_of(name, tmp_path, monkeypatch, capsys):
    text, rank, said = SAID[name]
    (tmp_path / "hall.toml").write_text(text, encoding="utf-8")
    run(monkeypatch, capsys, "solve", str(tmp_path / "hall.toml"), "--results", str(tmp_path / "results"))
    (folder,) = (tmp_path / "results").iterdir()
    assert run(monkeypatch, capsys, "prove", str(folder), "--certify")[0] == 0
    told = []

    def made(design, solution, paper, lengths, known, tell):
        told.append(known)
        return Pack({"index.html": b""}, ())

    monkeypatch.setattr("solver.cli.sheets.make_pack", made)
    code, _, err = run(monkeypatch, capsys, "sheets", str(folder), "--rank", rank, "--out", str(tmp_path / "out"))
    assert (code, told) == (0, [said]), err


def test_a_file_keeps_none(tmp_path, monkeypatch, capsys):
    file = tmp_path / "hall.toml"
    file.write_text(DESIGNS["plain"], encoding="utf-8")
    code, _, err = run(monkeypatch, capsys, "prove", str(file), "--certify")
    assert (code, err) == (2, f"--certify: keeps it with a stored run, and {file} is none; use --certificate FOLDER\n")


@pytest.mark.deep
def test_the_page_of_a_job_offers_the_certificate_that_is_kept(tmp_path, monkeypatch, capsys):
    data = tmp_path / "data"
    with in_thread(data, ServiceLimits(solve_seconds=1e6)) as (port, _), httpx.Client(trust_env=False) as client:
        client.base_url, client.timeout = f"http://127.0.0.1:{port}", 60
        job = submitted(client, SAID["by jigs"][0])
        ended(client, job)
        point = client.get(f"/api/jobs/{job}/points").json()["points"][0]["point"]
        path = f"/api/jobs/{job}/points/{point}/certificate"
        assert client.get(path).status_code == 404 and path not in client.get(f"/jobs/{job}").text
        (folder,) = {found.parent for found in data.rglob("solutions.parquet")} | {
            found.parent for found in data.rglob("sweep.json")
        }
        code, _, err = run(monkeypatch, capsys, "prove", str(folder), "--point", point, "--certify")
        assert (code, err) == (0, "")
        answer = client.get(path)
        assert answer.headers["content-type"] == "application/zip"
        with zipfile.ZipFile(io.BytesIO(answer.content)) as packed:
            claim = json.loads(packed.read("certificate/claim.json"))["claim"]
        page = client.get(f"/jobs/{job}").text
        assert path in page and claim in page and "of the least error by teeth, as a zip</a>" in page
        sheets = client.get(f"/api/jobs/{job}/solutions/{point}/1/sheets?paper=a4")
        with zipfile.ZipFile(io.BytesIO(sheets.content)) as packed:
            assert SAID["by jigs"][2] in packed.read("index.html").decode()
