"""The rule `run` for curved, clock and involute teeth: random designs against exhaustive enumeration, the second proof,
and the sheets, which make what was proven to run."""

from __future__ import annotations

import pytest
from test_run import compared, proven, stand_still, with_places

from solver import parse_design, solve
from solver.answer.document import train_of
from solver.answer.solve import Unsound
from solver.answer.standing import not_judged
from solver.check.running import meshes
from solver.forms import FORMS, pairs
from solver.forms.form import sizes_of
from solver.search import runs

NEW = ("curved", "cycloidal", "involute")


@pytest.mark.deep
@pytest.mark.parametrize("form", NEW)
def test_the_best_that_runs_equals_enumeration(form):
    kinds = compared(range(12), False, form) + compared(range(12, 20), True, form)
    assert kinds["compared"] >= 11 and kinds["found"] >= 1, kinds


@pytest.mark.deep
@pytest.mark.parametrize("form", NEW)
@pytest.mark.parametrize("wild", [False, True])
def test_the_best_that_runs_equals_enumeration_in_many_designs(form, wild):
    kinds = compared(range(20, 150), wild, form)
    assert kinds["compared"] >= 80 and kinds["found"] >= 15, kinds
    assert kinds["third gears"] >= 1 and kinds["other without the rule"] >= 1, kinds


@pytest.mark.deep
@pytest.mark.parametrize("form", ["curved", "involute"])
def test_the_best_that_runs_and_fits_equals_enumeration(form):
    """Clock teeth stand out by their mates, which enumeration of places does not know."""
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


# -- teeth that are made for several ----------------------------------------------------------------------------------

SHARED = """
[bodies]
list = [{{name = "a", period = 1}}, {{name = "b", period = 2}}, {{name = "c", period = 4}}]
[rings]
teeth = [24, 30, 36]
tooth_pitch = 15
addendum = 6
rim = 7.5
[arbors]
wheel_teeth = [14]
pinion_teeth = [8]
[fit]
directions = "none"
unevenness = {uneven}
[search]
max_error_pct = 90
[wire]
form = "curved"
pin = 3
hub_diameter = 8
"""


def test_a_ring_that_is_made_for_its_smaller_mate_must_run_with_the_larger(monkeypatch):
    """Each pair of 14 pins turns evenly with teeth for them; the middle ring has teeth for the pinion's 8."""
    design = parse_design(SHARED.format(uneven=0.003))
    assert solve(design).status == "infeasible"
    loose = solve(parse_design(SHARED.format(uneven=0.01)))
    uneven = [mesh.uneven for mesh in meshes(design, train_of(design, loose.solutions[0]))]
    assert uneven[0] < 0.001 and 0.003 < uneven[2] < 0.01  # ring 0, and ring 1, with a wheel of 14
    assert not_judged(design) == ""
    with monkeypatch.context() as patched:
        patched.setattr(pairs, "running_for_all", pairs.running_of)
        runs._kept.cache_clear()
        with pytest.raises(Unsound, match=r"run: ring 1 with wheel of link 1: hunts 0\.00"):
            solve(design)
    runs._kept.cache_clear()


def test_pairs_do_not_depend_on_the_order_in_which_they_are_asked_for():
    design = parse_design(SHARED.format(uneven=0.15))
    form, sizes = FORMS["curved"], sizes_of(design)
    first, other = (runs.RunningPairs(form, sizes, form.roles("pins"), 0.15, (8, 14), ()) for _ in range(2))
    rings = range(18, 60)
    told = {ring: [first.ring_runs(ring, gear) for gear in (8, 14)] for ring in rings}
    assert told == {ring: [other.ring_runs(ring, gear) for gear in (8, 14)] for ring in reversed(rings)}
