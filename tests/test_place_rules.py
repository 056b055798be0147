"""Each rule of places stated to CP-SAT: the smallest placement it allows, the smallest it forbids, and its twin."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction

import pytest
from test_rules import possible

from constraints.frame import RectangularFrame, RoundFrame
from constraints.neighbour import Neighbour
from constraints.places import GearSpot, MeshSpot, PlaceVars, PostSpot
from constraints.post import PostsClear
from constraints.roller import RollersHold
from constraints.stand import StandsClear
from solver import Design, parse_design
from solver.check.room import Room
from solver.design.links import KIND_BY_NAME
from solver.design.train import Placement, RollerPlace, Train
from solver.search.order.search import search
from solver.search.place.measures import Measures


def standing(*things: tuple[list[GearSpot], list[PostSpot]]) -> PlaceVars:
    """Things that each have one place."""
    train = PlaceVars()
    for gears, posts in things:
        train.item([(gears, posts, [])])
    return train


def gear(x: int, y: int = 0, level: int = 0, teeth: int = 10) -> GearSpot:
    return GearSpot(level, teeth, (x, y))


def test_frame():
    square = RectangularFrame({10: (500, 400)})
    assert possible(standing(([gear(500, -400)], [])), square)
    assert not possible(standing(([gear(501)], [])), square)
    assert not possible(standing(([gear(0, 401)], [])), square)
    circle = RoundFrame({10: 500**2})
    assert possible(standing(([gear(300, 400)], [])), circle)
    assert not possible(standing(([gear(301, 400)], [])), circle)


def test_neighbour():
    rule = Neighbour(lambda teeth: (teeth * 10) ** 2)
    assert possible(standing(([gear(0)], []), ([gear(200)], [])), rule)
    assert not possible(standing(([gear(0)], []), ([gear(199)], [])), rule)
    assert possible(standing(([gear(0)], []), ([gear(0, level=1)], [])), rule)  # one behind the other
    assert possible(standing(([gear(0), gear(50)], [])), rule)  # of one link: they mesh


def post(rings=((-1, 0),), gears=0, rollers=0, posts=0) -> PostsClear:
    return PostsClear(rings, lambda _: gears, rollers, posts)


def test_post():
    alone = standing(([], [PostSpot(range(1), (300, 0))]))
    assert possible(alone, post(rings=[(100**2, 300**2)]))
    assert not possible(standing(([], [PostSpot(range(1), (299, 0))])), post(rings=[(100**2, 300**2)]))
    assert possible(standing(([], [PostSpot(range(1), (0, 100))])), post(rings=[(100**2, 300**2)]))
    assert not possible(standing(([], [PostSpot(range(1), (0, 101))])), post(rings=[(100**2, 300**2)]))
    passing = [PostSpot(range(1), (300, 0))]
    assert possible(standing(([], passing), ([gear(400)], [])), post(gears=100**2))
    assert not possible(standing(([], passing), ([gear(399)], [])), post(gears=100**2))
    assert possible(standing(([], passing), ([gear(399, level=1)], [])), post(gears=100**2))
    assert not possible(standing(([gear(399)], passing)), post(gears=100**2))  # a gear of its own
    assert possible(standing(([], passing), ([], [PostSpot(range(1), (310, 0))])), post(posts=10**2))
    assert not possible(standing(([], passing), ([], [PostSpot(range(1), (309, 0))])), post(posts=10**2))


def test_post_and_roller():
    def with_roller(x: int, passes=range(0)) -> PlaceVars:
        train = standing(([], [PostSpot(range(1), (300, 0))]))
        train.ring([(0.0, (x, 0))], passes)
        train.model.add(train.rollers[0][0].chosen == 1)
        return train

    assert possible(with_roller(350), post(rollers=50**2))
    assert not possible(with_roller(349), post(rollers=50**2))
    assert not possible(with_roller(309, range(1)), post(posts=10**2))


def test_stand():
    rule = StandsClear(range(1), lambda _: (100**2, 200**2), (100**2, 200**2), (150**2, 160**2))
    assert possible(standing(([gear(100)], [])), rule) and possible(standing(([gear(200)], [])), rule)
    assert not possible(standing(([gear(101)], [])), rule) and not possible(standing(([gear(199)], [])), rule)
    assert possible(standing(([gear(101, level=1)], [])), rule)
    assert not possible(standing(([], [PostSpot(range(1), (155, 0))])), rule)
    assert possible(standing(([], [PostSpot(range(1, 2), (155, 0))])), rule)


def circle(*directions: int) -> PlaceVars:
    """One ring with a mesh at 0 degrees that may have rollers in these directions, a kilometre away from each other."""
    train = PlaceVars()
    train.item([([], [], [MeshSpot(0, 0.0)])])
    train.ring([(direction, (direction * 10**6, 0)) for direction in directions])
    return train


def test_roller():
    def rule(reach: float, *counts: int, apart: int = 0) -> RollersHold:
        return RollersHold(counts, reach, apart, lambda _: 0)

    assert possible(circle(0, 120, 240), rule(60, 3))
    assert not possible(circle(0, 120, 240), rule(60, 4))  # there are not so many directions
    assert possible(circle(30, 150, 270), rule(30, 3))
    assert not possible(circle(30, 150, 270), rule(29, 3))  # the mesh pushes too far from a roller
    assert possible(circle(0, 175, 185), rule(60, 3))
    assert not possible(circle(0, 170, 180), rule(60, 3))  # a gap of 180 degrees
    assert not possible(circle(0, 120, 240), rule(60, 3, apart=(120 * 10**6) ** 2 + 1))


# -- twins -------------------------------------------------------------------------------------------------------------

TWIN = """
[bodies]
set = "jupiter"
sense = "either"
[rings]
inner_teeth = 24
tooth_step = 8
tooth_pitch = 12
addendum = 3
rim = 5
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
"""


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


def stated(design: Design, train: Train) -> tuple[PlaceVars, dict[str, list[object]]]:
    """The placed train as variables that can only take it, and the rules of its design."""
    measures, count = Measures(design), len(train.rings)
    passes = {"inner": lambda low, high: range(low), "outer": lambda low, high: range(high + 1, count)}.get(
        design.fit.plate, lambda low, high: range(0)
    )
    found = PlaceVars()
    for i, (link, place) in enumerate(zip(train.links, train.placement.links)):
        kind = KIND_BY_NAME[link.kind]
        levels = [i] * kind.wheel_thirds + [i + 1] * kind.pinion_thirds
        gears = [GearSpot(i, link.wheel, place.arbor), GearSpot(i + 1, link.pinion, place.arbor)]
        gears += [GearSpot(level, z, spot) for level, z, spot in zip(levels, link.thirds, place.thirds)]
        posts = [PostSpot(passes(i, i + 1), place.arbor)]
        posts += [PostSpot(passes(level, level), spot) for level, spot in zip(levels, place.thirds)]
        meshes = [
            MeshSpot(mesh.level, mesh.direction) for mesh in Room(design, train).meshes if mesh.owner == f"link {i}"
        ]
        found.item([(gears, [post for post in posts if post.passes], meshes)])
    for level, ring in enumerate(train.placement.rollers):
        found.ring([(float(at.direction), at.spot) for at in ring], passes(level, level))
        for roller in found.rollers[-1]:
            found.model.add(roller.chosen == 1)
    teeth = range(3, 60)
    room = {z: measures.frame_room(z, measures.addendum) for z in teeth}
    stands = {"outer": lambda ring: range(ring + 1, count), "inner": range}.get(
        design.fit.stands, lambda ring: range(0)
    )
    return found, {
        "frame": [
            RoundFrame({z: room[z][2] for z in teeth})
            if design.fit.frame.round
            else RectangularFrame({z: room[z][:2] for z in teeth})
        ],
        "neighbour": [Neighbour(measures.gears)],
        "post": [
            PostsClear(
                [measures.ring_and(z, measures.post) for z in train.rings],
                lambda z: measures.gear_and(z, measures.post),
                measures.rounds(measures.post, measures.roller),
                measures.rounds(measures.post, measures.post),
            )
        ],
        "stand": [
            StandsClear(
                stands(ring),
                lambda z, ring=ring: measures.stand_and(train.rings[ring], z, measures.addendum),
                measures.stand_and(train.rings[ring], 0, measures.roller),
                measures.stand_and(train.rings[ring], 0, measures.post),
            )
            for ring in train.seats
        ],
        "roller": [
            RollersHold(
                design.fit.rollers.count,
                float(design.fit.rollers.reach),
                measures.rounds(measures.roller, measures.roller),
                lambda z: measures.gear_and(z, measures.roller),
            )
        ],
    }


@pytest.mark.slow
@pytest.mark.parametrize(
    ("frame", "plate", "stands"),
    [
        ('shape = "square", side = 260', "inner", "outer"),
        ('shape = "round", diameter = 280', "none", "none"),
        ('shape = "rectangle", width = 300, height = 260', "inner", "none"),
    ],
)
def test_every_rule_has_its_twin_in_the_judge(frame, plate, stands):
    design = parse_design(TWIN.format(frame=frame, plate=plate, stands=stands))
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
            assert possible(variables, *posted[rule]) != broken, (rule, round_, train)
            seen.setdefault(rule, set()).add(broken)
    for rule in ("frame", "neighbour", "roller", *(("post",) if plate != "none" else ())):
        assert seen[rule] == {True, False}, rule


def test_what_is_needed_is_exact_at_the_micrometre():
    """Two gears of 10 and 20 teeth, pitch 12 mm, addendum 3, clearance 1: 30 * 12/(2 pi) + 7 = 64.2958 mm."""
    measures = Measures(parse_design(TWIN.format(frame='shape = "square", side = 330', plate="none", stands="none")))
    need = measures.gears(30)
    # 180/pi = 57.295779513082320876798154814105 (memory), so that 180/pi + 7 mm lies between these two.
    low, high = (Fraction(64_295_779_513_082_320_876 + last, 10**15) for last in (0, 1))
    assert need - 1 < low * low and high * high < need
