"""Explanations where something does not fit: the limit that is planted is named, with the least loosening."""

from __future__ import annotations

import tomllib

import pytest
from test_explain import fits

from solver.files.text import exact_float
from solver.search.why.explain import explain

HALL = """
[bodies]
set = "jupiter"
[rings]
inner_teeth = 24
tooth_step = 8
tooth_pitch = 12
addendum = 3
rim = 4
level_spacing = 10
[arbors]
wheel_teeth = {{min = 8, max = 24}}
third_teeth = {{min = 8, max = 12}}
[fit]
frame = {{shape = "{shape}", {size}, depth = {depth}}}
clearance = {clearance}
directions = {directions}
plate = "{plate}"
stands = "{stands}"
post_radius = {post}
{rollers}
[search]
max_error_pct = 15
keep = 1
"""
ROOMY = {
    "shape": "square", "size": "side = 400", "depth": 60, "clearance": 1, "directions": 12, "plate": "none",
    "stands": "none", "post": 1, "rollers": "",
}  # fmt: skip


def file(**changes: object) -> dict:
    return tomllib.loads(HALL.format(**{**ROOMY, **changes}), parse_float=exact_float)


@pytest.mark.deep
@pytest.mark.parametrize(
    ("changes", "rule", "field"),
    [
        ({"size": "side = 200"}, "frame", "fit.frame.side"),
        ({"shape": "round", "size": "diameter = 210"}, "frame", "fit.frame.diameter"),
        ({"shape": "rectangle", "size": "width = 400, height = 190"}, "frame", "fit.frame.height"),
        ({"depth": 39}, "frame", "fit.frame.depth"),
        ({"directions": 1}, "direction", "fit.directions"),
        ({"directions": [10, 20]}, "direction", "fit.directions"),
        ({"size": "side = 255", "clearance": 12}, "clearance", "fit.clearance"),
        ({"stands": "outer", "post": 7.5, "size": "side = 500"}, "stand", "fit.stands"),
        ({"plate": "outer", "post": 3.5, "clearance": 6}, "post", "fit.plate"),
        (
            {"rollers": "rollers = {count = 3, radius = 3, reach = 1}", "directions": [7, 97, 187, 277]},
            "roller",
            "fit.rollers.reach",
        ),
        ({"rollers": "rollers = {count = 4, radius = 40, reach = 60}"}, "roller", "fit.rollers"),
    ],
)
def test_what_does_not_fit_is_named_and_the_loosening_is_the_least(changes, rule, field):
    data = file(**changes)
    assert fits(file()) and not fits(data)
    explanation = explain(data)
    assert not explanation.feasible and explanation.termination == "proved"
    fields = {one.field for one in explanation.conflict}
    # Where it is too much work to name the smallest conflict, the loosenings stand alone.
    assert field in fields or (not fields and rule not in ("frame", "clearance"))
    named = [item for item in explanation.loosenings if [change[1] for change in item.changes] == [field]]
    assert len(named) == 1 and named[0].changes[0][0] == rule
    for item in explanation.loosenings:
        assert fits(item.data), item.changes
        assert item.tighter is None or not fits(item.tighter), item.changes


@pytest.mark.deep
def test_the_least_frame_is_told_in_whole_millimetres():
    item = next(item for item in explain(file(size="side = 200")).loosenings if item.changes[0][1] == "fit.frame.side")
    _, _, now, then = item.changes[0]
    assert now == "200" and then == str(int(then))
    assert fits(file(size=f"side = {then}")) and not fits(file(size=f"side = {int(then) - 1}"))


@pytest.mark.deep
def test_a_drive_without_a_place_is_explained():
    data = file(directions=[0, 100])
    data["drive"] = {"motor_rpm": 2, "pinion_teeth": 120, "ring": "outer"}
    assert fits(file(directions=[0, 100])) and not fits(data)
    explanation = explain(data)
    fields = {change[1] for item in explanation.loosenings for change in item.changes}
    assert explanation.termination == "proved" and fields, explanation
    for item in explanation.loosenings:
        assert fits(item.data) and (item.tighter is None or not fits(item.tighter))
