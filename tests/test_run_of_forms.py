"""The rule `run` for curved, clock and involute teeth: random designs against exhaustive enumeration, the second proof,
and the sheets, which make what was proven to run."""

from __future__ import annotations

import pytest
from test_run import compared, proven, stand_still, with_places

NEW = ("curved", "cycloidal", "involute")


@pytest.mark.slow
@pytest.mark.parametrize("form", NEW)
def test_the_best_that_runs_equals_enumeration(form):
    kinds = compared(range(12), False, form) + compared(range(12, 20), True, form)
    assert kinds["compared"] >= 12 and kinds["found"] >= 3, kinds


@pytest.mark.deep
@pytest.mark.parametrize("form", NEW)
@pytest.mark.parametrize("wild", [False, True])
def test_the_best_that_runs_equals_enumeration_in_many_designs(form, wild):
    kinds = compared(range(20, 150), wild, form)
    assert kinds["compared"] >= 80 and kinds["found"] >= 15, kinds
    assert kinds["third gears"] >= 1 and kinds["other without the rule"] >= 1, kinds


@pytest.mark.deep
@pytest.mark.parametrize("form", NEW)
def test_the_best_that_runs_and_fits_equals_enumeration(form):
    kinds = with_places(range(120), form)
    assert kinds["compared"] >= 30 and kinds["found"] >= 10, kinds


@pytest.mark.deep
@pytest.mark.parametrize("form", NEW)
def test_cp_sat_proves_the_same_rule(form):
    assert proven(range(40), form) >= 8


@pytest.mark.deep
@pytest.mark.parametrize("form", NEW)
def test_what_is_found_runs_by_the_sheets_too(form):
    assert stand_still(range(60), form) >= 15
