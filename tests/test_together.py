"""CP-SAT decides teeth and places together where trains with the same rings find none: the answers are the same."""

from __future__ import annotations

import json

import pytest
from random_designs import random_placed_design
from shipped import shipped

import solver.search.order.shared as shared
from solver import parse_design, solve
from solver.answer.document import Status


@pytest.mark.deep
def test_the_stair_well_is_decided_by_cp_sat():
    _, answer = shipped("saturn-stair-well")
    assert answer.status is Status.OPTIMAL and answer.proven
    assert answer.report["models_solved"] > 0
    assert answer.solutions[0].worst_error_pct == pytest.approx(2.7192, abs=1e-3)


def _told(text):
    found = json.loads(solve(parse_design(text)).model_dump_json(by_alias=True))
    return found, found.pop("report")


# Designs of which some train has no place.
@pytest.mark.deep
@pytest.mark.parametrize("seed", [79, 109, 207, 222, 270])
def test_answers_are_the_same_whoever_decides(seed, monkeypatch):
    text = random_placed_design(seed)
    monkeypatch.setattr(shared, "PATIENCE", 1 << 40)
    one_by_one, _ = _told(text)
    monkeypatch.setattr(shared, "PATIENCE", 1)
    at_once, report = _told(text)
    assert at_once == one_by_one
    assert report["models_solved"] > 0


def test_rings_that_are_settled_are_left_in_the_middle_of_a_walk():
    """Random design 70: a minute of walking past trains with such rings did not settle it."""
    answer = solve(parse_design(random_placed_design(70)))
    assert answer.status is Status.INFEASIBLE and answer.proven


@pytest.mark.deep
@pytest.mark.parametrize(("seed", "most"), [(696, 25.0), (954, 25.0)])
def test_no_work_is_spent_on_looking_at_models_before_they_are_solved(seed, most):
    """Half of these designs' time went into probing each of many models, and looking for its symmetries. Work is
    CP-SAT's deterministic time, which does not depend on the machine."""
    _, report = _told(random_placed_design(seed))
    assert report["models_solved"] > 10
    assert report["deterministic_time"] < most
