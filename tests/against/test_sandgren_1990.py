"""Sandgren, J. Mech. Des. 112(2), 1990; Deb and Goyal, ICGA 1997: of four gears {16, 19} over {43, 49} are best."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
from shipped import PLAIN

from solver import Status, load_design, solve


def four_gear_ranking(count: int) -> list[tuple[Fraction, tuple[int, int, int, int]]]:
    """The best (Z0, Z1, wheel, pinion) of all 49**4, by exact error, then the canonical order of the answer.

    Brute force: floats find those within 1e-12 of the count-th best, Fractions decide among them.
    """
    counts = np.arange(12, 61)
    # T1/T0 = (wheel / Z0) * (Z1 / pinion)
    ratio = (counts[None, :, None, None] * counts[None, None, :, None]) / (
        counts[:, None, None, None] * counts[None, None, None, :]
    )
    error = np.abs(np.log(ratio / 6.931))
    limit = np.partition(error, count + 40, axis=None)[count + 40]
    target = Fraction(6931, 1000)
    found = []
    for z0, z1, wheel, pinion in np.argwhere(error <= limit + 1e-12) + 12:
        z0, z1, wheel, pinion = (int(z) for z in (z0, z1, wheel, pinion))
        exact = Fraction(wheel * z1, z0 * pinion)
        jigs = len({z0, z1}) + len({wheel, pinion})
        found.append(((max(exact / target, target / exact) - 1, 5, jigs, (z0, z1), (wheel,), (pinion,)), exact))
    found.sort()
    return [(exact, (*key[3], *key[4], *key[5])) for key, exact in found[:count]]


def test_four_gears_for_a_ratio():
    answer = solve(load_design(PLAIN / "four-gears.toml"))
    assert answer.status is Status.OPTIMAL
    got = []
    for solution in answer.solutions:
        teeth = (solution.rings[0].teeth, solution.rings[1].teeth, solution.links[0].wheel, solution.links[0].pinion)
        got.append((Fraction(*solution.rings[1].ratio), teeth))
    target = Fraction(1000, 6931)
    for ratio, (z0, z1, wheel, pinion) in got[:4]:
        assert {z0, pinion} == {16, 19} and {z1, wheel} == {43, 49}
        squared = (1 / ratio - target) ** 2
        assert squared == Fraction(24, 14603617) ** 2  # 2.700857148886e-12, as published
        assert math.isclose(squared, 2.700857148886e-12, rel_tol=1e-12)
    assert len({teeth for _, teeth in got[:4]}) == 4
    pairs = {(frozenset((z0, pinion)), frozenset((z1, wheel))) for _, (z0, z1, wheel, pinion) in got[4:16]}
    assert pairs == {
        (frozenset((13, 20)), frozenset((34, 53))),
        (frozenset((15, 26)), frozenset((51, 53))),
        (frozenset((13, 30)), frozenset((51, 53))),
    }
    assert all(math.isclose((1 / ratio - target) ** 2, 2.3078157e-11, rel_tol=1e-6) for ratio, _ in got[4:16])
    assert got == four_gear_ranking(20)
