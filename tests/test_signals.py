"""Signals: at any moment a command ends at once, quietly, with the right exit code, and what was found is stored.

No clock is asked. A copy of this process sends itself the signal at a chosen step, or in the middle of work that never
ends by itself, as a library does that cannot be asked to stop.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from commands import CONFIGS, LONG, ROOT, forked, start, until_it_searches
from serving import running
from shipped import PLAIN
from sweeping import left_behind

from solver import parse_design
from solver.answer import solve as answer_module
from solver.answer.solve import solve
from solver.batch.store.runs import load_run
from solver.cli import audit as audit_command
from solver.cli import rank as rank_command
from solver.cli import rerun as rerun_command
from solver.cli import sheets as sheets_command
from solver.search.order.engine import ErrorSearch
from solver.search.order.search import DesignSearch
from solver.search.place.placing import Fitter
from solver.search.stop import Interrupt
from solver.search.why import asking as asking_module

pytestmark = pytest.mark.slow

SIGNALS = (
    signal.SIGINT, *(pytest.param(one, marks=pytest.mark.deep) for one in (signal.SIGTERM, signal.SIGHUP))
)  # fmt: skip
so_far = DesignSearch.so_far
DESIGN = """
title = "Two moons"
[bodies]
set = "saturn"
only = ["Mimas", "Tethys"]
[fit]
frame = {shape = "square", side = 640}
"""


# Several families of rings, so that a train is kept before the least error is looked for.
SEVERAL = (PLAIN / "saturn-full-range.toml").read_text(encoding="utf-8")
SEVERAL = SEVERAL.replace("{min = 18, max = 36}", "[18, 20]").replace("{min = 2, max = 8}", "[3, 4]")


@pytest.fixture
def several(tmp_path_factory) -> str:
    path = tmp_path_factory.mktemp("several") / "several.toml"
    path.write_text(SEVERAL)
    return str(path)


def struck(*signals: int, busy: bool = False):
    """Work that sends this process signals, one after the other, and never ends."""

    def work(*_words, **_options):
        for signum in signals:
            os.kill(os.getpid(), signum)
            time.sleep(0.3)  # two of them at once could come the other way round
        while True:
            if not busy:
                time.sleep(1)

    return work


# -- at every step -----------------------------------------------------------------------------------------------------

# Solves in copies of itself, each of which sends itself a signal at another step: a module that is loaded, a file that
# is opened, a folder that is made or renamed. Libraries are there already; all of ours is loaded in the copy.
STEPS = """
import json, os, sys, tempfile
import numpy, pyarrow.parquet, pydantic, rich.console, rich.table, rich.status, typer
signum, count = int(sys.argv[1]), int(sys.argv[2])

def child(at, folder, out, err):
    os.chdir(folder)
    os.dup2(out.fileno(), 1)
    os.dup2(err.fileno(), 2)
    from solver.__main__ import main
    steps = 0
    def watch(event, _):
        nonlocal steps
        if event in ("import", "open", "os.mkdir", "os.rename"):
            steps += 1
            if steps == at:
                os.kill(os.getpid(), signum)
            if at is None:
                os.pwrite(3, b"%8d" % steps, 0)
    sys.addaudithook(watch)
    sys.argv = ["ringwright", "solve", "../design.toml"]
    main()

def run(at, folder):
    os.mkdir(folder)
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        pid = os.fork()
        if not pid:
            try:
                child(at, folder, out, err)
            except SystemExit as end:
                os._exit(end.code)
            finally:
                os._exit(98)
        code = os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
        out.seek(0), err.seek(0)
        return code, out.read().decode(), err.read().decode()

with tempfile.TemporaryFile() as told:
    os.dup2(told.fileno(), 3)
    assert run(None, "whole")[0] == 0
    steps = int(os.pread(3, 8, 0))
    for number in range(count):
        at = 1 + (steps - 1) * number // (count - 1)
        print(json.dumps([at, steps, *run(at, f"at-{at}")]), flush=True)
"""


@pytest.mark.deep
@pytest.mark.parametrize("signum", SIGNALS)
def test_a_signal_at_any_step_ends_it_quietly_and_loses_nothing(signum, tmp_path):
    (tmp_path / "design.toml").write_text(DESIGN)
    done = subprocess.run(
        [sys.executable, "-c", STEPS, str(int(signum)), "12"],
        cwd=tmp_path, env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, text=True, timeout=600,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    ends = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(ends) == 12
    for at, steps, code, out, err in ends:
        assert code == 128 + signum, (at, steps, code, err)
        assert len(err.splitlines()) <= 1 and "Traceback" not in err, err
        stored = list((tmp_path / f"at-{at}").glob("runs/results/*"))
        for record in (load_run(one).record for one in stored):  # a step may fall into the search, too
            assert record["proven"] is (record["termination"] != "interrupt")
        assert bool(stored) == err.startswith("stored as") and (stored or not out)
    assert ends[-1][4], "the last steps are those of storing the run and of showing it"


# -- in the middle of a search -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("signum", SIGNALS)
def test_what_was_found_is_stored_though_the_search_does_not_listen(signum, tmp_path, monkeypatch, several):
    monkeypatch.setattr(ErrorSearch, "_climb", struck(signum, busy=signum == signal.SIGTERM))
    code, out, err = forked("solve", several, "--json", cwd=tmp_path)
    assert code == 128 + signum
    answer = json.loads(out)
    assert (answer["status"], answer["termination"], answer["proven"]) == ("feasible", "interrupt", False)
    assert answer["solutions"] and answer["bound_worst_error_pct"] <= answer["solutions"][0]["worst_error_pct"]
    stored = load_run(tmp_path / err.decode().removeprefix("stored as ").strip())
    assert [one.worst_error_pct for one in stored.solutions] == [one["worst_error_pct"] for one in answer["solutions"]]


def test_who_ends_it_while_it_prints_is_told_where_the_run_is(tmp_path, monkeypatch, several):
    monkeypatch.setattr("solver.cli.solve.print_answer", struck(signal.SIGTERM, busy=True))
    code, out, err = forked("solve", several, cwd=tmp_path)
    assert (code, out) == (143, b"") and err.startswith(b"stored as ") and err.count(b"\n") == 1
    assert load_run(tmp_path / err.decode().removeprefix("stored as ").strip()).record["proven"]


def test_of_a_long_list_no_more_is_judged_than_there_is_time_for(monkeypatch):
    """To judge a thousand solutions takes a minute: of an interrupted search the best come first."""
    text = SEVERAL.replace("keep = 10", "keep = 300")
    interrupt, known = Interrupt(), []

    def many(progress):
        if progress.structures_left == 0:
            interrupt.set()

    monkeypatch.setattr(answer_module, "JUDGE_S", 0.0)
    monkeypatch.setattr(DesignSearch, "so_far", lambda self, reason: known.append(so_far(self, reason)) or known[0])
    answer = solve(parse_design(text), interrupt, many)
    assert answer.termination == "interrupt" and len(answer.solutions) == 1 < len(known[0].found)
    assert answer.solutions[0].rank == 1


def test_a_second_signal_ends_it_at_once(tmp_path, monkeypatch, several):
    monkeypatch.setattr("solver.cli.run.GRACE_S", 1e6)
    monkeypatch.setattr(ErrorSearch, "_climb", struck(signal.SIGINT, signal.SIGTERM))
    found = forked("solve", several, cwd=tmp_path)
    assert found == (143, b"", b"stopped at once\n") and not (tmp_path / "runs").exists()


@pytest.mark.parametrize("signum", SIGNALS)
def test_an_explanation_says_what_is_known(signum, tmp_path, monkeypatch):
    monkeypatch.setattr(asking_module, "any_train", struck(signum))
    (tmp_path / "design.toml").write_text(DESIGN)
    code, out, err = forked("explain", "design.toml", cwd=tmp_path)
    assert (code, out, err) == (128 + signum, b"not finished: interrupted\n", b"")
    code, out, err = forked("explain", "design.toml", "--take", "1", cwd=tmp_path)
    told = b"--take 1: not finished: interrupted; explain finds no loosening of design.toml so far\n"
    assert (code, out, err) == (128 + signum, b"", told)


def test_an_audit_says_what_is_known(tmp_path, monkeypatch):
    monkeypatch.setattr(Fitter, "placement", struck(signal.SIGTERM))
    words = ("audit", str(CONFIGS / "audit-three-moons.toml"))
    _, whole, _ = forked(*words, cwd=tmp_path)
    code, out, err = forked(*words, "--place", "--best", cwd=tmp_path)
    assert (code, err) == (143, b"")
    judged = whole.decode().partition("Broken rules")[0]
    assert out.decode().startswith(judged) and "whether there are places is not settled: interrupted" in out.decode()


RULER = """
import os, signal, threading
from itertools import combinations
from ortools.sat.python import cp_model
from solver.cli import signals
from solver.cli.run import interruptible
from solver.search.solves import Solves
from solver.search.stop import SearchStopped

def work(stop):
    model = cp_model.CpModel()
    marks = [model.new_int_var(0, 400, "") for _ in range(16)]
    for one, other in zip(marks, marks[1:]):
        model.add(one < other)
    apart = [(other - one, model.new_int_var(1, 400, "")) for one, other in combinations(marks, 2)]
    for far, length in apart:
        model.add(length == far)
    model.add_all_different([length for _, length in apart])
    model.minimize(marks[-1])
    threading.Timer(0.5, os.kill, (os.getpid(), signal.SIGTERM)).start()
    try:
        Solves(1, stop).run(model)
    except SearchStopped as stopped:
        return stopped.reason

signals.begin()
print(*interruptible(work))
"""


@pytest.mark.deep
def test_cp_sat_hears_a_signal_too():
    """While it looks for the shortest Golomb ruler with 16 marks, which takes days."""
    done = subprocess.run([sys.executable, "-c", RULER], capture_output=True, text=True, timeout=120)
    assert (done.stdout, done.stderr) == (f"interrupt {int(signal.SIGTERM)}\n", "")


# -- where nothing is lost ---------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def stored(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("stored")
    (folder / "design.toml").write_text(DESIGN)
    assert forked("solve", "design.toml", "--results", "runs", cwd=folder)[0] == 0
    return next((folder / "runs").iterdir())


@pytest.mark.parametrize("signum", SIGNALS)
def test_sheets_that_are_being_made_are_not_written(signum, tmp_path, monkeypatch, stored):
    monkeypatch.setattr(sheets_command, "make_pack", struck(signum, busy=True))
    found = forked("sheets", str(stored), "--out", "sheets", cwd=tmp_path)
    assert found == (128 + signum, b"", b"interrupted: no sheets were written\n")
    assert list(tmp_path.iterdir()) == []


def test_a_design_that_is_solved_for_sheets_gives_none(tmp_path, monkeypatch, several):
    monkeypatch.setattr(ErrorSearch, "_climb", struck(signal.SIGINT))
    found = forked("sheets", several, "--out", "sheets", cwd=tmp_path)
    assert found == (130, b"", b"interrupted: no sheets were written\n") and list(tmp_path.iterdir()) == []


def test_a_rerun_that_is_ended_compares_nothing(tmp_path, monkeypatch, stored):
    monkeypatch.setattr(rerun_command, "rerun", struck(signal.SIGTERM))
    found = forked("rerun", str(stored), cwd=tmp_path)
    assert found == (143, b"", b"interrupted: not compared to the end\n")


def test_a_ranking_ends_at_once(tmp_path, monkeypatch, stored):
    monkeypatch.setattr(rank_command, "Shelf", struck(signal.SIGHUP, busy=True))
    assert forked("rank", str(stored), cwd=tmp_path) == (129, b"", b"")


def test_an_audit_that_is_read_ends_at_once(tmp_path, monkeypatch):
    monkeypatch.setattr(audit_command, "load_train", struck(signal.SIGINT))
    assert forked("audit", "train.toml", cwd=tmp_path) == (130, b"", b"")


@pytest.mark.deep
def test_who_wants_no_end_with_his_terminal_gets_none(tmp_path):
    """nohup has a command ignore SIGHUP."""
    (tmp_path / "long.toml").write_text(LONG)
    before = signal.signal(signal.SIGHUP, signal.SIG_IGN)
    try:
        process = start("solve", "long.toml", cwd=tmp_path)
    finally:
        signal.signal(signal.SIGHUP, before)
    until_it_searches(process)
    process.send_signal(signal.SIGHUP)
    process.send_signal(signal.SIGTERM)
    out, err = process.communicate(timeout=60)
    assert process.returncode == 143 and "interrupted" in out and err.startswith("stored as")


@pytest.mark.deep
def test_the_service_ends_with_its_terminal(tmp_path):
    """An end that was asked for is no fault."""
    with running(tmp_path / "data") as service:
        assert service.end(signal.SIGHUP) == 0
        assert left_behind(service.mark) == []


LATE = """
import os, sys
class Late:
    def __del__(self, kill=os.kill, pid=os.getpid(), signum=int(sys.argv.pop())):
        kill(pid, signum)
sys.late = Late()  # is there until the very end
from solver.__main__ import main
main()
"""


@pytest.mark.parametrize("signum", SIGNALS)
def test_a_signal_after_the_last_word_changes_nothing(signum, tmp_path):
    done = subprocess.run(
        [sys.executable, "-c", LATE, "--version", str(int(signum))],
        cwd=tmp_path, env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "") and done.stdout.startswith("ringwright ")
