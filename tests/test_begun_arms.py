"""Arms that begin on others, or end on them, as the sheets build them in random models: clear, and within the limit."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

import pytest
from armed import SMALL, SQUARE
from shapely.geometry import LineString, Point
from shapely_arms import Arms
from test_arm_judge import model
from test_joined_arms import by_elements
from test_supports import crowded, made, on_arms

import solver.sheets.supports.arms as built
import solver.sheets.supports.choice as choice
from solver import Design, Train, parse_design
from solver.check.arm import clear_arms
from solver.check.joined import JoinedArm
from solver.check.sag import arm_bend, arm_grams, limit_mm
from solver.sheets.supports.arms import BuiltArm
from solver.sheets.supports.made import SupportsMade

METALS = {"steel": 200e3, "brass": 110e3}


def drawn(seeds: range) -> Iterator[tuple[int, Design, Train]]:
    """Random models with fifteen rollers a ring, that anything may bend by little more than it does alone."""
    for seed in seeds:
        design, train = model(seed)
        if design.fit.rollers is None or design.supports is None:
            continue
        rng = random.Random(f"begun {seed}")
        supports = replace(design.supports, metal=rng.choice(("steel", "brass")), model=rng.choice(("wall", "table")))
        design = replace(design, rings=replace(design.rings, level_spacing=Fraction(60)), supports=supports)
        train = crowded(design, train, rng)
        alone = [
            min(arm_bend(design, arm_grams(design, held.owner, held.what), line.length_mm, False) for line in lines)
            for held, lines in clear_arms(design, train).items()
            if lines
        ]
        sag = Fraction(max(alone) * rng.choice((1.5, 3, 10))).limit_denominator(10**6)
        yield seed, replace(design, supports=replace(supports, sag_mm=sag)), train


def by_gap(arms: tuple[BuiltArm, ...]) -> list[list[BuiltArm]]:
    return [[arm for arm in arms if arm.held.gap == gap] for gap in sorted({arm.held.gap for arm in arms})]


def farthest(design: Design, arms: list[BuiltArm]) -> float:
    """How far the arm of a gap bends that does so most, by finite elements; joined trees with a bend in them twist."""
    assert design.supports is not None
    lines = {arm.held.name: LineString(arm.points) for arm in arms}
    order = [arm.held.name for arm in arms]
    joined = []
    for arm in arms:
        on = order.index(arm.ends_at) if arm.on_arm else None
        at = lines[arm.ends_at].length - lines[arm.ends_at].project(Point(arm.end)) if arm.on_arm else 0.0
        joined.append(JoinedArm(arm.held.owner, arm.held.what, lines[arm.held.name].length, True, on, at))
    stiff = METALS[design.supports.metal] * 3.141592653589793 / 64 * float(design.supports.arm_mm) ** 4
    poisson = {"steel": 0.3, "brass": 0.34}[design.supports.metal]
    found = by_elements(design, joined, stiff)

    def root(arm: BuiltArm) -> str:
        return root(arms[order.index(arm.ends_at)]) if arm.on_arm else arm.held.name

    trees = Counter(map(root, arms))
    flat = design.supports.model == "table"
    return max(
        bend * (1 + poisson if flat and (arm.bends or trees[root(arm)] > 1) else 1)
        for bend, arm in zip(found, arms, strict=True)
    )


@pytest.mark.parametrize("begins", ["frame", "arms"])
@pytest.mark.parametrize(
    "seeds",
    [
        pytest.param(range(10), marks=pytest.mark.slow, id="some"),
        pytest.param(range(10, 80), marks=pytest.mark.deep, id="many"),
    ],
)
def test_what_is_joined_is_clear_and_stays_within_the_limit(
    begins: str, seeds: range, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(built, "slots_of", lambda design, train: {})
    counts: Counter[str] = Counter()
    for seed, design, train in drawn(seeds):
        assert design.supports is not None
        design = replace(design, supports=replace(design.supports, begins=begins))
        code = Arms(design, train)
        arms = choice.arms_of(design, train)
        for some in by_gap(arms):
            named = {arm.held.name: arm for arm in some}
            most = farthest(design, some)
            counts["gaps"] += 1
            # Where nothing that is clear holds what is there already, the chapter says so.
            told = max(choice.bends_mm(design, some)) > limit_mm(design)
            counts["told"] += told
            assert told or most < limit_mm(design) * (1 + 1e-6), (seed, some[0].held.gap, most)
            assert not told or most > limit_mm(design) * (1 - 1e-6), seed
            for arm in some:
                line = LineString(arm.points)
                blocks = [block.distance(line) for block in code.turning(arm.held.name, arm.held.gap)]
                assert min(blocks, default=code.need) > code.need - 0.01, (seed, arm)
                counts["arms"] += 1
                counts["on arms"] += arm.on_arm
                if arm.on_arm:
                    on = named[arm.ends_at]
                    assert LineString(on.points).distance(Point(arm.end)) < on.eye.outside_mm + 1e-6
                    counts["second"] += on.on_arm
    assert counts["arms"] > 5 * len(seeds) and counts["on arms"] > 2 * len(seeds), counts
    assert counts["second"] > len(seeds) and counts["told"] < counts["gaps"] / 5 + 2, counts


@pytest.mark.deep
def test_arms_on_arms_take_less_wire(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(built, "slots_of", lambda design, train: {})
    wire = Counter[str]()
    for _, design, train in drawn(range(15)):
        for begins in ("frame", "arms"):
            assert design.supports is not None
            some = choice.arms_of(replace(design, supports=replace(design.supports, begins=begins)), train)
            wire[begins] += sum(arm.wire_mm for arm in some)  # type: ignore[assignment]
    assert wire["arms"] < 0.95 * wire["frame"], wire


@pytest.mark.slow
def test_without_looking_at_what_is_joined_much_would_bend_too_far(monkeypatch: pytest.MonkeyPatch) -> None:
    """As the sheets once did."""
    monkeypatch.setattr(built, "slots_of", lambda design, train: {})
    monkeypatch.setattr(choice._Chooser, "_holds", lambda *some: True)
    beyond = gaps = 0
    for _, design, train in drawn(range(15)):
        for some in by_gap(choice.arms_of(design, train)):
            gaps += 1
            beyond += farthest(design, some) > limit_mm(design)
    assert beyond > gaps / 10, (beyond, gaps)


@pytest.mark.parametrize("name", ["square", "round table"])
def test_only_the_arms_are_other_where_they_may_begin_on_arms(name: str) -> None:
    """What they hold is what it was, with less wire; the design is another one by its name."""
    design, train, found = made(name)
    other, _, fewer = made(f"{name} on arms")
    assert on_arms(design, train)[0] == other and design.sha256() != other.sha256()
    assert {arm.held for arm in found.arms} == {arm.held for arm in fewer.arms}

    def wire(one: SupportsMade) -> float:
        return sum(arm.wire_mm for arm in one.arms)

    assert wire(fewer) < 0.95 * wire(found) and not fewer.bent and not found.bent


def test_frame_is_where_arms_begin_unless_told() -> None:
    text = SMALL.format(frame=SQUARE, stands="none", model="wall", metal="steel")
    told = parse_design(text.replace("[supports]\n", '[supports]\nfrom = "frame"\n'))
    assert told == parse_design(text) and "begins" not in told.canonical_text()
    assert not told.supports.on_arms  # type: ignore[union-attr]
    other = parse_design(text.replace("[supports]\n", '[supports]\nfrom = "arms"\n'))
    assert other.supports.on_arms and other.canonical()["supports"]["begins"] == "arms"  # type: ignore[union-attr]
