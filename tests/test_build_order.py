"""The build order is walked: no step uses what no earlier one made, and nothing is put on before what carries it."""

from __future__ import annotations

import math
import random
from collections import Counter
from functools import cache

import pytest
from random_designs import standing_inside

from solver import Design, Link, Train, parse_design
from solver.design.links import KINDS
from solver.design.toothing import toothings
from solver.design.train import DrivePlace, LinkPlace, Placement, RollerPlace, Spot
from solver.sheets.book.order import build_order
from solver.sheets.book.steps import BuildStep
from solver.sheets.gears.inventory import Inventory, inventory
from solver.words.lengths import Lengths

pytestmark = pytest.mark.deep

SEEDS = range(60)


def at(radius: float, direction: float) -> Spot:
    turn = math.radians(direction)
    return round(1000 * radius * math.cos(turn)), round(1000 * radius * math.sin(turn))


def draw(seed: int) -> tuple[Design, Train]:
    """A random design and a random train of it. The order does not depend on whether the places fit, so that they are
    drawn as well: any number of rings, blanks, third gears and rollers, any plate, stands, motor and tooth form."""
    rng = random.Random(f"order {seed}")
    rings = rng.randint(2, 7)
    bodies = sorted({0, rings - 1, *(ring for ring in range(rings) if rng.random() < 0.6)})
    plate, rollers = rng.choice(("none", "inner", "outer")), rng.choice((0, 3, 4))
    stands = rng.choice(["none", *({"inner", "outer"} - {plate})])
    listed = "\n".join(f'[[bodies.list]]\nname = "Body {n}"\nperiod = {n + 1}' for n in range(len(bodies)))
    text = f"""
[bodies]
sense = "either"
{listed}
[rings]
inner_teeth = 40
tooth_step = 6
tooth_pitch = 20
addendum = 6
rim = 8
level_spacing = 16
[fit]
plate = "{plate}"
stands = "{"none" if stands == "none" else "outer"}"
{f"rollers = {{count = {rollers}, radius = 4, reach = 170}}" if rollers else ""}
[wire]
form = "{rng.choice(("saw", "cycloidal", "cycloidal", "involute", "involute"))}"
set_screws = {rng.choice((0, 1))}
"""
    drive = rng.choice((None, 0, 1))
    if drive is not None:
        text += f"[drive]\nmotor_rpm = [2]\npinion_teeth = 9\nthird_gears = {drive}\n"
    design = toothings(parse_design(text))[0]
    if stands == "inner":
        design = standing_inside(design)
    teeth = tuple(40 + 6 * ring for ring in range(rings))
    radius = design.rings.pitch.radius_mm
    links, places = [], []
    for index in range(rings - 1):
        kind = rng.choice((KINDS[0], KINDS[0], *KINDS))
        thirds = tuple(rng.randint(9, 12) for _ in range(kind.thirds))
        links.append(Link(kind.name, rng.randint(15, 20), rng.randint(9, 14), thirds))
        turn = rng.randrange(360)
        spots = tuple(at(radius(teeth[index]) + 30, turn + 25 + 10 * side) for side in range(kind.thirds))
        places.append(LinkPlace(turn, teeth[index] + 18, at(radius(teeth[index] + 18), turn), spots))  # type: ignore[arg-type]
    holding = tuple(
        tuple(RollerPlace(turn, at(radius(ring) - 12, turn)) for turn in range(0, 360, 360 // rollers))  # type: ignore[arg-type]
        for ring in (teeth if rollers else ())
    )
    motor = None
    if design.drive is not None:
        ring = rng.randrange(rings)
        spots = (at(radius(teeth[ring]) + 30, 225),) * (drive or 0)
        where = LinkPlace(200, 90, at(radius(teeth[ring] + 9), 200), spots)  # type: ignore[arg-type]
        motor = DrivePlace(ring, design.drive.motor_rpm[0], 9, (10,) * (drive or 0), where)
    return design, Train(teeth, tuple(bodies), tuple(links), Placement(tuple(places), holding, motor))


@cache
def order_of(seed: int) -> tuple[Inventory, tuple[BuildStep, ...]]:
    design, train = draw(seed)
    stock = inventory(design, train)
    return stock, build_order(stock, Lengths("mm"))


def carriers(stock: Inventory) -> dict[str, list[str]]:
    """Everything that is put on, and what has to be on before it; from the train alone, in the order's names."""
    design, train = stock.design, stock.train
    assert train.placement is not None
    on_plate = ["drilled plate"] if design.fit.plate != "none" else []
    found: dict[str, list[str]] = {}
    rollers: dict[int, list[str]] = {}
    for ring, some in enumerate(train.placement.rollers):
        for number in range(1, len(some) + 1):
            name = f"roller {number} of ring {ring}"
            found[f"post of {name}"], found[name] = on_plate, [f"post of {name}"]
            rollers.setdefault(ring, []).append(name)
    names = {made.gear.level: made.gear.use for made in stock.gears if made.gear.kind == "ring"}
    for ring in range(len(train.rings)):
        found[names[ring]] = rollers.get(ring, [])
    for index, link in enumerate(train.links):
        arbor = f"arbor of link {index}"
        found[f"post of {arbor}"], found[arbor] = on_plate, [f"post of {arbor}"]
        gears = {f"wheel of link {index}": arbor, f"pinion of link {index}": arbor}
        sides = {"third-wheel": ["wheel"], "third-pinion": ["pinion"], "third-both": ["wheel", "pinion"]}
        for side in sides.get(link.kind, []):
            gears[f"third gear of link {index} ({side} side)"] = ""
        for use, on in gears.items():
            found[use] = [on or f"post of {use}", f"hub of {use}"]
            found[f"hub of {use}"] = []
            if not on:
                found[f"post of {use}"] = on_plate
    drive = train.placement.drive
    if drive is not None:
        found |= {"motor's shaft": [], "hub of motor pinion": [], "motor": ["motor's shaft", "motor pinion"]}
        found["motor pinion"] = ["motor's shaft", "hub of motor pinion"]
        for _ in drive.thirds:
            third = "third gear of the motor"
            found |= {
                f"hub of {third}": [],
                f"post of {third}": on_plate,
                third: [f"post of {third}", f"hub of {third}"],
            }
    for body, ring in enumerate(train.seats):
        name = design.bodies[body].name
        found[f"body {name}"] = [names[ring]]
        if design.fit.stands != "none":
            found[f"body {name}"].append(f"rod of {name}")
            found[f"rod of {name}"] = []
    return found


@pytest.mark.parametrize("seed", SEEDS)
def test_no_step_uses_what_no_earlier_step_made(seed: int) -> None:
    stock, steps = order_of(seed)
    there: set[str] = set()
    for step in steps:
        assert set(step.uses) <= there, (seed, step.title, set(step.uses) - there)
        assert set(step.mounts) <= set(step.uses)
        assert not there & set(step.makes), (seed, step.title)
        there |= set(step.makes)
    # Everything that the model has is made, and nothing else but what it is made on.
    tools = {name for name in there if name.split()[0] in ("jig", "template")} | {"drilled plate"}
    assert there - tools == set(carriers(stock)), seed
    assert len(tools) - 1 == len(stock.jigs)
    # A gear is made on its own jig and with its hub.
    for made in stock.gears:
        work = next(one for step in steps for one in step.work if made.gear.use in one.makes)
        jig = next(jig.name for jig in stock.jigs if made.gear.use in jig.uses)
        assert work.uses[0].split()[-1] == jig.split()[-1] and jig.split()[-1] in work.text
        assert (f"hub of {made.gear.use}" in work.mounts) is (made.gear.kind == "gear")


@pytest.mark.parametrize("seed", SEEDS)
def test_everything_is_put_on_once_after_what_carries_it(seed: int) -> None:
    stock, steps = order_of(seed)
    carried, on = carriers(stock), [name for step in steps for name in step.mounts]
    assert Counter(on) == Counter(list(carried)), seed
    made = {name for step in steps for name in step.makes}
    for name, by in carried.items():
        for support in by:
            earlier = support in made if support == "drilled plate" else on.index(support) < on.index(name)
            assert earlier, (seed, name, support)
    # On a level: what turns there, and no other.
    levels = {step.title.split(":")[0].removeprefix("Level "): step for step in steps if step.title.startswith("Level")}
    assert len(levels) == len(stock.train.rings)
    for gear in stock.gears:
        assert gear.gear.use in levels[str(gear.gear.level)].mounts
    # Rods are soldered on before their ring is put on; what is put on is said in words.
    for step in steps:
        for work in step.work:
            for name in work.mounts:
                if not name.startswith(("post", "roller", "hub")):
                    assert name.removeprefix("body ") in work.text, (seed, work)
    for stand in stock.stands:
        ring = next(made.gear.use for made in stock.gears if made.gear.kind == "ring" and made.gear.level == stand.ring)
        assert on.index(f"rod of {stand.body}") < on.index(ring)


def test_the_random_designs_have_everything() -> None:
    """Else walking them would say little."""
    stocks = [order_of(seed)[0] for seed in SEEDS]
    kinds = Counter(link.kind for stock in stocks for link in stock.train.links)
    assert len(kinds) == len(KINDS)
    assert {stock.design.fit.plate for stock in stocks} == {"none", "inner", "outer"}
    assert {stock.design.fit.stands for stock in stocks} == {"none", "inner", "outer"}
    assert {stock.form.name for stock in stocks} == {"saw", "cycloidal", "involute"}
    drives = [stock.train.placement.drive for stock in stocks if stock.train.placement]
    assert {None if drive is None else len(drive.thirds) for drive in drives} == {None, 0, 1}
    assert {bool(stock.rollers) for stock in stocks} == {True, False}
