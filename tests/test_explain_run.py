"""Explanations of designs with [wire] in which nothing runs: addendum, rim and the limit of unevenness are named."""

from __future__ import annotations

import tomllib

import pytest
from test_explain import fits

from solver.files.load import design_from_data
from solver.files.text import exact_float
from solver.search.why.explain import explain
from solver.search.why.knobs import knobs_of
from solver.search.why.run_knobs import WITHOUT

THREE = """
[bodies]
list = [{{name = "a", period = 1}}, {{name = "b", period = 2}}]
[rings]
teeth = [24, 30]
tooth_pitch = 12
addendum = {addendum}
[arbors]
wheel_teeth = [12, 13]
pinion_teeth = [6, 7]
[fit]
directions = "none"
unevenness = {uneven}
[search]
max_error_pct = 60
[wire]
"""


def data_of(addendum: float, uneven: float) -> dict:
    return tomllib.loads(THREE.format(addendum=addendum, uneven=uneven), parse_float=exact_float)


def changes(explanation) -> dict[str, str]:
    return {one.field: one.then for item in explanation.loosenings for one in item.changes}


@pytest.mark.deep
def test_an_addendum_that_is_too_small_is_named_with_one_that_does():
    """With teeth of half a millimetre a tip comes past a pin of the pinion, whatever unevenness is allowed."""
    data = data_of(0.5, 0.15)
    assert fits(data_of(4, 0.15)) and not fits(data) and not fits(data_of(0.5, 1))
    explanation = explain(data)
    assert not explanation.feasible and explanation.termination == "proved"
    assert "rings.addendum" in {one.field for one in explanation.conflict if one.rule == "run"}
    found = next(item for item in explanation.loosenings if [one.field for one in item.changes] == ["rings.addendum"])
    assert 0.5 < float(found.changes[0].then) <= 4 and found.least
    assert fits(found.data) and not fits(found.tighter)


@pytest.mark.deep
def test_a_limit_of_unevenness_that_is_too_strict_is_named_with_the_least_that_does():
    data = data_of(2, 0.05)
    explanation = explain(data)
    assert {"fit.unevenness", "rings.addendum"} <= {one.field for one in explanation.conflict}
    for item in explanation.loosenings:
        assert fits(item.data) and (item.tighter is None or not fits(item.tighter)), item
    assert 0.05 < float(changes(explanation)["fit.unevenness"]) < 0.15
    assert explanation == explain(data)


@pytest.mark.deep
def test_what_no_addendum_mends_is_said():
    data = data_of(4, 0.15)
    data["wire"] = {"hub_diameter": 30}  # no pinion has spokes
    explanation = explain(data)
    assert changes(explanation)["rings.addendum"] == WITHOUT


def test_there_is_nothing_to_loosen_where_nothing_must_run():
    data = data_of(2, 0.1)
    del data["wire"], data["fit"]["unevenness"]
    fields = {knob.field for knob in knobs_of(data, design_from_data(data, "design"), lambda data, key: None)}
    assert not fields & {"fit.unevenness", "rings.addendum", "rings.rim"}


@pytest.mark.slow
def test_a_rim_that_leaves_rings_of_plate_no_metal_is_named_with_one_that_does():
    data = data_of(4, 0.15)
    data["rings"]["rim"], data["wire"] = 6, {"form": "cycloidal", "hub_diameter": 7}
    assert not fits(data)
    explanation = explain(data)
    assert "rings.rim" in {one.field for one in explanation.conflict if one.rule == "run"}
    found = next(item for item in explanation.loosenings if [one.field for one in item.changes] == ["rings.rim"])
    # Roots are pi/2 modules deep, half a pitch: 6 mm; half of the plate's 2 mm must be left below.
    assert 7 <= float(found.changes[0].then) < 7.7 and found.least and fits(found.data)
