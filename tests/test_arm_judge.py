"""The judge's rule `arm` against a second code in shapely, and arms that just are or just are not clear."""

from __future__ import annotations

import math
import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

import pytest
from armed import as_built, ten_rings
from random_designs import standing_inside
from shapely_arms import Arms

import solver.check.arm as judged
import solver.check.eye as eyes_judged
from solver import Design, Link, Train, judge, parse_design
from solver.check.arm import arm_checks, clear_arms, held_of
from solver.check.audit import audit_rings
from solver.check.eye import eye_checks
from solver.check.room import Room
from solver.design.train import DrivePlace, LinkPlace, Placement, RollerPlace, Spot

FIRST, MODELS = 20, 520


def model(seed: int) -> tuple[Design, Train]:
    """A random design with arms and a random train of it, whose places keep no rule: what arms are clear of is all
    that is asked."""
    rng = random.Random(f"arms {seed}")
    rings, unit = rng.randint(2, 4), rng.choice(("mm", "in"))
    inch = 25.4 if unit == "in" else 1.0
    rollers = rng.choice((0, 0, 1, 3))
    stands = rng.choice(("none", "none", "outer", "inner"))
    wide = rng.uniform(240, 420)
    frame = rng.choice((
        f'shape = "square", side = {wide / inch:.4f}',
        f'shape = "rectangle", width = {wide / inch:.4f}, height = {wide * rng.uniform(0.8, 1.3) / inch:.4f}',
        f'shape = "round", diameter = {wide / inch:.4f}',
    ))  # fmt: skip
    listed = "\n".join(f'[[bodies.list]]\nname = "b{n}"\nperiod = {n + 1}' for n in range(rings))
    # A spacing at which some parts are tall and others are not.
    drive = rng.choice((None, None, 0, 1))
    text = f"""
units = "{unit}"
[bodies]
sense = "either"
{listed}
[rings]
inner_teeth = {rng.randint(14, 24)}
tooth_step = {rng.randint(3, 7)}
tooth_pitch = {rng.uniform(9, 14) / inch:.4f}
addendum = {rng.uniform(2, 4) / inch:.4f}
rim = {rng.uniform(2, 6) / inch:.4f}
level_spacing = {rng.uniform(9, 24) / inch:.4f}
[fit]
frame = {{{frame}}}
clearance = {rng.choice((0, 0.5, 1.5)) / inch:.4f}
post_radius = {rng.uniform(0.8, 2) / inch:.4f}
stands = "{"none" if stands == "none" else "outer"}"
{f"rollers = {{count = {rollers}, radius = {rng.uniform(3, 9) / inch:.4f}, reach = 179}}" if rollers > 2 else ""}
[wire]
loop = {rng.uniform(1, 2.5) / inch:.4f}
pin_length = {rng.uniform(6, 14) / inch:.4f}
third = "{rng.choice(("pins", "teeth"))}"
[supports]
arm = {rng.uniform(2, 6) / inch:.4f}
{"" if drive is None else f"[drive]{chr(10)}motor_rpm = [2]{chr(10)}pinion_teeth = 7{chr(10)}third_gears = {drive}"}
"""
    design = parse_design(text)
    if stands == "inner":
        design = standing_inside(design)
    half = wide / 2

    def spot() -> Spot:
        far, turn = half * rng.uniform(0.05, 0.9), rng.uniform(0, 2 * math.pi)
        return round(1000 * far * math.cos(turn)), round(1000 * far * math.sin(turn))

    links, places = [], []
    for _ in range(rings - 1):
        kind = rng.choice(("plain", "plain", "third-wheel", "third-pinion", "third-both"))
        thirds = {"plain": 0, "third-both": 2}.get(kind, 1)
        links.append(Link(kind, rng.randint(4, 12), rng.randint(4, 9), tuple(rng.randint(4, 9) for _ in range(thirds))))
        places.append(LinkPlace(Fraction(0), 20, spot(), tuple(spot() for _ in range(thirds))))
    inner, step = design.rings.inner_teeth[0], design.rings.tooth_step[0]
    holding = tuple(
        tuple(RollerPlace(Fraction(0), spot()) for _ in range(rollers)) for _ in range(rings if rollers > 2 else 0)
    )
    motor = None
    if drive is not None:
        thirds = (6,) * rng.randint(0, drive)
        at = LinkPlace(Fraction(0), 20, spot(), tuple(spot() for _ in thirds))
        motor = DrivePlace(rng.randrange(rings), Fraction(2), 7, thirds, at)
    teeth = tuple(inner + step * ring for ring in range(rings))
    placement = Placement(tuple(places), holding, motor)
    return design, Train(teeth, tuple(range(rings)), tuple(links), placement)


def differences(design: Design, train: Train, counts: Counter[str]) -> Iterator[str]:
    """Arms that one code takes and the other does not, by what they hold."""
    clear = {
        held.name: {tuple((float(x), float(y)) for x, y in line.points) for line in lines}
        for held, lines in clear_arms(design, train).items()
    }
    told: dict[str, list[bool | None]] = {}
    code = Arms(design, train)
    for name, line, kept in code.verdicts():
        if name not in clear:
            yield f"{name}: not held"
            continue
        holds = code.holds(name, line)
        told.setdefault(name, []).append(False if kept is False or holds is False else kept and holds)
        counts["bends too far"] += bool(kept) and holds is False
        near = any(len(own) == len(line) and all(map(close, own, line)) for own in clear[name])
        counts[f"{kept}"] += 1
        if kept is not None and kept is not near:
            yield f"{name}: {line}: {kept}, judged {near}"
    for held in clear.keys() - told.keys():
        yield f"{held}: only judged"
    for held, check in zip(held_of(Room(design, train)), arm_checks(Room(design, train)), strict=True):
        arms = told.get(held.name, [])
        if None not in arms:
            counts[f"reached: {check.kept}"] += 1
            if check.kept is not any(arms):
                yield f"{held.name}: {check.kept} in the end"
    owners = {held.name: held.owner for held in held_of(Room(design, train))}
    judged_eyes, eyes = list(eye_checks(Room(design, train))), list(code.eyes_apart())
    counts["eyes"] += len(eyes)
    for (name, free), check in zip(eyes, judged_eyes, strict=True):
        if free is not None:
            counts[f"eye: {free}"] += 1
            counts[f"eye at a stand: {free}"] += "stand" in check.against
            if (free, owners[name]) != (check.kept, check.where):
                yield f"the eye of {name}: {free}, judged {check}"


def close(one: tuple[float, float], other: tuple[float, float]) -> bool:
    return math.dist(one, other) < 1e-4


@pytest.mark.deep
@pytest.mark.parametrize(
    "seeds",
    [range(FIRST), range(FIRST, MODELS)],
    ids=["some", "many"],
)
def test_both_codes_take_the_same_arms(seeds: range) -> None:
    counts: Counter[str] = Counter()
    for seed in seeds:
        found = list(differences(*model(seed), counts))
        assert not found, (seed, found[:3])
    assert min(counts["True"], counts["False"]) > 20 * len(seeds), counts
    assert min(counts["reached: True"], counts["reached: False"]) > 0.6 * len(seeds), counts
    assert counts["None"] < counts["True"] / 100, counts
    assert min(counts["eye: True"], counts["eye: False"]) > 0.6 * len(seeds), counts
    assert min(counts["eye at a stand: True"], counts["eye at a stand: False"]) > 0.4 * len(seeds), counts


def no_hubs(design, thick, role):  # type: ignore[no-untyped-def]
    return thick.teeth if role == "third gear" else thick.pins


FAULTS = {
    "all gears thick as pins": ("_thickness", no_hubs),
    "no thickness at all": ("_thickness", lambda design, thick, role: Fraction(0)),
    "round ends too short": ("_root_up", lambda square: Fraction(0)),
    "one quarter line less": ("range", lambda *ends: range(-2, 4) if ends == (-3, 4) else range(*ends)),
    "the arbor is not in the way": ("_exact", lambda spot: (Fraction(10**6), Fraction(10**6))),
    "bands have no hole": ("max", lambda *one, **key: max(*one, **key) if key or len(one) == 1 else min(*one)),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_faults_are_found(fault: str, monkeypatch: pytest.MonkeyPatch) -> None:
    name, planted = FAULTS[fault]
    monkeypatch.setattr(judged, name, planted, raising=False)
    assert any(next(differences(*model(seed), Counter()), None) for seed in range(40))


EYE_FAULTS = {
    "slots are forgotten": ("eye_reach", lambda design, held: design.fit.post_radius + design.supports.arm_mm),
    "sleeves are thin": ("_sleeve", lambda design: Fraction(0)),
    "distances are short": ("_square", lambda a, b: Fraction((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2, 2 * 10**6)),
}


@pytest.mark.parametrize("fault", EYE_FAULTS)
def test_faults_of_eyes_are_found(fault: str, monkeypatch: pytest.MonkeyPatch) -> None:
    name, planted = EYE_FAULTS[fault]
    monkeypatch.setattr(eyes_judged, name, planted)
    assert any(next(differences(*model(seed), Counter()), None) for seed in range(60))


# -- just clear -------------------------------------------------------------------------------------------------------

ONE = """
[bodies]
list = [{name = "a", period = 1}, {name = "b", period = 2}]
[rings]
teeth = [20, 26]
tooth_pitch = 12
addendum = 4
rim = 4
level_spacing = 14
[fit]
frame = {shape = "square", side = 300}
clearance = 1.5
[wire]
pin_length = 12
[supports]
"""


def one(beside_um: int, text: str = ONE) -> tuple[Design, Train]:
    """An arbor at (20, 30) mm, and so far above it a third gear at x = 80; the other third gear is far away."""
    design = parse_design(text)
    place = LinkPlace(Fraction(0), 20, (20_000, 30_000), ((80_000, 30_000 + beside_um), (-100_000, -100_000)))
    return design, Train((20, 26), (0, 1), (Link("third-both", 10, 8, (6, 6)),), Placement((place,)))


@pytest.mark.parametrize(("beside", "kept"), [(6500, True), (6499, False), (-6500, True), (-6499, False)])
def test_an_arm_may_just_keep_the_clearance_and_no_less(beside: int, kept: bool) -> None:
    # Levels 40 mm apart: no part is tall, so that only the link's arbor is in the way of an arm straight to the left:
    # a sleeve of 6 mm, an arm of 4 mm, and 1.5 mm between them.
    design, train = one(beside, ONE.replace("level_spacing = 14", "level_spacing = 40"))
    arms = {held.name: lines for held, lines in clear_arms(design, train).items()}
    straight = [line for line in arms["L0w"] if line.side == "left" and len(line.points) == 2]
    assert bool(straight) is kept


# Around a third gear's eye: a post of 4 mm, the wire, 4 mm, and a slot of half the addendum, 2 mm; around the arbor's a
# sleeve of 6 mm, a bush of 1 mm about it, the wire and the slot.
EYES = (2 + 4 + 2) + (3 + 1 + 4 + 2)


@pytest.mark.parametrize(("apart", "kept"), [(1000 * EYES, True), (1000 * EYES - 1, False)])
def test_two_eyes_may_just_touch(apart: int, kept: bool) -> None:
    design, train = one(0, ONE.replace("level_spacing = 14", "level_spacing = 40"))
    placement = train.placement
    assert placement is not None
    place = replace(placement.links[0], thirds=((20_000 + apart, 30_000), (-100_000, -100_000)))
    train = replace(train, placement=replace(placement, links=(place,)))
    checks = [check for check in eye_checks(Room(design, train)) if "L0w" in check.against]
    named = [check for check in checks if check.against.endswith("meets that to the arbor L0")]
    assert [check.kept for check in named] == [kept] and len(checks) == 3
    # The arbor itself, and the other third gear's eye, are farther off.
    assert all(check.kept for check in checks if check not in named)
    told = "the eye of the arm to the third gear L0w in gap 0, between levels 0 and 1 meets that to the arbor L0"
    assert kept or told in {fault.text.split(":")[0] for fault in judge(design, train).violations}


def test_an_eye_keeps_the_clearance_from_a_thick_sleeve() -> None:
    """With a clearance that is more than bush, wire and slot of the arbor's own eye the sleeve decides."""
    text = ONE.replace("level_spacing = 14", "level_spacing = 60").replace("clearance = 1.5", "clearance = 9")
    for apart, kept in ((8 + 3 + 9, True), (8 + 3 + 8.999, False)):
        design, train = one(0, text)
        placement = train.placement
        assert placement is not None
        place = replace(placement.links[0], thirds=((20_000, 30_000 - round(1000 * apart)), (-100_000, -100_000)))
        train = replace(train, placement=replace(placement, links=(place,)))
        checks = eye_checks(Room(design, train))
        (found,) = (check for check in checks if "L0w" in check.against and "the arbor of link 0" in check.against)
        assert found.kept is kept


def test_what_is_thin_is_in_nobodys_way() -> None:
    design, train = one(100, ONE.replace("level_spacing = 14", "level_spacing = 40"))
    arms = {held.name: lines for held, lines in clear_arms(design, train).items()}
    assert len(arms["L0"]) == 36 and 0 < len(arms["L0w"]) < 36
    assert all(check.kept for check in arm_checks(Room(design, train)))
    # Pins of 12 mm on levels 14 mm apart leave an arm of 4 mm no room; behind them the wheel is of teeth alone.
    design, train = one(100)
    arms = {held.name: lines for held, lines in clear_arms(design, train).items()}
    assert not arms["L0w"] and not arms["L0p"] and arms["L0"]


def test_the_judge_says_which_arm_is_missing() -> None:
    design, train = one(100)
    found = [one.text for one in judge(design, train).violations if one.rule == "arm"]
    told = "no arm reaches the third gear L0w in gap 0, between levels 0 and 1, as thick as the third gear of "
    assert len(found) == 2 and found[0].startswith(told) and found[0].endswith(" mm too little")
    free = replace(design, supports=None)
    assert not [one for one in judge(free, train).violations if one.rule == "arm"]


@pytest.mark.slow
def test_an_audit_says_what_no_arm_reaches() -> None:
    """Ten rings as built: on levels 0.75 in apart all is held; half an inch apart, as they are built, pins of 0.479 in
    leave arms of 5/32 in no room."""
    _, train = ten_rings()
    assert train.placement is not None
    assert audit_rings(as_built(), train.placement).findings == ()
    found = audit_rings(as_built(spacing="0.5"), train.placement).findings
    assert {one.rule for one in found} == {"arm"}
    # All but the last link's third gear, whose short teeth are thin, with what must be added to the levels.
    assert len(found) == 39 and all(one.where != "link 8" or " L8 " in one.text for one in found)
    told = "no arm reaches the arbor L0 in gap 0, between levels 0 and 1, as thick as the wheel of link 0 is; a "
    need = 0.479 + 2 * 0.02 + 5 / 32
    (first,) = (one for one in found if one.where == "link 0")
    assert first.text.startswith(told + f"rings.level_spacing of {math.ceil(need * 1e4) / 1e4:g} in would do")
    assert first.short_mm == pytest.approx((need - 0.5) * 25.4, abs=0.003)
    told = (
        "places are not given, so frame, neighbours, posts, arms, levels, stands, rollers and what bends are not judged"
    )
    assert told in audit_rings(as_built()).notes
