"""Links and rings that stay where places decide: what is found is what the whole list has with them."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from random_designs import random_placed_design
from wide import as_many

from solver import parse_design
from solver.design.made import FixedLink, FixedRing, OnBench
from solver.search.order import together
from solver.search.order.search import search

pytestmark = pytest.mark.deep

MANY, SIZE, ALL = as_many(20, 60), 10, 400


def identity(train):
    return train.rings, train.seats, tuple((link.kind, link.wheel, link.pinion) for link in train.links)


def held(rng, train, thirds):
    """Part of a train that stays; thirds: with its third gears."""
    numbers = [number for number in range(len(train.links)) if rng.random() < 0.5] or [0]
    links = tuple(
        FixedLink(number, link.kind, link.wheel, link.pinion, link.thirds if thirds else None)
        for number in numbers
        for link in (train.links[number],)
    )
    ring = rng.randrange(len(train.rings))
    rider = train.seats.index(ring) if ring in train.seats else None
    return OnBench(held=(FixedRing(ring, None, rider, rider is None),), links=links)


@pytest.mark.parametrize("patience", [together.PATIENCE, 1], ids=["as ever", "CP-SAT at once"])
@pytest.mark.parametrize(
    "block",
    [pytest.param(range(start, start + SIZE), id=str(start)) for start in range(0, MANY, SIZE)],
)
def test_what_stays_sifts_the_list_of_all_trains_with_places(block, patience, monkeypatch):
    """Without `thirds` told, all trains of the list that have these links, and no other, in the same order by error;
    with them, no more than these, the one that they are from among them."""
    for seed in block:
        design = replace(parse_design(random_placed_design(seed)), keep=ALL, rank=("error", "parts"), front=())
        every = search(design)
        if not every.complete or not 1 < len(every.found) < ALL:
            continue
        monkeypatch.setattr("solver.search.order.shared.PATIENCE", patience)
        rng = random.Random(f"stays {seed}")
        train = rng.choice(every.found).train
        made = held(rng, train, thirds=False)
        (one,) = made.held
        alike = [
            found
            for found in every.found
            if all(
                link.allows(found.train.links[link.link]) for link in made.links if link.link < len(found.train.links)
            )
            and all(link.link < len(found.train.links) for link in made.links)
            and one.ring < len(found.train.rings)
            and (found.train.seats.index(one.ring) if one.ring in found.train.seats else None) == one.body
        ]
        result = search(replace(design, made=made))
        assert result.complete, seed
        assert {identity(one.train) for one in result.found} == {identity(one.train) for one in alike}, seed
        errors = [found.figures.error_square for found in alike]
        assert [found.figures.error_square for found in result.found] == errors, seed
        exact = search(replace(design, made=replace(made, links=held(random.Random(seed), train, True).links)))
        assert exact.complete and identity(train) in {identity(found.train) for found in exact.found}, seed
        monkeypatch.undo()
