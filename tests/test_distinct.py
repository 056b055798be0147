"""Solutions that differ in the order of their links alone are one: against enumeration, and what is told of orders."""

from __future__ import annotations

import json
from dataclasses import replace
from math import factorial

import pytest
from brute import all_trains
from brute_classes import front_of_classes, gears, orders, ranked_classes
from compared_classes import compare_places
from enumerated import parsed, teeth
from random_classes import random_class_design, random_placed_class_design
from wide import as_many

from solver import parse_design, solve
from solver.answer.document import Answer
from solver.answer.standing import orders_text, orders_told
from solver.search.options.candidates import Option
from solver.search.options.orders import LinkStretch, seated
from solver.search.order import effort, shared
from solver.search.order.search import search
from solver.search.stop import WorkLimit

MOST_TRAINS = 20_000  # that are enumerated of one design

# Two bodies, two blank rings: every link has wheel - pinion = 4, so that three links stand in any order.
HALL = """
[bodies]
list = [{name = "a", period = 1}, {name = "b", period = 6.1}]
[rings]
inner_teeth = 30
tooth_step = 4
blanks = 2
tooth_pitch = 12
[arbors]
wheel_teeth = {min = 8, max = 16}
pinion_teeth = {min = 4, max = 12}
[fit]
directions = "none"
[search]
keep = 5
"""


def blocks(many: int, size: int, quick: int) -> list[object]:
    """Seeds, so many a test; all but the first few tests are deep."""
    starts = range(0, many, size)
    return [
        pytest.param(
            range(at, at + size), id=f"seeds {at} to {at + size - 1}", marks=[] if n < quick else pytest.mark.deep
        )
        for n, at in enumerate(starts)
    ]


def check(seed: int, result, best, design, trains) -> None:
    told = f"seed {seed}:\n{random_class_design(seed)}"
    assert [(one.key, teeth(one.train)) for one in result.found] == [(k, teeth(t)) for k, t in best[: design.keep]], (
        told
    )
    if design.front and best:
        points = [(teeth(point.found.train), point.ties) for point in result.front]
        assert points == [(teeth(train), ties) for _, train, ties in front_of_classes(design, trains)], told


def of_seed(seed: int):
    """A random design with its trains, and its classes; None where the dice made none that can be enumerated."""
    design = parsed(random_class_design(seed))
    trains = [] if design is None else all_trains(design)
    if design is None or len(trains) > MOST_TRAINS:
        return None
    return design, trains, *ranked_classes(design, trains)


@pytest.mark.deep
@pytest.mark.parametrize("block", blocks(as_many(48, 240), 12, 2))
def test_the_list_and_the_front_are_those_of_enumeration_seen_by_classes(block):
    several = solvable = 0
    for seed in block:
        if (found := of_seed(seed)) is None:
            continue
        design, trains, best, counts = found
        result = search(design)
        assert result.complete, f"seed {seed}"
        check(seed, result, best, design, trains)
        solvable += bool(best)
        several += any(count > 1 for count in counts.values())
        for one in result.found:
            told = result.orders[one.train]
            if told.settled:
                assert told.orders == counts[gears(one.train)], f"seed {seed}"
    assert several >= solvable / 2 > 0


@pytest.mark.deep
@pytest.mark.parametrize("block", blocks(as_many(12, 60), 12, 5))
def test_crowds_of_classes_are_ordered_key_by_key(block, monkeypatch):
    """With lists allowed to hold no more than what is asked for, nearly every tie becomes a crowd."""
    for name in ("LIST_LIMIT", "MODEL_LIMIT", "LIST_PER_KEPT"):
        monkeypatch.setattr(effort, name, 1)
    for seed in block:
        if (found := of_seed(seed)) is None:
            continue
        design, trains, best, _ = found
        result = search(design, WorkLimit(3000))
        if result.complete:
            check(seed, result, best, design, trains)


def check_places(seed: int) -> tuple[bool, bool] | None:
    """Whether a random design has a solution, and one of more than one order; None: floats cannot tell."""
    text = random_placed_class_design(seed)
    return compare_places(parsed(text), f"seed {seed}:\n{text}")


@pytest.mark.deep
@pytest.mark.parametrize("block", blocks(as_many(60, 200), 20, 2))
def test_a_class_has_a_place_where_any_of_its_orders_has(block):
    told = [one for seed in block if (one := check_places(seed)) is not None]
    assert sum(several for _, several in told) > sum(some for some, _ in told) / 2 > 0


@pytest.mark.deep
def test_classes_with_places_are_the_same_whoever_decides(monkeypatch):
    monkeypatch.setattr(shared, "PATIENCE", 1)
    assert sum(check_places(seed) is not None for seed in range(40)) > 20


# -- by hand -----------------------------------------------------------------------------------------------------------


def test_rows_differ_in_gears_and_tell_their_orders():
    answer = solve(parse_design(HALL))
    same = [tuple(sorted((link.wheel, link.pinion) for link in one.links)) for one in answer.solutions]
    assert len(set(same)) == 5
    # All gaps are alike, so that all orders of three links stand: 6, 3 or 1 as two or three of them are alike.
    for one, links in zip(answer.solutions, same, strict=True):
        alike = [links.count(link) for link in dict.fromkeys(links)]
        number = factorial(3)
        for many in alike:
            number //= factorial(many)
        assert (one.orders, one.orders_settled) == (number, True)
    assert len({one.orders for one in answer.solutions}) > 1


def test_in_order_mode_each_order_is_a_row_as_ever():
    rows = solve(parse_design(HALL + 'distinct = "order"\n')).solutions
    assert {one.orders for one in rows} == {1}
    assert len({tuple(sorted((link.wheel, link.pinion) for link in one.links)) for one in rows}) < 5


def test_the_row_that_is_shown_is_the_first_order_of_its_class():
    every = solve(replace(parse_design(HALL), distinct="order", keep=200)).solutions
    firsts: dict[tuple, tuple] = {}
    for one in every:
        links = [(link.wheel, link.pinion) for link in one.links]
        firsts.setdefault(tuple(sorted(links)), tuple(links))
    shown = [tuple((link.wheel, link.pinion) for link in one.links) for one in solve(parse_design(HALL)).solutions]
    assert shown == list(firsts.values())[:5]


def test_the_hash_tells_which_solutions_are_told_apart():
    silent, gears_, order = (parse_design(HALL + more) for more in ("", 'distinct = "gears"\n', 'distinct = "order"\n'))
    assert silent.sha256() == gears_.sha256() != order.sha256()
    assert "distinct" not in order.canonical() and silent.canonical()["distinct"] == "gears"


def test_an_answer_of_before_reads_as_one_order_each():
    answer = solve(parse_design(HALL))
    data = json.loads(answer.to_json())
    for one in data["solutions"]:
        del one["orders"], one["orders_settled"]
    assert [(one.orders, one.orders_settled) for one in Answer.model_validate(data).solutions] == [(1, True)] * 5


def test_orders_in_words():
    rows = solve(parse_design(HALL)).solutions
    assert [orders_text(1, True), orders_text(6, False), orders_text(None, False)] == ["1", "≤6", "many"]
    assert len(orders_told(rows)) == 1
    assert len(orders_told([rows[0].model_copy(update={"orders": 3, "orders_settled": False})])) == 2
    assert orders_told([rows[0].model_copy(update={"orders": 1})]) == []


# Third gears between rings that are no steps of one size: links are found ring by ring, each when it is asked for.
PASSING = """
[bodies]
list = [
    {name = "a", period = 1},
    {name = "b", period = 3.6888, sense = "either"},
    {name = "c", period = 12.9696, sense = "either"},
]
[rings]
teeth = [[30], [34, 35, 39, 40], [42, 43, 44, 48], [48, 50, 54, 56], [55, 59, 61, 64]]
blanks = [2]
tooth_pitch = 6
addendum = 0
[arbors]
wheel_teeth = {min = 8, max = 22}
pinion_teeth = {min = 6, max = 22}
[fit]
clearance = 1
directions = "none"
[search]
keep = 1
max_error_pct = 40
rank = ["largest", "error"]
"""


@pytest.mark.deep
def test_a_stopped_search_counts_the_orders_of_what_it_has():
    """Wherever it is stopped: the rule that struck is not asked again."""
    design = parse_design(PASSING)
    found = 0
    for limit in range(1, 2400, 40):
        answer = solve(design, WorkLimit(limit))
        assert not answer.proven
        found += len(answer.solutions)
        assert all(one.orders is None or one.orders > 0 for one in answer.solutions)
    assert found > 50


def test_a_stretch_counts_and_orders_what_may_stand_where():
    a, b, c = Option(0, 9, 5), Option(0, 10, 6), Option(0, 11, 7)
    allowed = {(30, 34): {a, b, c}, (34, 38): {a, b}, (38, 42): {b, c}}
    stretch = LinkStretch(0, (30, 34, 38, 42), (c, a, b), lambda _, inner, outer: allowed[inner, outer])
    assert stretch.count() == 3  # a b c, b a c, c a b
    assert stretch.first() == (a, b, c)
    held = LinkStretch(5, (30, 34, 38, 42), (c, a, b), lambda link, *rings: {a} if link == 6 else allowed[rings])
    assert held.count() == 2 and held.first() == (b, a, c)  # link 6, the middle one, stays; then c a b
    assert LinkStretch(0, (30, 34, 38), (a, a), lambda *_: {a}).count() == 1
    assert seated([0b11, 0b01]) and not seated([0b01, 0b01])


@pytest.mark.deep
def test_orders_by_single_links_are_those_found_by_trying_all():
    told = 0
    for seed in range(as_many(30, 60)):
        design = parsed(random_class_design(seed))
        if design is None:
            continue
        design = replace(design, limits=replace(design.limits, max_jigs=None, max_teeth=None, max_envelope=None))
        result = search(design, WorkLimit(20_000))
        for one in result.found[:3]:
            count = result.orders.get(one.train)
            if count is not None and design.limits.max_largest is None:
                assert count.orders == orders(design, one.train), f"seed {seed}"
                told += 1
    assert told > 20
