"""Each rule of places stated to CP-SAT: the smallest placement it allows, the smallest it forbids, and its twin."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from test_rules import possible

from constraints.frame import InFrame
from constraints.neighbour import Neighbour
from constraints.places import Aspect, PlaceVars
from constraints.post import PostsClear
from constraints.roller import RollersHold
from constraints.stand import StandsClear
from solver import Design, parse_design
from solver.check.room import Room
from solver.design.links import KIND_BY_NAME
from solver.design.train import Placement, RollerPlace, Train
from solver.search.order.search import search
from solver.search.place.measures import Measures
from solver.search.place.places import JoinedGears, JoinedPlaces, MeshSpots, PostSpots
from solver.search.place.shapes import RingStack
from solver.search.place.tables import RingRollers, RuleTables
from solver.search.reaches import BEHIND, GEAR, THIRD


def standing(*things: int) -> PlaceVars:
    """Things with so many places each."""
    train = PlaceVars()
    for places in things:
        train.item(places)
    return train


def kept(*places: int) -> np.ndarray:
    return np.array(places, bool)


def table(*rows: tuple[int, ...]) -> np.ndarray:
    return np.array(rows, bool)


def between(one: int, other: int, *rows: tuple[int, ...]) -> tuple[Aspect, Aspect, np.ndarray]:
    """Which places of two things can be had together."""
    return Aspect(one), Aspect(other), table(*rows)


def test_frame():
    assert not possible(standing(1), InFrame([kept(1)], rings=False))
    assert possible(standing(2), InFrame([kept(0, 1)]))
    assert not possible(standing(2), InFrame([kept(0, 0)]))
    assert not possible(standing(1, 2), InFrame([kept(0), kept(1, 1)]))  # each thing has to stand somewhere


def test_neighbour():
    assert possible(standing(2, 2), Neighbour([between(0, 1, (0, 0), (0, 1))]))
    assert not possible(standing(2, 2), Neighbour([between(0, 1, (0, 0), (0, 0))]))
    around = [between(0, 1, (0, 1), (1, 0)), between(1, 2, (0, 1), (1, 0))]
    assert possible(standing(2, 2, 2), Neighbour([*around, between(0, 2, (1, 0), (0, 1))]))
    assert not possible(standing(2, 2, 2), Neighbour([*around, between(0, 2, (0, 1), (1, 0))]))


def test_neighbour_of_places_that_are_alike():
    """The first thing's three places are two rows; the other has many, so that those which can be had are listed."""
    for last, there in ((0, False), (1, True)):
        rows = np.zeros((2, 5), bool)
        rows[1, 4] = last
        assert possible(standing(3, 5), Neighbour([(Aspect(0, np.array([0, 1, 0])), Aspect(1), rows)])) == there


def test_of_several_things_one_is_there():
    """A link of one kind or another, with two places or one, beside a thing that none of the first two leaves."""
    for absent_one in (0, 1):
        train = standing(1)
        train.either([2, 1])
        rules = Neighbour([between(0, 1, (0, 0)), between(2, 0, (absent_one,))])
        assert possible(train, rules) == bool(absent_one)
    train = PlaceVars()
    train.either([])
    assert not possible(train, Neighbour([]))
    train, wanted = standing(1), None
    wanted = train.model.new_bool_var("wanted")
    train.either([1], wanted)
    assert possible(train, Neighbour([between(0, 1, (0,))]))  # it is not wanted
    train.model.add(wanted == 1)
    assert not possible(train, Neighbour([between(0, 1, (0,))]))


def with_roller(chosen: bool) -> PlaceVars:
    """A thing with one place, and two rings that may have one roller each; the first has it, and the other may."""
    train = standing(1)
    for ring in range(2):
        train.ring(1)
        train.model.add(train.rollers[ring][0] == (1 if ring == 0 or chosen else 0))
    return train


def test_post():
    free = [kept(1), kept(1), kept(1)]
    no = table((0,))
    assert possible(with_roller(True), PostsClear(free))
    assert not possible(with_roller(True), PostsClear([kept(0), kept(1), kept(1)]))
    assert not possible(with_roller(True), PostsClear([kept(1), kept(0), kept(1)]))
    assert not possible(with_roller(True), PostsClear(free, rollers=[(0, Aspect(0), no)]))  # and the thing
    assert not possible(with_roller(True), PostsClear(free, rings=[(0, 1, no)]))  # two rollers
    second = PostsClear(free, rollers=[(1, Aspect(0), no)], rings=[(0, 1, no)])
    assert possible(with_roller(False), second) and not possible(with_roller(True), second)  # it may be left out
    assert not possible(standing(1, 1), PostsClear([kept(1), kept(1)], [between(0, 1, (0,))]))


def test_stand():
    def clear(train: PlaceVars, *things: np.ndarray, alone: int = 1, apart: int = 1, there: int = 1) -> bool:
        """Two rings whose stands are alike; there: whether bodies ride on them."""
        train.riders += [train.model.new_constant(there) for _ in range(2)]
        both = table((1, apart), (apart, 1))
        return possible(train, StandsClear(kept(alone, 1), both, [things, things]))

    assert clear(with_roller(False), kept(1), kept(1), kept(0))
    assert not clear(with_roller(True), kept(1), kept(1), kept(0))
    assert clear(standing(2), kept(0, 1)) and not clear(standing(2), kept(0, 0))
    assert clear(standing(2), kept(0, 0), there=0)
    assert not clear(standing(1), kept(1), alone=0) and not clear(standing(1), kept(1), apart=0)


def rolling(*directions: int, count: int = 3, near: tuple[int, ...] = (), beside: np.ndarray | None = None) -> bool:
    """Whether rollers in some of these directions hold a ring; one of those in `near` is near enough to a mesh."""
    train = standing(1)
    train.ring(len(directions))
    apart = np.ones((len(directions),) * 2, bool) if beside is None else beside
    near_enough = table(tuple(turn in (near or directions) for turn in directions))
    return possible(train, RollersHold((count,), [directions], [apart], [], [(Aspect(0), 0, near_enough)]))


def test_roller():
    assert rolling(0, 120, 240) and not rolling(0, 120, 240, count=4)  # there are not so many directions
    assert rolling(0, 175, 185) and not rolling(0, 170, 180)  # a gap of 180 degrees
    assert rolling(0, 120, 240, near=(240,)) and not rolling(0, 120, 240, near=(30,))  # too far from the mesh
    assert not rolling(0, 10, 170, 190, near=(10,))  # the one that is near leaves a gap
    meeting = ~(np.eye(3, k=1, dtype=bool) | np.eye(3, k=-1, dtype=bool))
    assert not rolling(0, 120, 240, beside=meeting)


def test_roller_and_gear():
    def held(clear: int) -> bool:
        train = standing(1)
        train.ring(3)
        rule = RollersHold(
            (3,), [(0, 120, 240)], [np.ones((3, 3), bool)], [(0, Aspect(0), table((1,), (1,), (clear,)))], []
        )
        return possible(train, rule)

    assert held(1) and not held(0)


# -- twins -------------------------------------------------------------------------------------------------------------

TWIN = """
[bodies]
set = "jupiter"
sense = "either"
[rings]
inner_teeth = 24
tooth_step = 8
tooth_pitch = 12
addendum = {addendum}
rim = 6
[arbors]
third_gears = 1
[fit]
frame = {{{frame}}}
clearance = 1
plate = "{plate}"
stands = "{stands}"
post_radius = 1
rollers = {{count = {{min = 3, max = 4}}, radius = 3, reach = 60}}
directions = 12
[search]
keep = 40
{wire}"""


WIRE = '[wire]\njig_pin = 1\nthird = "pins"\n'


def twin(frame: str, plate: str, stands: str, wire: str = "") -> str:
    """The design of TWIN; with wire, its teeth are as tall as run, and its rollers leave room for them."""
    text = TWIN.format(frame=frame, plate=plate, stands=stands, wire=wire, addendum=4.5 if wire else 3)
    return text.replace("radius = 3, reach", "radius = 2.5, reach") if wire else text


def shaken(rng: random.Random, train: Train) -> Train:
    """The train with some things moved, a little or a lot."""

    def moved(spot):
        far = rng.choice((0, 0, 1, 300, 4000, 60_000))
        return spot[0] + rng.randint(-far, far), spot[1] + rng.randint(-far, far)

    placement = train.placement
    links = [replace(p, arbor=moved(p.arbor), thirds=tuple(map(moved, p.thirds))) for p in placement.links]
    rollers = [
        tuple(RollerPlace(at.direction, moved(at.spot)) for at in ring[: len(ring) - (rng.random() < 0.1)])
        for ring in placement.rollers
    ]
    return replace(train, placement=Placement(tuple(links), tuple(rollers)))


def stated(design: Design, train: Train) -> tuple[PlaceVars, dict[str, object]]:
    """The placed train as variables that can only take it, and the rules of its design, of tables with one place."""
    measures, count = Measures(design), len(train.rings)
    passes = {"inner": lambda low, high: range(low), "outer": lambda low, high: range(high + 1, count)}.get(
        design.fit.plate, lambda low, high: range(0)
    )
    found, things, rollers = PlaceVars(), [], []
    for i, (link, place) in enumerate(zip(train.links, train.placement.links)):
        kind = KIND_BY_NAME[link.kind]
        levels = [i] * kind.wheel_thirds + [i + 1] * kind.pinion_thirds
        on_arbor = [(i, link.wheel, kind.wheel_thirds), (i + 1, link.pinion, kind.pinion_thirds)]
        gears = [(on, measures.gear(BEHIND if behind else GEAR, z), place.arbor) for on, z, behind in on_arbor]
        gears += [(on, measures.gear(THIRD, z), at) for on, z, at in zip(levels, link.thirds, place.thirds)]
        posts = [(passes(i, i + 1), place.arbor)]
        posts += [(passes(level, level), spot) for level, spot in zip(levels, place.thirds)]
        meshes = [
            MeshSpots(mesh.level, (mesh.direction,)) for mesh in Room(design, train).meshes if mesh.owner == f"link {i}"
        ]
        things.append(
            JoinedPlaces(
                (None,),
                tuple(JoinedGears(level, np.array([z]), *one_spot(at)) for level, z, at in gears),
                tuple(PostSpots(passed, *one_spot(at)) for passed, at in posts if passed),
                tuple(meshes),
            )
        )
        found.item(1)
    for level, ring in enumerate(train.placement.rollers):
        directions = tuple(float(at.direction) for at in ring)
        xs, ys = (np.array([at.spot[axis] for at in ring], np.int64) for axis in (0, 1))
        rollers.append(RingRollers(level, directions, xs, ys, passes(level, level)))
        found.ring(len(ring))
        for roller in found.rollers[-1]:
            found.model.add(roller == 1)
    found.riders += [found.model.new_constant(1) for _ in train.seats]
    stands = {"outer": lambda ring: range(ring + 1, count), "inner": range}.get(
        design.fit.stands, lambda ring: range(0)
    )
    stack = RingStack(train.rings, train.seats)
    tables = RuleTables(measures, stack, things, rollers, [stands(ring) for ring in train.seats])
    return found, {name: getattr(tables, name)() for name in ("frame", "neighbour", "post", "stand", "roller")}


def one_spot(at: tuple[int, int]) -> tuple[np.ndarray, np.ndarray]:
    return np.array([at[0]], np.int64), np.array([at[1]], np.int64)


@pytest.mark.deep
@pytest.mark.parametrize(
    ("frame", "plate", "stands", "wire"),
    [
        ('shape = "square", side = 260', "inner", "outer", ""),
        ('shape = "round", diameter = 280', "none", "none", WIRE),
        ('shape = "square", side = 260', "inner", "outer", WIRE),
        ('shape = "round", diameter = 280', "none", "none", ""),
        ('shape = "rectangle", width = 300, height = 260', "inner", "none", ""),
        ('shape = "rectangle", width = 300, height = 260', "inner", "none", WIRE),
    ],
)
def test_every_rule_has_its_twin_in_the_judge(frame, plate, stands, wire):
    design = parse_design(twin(frame, plate, stands, wire))
    found = [one.train for one in search(design).found]
    assert found
    rng, seen = random.Random(3), {}
    for round_ in range(60):
        train = shaken(rng, found[round_ % len(found)])
        checks = list(Room(design, train).checks())
        rules = stated(design, train)[1]
        for rule in rules:
            variables, posted = stated(design, train)
            # What no choice of places can mend (rings and stands among themselves) is asked before.
            broken = any(one.rule == rule and not one.kept for one in checks)
            assert possible(variables, posted[rule]) != broken, (rule, round_, train)
            seen.setdefault(rule, set()).add(broken)
    for rule in ("frame", "neighbour", "roller", *(("post",) if plate != "none" else ())):
        assert seen[rule] == {True, False}, rule


def test_what_is_needed_is_exact_at_the_micrometre():
    """Two gears of 10 and 20 teeth, pitch 12 mm, addendum 3, clearance 1: 30 * 12/(2 pi) + 7 = 64.2958 mm."""
    measures = Measures(parse_design(twin('shape = "square", side = 330', "none", "none")))
    need = measures.gears(measures.gear(GEAR, 10) + measures.gear(THIRD, 20))
    # 180/pi = 57.295779513082320876798154814105 (memory), so that 180/pi + 7 mm lies between these two.
    low, high = (Fraction(64_295_779_513_082_320_876 + last, 10**15) for last in (0, 1))
    assert need - 1 < low * low and high * high < need
