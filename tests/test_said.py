"""What is said of answers and of points, in words that are true of each: no source outside, these are ours."""

from __future__ import annotations

import pytest
from commands import run
from sweeping import BASE, write

from solver.answer.standing import standing
from solver.batch.sweep.table import PointState
from solver.cli.counted import counts_text, finished_text
from solver.design.errors import ordinal


def test_the_first_alone_is_the_best_and_the_others_are_what_they_are():
    assert standing("optimal", 1, False, 10) == "proven best"
    assert standing("optimal", 1, True, 10) == "proven best, twice"
    assert standing("optimal", 2, True, 10) == "proven to be the 2nd in order"
    assert standing("optimal", 11, True, 10) == "proven to be on the front"
    assert standing("feasible", 1, False, 10) == standing("feasible", 3, False, 10) == "not proven"


def test_a_certificate_is_of_the_least_error_and_of_the_first_alone():
    """certified: whether the order begins with the error and teeth alone decide it; no other claim is "of it"."""
    by_teeth = "; a certificate of the least error by teeth is kept with the run"
    assert standing("optimal", 1, True, 10, True) == "proven best, twice; a certificate of it is kept with the run"
    assert standing("optimal", 1, False, 10, False) == f"proven best{by_teeth}"
    assert standing("feasible", 1, False, 10, True) == standing("feasible", 1, False, 10, False)
    assert standing("feasible", 1, False, 10, True) == f"not proven{by_teeth}"
    assert standing("optimal", 2, False, 10, True) == "proven to be the 2nd in order"
    assert standing("feasible", 2, False, 10, True) == "not proven"


@pytest.mark.parametrize(
    ("number", "word"), [(1, "1st"), (2, "2nd"), (3, "3rd"), (4, "4th"), (11, "11th"), (12, "12th"), (22, "22nd")]
)
def test_ordinals(number, word):
    assert ordinal(number) == word


def test_what_is_proven_to_have_no_solution_is_not_called_solved():
    solved, failed = PointState.SOLVED, PointState.FAILED
    assert counts_text({solved: 3, failed: 0}, 0) == "3 points: 3 solved"
    assert counts_text({solved: 3, failed: 1}, 2) == "4 points: 1 solved, 2 proven to have no solution, 1 failed"
    assert counts_text({solved: 2}, 2) == "2 points: 2 proven to have no solution"
    assert counts_text({PointState.WAITING: 1, solved: 1}, 1) == "2 points: 1 waiting, 1 proven to have no solution"


def test_of_one_point_there_is_a_sentence():
    assert counts_text({PointState.SOLVED: 1}, 0) == "the only point is solved"
    assert counts_text({PointState.SOLVED: 1}, 1) == "the only point is proven to have no solution"


def test_a_run_with_failed_points_is_not_complete():
    proven = {"state": "solved", "status": "infeasible"}
    assert finished_text([proven, proven]) == "finished: every point is proven"
    assert finished_text([proven, {"state": "failed", "status": None}]).startswith("finished, but 1 point not settled")


@pytest.mark.deep
def test_a_sweep_says_which_of_its_points_have_none_and_how_to_ask_why(tmp_path):
    write(tmp_path, BASE + "[vary]\nsearch.max_error_pct = [0.000001, 50]\n")
    code, out, _ = run("sweep", "moons.toml", cwd=tmp_path)
    assert code == 0 and "2 points: 1 solved, 1 proven to have no solution\n" in out
    (line,) = [line for line in out.splitlines() if line.startswith("why it has no solution: ")]
    words = line.removeprefix("why it has no solution: ringwright ").split()
    code, out, _ = run(*words, cwd=tmp_path)
    assert code == 0 and "These limits cannot be met together" in out
    code, out, _ = run("sweep", "--status", "runs/results/moons", cwd=tmp_path)
    assert code == 0 and out.endswith("finished: every point is proven\n")


def test_too_little_memory_is_no_failure_inside(monkeypatch, capsys):
    from solver.cli import faults

    def greedy() -> int:
        raise MemoryError

    assert faults._code_of(greedy) == 4
    assert capsys.readouterr().err.startswith("memory too small")
