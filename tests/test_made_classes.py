"""What stays, and what exists, where solutions that differ in the order of their links alone are one: against
enumeration, which knows of both."""

from __future__ import annotations

import brute_places
import pytest
from brute_arrange import WithWishes
from brute_classes import front_of_classes, gears, ranked_classes
from brute_made import all_trains
from compared_classes import compare_places
from enumerated import parsed, teeth
from random_made import SORTS, random_made_class_design, random_made_placed_design
from wide import as_many

from solver import solve
from solver.answer.document import ProofOutcome
from solver.answer.prove import prove
from solver.search.order import effort, shared
from solver.search.order.search import search
from solver.search.stop import NoStop, WorkLimit

MANY = {
    "jigs": as_many(10, 40),
    "gears": as_many(10, 60),
    "links": as_many(30, 200),
    "rings": as_many(10, 60),
}
SIZE = 10


def cases(quick: int, most: int = 200) -> list[object]:
    """A test for each sort and some seeds, up to `most`; all but the first few of a sort are deep."""
    return [
        pytest.param(
            sort,
            range(at, at + SIZE),
            id=f"{sort} {at} to {at + SIZE - 1}",
            marks=pytest.mark.slow if at < quick * SIZE and sort == "links" else pytest.mark.deep,
        )
        for sort in SORTS
        for at in range(0, min(most, MANY[sort]), SIZE)
    ]


def of_seed(sort: str, seed: int):
    """A random design with its trains, and its classes; None where its rules refuse it."""
    text = random_made_class_design(sort, seed)
    design = parsed(text)
    if design is None:
        return None
    trains = all_trains(design)
    return text, design, trains, *ranked_classes(design, trains)


def check(told: str, result, best, design, trains) -> None:
    assert [(one.key, teeth(one.train)) for one in result.found] == [(k, teeth(t)) for k, t in best[: design.keep]], (
        told
    )
    if design.front and best:
        points = [(teeth(point.found.train), point.ties) for point in result.front]
        assert points == [(teeth(train), ties) for _, train, ties in front_of_classes(design, trains)], told


@pytest.mark.parametrize(("sort", "block"), cases(1))
def test_lists_fronts_and_orders_are_those_of_enumeration(sort, block):
    several = 0
    for seed in block:
        if (found := of_seed(sort, seed)) is None:
            continue
        text, design, trains, best, counts = found
        told = f"{sort} {seed}:\n{text}"
        result = search(design)
        assert result.complete, told
        check(told, result, best, design, trains)
        several += any(count > 1 for count in counts.values())
        for one in result.found:
            orders = result.orders[one.train] if result.orders else None
            if orders is not None and orders.settled:
                assert orders.orders == counts[gears(one.train)], told
    assert several


@pytest.mark.parametrize(("sort", "block"), cases(0, as_many(10, 40)))
def test_crowds_are_ordered_key_by_key(sort, block, monkeypatch):
    """With lists allowed to hold no more than what is asked for, nearly every tie becomes a crowd."""
    for name in ("LIST_LIMIT", "MODEL_LIMIT", "LIST_PER_KEPT"):
        monkeypatch.setattr(effort, name, 1)
    for seed in block:
        if (found := of_seed(sort, seed)) is None:
            continue
        text, design, trains, best, _ = found
        result = search(design, WorkLimit(3000))
        if result.complete:
            check(f"{sort} {seed}:\n{text}", result, best, design, trains)


@pytest.mark.parametrize(("sort", "block"), cases(0, as_many(10, 30)))
def test_answers_are_judged_and_proven_a_second_time(sort, block):
    refuted = 0
    for seed in block:
        design = parsed(text := random_made_class_design(sort, seed))
        if design is None:
            continue
        answer = solve(design)
        proofs = prove(design, answer.solutions, answer.front, NoStop()).proofs
        assert {one.outcome for one in proofs} == {ProofOutcome.CONFIRMED}, f"{sort} {seed}:\n{text}"
        if design.rank[0] == "error" and len(answer.solutions) > 1:
            first, last = answer.solutions[0], answer.solutions[-1]
            if last.worst_error_pct > first.worst_error_pct + 1e-3:
                worse = prove(design, [last], None, NoStop()).proofs
                assert worse[-1].outcome is ProofOutcome.REFUTED, f"{sort} {seed}:\n{text}"
                refuted += 1
    assert refuted or sort != "links"


def check_places(seed: int) -> tuple[bool, bool] | None:
    """Whether a random design has a solution, and one of more than one order; None: floats cannot tell."""
    text = random_made_placed_design(seed)
    return compare_places(parsed(text), f"seed {seed}:\n{text}", WithWishes())


@pytest.mark.deep
@pytest.mark.parametrize("patience", [shared.PATIENCE, 1], ids=["as ever", "CP-SAT at once"])
@pytest.mark.parametrize(
    "block",
    [pytest.param(range(at, at + 10), id=str(at)) for at in range(0, as_many(20, 120), 10)],
)
def test_with_places_too(block, patience, monkeypatch):
    monkeypatch.setattr(brute_places, "all_trains", all_trains)
    monkeypatch.setattr(shared, "PATIENCE", patience)
    told = [one for seed in block if (one := check_places(seed)) is not None]
    assert sum(some for some, _ in told) > 3
