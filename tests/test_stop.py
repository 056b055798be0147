"""Stop rules: what they count, and that a solve that is under way hears of them."""

from __future__ import annotations

import time
from itertools import combinations

import pytest
from ortools.sat.python import cp_model

from solver.answer.document import Status
from solver.cli.summary import REASONS
from solver.search import stop
from solver.search.solves import Solves
from solver.search.stop import Deadline, Effort, FirstOf, NoStop, SearchStopped, Termination, awake, count_pauses
from solver.service.page.wording import STATUSES


@pytest.fixture
def pauses(monkeypatch):
    """How long this process was paused, as it is told [s]."""
    monkeypatch.setattr(stop, "_paused", float)
    told = [0.0]
    count_pauses(lambda: told[0])
    return told


def test_every_way_to_end_and_every_status_has_its_words():
    """The command line tells why a search ended, the page what is known then; neither lacks one, or has one more."""
    assert set(REASONS) == set(Termination) and set(STATUSES) == set(Status)


def ruler(marks: int) -> cp_model.CpModel:
    """The shortest ruler on which no two distances are alike: with so many marks no machine is done soon."""
    model = cp_model.CpModel()
    place = [model.new_int_var(0, marks**2, "") for _ in range(marks)]
    gaps = []
    for one, other in combinations(place, 2):
        gaps.append(model.new_int_var(1, marks**2, ""))
        model.add(gaps[-1] == other - one)
    model.add_all_different(gaps)
    model.minimize(place[-1])
    return model


def test_the_time_that_a_process_is_paused_does_not_count(pauses):
    before, rule = awake(), Deadline(1000)
    pauses[0] = 5000
    assert awake() < before - 4000 and rule() is None
    pauses[0] = 0
    assert Deadline(0)() == "time" and FirstOf(NoStop(), Deadline(0))() == "time"


def test_a_solve_that_is_under_way_ends_when_its_time_is_over():
    with pytest.raises(SearchStopped) as fault:
        Solves(1, FirstOf(NoStop(), Deadline(0.1))).run(ruler(14))
    assert fault.value.reason == "time"


def test_a_solve_is_not_ended_by_the_time_that_its_process_was_paused(pauses):
    began = time.monotonic()
    count_pauses(lambda: min(time.monotonic() - began, 0.5))  # paused for half a second, from now on
    with pytest.raises(SearchStopped):
        Solves(1, Deadline(0.1)).run(ruler(14))
    assert time.monotonic() - began >= 0.6


def test_an_effort_ends_a_solve_that_is_under_way():
    """CP-SAT asks no rule; what it works is seen from another thread, and what struck goes on to be told."""
    rule = Effort(0.3)
    with pytest.raises(SearchStopped) as stopped:
        Solves(1, rule).run(ruler(14))
    assert stopped.value.reason is Termination.WORK and rule() is Termination.WORK
