"""Arms that end on others: how far they bend against beams of finite elements and a handbook, and what is built."""

from __future__ import annotations

import random

import numpy as np
import pytest
from armed import SMALL, SQUARE

from solver import parse_design
from solver.check.joined import JoinedArm, joined_bends
from solver.check.sag import HEAVY, arm_bend, arm_grams

E_STEEL = 200e3
KINDS = [("link 0", "arbor"), ("link 0", "third gear"), ("ring 0", "roller 1"), ("drive", "motor")]


def design(model="wall", metal="steel"):
    return parse_design(SMALL.format(frame=SQUARE, stands="none", model=model, metal=metal))


def by_elements(made, arms: list[JoinedArm], stiff: float) -> list[float]:
    """Ends of arms that all run on in one line, by Euler and Bernoulli's element of a beam with cubic shapes (any book
    on finite elements), which is exact where forces are at its ends. Arms that are joined share a node."""
    nodes: dict[tuple[int, float], int] = {}
    base: dict[int, int] = {}

    def node(arm: int, at: float) -> int:
        return nodes.setdefault((arm, at), len(nodes))

    for number, arm in enumerate(arms):
        for at in {0.0, arm.length_mm, *(by.at_mm for by in arms if by.on == number)}:
            node(number, at)
    for number, arm in enumerate(arms):
        if arm.on is not None:
            base[node(number, 0.0)] = node(arm.on, arm.at_mm)

    def same(one: int) -> int:
        while one in base:
            one = base[one]
        return one

    whole, forces = np.zeros((2 * len(nodes), 2 * len(nodes))), np.zeros(2 * len(nodes))
    for number, arm in enumerate(arms):
        spots = sorted(at for by, at in nodes if by == number)
        for low, high in zip(spots, spots[1:]):
            h = high - low
            part = stiff / h**3 * np.array([
                [12, 6 * h, -12, 6 * h],
                [6 * h, 4 * h * h, -6 * h, 2 * h * h],
                [-12, -6 * h, 12, -6 * h],
                [6 * h, 2 * h * h, -6 * h, 4 * h * h],
            ])  # fmt: skip
            ends = [same(node(number, low)), same(node(number, high))]
            rows = [2 * ends[0], 2 * ends[0] + 1, 2 * ends[1], 2 * ends[1] + 1]
            whole[np.ix_(rows, rows)] += part
        forces[2 * same(node(number, arm.length_mm))] += HEAVY * arm_grams(made, arm.owner, arm.what)
    fixed = {same(node(number, 0.0)) for number, arm in enumerate(arms) if arm.on is None}
    free = [row for row in range(2 * len(nodes)) if row // 2 not in fixed and row // 2 not in base]
    moved = np.zeros(2 * len(nodes))
    moved[free] = np.linalg.solve(whole[np.ix_(free, free)], forces[free])
    return [moved[2 * same(node(number, arm.length_mm))] for number, arm in enumerate(arms)]


@pytest.mark.parametrize("seed", range(60))
def test_joined_arms_bend_as_beams_of_finite_elements(seed: int) -> None:
    rng = random.Random(seed)
    metal, model = rng.choice(("steel", "brass")), rng.choice(("wall", "table"))
    made, arms = design(model, metal), list[JoinedArm]()
    for number in range(rng.randint(1, 6)):
        on = rng.choice((None, *range(number)))
        at = 0.0 if on is None else rng.uniform(0.05, 1) * arms[on].length_mm
        arms.append(JoinedArm(*rng.choice(KINDS), rng.uniform(20, 200), bent=True, on=on, at_mm=at))
    modulus, poisson = (E_STEEL, 0.3) if metal == "steel" else (110e3, 0.34)
    stiff = modulus * np.pi * 4**4 / 64 / (1 + poisson if model == "table" else 1)
    assert joined_bends(made, arms) == pytest.approx(by_elements(made, arms, stiff), rel=1e-6), arms


def test_an_arm_alone_bends_as_the_rule_has_it() -> None:
    for model in ("wall", "table"):
        made = design(model)
        for owner, what in KINDS:
            for bent in (False, True):
                (found,) = joined_bends(made, [JoinedArm(owner, what, 120.0, bent)])
                assert found == pytest.approx(arm_bend(made, arm_grams(made, owner, what), 120.0, bent))


def test_what_is_carried_bends_what_carries_it() -> None:
    """P a2 (3 L - a) / (6 EI) and M a (2 L - a) / (2 EI) at the end of a cantilever with a force and a moment at a (any
    handbook), beside P L3 / (3 EI)."""
    made, stiff = design(), E_STEEL * np.pi * 4**4 / 64
    long, at, other = 100.0, 60.0, 40.0
    arms = [JoinedArm("link 0", "arbor", long), JoinedArm("link 0", "third gear", other, on=0, at_mm=at)]
    own, carried = (HEAVY * arm_grams(made, arm.owner, arm.what) for arm in arms)
    down = own * long**3 / 3 + carried * at**2 * (3 * long - at) / 6 + carried * other * at * (2 * long - at) / 2
    assert joined_bends(made, arms)[0] == pytest.approx(down / stiff)
    # Flat on a table a straight arm alone does not twist; joined it does.
    flat = design("table")
    alone, both = (joined_bends(flat, some)[0] for some in (arms[:1], arms))
    assert alone == pytest.approx(own * long**3 / 3 / stiff) and both == pytest.approx(1.3 * down / stiff)


def test_arms_in_a_circle_are_refused() -> None:
    ring = [JoinedArm("link 0", "arbor", 50.0, on=1), JoinedArm("link 0", "third gear", 50.0, on=0)]
    with pytest.raises(ValueError, match="in a circle"):
        joined_bends(design(), ring)
