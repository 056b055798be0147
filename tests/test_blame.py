"""What is to blame where a train has no place: few things, rightly, and no train with them is listed any more."""

from __future__ import annotations

import random
from collections import Counter
from itertools import pairwise, product

import pytest
from random_designs import random_placed_design

from solver import parse_design
from solver.check.judge import judge
from solver.design.train import Link, Train
from solver.search.options.caps import caps_of
from solver.search.options.refusals import Refusals
from solver.search.order.listing import Lister
from solver.search.order.question import Question
from solver.search.order.search import search
from solver.search.order.shared import Shared
from solver.search.place.drive import motors_within
from solver.search.place.standing import Ground
from solver.search.prove.placed import PlacedModel, grounds
from solver.search.rank import arbor_radii
from solver.search.solves import Solves
from solver.search.stop import NoStop, Termination, WorkLimit

ROLLING = """
[bodies]
set = "jupiter"
sense = "either"
only = ["Io", "Europa", "Ganymede"]
[rings]
inner_teeth = 24
tooth_step = 5
tooth_pitch = 12
addendum = 3
rim = 5
[arbors]
wheel_teeth = {{min = 6, max = 12}}
pinion_teeth = {{min = 5, max = 9}}
third_gears = 1
third_teeth = {{min = 5, max = 7}}
[fit]
frame = {{shape = "square", side = 240}}
clearance = 1
plate = "{plate}"
stands = "{stands}"
post_radius = 1
rollers = {{count = {{min = 3, max = 4}}, radius = {radius}, reach = 40}}
directions = 8
"""


def lister_of(design):
    return Lister(Shared(design, NoStop()), Question(("error",), (), 1, caps_of(design)))


def some_trains(lister, many: int) -> list[Train]:
    """Trains by their teeth, few of those that are listed first."""
    lattices, units = lister.all_inside()
    listed = [
        path for lattice, _ in zip(lattices, range(2)) for path, _ in zip(lister.paths(lattice, units), range(400))
    ]
    return [lister.scorer.train(path) for path in random.Random(1).sample(listed, min(many, len(listed)))]


def choices(chooser, thirds, inner: int, outer: int, link: Link):
    """Every choice of third gears and radius of a link."""
    for some in product(thirds, repeat=len(link.thirds)):
        same = Link(link.kind, link.wheel, link.pinion, some)
        for radius in arbor_radii(inner, outer, same, chooser.gap):
            yield same, radius


def has_place(chooser, thirds, train: Train, motors) -> bool:
    """Whether any choice of third gears and radii has a place, one tried after the other."""
    every = [choices(chooser, thirds, *rings, link) for rings, link in zip(pairwise(train.rings), train.links)]
    for chosen in product(*every):
        same = Train(train.rings, train.seats, tuple(link for link, _ in chosen))
        if chooser.fitter.placement(same, tuple(radius for _, radius in chosen), motors) is not None:
            return True
    return False


@pytest.mark.deep
def test_a_train_is_blamed_exactly_where_no_choice_has_a_place():
    """Every choice tried: nothing is blamed where one has a place, something where none has; and what is blamed has
    places as soon as anything of it is left out."""
    there = nowhere = many = 0
    for seed in range(90):
        design = parse_design(random_placed_design(seed))
        lister = lister_of(design)
        chooser, thirds = lister.tables.chooser, lister.scorer.rules.teeth
        for train in some_trains(lister, 6):
            if not chooser.fitter.sound(train.rings, train.seats):
                continue
            motors = motors_within(design, train, chooser.gap, chooser.most)
            things = chooser.things(thirds, train)
            blame = chooser.fitter.blame
            culprits = blame.culprits(things)
            placed = has_place(chooser, thirds, train, motors)
            assert placed == (not culprits), (seed, train, culprits)
            for guilty in culprits:
                for index in guilty:
                    rest = [things[one] for one in guilty if one != index]
                    assert not rest or not blame.culprits(rest), (seed, train, guilty)
                many += len(guilty) > 1
            there, nowhere = there + placed, nowhere + (not placed)
    assert there >= 40 and nowhere >= 40 and many >= 15, (there, nowhere, many)


@pytest.mark.deep
@pytest.mark.parametrize("step", [3, 1])
def test_cp_sat_alone_says_the_same_of_whether_places_exist(step):
    """Of trains with and without: the rules as tables, from every direction and side, against the search's own way."""
    seen = Counter()
    texts = [random_placed_design(seed) for seed in range(0, 90, step)]
    texts += [
        ROLLING.format(plate=plate, stands=stands, radius=radius)
        for plate, stands in product(("none", "inner", "outer"), ("none", "outer"))
        for radius in (4, 8, 12)
    ]
    for text in texts:
        design = parse_design(text)
        lister = lister_of(design)
        chooser, fitter = lister.tables.chooser, lister.tables.chooser.fitter
        for train in some_trains(lister, 3):
            if not judge(design.without_places(), train).sound:
                continue  # listed with those that rounding cannot tell from the limit
            radii = [arbor_radii(*rings, link, chooser.gap) for rings, link in zip(pairwise(train.rings), train.links)]
            motors = motors_within(design, train, chooser.gap, chooser.most)
            placed = any(fitter.placement(train, chosen, motors) is not None for chosen in product(*radii))
            some = grounds(Ground(design), train.rings, [[link] for link in train.links], design.drive is not None)
            said = PlacedModel(design, some, lambda _: True, train).train(Solves(1, NoStop(), direct=True))
            assert (said is not None) == placed, (text, train)
            assert said is None or judge(design, said).sound, (text, said)
            seen[placed, design.fit.rollers is not None, design.drive is not None] += 1
    few = 5 if step == 1 else 1
    assert all(seen[placed, rollers, False] >= few for placed in (True, False) for rollers in (True, False)), seen
    assert seen[True, False, True] >= few and seen[False, False, True] >= few, seen


def test_what_is_refused_is_not_listed():
    design = parse_design(random_placed_design(270))
    lister = lister_of(design)
    lattices, units = lister.all_inside()
    before = list(lister.paths(lattices[0], units))
    assert lister.scored(before) == []
    assert list(lister.paths(lattices[0], units)) == []
    assert len(lister.tables.chooser.fitter._known) < len(before) / 20  # few of them were tried


def test_a_design_is_decided_that_few_combinations_forbid():
    """Thousands of trains without a place: a search that learns nothing lists all of them again at each step up."""
    found = search(parse_design(random_placed_design(270)), WorkLimit(30_000))
    assert (found.termination, found.found) == (Termination.PROVED, [])


def test_refusals_hold_in_their_context_alone():
    refusals = Refusals()
    assert not refusals and not refusals.holds("here", ["a"])
    refusals.add("here", ["a", "b"])
    refusals.add("there", ["c"])
    assert refusals
    assert refusals.holds("here", ["b", "x", "a"]) and refusals.holds("there", ["x", "c"])
    assert not refusals.holds("here", ["a", "c"]) and not refusals.holds("there", ["a", "b"])
