"""The judge of places against a second one in shapely: random placements, legal, illegal and at the border of each."""

from __future__ import annotations

import math
import random
import re
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

import pytest
from random_designs import audited, random_placed_design
from shapely_judge import FLAT, SIDES, Band, Disc, Measure, Scene

from solver import Design, Link, Train, parse_design
from solver.check.room import Room
from solver.design.train import DrivePlace, LinkPlace, Placement, RollerPlace
from solver.search.order.search import search

CHUNKS, BASES, SEARCHED, VARIANTS = 2, 136, 32, 10
CLOSE = 1e-6  # mm (degrees): what two judges may differ by
FAR = 300.0  # mm
AT_BORDER = 0.002  # mm: spots are whole micrometres
RULES = ("frame", "neighbour", "post", "stand", "roller")


# -- comparing --------------------------------------------------------------------------------------------------------


def of_room(design: Design, train: Train) -> dict[tuple, list]:
    """What Room measures, by rule and by the two parts: sorted (margin, kept)."""
    found = defaultdict(list)
    for check in Room(design, train).checks():
        if re.match(r"\d+ rollers", check.against):
            names = [f"number of rollers of {check.where}"]
        elif check.against == "gap between rollers":
            names = [f"gap of {check.where}"]
        elif check.against.startswith("depth"):
            names = ["depth"]
        elif check.rule == "stand":
            names = [check.where, check.against]
        else:
            part, other = check.against.split(" to ", 1)
            names = [f"{part} of {check.where}", other.removeprefix("the frame") or "frame"]
        found[check.rule, check.degrees, frozenset(names)].append((check.margin, check.kept))
    return {key: sorted(values) for key, values in found.items()}


def of_shapely(measures: list[Measure]) -> dict[tuple, list]:
    found = defaultdict(list)
    for measure in measures:
        found[measure.rule, measure.degrees, measure.names].append((measure.margin, measure.kept))
    return {key: sorted(values, key=lambda value: value[0]) for key, values in found.items()}


def differences(design: Design, train: Train, measures: list[Measure]) -> tuple[list[str], float]:
    """Where the judges disagree, and the greatest difference of margins."""
    room, own = of_room(design, train), of_shapely(measures)
    told = [f"only Room: {key}" for key in room.keys() - own.keys()]
    told += [f"only shapely: {key}" for key in own.keys() - room.keys()]
    widest = 0.0
    for key in room.keys() & own.keys():
        if len(room[key]) != len(own[key]):
            told.append(f"{key}: {room[key]} and {own[key]}")
        for (margin, kept), (wanted, due) in zip(room[key], own[key]):
            widest = max(widest, abs(margin - wanted))
            if abs(margin - wanted) > CLOSE or (due is not None and kept is not due):
                told.append(f"{key}: Room says {margin} {kept}, shapely {wanted} {due}")
    return told, widest


def outlines_agree(design: Design, scene: Scene, measures: list[Measure]) -> list[str]:
    """The same distances between whole outlines: they differ by the flatness of the outlines' edges at most."""
    told = []
    frame = scene.frame()
    for measure in measures:
        if measure.one is None:
            continue
        outline = measure.one.outline()
        if measure.other is None:
            assert frame is not None
            flat = FLAT * (measure.one.radius + math.sqrt(frame.area)) + CLOSE
            agree = abs(measure.margin) <= flat or frame.covers(outline) == (measure.margin > 0)
        else:
            flat = FLAT * (measure.one.radius + measure.other.radius) + CLOSE
            have = outline.distance(measure.other.outline())
            agree = abs(have - max(0.0, measure.margin + scene.clearance)) <= flat
        if not agree:
            told.append(f"{measure.rule} {sorted(measure.names)}: {measure.margin} is not what the outlines have")
    return told


# -- random designs and trains ----------------------------------------------------------------------------------------


def random_room(seed: int) -> tuple[str, Design, Train]:
    """A design whose fit matters, and a train of it with spots that need not agree with the teeth."""
    rng = random.Random(f"room {seed}")
    count = rng.choice((2, 3, 3, 4))
    inch = rng.random() < 0.25
    unit = 25.4 if inch else 1.0

    def length(mm: float) -> float:
        return round(mm / unit, 4)

    pitch, value = rng.choice((("tooth_pitch", 12), ("tooth_pitch", 6.5), ("module", 2), ("module", 3)))
    tooth = value / 2 if pitch == "module" else value / (2 * math.pi)
    first, step = rng.randint(24, 40), rng.choice((1, 5, 9, 14, 14, 20))
    teeth = [first + step * index + (rng.randint(0, 4) if step > 1 else 0) for index in range(count)]
    rim = rng.choice((0, 2, 5, 5, 8))
    kinds = [rng.choice(("plain", "plain", "third-wheel", "third-pinion", "third-both")) for _ in range(count - 1)]
    links = tuple(
        Link(kind, rng.randint(5, 14), rng.randint(4, 9), tuple(rng.randint(4, 8) for _ in range(sum(SIDES[kind]))))
        for kind in kinds
    )
    bodies = ", ".join(f'{{name = "b{index}", period = {index + 1}}}' for index in range(count))
    lines = [f'units = "{"in" if inch else "mm"}"', f"bodies.list = [{bodies}]"]
    lines += ["[rings]", f"teeth = {[[z] for z in teeth]}"]
    lines += [f"{pitch} = {length(value) if inch else value}", f"addendum = {length(rng.choice((0, 0.5, 1, 3)))}"]
    lines += [f"rim = {length(rim)}", f"level_spacing = {length(10)}", "[fit]"]
    lines += [f"clearance = {length(rng.choice((0, 0.5, 1.5)))}", f"post_radius = {length(rng.choice((0.5, 1, 1.9)))}"]
    lines += [f'plate = "{rng.choice(("none", "inner", "inner", "outer", "outer"))}"']
    lines += [f'stands = "{rng.choice(("none", "none", "inner", "outer"))}"']
    reach = teeth[-1] * tooth + 12 * tooth * 2
    if rng.random() < 0.6:
        size = length(2 * reach * rng.uniform(0.85, 1.6))
        shape = rng.choice(
            (f'"square", side = {size}', f'"round", diameter = {size}',
             f'"rectangle", width = {size}, height = {length(2 * reach * rng.uniform(0.95, 1.5))}')
        )  # fmt: skip
        depth = rng.choice(("", f", depth = {length(10 * count + rng.choice((-0.01, 0, 0, 0.01, 30)))}"))
        lines.append(f"frame = {{shape = {shape}{depth}}}")
    roller, spread = rng.choice((2, 4.5)), rng.choice((60, 75, 90, 180))
    held = rng.random() < 0.5
    if held:
        lines.append(f"rollers = {{count = {{min = 3, max = 4}}, radius = {length(roller)}, reach = {spread}}}")
    driven = rng.random() < 0.4
    if driven:
        lines += ["[drive]", "motor_rpm = 3", "third_gears = 1"]

    def spot(far: float, angle: float | None = None) -> tuple[int, int]:
        at = rng.uniform(0, 2 * math.pi) if angle is None else angle
        return round(1000 * far * math.cos(at)), round(1000 * far * math.sin(at))

    def place(far: float, thirds: int) -> LinkPlace:
        direction = Fraction(15 * rng.randrange(24))
        return LinkPlace(
            direction,
            1,
            spot(far, math.radians(direction)),
            tuple(spot(far * rng.uniform(0.9, 1.3)) for _ in range(thirds)),
        )

    places = []
    for index, link in enumerate(links):
        far = max(teeth[index] + link.wheel, teeth[index + 1] + link.pinion) * tooth
        places.append(place(far * rng.uniform(0.95, 1.25), len(link.thirds)))
    drive = None
    if driven:
        ring, pinion = rng.randrange(count), rng.randint(4, 12)
        thirds = tuple(rng.randint(4, 8) for _ in range(rng.choice((0, 1))))
        far = (teeth[ring] + pinion) * tooth * rng.uniform(1, 1.3)
        drive = DrivePlace(ring, Fraction(3), pinion, thirds, place(far, len(thirds)))
    rollers = []
    for ring in teeth if held else ():
        some, start = rng.choice((3, 3, 3, 4)), 5 * rng.randrange(72)
        turns = [start + 5 * round(72 * index / some) for index in range(some)]
        if rng.random() < 0.1:
            turns[rng.randrange(some)] = 5 * rng.randrange(72)
        far = max(0.0, ring * tooth - rim - roller)
        rollers.append(tuple(RollerPlace(Fraction(at % 360), spot(far, math.radians(at))) for at in turns))
    text = "\n".join(lines) + "\n"
    placement = Placement(tuple(places), tuple(rollers), drive)
    return text, audited(text), Train(tuple(teeth), tuple(range(count)), links, placement)


def moved(train: Train, slot: tuple[str, int, int], x: float, y: float) -> Train:
    """The train with the part of one spot moved by (x, y) mm."""
    kind, index, number = slot
    placement = train.placement

    def shifted(spot: tuple[int, int]) -> tuple[int, int]:
        return spot[0] + round(1000 * x), spot[1] + round(1000 * y)

    def place(old: LinkPlace) -> LinkPlace:
        if number < 0:
            return replace(old, arbor=shifted(old.arbor))
        thirds = list(old.thirds)
        thirds[number] = shifted(thirds[number])
        return replace(old, thirds=tuple(thirds))

    if kind == "drive":
        placement = replace(placement, drive=replace(placement.drive, at=place(placement.drive.at)))
    elif kind == "link":
        links = list(placement.links)
        links[index] = place(links[index])
        placement = replace(placement, links=tuple(links))
    else:
        rollers = [list(some) for some in placement.rollers]
        rollers[index][number] = replace(rollers[index][number], spot=shifted(rollers[index][number].spot))
        placement = replace(placement, rollers=tuple(tuple(some) for some in rollers))
    return replace(train, placement=placement)


def movable(measure: Measure) -> bool:
    return measure.one is not None and measure.one.slot is not None


def pushed(design: Design, train: Train, measure: Measure, by: float, rng: random.Random) -> Train:
    """The train with one part moved so that a margin grows by so many mm, if nothing else is nearer then."""
    one, other = measure.one, measure.other
    if isinstance(other, Disc) and other.slot is not None and rng.random() < 0.5:
        one, other = other, one
    x, y = one.spot[0] - (other.spot[0] if other else 0), one.spot[1] - (other.spot[1] if other else 0)
    far = math.hypot(x, y)
    x, y = (x / far, y / far) if far else (1.0, 0.0)
    frame = design.fit.frame
    if other is None and not frame.round:  # away from the nearest side
        sideways = float(frame.width) / 2 - abs(one.spot[0]) < float(frame.height) / 2 - abs(one.spot[1])
        x, y = (math.copysign(1, x), 0.0) if sideways else (0.0, math.copysign(1, y))
    inward = other is None or (isinstance(other, Band) and far < (other.inner + other.outer) / 2)
    return moved(train, one.slot, -by * x if inward else by * x, -by * y if inward else by * y)


def mended(design: Design, train: Train, rng: random.Random) -> Train:
    """The train after some attempts to push apart what is too near."""
    for _ in range(12):
        broken = [m for m in Scene(design, train).measures() if m.kept is False and movable(m)]
        if not broken:
            break
        for measure in rng.sample(broken, min(3, len(broken))):
            train = pushed(design, train, measure, rng.choice((0.002, 0.5, 5)) - measure.margin, rng)
    return train


def variants(design: Design, train: Train, rng: random.Random, count: int) -> Iterator[Train]:
    """The train, and trains like it: a part moved to the border of something, a little, or anywhere."""
    yield train
    measures = sorted((m for m in Scene(design, train).measures() if movable(m)), key=lambda m: abs(m.margin))
    for _ in range(count if measures else 0):
        rule = rng.choice(sorted({measure.rule for measure in measures}))
        some = [measure for measure in measures if measure.rule == rule]
        measure = rng.choice(some[:4] if rng.random() < 0.7 else some)
        way = rng.random()
        if way < 0.7:
            step = rng.choice((0, 0.001, -0.001, 0.002, -0.002, 0.01, -0.01))
            yield pushed(design, train, measure, step - measure.margin, rng)
        elif way < 0.85:
            far, angle = 10 ** rng.uniform(-3, 1), rng.uniform(0, 2 * math.pi)
            yield moved(train, measure.one.slot, far * math.cos(angle), far * math.sin(angle))
        else:
            yield moved(train, measure.one.slot, rng.uniform(-FAR, FAR), rng.uniform(-FAR, FAR))


def driven_design(seed: int) -> str:
    """A design with rollers and a drive that the search places at once."""
    rng = random.Random(f"driven {seed}")
    frame = rng.choice(("", f'frame = {{shape = "round", diameter = {rng.randint(300, 400)}}}'))
    return f"""
[bodies]
sense = "either"
list = [{{name = "a", period = 1}}, {{name = "b", period = 1.6}}, {{name = "c", period = {rng.uniform(2.5, 4):.2f}}}]
[rings]
inner_teeth = {rng.randint(22, 30)}
tooth_step = {rng.randint(8, 11)}
tooth_pitch = 12
addendum = 1
rim = {rng.choice((0, 4))}
[arbors]
wheel_teeth = {{min = 6, max = 18}}
pinion_teeth = {{min = 4, max = 9}}
third_gears = 1
third_teeth = {{min = 5, max = 7}}
[fit]
{frame}
clearance = 1
directions = 12
plate = "{rng.choice(("none", "inner", "outer"))}"
stands = "{rng.choice(("none", "outer"))}"
post_radius = 1
rollers = {{count = 3, radius = 3, reach = 75}}
[drive]
motor_rpm = [2, 5]
third_gears = 1
"""


def searched(seed: int) -> Iterator[tuple[str, Design, Train]]:
    text = driven_design(seed) if seed < SEARCHED // 3 else random_placed_design(seed)
    design = parse_design(text)
    for one in search(design).found[:1]:
        yield text, design, one.train


def bases(seed: int) -> Iterator[tuple[str, Design, Train]]:
    if seed < SEARCHED:
        yield from searched(seed)
        return
    text, design, train = random_room(seed)
    yield text, design, mended(design, train, random.Random(seed))


@pytest.mark.deep
@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_both_judges_measure_the_same(chunk):
    counts = measured(range(chunk, BASES, CHUNKS))
    assert min(counts["legal"], counts["illegal"]) >= 150 and counts["searched"] >= 50
    assert min(counts[rule, kept] for rule in RULES for kept in (True, False)) >= 5
    assert counts["unsettled"] < counts["measures"] / 100  # exact contact, where floats cannot say


def measured(seeds: range) -> Counter:
    """Compare the judges on variants of these designs; what kinds of cases they were."""
    counts, widest = Counter(), 0.0
    for seed in seeds:
        rng = random.Random(f"variants {seed}")
        for text, design, base in bases(seed):
            for number, train in enumerate(variants(design, base, rng, VARIANTS)):
                scene = Scene(design, train)
                measures = scene.measures()
                told, difference = differences(design, train, measures)
                if number % 10 == 0:
                    told += outlines_agree(design, scene, measures)
                if number == 0 and seed < SEARCHED:
                    told += [f"the search broke {m}" for m in measures if m.kept is False]
                    told += [f"the search misplaced {fault}" for fault in Room(design, train).places()]
                assert not told, "\n".join([f"seed {seed}, variant {number}", *told, text, str(train)])
                widest = max(widest, difference)
                counts["legal" if all(check.kept for check in Room(design, train).checks()) else "illegal"] += 1
                counts["searched"] += seed < SEARCHED
                counts["measures"] += len(measures)
                for measure in measures:
                    counts["unsettled"] += measure.kept is None
                    if not measure.degrees and 0 < abs(measure.margin) < AT_BORDER:
                        counts[measure.rule, measure.kept] += 1
    print(counts, widest)
    return counts


# -- a micrometre inside and outside of every border ------------------------------------------------------------------

ADDENDUM, CLEARANCE, POST, RIM, ROLLER = 1.0, 1.0, 1.5, 4.0, 3.0
PITCHES = {"module = 2": 1.0, "tooth_pitch = 7": 7 / (2 * math.pi)}  # and a tooth of pitch radius [mm]
RING_TEETH = (30, 40, 50)


def bordered(pitch: str, fit: str, post: float = POST, reach: int = 60) -> Design:
    """The design of the borders; a file may not ask for posts as thick as the last ones of LIMITS."""
    design = audited(f"""
bodies.list = [{{name = "a", period = 1}}, {{name = "b", period = 2}}, {{name = "c", period = 3}}]
[rings]
teeth = {[[z] for z in RING_TEETH]}
{pitch}
addendum = {ADDENDUM}
rim = {RIM}
level_spacing = 10
[fit]
clearance = {CLEARANCE}
post_radius = {POST}
rollers = {{count = 3, radius = {ROLLER}, reach = {reach}}}
{fit}
[drive]
motor_rpm = 3
""")
    return replace(design, fit=replace(design.fit, post_radius=Fraction(str(post))))


def spread() -> Train:
    """Three rings with everything far from everything: third gears, the drive and its third gear on level 1."""
    links = (Link("third-pinion", 10, 8, (6,)), Link("third-wheel", 9, 7, (5,)))
    places = (
        LinkPlace(Fraction(90), 1, (0, 300_000), ((100_000, 300_000),)),
        LinkPlace(Fraction(270), 1, (0, -300_000), ((100_000, -300_000),)),
    )
    drive = DrivePlace(1, Fraction(3), 11, (4,), LinkPlace(Fraction(0), 1, (300_000, 0), ((200_000, 0),)))
    turns = (0, 120, 240)
    rollers = tuple(
        tuple(RollerPlace(Fraction(turn), (1000 * (turn - 120) // 10, 15_000 * (level - 1))) for turn in turns)
        for level in range(3)
    )
    return Train(RING_TEETH, (0, 1, 2), links, Placement(places, rollers, drive))


WHEEL_0, THIRD_0 = ("link", 0, -1), ("link", 0, 0)
WHEEL_1, THIRD_1 = ("link", 1, -1), ("link", 1, 0)
MOTOR, MOTOR_THIRD = ("drive", 0, -1), ("drive", 0, 0)
AXIS = None


def tips(*teeth: int):
    return lambda tooth: sum(teeth) * tooth + len(teeth) * ADDENDUM


def swept(ring: int, more: float):
    return lambda tooth: RING_TEETH[ring] * tooth - RIM / 2 + more


# (rule, one part, the other, fit, the spot that moves, the spot it moves about, which side is legal, their distance)
BORDERS = [
    ("frame", "wheel of link 0", "frame", 'frame = {shape = "square", side = 900}', WHEEL_0, AXIS, -1,
     lambda tooth: 450 - CLEARANCE - tips(10)(tooth)),
    ("frame", "third gear of drive", "frame", 'frame = {shape = "round", diameter = 900}', MOTOR_THIRD, AXIS, -1,
     lambda tooth: 450 - CLEARANCE - tips(4)(tooth)),
    ("neighbour", "pinion of link 0", "wheel of link 1", "", WHEEL_0, WHEEL_1, 1,
     lambda tooth: tips(8, 9)(tooth) + CLEARANCE),
    ("neighbour", "third gear of link 0", "third gear of link 1", "", THIRD_1, THIRD_0, 1,
     lambda tooth: tips(6, 5)(tooth) + CLEARANCE),
    ("neighbour", "motor pinion of drive", "third gear of link 1", "", MOTOR, THIRD_1, 1,
     lambda tooth: tips(11, 5)(tooth) + CLEARANCE),
    ("post", "post of arbor of link 1", "ring 0", 'plate = "inner"', WHEEL_1, AXIS, 1,
     lambda tooth: tips(30)(tooth) + POST + CLEARANCE),
    ("post", "post of roller 2 of ring 2", "ring 1", 'plate = "inner"', ("roller", 2, 1), AXIS, -1,
     lambda tooth: 40 * tooth - RIM - POST - CLEARANCE),
    ("post", "post of arbor of link 0", "ring 2", 'plate = "outer"', WHEEL_0, AXIS, -1,
     lambda tooth: 50 * tooth - RIM - POST - CLEARANCE),
    ("post", "post of third gear of drive", "ring 2", 'plate = "outer"', MOTOR_THIRD, AXIS, 1,
     lambda tooth: tips(50)(tooth) + POST + CLEARANCE),
    ("post", "post of third gear of link 0", "wheel of link 0", 'plate = "inner"', THIRD_0, WHEEL_0, 1,
     lambda tooth: tips(10)(tooth) + POST + CLEARANCE),
    ("post", "post of third gear of link 1", "pinion of link 1", 'plate = "outer"', THIRD_1, WHEEL_1, 1,
     lambda tooth: tips(7)(tooth) + POST + CLEARANCE),
    ("post", "post of arbor of link 1", "roller 1 of ring 0", 'plate = "inner"', WHEEL_1, ("roller", 0, 0), 1,
     lambda _: ROLLER + POST + CLEARANCE),
    ("post", "post of arbor of drive", "roller 3 of ring 2", 'plate = "outer"', MOTOR, ("roller", 2, 2), 1,
     lambda _: ROLLER + POST + CLEARANCE),
    ("post", "post of third gear of link 0", "post of arbor of link 1", 'plate = "inner"', THIRD_0, WHEEL_1, 1,
     lambda _: 2 * POST + CLEARANCE),
    ("post", "post of arbor of link 0", "post of roller 1 of ring 0", 'plate = "outer"', WHEEL_0, ("roller", 0, 0), 1,
     lambda _: 2 * POST + CLEARANCE),
    ("stand", "stand on ring 0", "wheel of link 1", 'stands = "outer"', WHEEL_1, AXIS, 1,
     lambda tooth: swept(0, POST + CLEARANCE)(tooth) + tips(9)(tooth)),
    ("stand", "stand on ring 2", "third gear of link 0", 'stands = "inner"', THIRD_0, AXIS, -1,
     lambda tooth: swept(2, -POST - CLEARANCE)(tooth) - tips(6)(tooth)),
    ("stand", "stand on ring 2", "motor pinion of drive", 'stands = "inner"', MOTOR, AXIS, 1,
     lambda tooth: swept(2, POST + CLEARANCE)(tooth) + tips(11)(tooth)),
    ("stand", "stand on ring 0", "roller 2 of ring 1", 'stands = "outer"', ("roller", 1, 1), AXIS, -1,
     swept(0, -POST - CLEARANCE - ROLLER)),
    ("stand", "stand on ring 1", "roller 3 of ring 0", 'stands = "inner"', ("roller", 0, 2), AXIS, -1,
     swept(1, -POST - CLEARANCE - ROLLER)),
    ("stand", "stand on ring 0", "post of roller 1 of ring 2", 'plate = "inner"\nstands = "outer"', ("roller", 2, 0),
     AXIS, -1, swept(0, -2 * POST - CLEARANCE)),
    ("stand", "stand on ring 2", "post of third gear of drive", 'plate = "inner"\nstands = "inner"', MOTOR_THIRD,
     AXIS, 1, swept(2, 2 * POST + CLEARANCE)),
    ("roller", "roller 1 of ring 1", "roller 2 of ring 1", "", ("roller", 1, 0), ("roller", 1, 1), 1,
     lambda _: 2 * ROLLER + CLEARANCE),
    ("roller", "roller 3 of ring 1", "third gear of drive", "", MOTOR_THIRD, ("roller", 1, 2), 1,
     lambda tooth: tips(4)(tooth) + ROLLER + CLEARANCE),
    ("roller", "roller 1 of ring 2", "pinion of link 1", "", WHEEL_1, ("roller", 2, 0), 1,
     lambda tooth: tips(7)(tooth) + ROLLER + CLEARANCE),
]  # fmt: skip


def spot_of(train: Train, slot) -> tuple[int, int]:
    if slot is None:
        return 0, 0
    kind, index, number = slot
    if kind == "roller":
        return train.placement.rollers[index][number].spot
    place = train.placement.drive.at if kind == "drive" else train.placement.links[index]
    return place.arbor if number < 0 else place.thirds[number]


def set_off(train: Train, slot, about, x: int, y: int) -> Train:
    """The train with one spot (x, y) micrometres from another."""
    (from_x, from_y), (to_x, to_y) = spot_of(train, slot), spot_of(train, about)
    return moved(train, slot, (to_x + x - from_x) / 1000, (to_y + y - from_y) / 1000)


def room_says(design: Design, train: Train, rule: str, *names: str) -> tuple[float, bool]:
    """The one distance between two parts; the shapely judge measures it the same."""
    ((margin, kept),) = of_room(design, train)[rule, False, frozenset(names)]
    ((wanted, due),) = of_shapely(Scene(design, train).measures())[rule, False, frozenset(names)]
    assert margin == pytest.approx(wanted, abs=1e-9) and due in (None, kept)
    return margin, kept


@pytest.mark.parametrize(("rule", "one", "other", "fit", "slot", "about", "legal", "distance"), BORDERS)
@pytest.mark.parametrize("pitch", PITCHES)
def test_a_micrometre_decides(pitch, rule, one, other, fit, slot, about, legal, distance):
    """A length of whole teeth and a module is kept exactly; one with pi lies between two micrometres."""
    design, limit = bordered(pitch, fit), 1000 * distance(PITCHES[pitch])
    exact = pitch.startswith("module") or limit == round(limit)
    for x, y in ((1, 0), (0, -1)):
        for far in (round(limit) - 1, round(limit), round(limit) + 1) if exact else (int(limit), int(limit) + 1):
            margin, kept = room_says(design, set_off(spread(), slot, about, far * x, far * y), rule, one, other)
            assert margin == pytest.approx(legal * (far - limit) / 1000, abs=1e-9), far
            assert kept is (legal * (far - limit) >= 0), far
    if exact and "square" not in fit:
        assert limit % 5 == 0
        for fifths in (limit // 5 - 1, limit // 5, limit // 5 + 1):  # 3-4-5: exact across as well
            aside = set_off(spread(), slot, about, round(3 * fifths), round(-4 * fifths))
            margin, kept = room_says(design, aside, rule, one, other)
            assert margin == pytest.approx(legal * (5 * fifths - limit) / 1000, abs=1e-9)
            assert kept is (legal * (5 * fifths - limit) >= 0)


# (rule, one part, the other, what is just enough, and what lacks a micrometre)
LIMITS = [
    ("frame", "depth", "depth", 'frame = {shape = "square", side = 900, depth = %s}', "30", "29.999"),
    ("frame", "tip circle of ring 2", "frame", 'frame = {shape = "square", side = %s}', "104", "103.998"),
    ("frame", "tip circle of ring 2", "frame", 'frame = {shape = "round", diameter = %s}', "104", "103.998"),
    ("frame", "tip circle of ring 2", "frame", 'frame = {shape = "rectangle", width = 900, height = %s}', "104",
     "103.998"),
    ("stand", "stand on ring 0", "ring 1", 'stands = "outer"\npost_radius = %s', "7", "7.001"),
    ("stand", "stand on ring 1", "ring 0", 'stands = "inner"\npost_radius = %s', "6", "6.001"),
    ("stand", "stand on ring 1", "stand on ring 2", 'stands = "inner"\npost_radius = %s', "4.5", "4.5005"),
    ("stand", "stand on ring 0", "stand on ring 1", 'stands = "outer"\npost_radius = %s', "4.5", "4.5005"),
]  # fmt: skip


@pytest.mark.parametrize(("rule", "one", "other", "fit", "enough", "short"), LIMITS)
def test_a_micrometre_of_the_design_decides(rule, one, other, fit, enough, short):
    for value, room, due in ((enough, 0, True), (short, -0.001, False)):
        text = fit % value
        post = float(value) if "post_radius" in fit else POST
        design = bordered("module = 2", text.split("\npost_radius")[0], post)
        margin, kept = room_says(design, spread(), rule, one, other)
        assert margin == pytest.approx(room, abs=1e-9) and kept is due


def with_rollers(train: Train, turns: tuple[int, ...]) -> Train:
    rollers = tuple(RollerPlace(Fraction(turn), (0, 0)) for turn in turns)
    return replace(train, placement=replace(train.placement, rollers=(rollers,) * len(train.rings)))


@pytest.mark.parametrize(
    ("turns", "margin", "kept"), [((0, 120, 240), 60, True), ((0, 90, 180), 0, False), ((0, 90, 185), 5, True)]
)
def test_gaps_between_rollers_stay_below_half_a_turn(turns, margin, kept):
    design, train = bordered("module = 2", ""), with_rollers(spread(), turns)
    assert of_room(design, train)["roller", True, frozenset({"gap of ring 1"})] == [(margin, kept)]
    assert not differences(design, train, Scene(design, train).measures())[0]


def test_the_nearest_roller_stands_within_reach_of_the_mesh():
    """The arbor's direction counts in a plain mesh, a third gear's spot where there is one."""
    turns = (60, 180, 300)
    for reach, kept in ((31, True), (30, True), (29, False)):
        design, train = bordered("module = 2", "", reach=reach), with_rollers(spread(), turns)
        key = "roller", True, frozenset({"nearest roller of ring 0", "the mesh of link 0"})
        assert of_room(design, train)[key] == [(reach - 30, kept)]
        assert not differences(design, train, Scene(design, train).measures())[0]
    design = bordered("module = 2", "")
    for aside, kept in ((-1, False), (0, True), (1, True)):
        train = set_off(with_rollers(spread(), (60, 180, 240)), MOTOR_THIRD, AXIS, 50_000, aside)
        key = "roller", True, frozenset({"nearest roller of ring 1", "the mesh of drive"})
        ((margin, is_kept),) = of_room(design, train)[key]
        assert margin == pytest.approx(math.degrees(aside / 50_000), abs=1e-9) and is_kept is kept
        assert not differences(design, train, Scene(design, train).measures())[0]


# -- spots that are not where teeth and direction put them ------------------------------------------------------------


def stood(seed: int, flip: bool = False) -> tuple[Design, Train]:
    """A train whose spots are where teeth and directions put them; flip: third gears on the other side."""
    rng = random.Random(f"stood {seed}")
    pitch = rng.choice(tuple(PITCHES))
    tooth, design = PITCHES[pitch], bordered(pitch, f'plate = "{rng.choice(("none", "inner"))}"')

    def spot(teeth: float, turn: float) -> tuple[int, int]:
        return round(1000 * tooth * teeth * math.cos(turn)), round(1000 * tooth * teeth * math.sin(turn))

    def third(ring: int, gear: int, teeth: int, radius: int, turn: float) -> tuple[int, int]:
        """The third corner of the triangle of main axis, arbor and third gear."""
        far, near = ring + teeth, gear + teeth
        off = math.acos((radius**2 + far**2 - near**2) / (2 * radius * far))
        return spot(far, turn + off * rng.choice((1, -1)) * (-1 if flip else 1))

    def direction() -> tuple[Fraction, float]:
        degrees = 15 * rng.randrange(24)
        return Fraction(degrees), math.radians(degrees)

    links, places = [], []
    for inner, outer in zip(RING_TEETH, RING_TEETH[1:]):
        kind = rng.choice(tuple(SIDES))
        on_wheel, on_pinion = SIDES[kind]
        while True:
            wheel, pinion, thirds = rng.randint(5, 20), rng.randint(4, 9), (rng.randint(4, 8), rng.randint(4, 8))
            # Where the gear that meshes with its ring puts the arbor; between two third gears it may stand anywhere.
            due = {inner + wheel} if not on_wheel else {outer + pinion} if not on_pinion else {outer + 8}
            due |= set() if on_pinion else {outer + pinion}
            sides = [(inner, wheel)] * on_wheel + [(outer, pinion)] * on_pinion
            ways = [(ring, gear, teeth) for (ring, gear), teeth in zip(sides, thirds)]
            radius = min(due)
            if len(due) == 1 and all(abs(ring - gear) < radius < ring + gear + 2 * c for ring, gear, c in ways):
                break
        degrees, turn = direction()
        links.append(Link(kind, wheel, pinion, tuple(teeth for _, _, teeth in ways)))
        spots = tuple(third(ring, gear, teeth, radius, turn) for ring, gear, teeth in ways)
        places.append(LinkPlace(degrees, radius, spot(radius, turn), spots))
    degrees, turn = direction()
    thirds = rng.choice(((), (5,)))
    radius = RING_TEETH[2] + 7 + (2 * thirds[0] - 3 if thirds else 0)
    spots = tuple(third(RING_TEETH[2], 7, teeth, radius, turn) for teeth in thirds)
    drive = DrivePlace(2, Fraction(3), 7, thirds, LinkPlace(degrees, radius, spot(radius, turn), spots))
    rollers = tuple(
        tuple(
            RollerPlace(Fraction(at), spot(z - (RIM + ROLLER) / tooth, math.radians(at)))
            for at in (rng.randrange(0, 120, 5), 180, 300)
        )
        for z in RING_TEETH
    )
    return design, Train(RING_TEETH, (0, 1, 2), tuple(links), Placement(tuple(places), rollers, drive))


def slots_of(design: Design, train: Train):
    """Every spot of a train and who has it."""
    scene = Scene(design, train)
    return sorted({(disc.slot, disc.owner) for disc in (*scene.gears, *scene.rollers)})


@pytest.mark.parametrize("seed", range(40))
def test_spots_are_where_teeth_and_direction_put_them(seed):
    design, train = stood(seed)
    assert list(Room(design, train).places()) == [], f"seed {seed}: {train}"
    assert list(Room(*stood(seed, flip=True)).places()) == []
    for slot, owner in slots_of(design, train):
        kind, _, number = slot
        x, y = spot_of(train, slot)
        far = math.hypot(x, y)
        for way in (1, -1):  # rounding is less than one micrometre of three
            off = moved(train, slot, way * 0.003 * x / far, way * 0.003 * y / far)
            rule = "roller" if kind == "roller" else "third" if number >= 0 else "direction"
            assert (rule, owner) in [fault[:2] for fault in Room(design, off).places()], f"seed {seed}: {slot} {off}"
            aside = moved(train, slot, -way * 0.003 * y / far, way * 0.003 * x / far)
            if number < 0 or kind == "roller":
                assert (rule, owner) in [fault[:2] for fault in Room(design, aside).places()]


def test_directions_are_on_their_grids():
    design, train = stood(0)
    faults = {
        (place[0], place[1])
        for step in (15, 7)
        for place in Room(design, turned(train, step)).places()
        if "fit.directions" in place[2] or "grid" in place[2]
    }
    assert faults == {("direction", "link 0"), ("direction", "link 1"), ("direction", "drive")} | {
        ("roller", f"ring {level}") for level in range(3)
    }


def turned(train: Train, degrees: int) -> Train:
    """The train with every direction turned, and its spots left where they are."""
    placement = train.placement
    links = tuple(replace(place, direction=(place.direction + degrees) % 360) for place in placement.links)
    at = replace(placement.drive.at, direction=(placement.drive.at.direction + degrees) % 360)
    rollers = tuple(
        tuple(replace(roller, direction=(roller.direction + degrees) % 360) for roller in some)
        for some in placement.rollers
    )
    return replace(train, placement=Placement(links, rollers, replace(placement.drive, at=at)))
