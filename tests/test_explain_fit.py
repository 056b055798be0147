"""Explanations where something does not fit: the limit that is planted is named, with the least loosening."""

from __future__ import annotations

import pytest
from test_explain import fits

from benchmarks.explain import HALLS, TIGHT, hall, rollers
from solver.files.load import design_from_data
from solver.search.order.search import any_train
from solver.search.stop import WorkLimit
from solver.search.why.explain import explain
from solver.search.why.explanation import Explanation


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
        ({"rollers": "rollers = {count = 4, radius = 40, reach = 60}"}, "roller", "fit.rollers.radius"),
    ],
)
def test_what_does_not_fit_is_named_and_the_loosening_is_the_least(changes, rule, field):
    explanation = check(hall(), hall(**changes), field)
    named = [item for item in explanation.loosenings if [change[1] for change in item.changes] == [field]]
    assert len(named) == 1 and named[0].changes[0][0] == rule


def check(roomy: dict, tight: dict, field: str) -> Explanation:
    """The explanation of a file in which a limit is planted: it is named, each loosening enough and the least."""
    assert fits(roomy) and not fits(tight)
    explanation = explain(tight)
    assert not explanation.feasible and explanation.termination == "proved"
    assert field in {one.field for one in explanation.conflict}
    assert explanation.loosenings
    for item in explanation.loosenings:
        assert fits(item.data), item.changes
        assert not item.least or item.tighter is None or not fits(item.tighter), item.changes
    return explanation


@pytest.mark.deep
@pytest.mark.parametrize("where", HALLS)
@pytest.mark.parametrize("number", range(5))
def test_what_stands_in_the_way_of_each_other_is_told_apart(where, number):
    """Plate, posts, rollers, stands and few directions."""
    field, changes = TIGHT[where][number]
    explanation = check(hall(**HALLS[where]), hall(**{**HALLS[where], **changes}), field)
    alone = [item.changes[0].field for item in explanation.loosenings if len(item.changes) == 1]
    assert field in alone or field in explanation.left_open


def test_too_little_depth_is_told_with_the_spacing_that_it_leaves():
    explanation = check(hall(), hall(depth=39), "fit.frame.depth")
    found = {item.changes[0].field: item.changes[0].then for item in explanation.loosenings}
    assert found == {"fit.frame.depth": "40", "rings.level_spacing": "9.7"}
    assert all(one.needed for one in explanation.conflict)


def test_without_patience_what_conflicts_is_left_open_and_nothing_is_claimed():
    explanation = explain(hall(depth=39), patience_s=0.0)
    assert not explanation.feasible and explanation.termination == "proved"
    assert not explanation.loosenings and not explanation.conflict
    assert "fit.frame.depth" in explanation.left_open


@pytest.mark.deep
def test_the_least_frame_is_told_in_whole_millimetres():
    item = next(item for item in explain(hall(size="side = 200")).loosenings if item.changes[0][1] == "fit.frame.side")
    _, _, now, then = item.changes[0]
    assert now == "200" and then == str(int(then))
    assert fits(hall(size=f"side = {then}")) and not fits(hall(size=f"side = {int(then) - 1}"))


@pytest.mark.deep
def test_a_drive_without_a_place_is_explained():
    data = hall(directions=[0, 100])
    data["drive"] = {"motor_rpm": 2, "pinion_teeth": 120, "ring": "outer"}
    assert fits(hall(directions=[0, 100])) and not fits(data)
    explanation = explain(data)
    fields = {change[1] for item in explanation.loosenings for change in item.changes}
    assert explanation.termination == "proved" and fields, explanation
    for item in explanation.loosenings:
        assert fits(item.data) and (item.tighter is None or not fits(item.tighter))


def test_where_no_roller_can_be_near_a_mesh_numbers_of_rings_are_ruled_out_at_once():
    """Rollers stand on every fifth degree; where none is within reach of any direction, rings need not be looked at one
    by one: of three links or more, one is plain."""
    data = hall(rollers=rollers(reach=1), directions=[7, 97, 187, 277])
    data["rings"] |= {"inner_teeth": {"min": 19, "max": 29}, "blanks": {"min": 0, "max": 3}}
    data["arbors"]["third_gears"] = 2
    assert any_train(design_from_data(data, "hall"), WorkLimit(2000)) is None
    assert any_train(design_from_data(hall(rollers=rollers(reach=2), directions=[7, 97, 187, 277]), "hall")) is not None
