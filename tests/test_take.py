"""`explain --take`: the design file with a loosening, as it was written but for that, and it has a solution."""

from __future__ import annotations

import pytest
from commands import run

from solver.search.stop import Deadline, Termination

TIGHT = """# Moons of Jupiter
title = "Tight"
[bodies]
set = "jupiter"
only = ["Io", "Europa", "Ganymede"]
[rings]
inner_teeth = 30
tooth_step = 4  # easy to count
[search]
max_error_pct = 0.1  # as good as that
"""


@pytest.fixture
def tight(tmp_path):
    (tmp_path / "tight.toml").write_text(TIGHT)
    return tmp_path


@pytest.mark.deep
def test_a_loosening_that_is_taken_has_a_solution_and_keeps_the_rest(tight):
    code, out, err = run("explain", "tight.toml", "--take", "2", cwd=tight)
    assert code == 0
    assert out == TIGHT.replace("max_error_pct = 0.1 ", "max_error_pct = 1.6294 ")
    assert err == "note: search.max_error_pct 0.1 → 1.6294: this has a solution, at best with an error of 1.6293 %\n"
    (tight / "looser.toml").write_text(out)
    assert run("solve", "looser.toml", "--no-save", cwd=tight)[0] == 0
    assert run("solve", "tight.toml", "--no-save", cwd=tight)[0] == 3


@pytest.mark.slow
def test_what_cannot_be_taken_is_refused(tight):
    assert run("explain", "tight.toml", "--take", "3", cwd=tight) == (
        2, "", "--take 3: explain finds 2 loosenings of tight.toml\n"
    )  # fmt: skip
    (tight / "fits.toml").write_text(TIGHT.replace("= 0.1", "= 10"))
    told = "--take 1: fits.toml has a solution as it stands; there is nothing to loosen\n"
    assert run("explain", "fits.toml", "--take", "1", cwd=tight) == (2, "", told)


def test_what_a_limit_stopped_is_not_said_to_be_missing(tight, monkeypatch):
    """The time is over when it is first asked for."""
    monkeypatch.setattr(Deadline, "__call__", lambda self: Termination.TIME)
    told = "--take 1: not finished: the time limit search.time_limit_s struck; explain finds no loosening of tight.toml"
    assert run("explain", "tight.toml", "--take", "1", cwd=tight) == (4, "", f"{told} so far\n")


def test_one_output_at_a_time(tight):
    told = "--take, --json: choose one\n"
    assert run("explain", "tight.toml", "--take", "1", "--json", cwd=tight) == (2, "", told)
