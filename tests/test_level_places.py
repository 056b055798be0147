"""Rule `level` where parts reach into other levels: search, second proof and judge against exhaustive enumeration and
against shapely, which knows nothing of any of them."""

from __future__ import annotations

import math
import random
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from itertools import combinations, product

import brute
import brute_levels
import numpy as np
import pytest
from brute_places import Lengths, link_places, radii_of
from brute_running import only_what_runs, settled, wired_placed_design
from enumerated import list_with_places, plain
from shapely import Point
from test_places import outcome
from test_rules import possible

import solver.search.place.places
from constraints.level import LevelsClear
from constraints.places import Aspect, PlaceVars
from solver import Design, parse_design, solve
from solver.answer.document import ProofOutcome
from solver.answer.prove import prove
from solver.answer.solve import Unsound
from solver.check.level import levels
from solver.check.made import reach_of
from solver.design.train import LinkPlace, Placement, RollerPlace, Train
from solver.search.levels import thick_of
from solver.search.order.search import search
from solver.search.place import measures
from solver.search.place.level_tables import level_rule
from solver.search.place.measures import Measures
from solver.search.place.places import JoinedGears, JoinedPlaces
from solver.search.place.shapes import RingStack, link_shape
from solver.search.place.tables import RingRollers, RuleTables
from solver.search.stop import NoStop


def thick_designs(seeds: range, form: str = "saw", short: bool = False):
    """Random placed designs in which something reaches into another level."""
    for seed in seeds:
        design = wired_placed_design(seed, form, short, thick=True)
        if design is not None and thick_of(design) is not None:
            yield seed, design


ENOUGH = 6  # designs that have another answer with levels far apart


def equals_enumeration(seeds: range, form: str = "saw", short: bool = False) -> Counter:
    kinds: Counter = Counter()
    for seed, design in thick_designs(seeds, form, short):
        if not settled(design):
            continue
        with only_what_runs():
            counts, answer = list_with_places(design)
        if counts[0] < 0:
            continue
        found, (best, _) = search(design), answer
        assert found.complete and plain(outcome(found.found)) == plain(best), (seed, form, short)
        kinds["compared"] += 1
        kinds["found"] += bool(best)
        kinds["third gears"] += any(link[3] for one in best for link in one[1][2])
        kinds["drives"] += bool(best) and design.drive is not None
        if kinds["other with levels far apart"] >= ENOUGH:  # which takes one more search to know
            continue
        flat = replace(design, rings=replace(design.rings, level_spacing=Fraction(4000)))
        depth = design.fit.frame is not None and design.fit.frame.depth is not None
        kinds["other with levels far apart"] += not depth and plain(outcome(search(flat).found)) != plain(best)
    return kinds


@pytest.mark.slow
@pytest.mark.parametrize(("form", "short", "seeds"), [("saw", False, range(14)), ("involute", False, range(8))])
def test_the_best_with_thick_parts_equals_enumeration(form, short, seeds):
    kinds = equals_enumeration(seeds, form, short)
    assert kinds["compared"] >= 3, kinds


@pytest.mark.deep
@pytest.mark.parametrize(
    ("form", "short", "seeds"),
    [
        ("saw", False, range(14, 125)),
        ("saw", True, range(59)),
        ("curved", False, range(80)),
        ("involute", False, range(120)),
    ],
)
def test_the_best_with_thick_parts_equals_enumeration_in_many_designs(form, short, seeds):
    kinds = equals_enumeration(seeds, form, short)
    assert kinds["compared"] >= 25 and kinds["found"] >= 5 and kinds["other with levels far apart"] >= 5, kinds


# -- the judge, measured by another library ----------------------------------------------------------------------------


def touching(design: Design, train: Train) -> float:
    """The least room that parts on different levels leave each other in the plane [mm], of those that touch along the
    axis, beyond the clearance; by shapely. Wheel and pinion of one arbor are left out."""
    lengths, clear, spacing = Lengths(design), float(design.fit.clearance), float(design.rings.level_spacing)
    slabs = []

    def gear(owner: str, level: int, spot, teeth: int, role: str) -> None:
        name = {"third": "third gear"}.get(role, role)
        radius = teeth * lengths.tooth + float(reach_of(design, name, teeth))
        at, hub = Point(spot[0] / 1000, spot[1] / 1000), brute_levels.arbor_mm(design)
        fixed = owner if role != "third" else ""
        thick = brute_levels.thick_mm(design, role)
        slabs.append((level, thick, at.buffer(radius, 32), fixed))
        if hub > thick:
            slabs.append((level, hub, at.buffer(float(design.wire.hub_diameter or hub + 4) / 2, 32), fixed))

    for index, (link, place) in enumerate(zip(train.links, train.placement.links, strict=True)):
        thirds = iter(zip(link.thirds, place.thirds, strict=True))
        for level, teeth, third in zip((index, index + 1), (link.wheel, link.pinion), brute.SIDES[link.kind]):
            gear(f"link {index}", level, place.arbor, teeth, "behind" if third else "gear")
            if third:
                count, spot = next(thirds)
                gear("", level, spot, count, "third")
    ring = brute_levels.toothed_mm(design)
    for level, teeth in enumerate(train.rings):
        radius = teeth * lengths.tooth
        outer = Point(0, 0).buffer(radius + float(reach_of(design, "ring", teeth)), 128)
        slabs.append((level, ring, outer - Point(0, 0).buffer(radius - lengths.rim, 128), ""))
    for level, some in enumerate(train.placement.rollers):
        for roller in some:
            at = Point(roller.spot[0] / 1000, roller.spot[1] / 1000)
            slabs.append((level, 3 * ring, at.buffer(float(design.fit.rollers.radius), 32), ""))
    room = math.inf
    for (level, thick, shape, fixed), (by, deep, other, too) in combinations(slabs, 2):
        if level != by and not (fixed and fixed == too) and (thick + deep) / 2 + clear > abs(level - by) * spacing:
            room = min(room, shape.distance(other) - clear)
    return room


def anywhere(design: Design, rng: random.Random) -> Train | None:
    """Some train of the design, its links and rollers in any of its directions, whatever they hit."""
    family = rng.choice(design.families())
    rings = tuple(choice[0] for choice in family.rings[: family.counts[-1]])
    lengths, links, places = Lengths(design), [], []
    for inner, outer in zip(rings, rings[1:], strict=False):
        drawn = (link for link, _ in brute.link_choices(design, inner, outer))
        choices = [link for link in drawn if brute_levels.arbors_hold(design, link)]
        if not choices:
            return None
        link = rng.choice(choices)
        radii = radii_of(design, lengths, inner, outer, link)
        if not radii:
            return None
        radius, direction = rng.choice(radii), rng.choice(design.fit.directions)
        arbor, thirds = rng.choice(list(link_places(lengths, inner, outer, link, radius, direction)))
        um = [(round(1000 * x), round(1000 * y)) for x, y in (arbor, *thirds)]
        links.append(link)
        places.append(LinkPlace(direction, radius, um[0], tuple(um[1:])))
    rollers = []
    for teeth in rings if design.fit.rollers is not None else ():
        far = 1000 * (teeth * lengths.tooth - lengths.rim - float(design.fit.rollers.radius))
        turns = [Fraction(5 * step) for step in rng.sample(range(72), 3)]
        angles = [math.radians(turn) for turn in turns]
        spots = [(round(far * math.cos(angle)), round(far * math.sin(angle))) for angle in angles]
        rollers.append(tuple(RollerPlace(turn, spot) for turn, spot in zip(turns, spots, strict=True)))
    seats = (*range(len(design.bodies) - 1), len(rings) - 1)
    return Train(rings, seats, tuple(links), Placement(tuple(places), tuple(rollers), None))


ROLLING = """
[bodies]
set = "jupiter"
sense = "either"
only = ["Io", "Europa", "Ganymede"]
[rings]
inner_teeth = 30
tooth_step = 5
tooth_pitch = 12
addendum = 4
rim = 11
level_spacing = {spacing}
[arbors]
wheel_teeth = {{min = 14, max = 17}}
pinion_teeth = {{min = 9, max = 12}}
[fit]
clearance = 1.2
directions = {directions}
plate = "{plate}"
post_radius = 1
unevenness = 0.15
rollers = {{count = [3, 4, 5], radius = {radius}, reach = {reach}}}
[wire]
form = "involute"
sheet = 2.5
[search]
max_error_pct = 80
keep = 2
"""


def rolling(spacing: float, radius=6, plate="none", reach=60, directions=12) -> str:
    return ROLLING.format(spacing=spacing, radius=radius, plate=plate, reach=reach, directions=directions)


@pytest.mark.slow
@pytest.mark.parametrize("many", [120, pytest.param(400, marks=pytest.mark.deep)])
def test_the_judge_finds_what_shapely_finds(many):
    seen: Counter = Counter()
    some = (thick_designs(range(many // 8 + 8), form) for form in ("saw", "involute"))
    designs = [one for designs in some for _, one in designs if one.drive is None]
    designs += [parse_design(rolling(spacing, radius)) for spacing, radius in product((6, 6.3, 7, 8.6), (6, 9, 14))]
    rng = random.Random(11)
    for design in rng.choices(designs, k=many):
        frame = design.fit.frame
        design = replace(design, drive=None, fit=replace(design.fit, frame=frame and replace(frame, depth=None)))
        train = anywhere(design, rng)
        if train is None:
            continue
        room = touching(design, train)
        if abs(room) < 0.05:  # circles are drawn with many corners
            continue
        told = list(levels(design, train))
        assert bool(told) == (room < 0), (told, room, design.rings, train)
        seen[bool(told), design.fit.rollers is not None] += 1
    assert all(seen[told, rollers] >= 2 for told, rollers in product((True, False), repeat=2)), seen


def stated(design: Design, train: Train) -> tuple[PlaceVars, LevelsClear]:
    """The train as variables that can only take it, and the rule."""
    measured, found, things, rollers = Measures(design), PlaceVars(), [], []
    for level, (link, place) in enumerate(zip(train.links, train.placement.links, strict=True)):
        shape = link_shape(level, *train.rings[level : level + 2], link, place.radius)
        gears, thirds = [], iter(place.thirds)
        for side in shape.sides:
            for size, at in zip(measured.side(side), (place.arbor, *(() if side.third is None else (next(thirds),)))):
                gears.append(JoinedGears(side.level, np.array([size]), np.array([at[0]]), np.array([at[1]])))
        things.append(JoinedPlaces((shape,), tuple(gears), (), ()))
        found.item(1)
    for level, ring in enumerate(train.placement.rollers):
        xs, ys = (np.array([roller.spot[axis] for roller in ring], np.int64) for axis in (0, 1))
        rollers.append(RingRollers(level, tuple(float(one.direction) for one in ring), xs, ys, range(0)))
        found.ring(len(ring))
        for roller in found.rollers[-1]:
            found.model.add(roller == 1)
    return found, level_rule(RuleTables(measured, RingStack(train.rings, ()), things, rollers, []))


@pytest.mark.slow
@pytest.mark.parametrize("many", [40, pytest.param(400, marks=pytest.mark.deep)])
def test_the_rule_for_cp_sat_has_its_twin_in_the_judge(many):
    seen, rng = set(), random.Random(5)
    designs = [one for _, one in thick_designs(range(16)) if one.drive is None]
    designs += [parse_design(rolling(spacing, radius)) for spacing, radius in product((6.3, 7, 8.6), (4, 6))]
    for design in rng.choices(designs, k=many):
        train = anywhere(design, rng)
        if train is not None:
            broken = bool(list(levels(design, train)))
            assert possible(*stated(design, train)) != broken, (design.rings, train)
            seen.add((broken, design.fit.rollers is not None))
    assert len(seen) >= 3 and {True, False} == {broken for broken, _ in seen}, seen


def test_the_smallest_that_the_rule_allows_and_forbids():
    def two_things() -> PlaceVars:
        train = PlaceVars()
        train.item(2)
        train.item(1)
        return train

    every, pair = [np.array([True, True]), np.array([True])], (Aspect(0), Aspect(1))
    assert possible(two_things(), LevelsClear(every, [(*pair, np.array([[False], [True]]))]))
    assert not possible(two_things(), LevelsClear(every, [(*pair, np.array([[False], [False]]))]))
    assert not possible(two_things(), LevelsClear([np.array([False, False]), every[1]]))
    assert not possible(two_things(), LevelsClear(every, sound=False))


# -- rollers, and the second proof -------------------------------------------------------------------------------------


@pytest.mark.parametrize("plate", ["none", "outer"])
def test_rollers_as_wide_as_their_levels_stand_between_those_of_the_next(plate):
    """7.5 mm wide on levels 6.3 mm apart: rollers of neighbouring rings keep 1.2 mm in the plane. Levels 6 mm apart
    leave no ring room beside them: (7.5 + 2.5) / 2 + 1.2 mm."""
    for spacing, fits in ((30, True), (6.3, True), (6.1, False)):
        design = parse_design(rolling(spacing, plate=plate))
        answer = solve(design)
        assert answer.proven and bool(answer.solutions) == fits
        proofs = prove(design, answer.solutions, answer.front, NoStop()).proofs
        assert {one.outcome for one in proofs} == {ProofOutcome.CONFIRMED}
        for train in answer.trains(design):
            near = min(
                math.dist(one.spot, other.spot) / 1000
                for rollers, others in zip(train.placement.rollers, train.placement.rollers[1:], strict=False)
                for one, other in product(rollers, others)
            )
            assert (near >= 2 * 6 + 1.2) == (spacing < 30), near


@pytest.mark.slow
def test_where_rollers_leave_each_other_no_room_nothing_fits():
    answer = solve(design := parse_design(rolling(6.3, radius=14, reach=20, directions=6)))
    assert answer.proven and not answer.solutions
    assert {one.outcome for one in prove(design, [], None, NoStop()).proofs} == {ProofOutcome.CONFIRMED}
    assert solve(parse_design(rolling(30, radius=14, reach=20, directions=6))).solutions


@pytest.mark.slow
@pytest.mark.parametrize("seeds", [range(12), pytest.param(range(12, 40), marks=pytest.mark.deep)])
def test_cp_sat_proves_what_is_found_of_thick_parts(seeds):
    some: Counter = Counter()
    for form, short in (("saw", False), ("saw", True), ("involute", False)):
        for seed, design in thick_designs(seeds, form, short):
            answer = solve(design)
            proofs = prove(design, answer.solutions, answer.front, NoStop()).proofs
            assert answer.proven and {one.outcome for one in proofs} <= {ProofOutcome.CONFIRMED}, (seed, form, short)
            some[bool(answer.solutions)] += 1
    assert some[True] >= 2 and some[False] >= 2, some


def test_a_search_that_forgets_the_rule_is_caught_by_the_judge(monkeypatch):
    monkeypatch.setattr(measures, "thick_of", lambda design: None)
    with pytest.raises(Unsound, match="level"):
        solve(parse_design(rolling(6.3)))


def test_a_search_that_keeps_levels_too_far_apart_is_caught_by_cp_sat(monkeypatch):
    design = parse_design(rolling(6.3))
    monkeypatch.setattr(solver.search.place.places, "levels_clear", lambda *things: [np.zeros((1, 1), bool)])
    assert not solve(design).solutions
    found = prove(design, [], None, NoStop())
    assert [one.outcome for one in found.proofs] == [ProofOutcome.REFUTED]
