"""Questions of teeth made smaller without losing an answer: links around blanks in one order, families apart."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from test_prove import moons

from solver import parse_design, solve
from solver.answer.document import ProofOutcome
from solver.answer.prove import prove
from solver.design.train import Train
from solver.search.prove.apart import MOST_PARTS, families_apart
from solver.search.prove.model import DesignModel, Fixed, enumerate_trains
from solver.search.solves import Solves
from solver.search.stop import NoStop

FREE = """
[[bodies.list]]
name = "input"
period = 1
[[bodies.list]]
name = "output"
period = 6
[rings]
teeth = {teeth}
[arbors]
wheel_teeth = {wheels}
pinion_teeth = [6, 7]
reverted = {reverted}
[fit]
directions = "none"
[search]
max_error_pct = 40
"""


def links_apart(train: Train) -> tuple[object, ...]:
    """A train, the order of the links between two bodies left out of account."""
    between = (sorted(train.links[first:last], key=str) for first, last in pairwise(train.seats))
    return train.rings, train.seats, *map(tuple, between)


def all_trains(design, *, ordered: bool) -> list[Train]:
    model = DesignModel(design)
    if ordered:
        model.interchange()
    model.hold([Fixed("error", "==", list(model.train.worst.proto.domain)[-1])])  # else each train has many of them
    found, whole = enumerate_trains(model, 100_000, Solves(1, NoStop()))
    assert whole
    return found


def unequal_steps():
    rings = "[{min = 20, max = 20}, {min = 24, max = 24}, {min = 30, max = 30}, {min = 33, max = 34}]"
    return parse_design(FREE.format(teeth=rings, reverted="true", wheels="{min = 8, max = 14}"))


@pytest.mark.parametrize(
    "design",
    [
        replace(moons(0, "same", "max_error_pct = 5"), keep=1),
        parse_design(FREE.format(teeth="[12, {min = 18, max = 19}, 20]", reverted="false", wheels="[9, 10, 12]")),
    ],
    ids=["steps", "ratios"],
)
def test_one_order_of_links_around_a_blank_stands_for_all(design):
    design = design if design.rings.teeth else replace(design, rings=replace(design.rings, inner_teeth=(18, 21)))
    every, some = all_trains(design, ordered=False), all_trains(design, ordered=True)
    assert len(some) < len(every) and set(some) <= set(every)
    assert {links_apart(one) for one in some} == {links_apart(one) for one in every}


def test_links_between_unequal_steps_keep_their_places():
    design = unequal_steps()
    assert set(all_trains(design, ordered=True)) == set(all_trains(design, ordered=False)) != set()


def test_families_apart_are_all_families_once():
    design = moons()
    parts = families_apart(design)
    assert len(parts) == len(design.rings.tooth_step) == 3
    assert sorted(map(str, design.families())) == sorted(str(family) for part in parts for family in part)
    assert all(len({family.rings[1][0] - family.rings[0][0] for family in part}) == 1 for part in parts)


def test_more_parts_than_are_worth_it_stay_one():
    design = moons()
    many = replace(design, rings=replace(design.rings, tooth_step=tuple(range(4, 5 + MOST_PARTS))))
    assert families_apart(many) == [many.families()]


@pytest.mark.deep
def test_what_is_better_is_found_in_whichever_part_it_is():
    """Three steps, asked about one after the other: an answer that is the worse for jigs is refuted."""
    design = moons(1, "either", 'rank = ["jigs", "error"]\nmax_error_pct = 10')
    best, *others = solve(replace(design, keep=20)).solutions
    worse = [one for one in others if (one.jigs, one.worst_error_pct) > (best.jigs, best.worst_error_pct)]
    for one in worse[:5]:
        found = prove(design, [one], None, NoStop())
        assert found.proofs[-1].outcome is ProofOutcome.REFUTED
        assert found.better is not None
        assert (found.better.jigs, found.better.worst_error_pct) < (one.jigs, one.worst_error_pct)
    assert worse
