"""Random small designs that say what exists already against exhaustive enumeration: lists, fronts, caps and proofs."""

from __future__ import annotations

from dataclasses import replace

import brute
import pytest
from brute_made import all_trains
from random_made import SORTS, random_made_design
from wide import as_many

from solver import DesignError, parse_design, solve
from solver.answer.document import ProofOutcome
from solver.answer.prove import prove
from solver.search.order import effort
from solver.search.order.search import search
from solver.search.stop import NoStop

MANY, SIZE = as_many(20, 160), 20
BLOCKS = [range(start, start + SIZE) for start in range(0, MANY, SIZE)]


def cases(quick: int) -> list[object]:
    """A test for each sort and block; those beyond the first ones are deep."""
    return [
        pytest.param(
            sort,
            block,
            id=f"{sort} {block.start} to {block.stop - 1}",
            marks=pytest.mark.slow if index < quick and sort == "gears" else pytest.mark.deep,
        )
        for sort in SORTS
        for index, block in enumerate(BLOCKS)
    ]


def designs(sort, block):
    for seed in block:
        text = random_made_design(sort, seed)
        if text is None:
            continue
        try:
            yield f"{sort} {seed}:\n{text}", parse_design(text)
        except DesignError as fault:
            told = str(fault)
            assert "is not among arbors" in told or "arbors.third_gears allows" in told, f"{told}\n{text}"


def teeth(train):
    return train.rings, train.seats, train.links


@pytest.mark.deep
@pytest.mark.parametrize(("sort", "block"), cases(1))
def test_lists_and_fronts_are_the_exhaustive_ones(sort, block):
    for told, design in designs(sort, block):
        result = search(design)
        assert result.complete, told
        every = all_trains(design)
        best = brute.ranked(design, every)[: design.keep]
        assert [(one.key, teeth(one.train)) for one in result.found] == [(key, teeth(one)) for key, one in best], told
        if design.front:
            points = [(teeth(train), ties) for _, train, ties in brute.front(design, every)]
            assert [(teeth(point.found.train), point.ties) for point in result.front] == points, told


@pytest.mark.parametrize(("sort", "block"), cases(0))
def test_answers_are_judged_and_proven_a_second_time(sort, block):
    for told, design in designs(sort, block):
        answer = solve(design)
        proofs = prove(design, answer.solutions, answer.front, NoStop()).proofs
        assert {one.outcome for one in proofs} == {ProofOutcome.CONFIRMED}, told


@pytest.mark.parametrize(("sort", "block"), cases(0))
def test_crowds_are_ordered_key_by_key(sort, block, monkeypatch):
    """With lists allowed to hold no more than what is asked for, nearly every tie becomes a crowd, and CP-SAT's."""
    for name in ("LIST_LIMIT", "MODEL_LIMIT", "LIST_PER_KEPT"):
        monkeypatch.setattr(effort, name, 1)
    for told, design in designs(sort, block):
        result = search(replace(design, front=()))
        if result.complete:
            best = brute.ranked(design, all_trains(design))[: design.keep]
            assert [(one.key, teeth(one.train)) for one in result.found] == [(key, teeth(one)) for key, one in best], (
                told
            )
