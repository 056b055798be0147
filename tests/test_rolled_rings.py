"""Rings that hang on rollers: figures of both codes against a ring of sticks that touches its rollers from one side."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from math import pi

import numpy as np
import pytest

from solver.check.sag import _HUNG_ON, _HUNG_ON_MORE
from solver.mechanics.rings import rolled, rolled_loaded

STIFF = 1e5  # EA, by EI of 1: hardly any stretch


@cache
def _ring(sticks: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Turns of the nodes, how they move under unit forces, and under one in x or y that is spread over all nodes; R and
    EI are 1. Freedoms of a node: x, y, and turned. Held by springs so soft that they bear nothing: along the ring, and
    against turning."""
    turns = 2 * pi * np.arange(sticks) / sticks
    x, y = np.cos(turns), np.sin(turns)
    whole = 1e-8 * np.eye(3 * sticks)
    for one in range(sticks):
        other = (one + 1) % sticks
        dx, dy = x[other] - x[one], y[other] - y[one]
        long = np.hypot(dx, dy)
        c, s, a = dx / long, dy / long, STIFF / long
        # Stretched along itself, then bent: what its ends do across it, and their turns.
        along = np.array([-c, -s, 0, c, s, 0])
        across = np.array([[s, -c, 0, -s, c, 0], [0, 0, long, 0, 0, 0], [0, 0, 0, 0, 0, long]])
        hook = np.array([[12, -6, -6], [-6, 4, 2], [-6, 2, 4]]) / long**3
        freedoms = [3 * one, 3 * one + 1, 3 * one + 2, 3 * other, 3 * other + 1, 3 * other + 2]
        whole[np.ix_(freedoms, freedoms)] += a * np.outer(along, along) + across.T @ hook @ across
        tangent = np.array([-y[one], x[one]])
        whole[3 * one : 3 * one + 2, 3 * one : 3 * one + 2] += 1e-5 * np.outer(tangent, tangent)
    soft = np.linalg.inv(whole)
    return turns, soft, soft.reshape(3 * sticks, sticks, 3)[:, :, :2].mean(axis=1)


def departure(sticks: int, nodes: Sequence[int], down: float, weight: float, force: float, at: int = 0) -> float:
    """The largest radial departure of a ring that hangs on rollers at these nodes. down: where down is, as a turn;
    weight: of the ring for each unit of length; force: on the node `at`."""
    turns, soft, spread = _ring(sticks)
    way = np.array([np.cos(down), np.sin(down)])

    def outwards(moves: np.ndarray) -> np.ndarray:
        """How far each node goes outwards, of moves of all freedoms."""
        x, y = moves[0::3], moves[1::3]
        return (x.T * np.cos(turns) + y.T * np.sin(turns)).T

    # Without rollers, and pushed outwards by one on each.
    rollers, some = len(nodes), list(nodes)
    hanging = outwards((2 * pi * weight * spread + force * soft[:, 3 * at : 3 * at + 2]) @ way)
    x, y = ([3 * node + number for node in some] for number in (0, 1))
    pushed = outwards(soft[:, x] * np.cos(turns[some]) + soft[:, y] * np.sin(turns[some]))
    moved, gives = hanging[some], pushed[some]
    bearing, push = np.ones(rollers, bool), np.zeros(rollers)
    for _ in range(50):
        push = np.zeros(rollers)
        push[bearing] = np.linalg.solve(gives[np.ix_(bearing, bearing)], -moved[bearing])
        left = moved + gives @ push  # of a roller, where it is below zero the ring would pass through it
        now = np.where(bearing, push > -1e-9, left < -1e-9)
        if np.array_equal(now, bearing):
            break
        bearing = now
    else:
        raise AssertionError("no set of rollers that bear was found")
    return float(np.abs(hanging + pushed @ push).max())


def worst(sticks: int, rollers: int, weight: float, force: float, lies: int = 4) -> float:
    """In the worst of some lies of the rollers, from one of them straight up to two as high, and with the force at the
    worst place."""
    places = range(0, sticks, 2) if force else (0,)
    downs = [pi + pi / rollers * lie / lies for lie in range(lies + 1)]
    nodes = range(0, sticks, sticks // rollers)
    return max(departure(sticks, nodes, down, weight, force, at) for down in downs for at in places)


def test_the_sticks_bend_as_rings_are_known_to():
    """Hung at one point, under its own weight, a ring grows (pi2/4 - 2) w R4 / EI (Roark's .467, from memory)
    longer: all of it shows at the bottom."""
    assert departure(240, [0], pi, 1.0, 0.0) == pytest.approx(pi**2 / 4 - 2, rel=2e-3)
    # Two forces along a diameter: (pi/4 - 2/pi) P R3 / EI (Timoshenko, Strength of Materials I).
    assert departure(240, [0], pi, 0.0, 1.0, 120) == pytest.approx(pi / 4 - 2 / pi, rel=2e-3)


@pytest.mark.parametrize("rollers", range(3, 9))
def test_rings_on_rollers_by_sticks(rollers):
    """The figures are of 240 sticks, and rounded up."""
    sticks = 2 * rollers * (120 // rollers)
    own, load = worst(sticks, rollers, 1.0, 0.0, 12), worst(sticks, rollers, 1e-6, 1.0)
    assert 0.999 < rolled(rollers, 1, 1, 1) / own < 1.05
    assert 0.999 < rolled_loaded(rollers, 1, 1, 1) / load < 1.05


def test_both_codes_take_the_same_figures_and_more_rollers_than_eight_as_eight():
    for rollers in range(3, 12):
        judged = _HUNG_ON.get(rollers, _HUNG_ON_MORE)
        assert judged == (rolled(rollers, 1, 1, 1), rolled_loaded(rollers, 1, 1, 1))
    assert rolled(9, 2, 3, 5) == 0.0080 * 3 * 2**4 / 5 and rolled_loaded(9, 2, 3, 5) == 0.0066 * 3 * 2**3 / 5


@pytest.mark.slow
@pytest.mark.parametrize("rollers", [3, 4, 6])
@pytest.mark.parametrize("share", [0.2, 1.0, 5.0])
def test_the_sum_is_no_less_than_what_both_make_together(rollers, share):
    """A body of so many times the ring's weight."""
    sticks, force = 96, 2 * pi * share
    most = rolled(rollers, 1, 1, 1) + rolled_loaded(rollers, 1, force, 1)
    assert worst(sticks, rollers, 1.0, force) <= 1.005 * most


@pytest.mark.parametrize(("gap", "times"), [(120, 1.0), (135, 2.2), (150, 5.5), (165, 22)])
def test_rollers_that_stand_unevenly_may_bend_a_ring_far_more(gap, times):
    """Why it is said everywhere that they are taken to stand evenly: of three the two beside the largest gap bear all
    when it is at the top. Own figures."""
    apart = round(gap / 1.5)
    found = departure(240, [0, apart, (apart + 240) // 2], pi + gap * pi / 360, 1.0, 0.0)
    assert found == pytest.approx(times * rolled(3, 1, 1, 1), rel=0.03)
