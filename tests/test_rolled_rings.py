"""Rings that hang on rollers: figures of both codes against a ring of sticks that touches its rollers from one side."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import cache
from math import pi

import numpy as np
import pytest

from solver.check import rolled as judged
from solver.mechanics.on_rollers import (
    _HUNG_WITHIN,
    _LYING_WITHIN,
    hung_evenly,
    hung_within,
    lying_evenly,
    lying_within,
)
from solver.search.roller_gaps import GRID, even_row, even_rows, stood

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
    for step in range(200):
        push = np.zeros(rollers)
        push[bearing] = np.linalg.solve(gives[np.ix_(bearing, bearing)], -moved[bearing])
        left = moved + gives @ push  # of a roller, where it is below zero the ring would pass through it
        now = np.where(bearing, push > -1e-9, left < -1e-9)
        if np.array_equal(now, bearing):
            break
        if step < 15:
            bearing = now
        else:  # all at once goes in circles: one after the other
            first = np.flatnonzero(now != bearing)[step % 2 and -1]
            bearing = np.where(np.arange(rollers) == first, now, bearing)
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


def on_grid(row: Sequence[int], weight: float, force: float, sticks: int = 144, every: int = 4) -> float:
    """Likewise on rollers in these directions of the grid, down anywhere."""
    nodes, places = [at * (sticks // GRID) for at in row], range(0, sticks, every) if force else (0,)
    downs = [2 * pi * lie / 72 for lie in range(72)] if not force else [2 * pi * lie / 36 for lie in range(36)]
    return max(departure(sticks, nodes, down, weight, force, at) for down in downs for at in places)


def row_of(gaps: Sequence[int]) -> tuple[int, ...]:
    assert sum(gaps) == GRID
    return tuple(int(at) for at in np.cumsum([0, *gaps[:-1]]))


@pytest.mark.slow
@pytest.mark.parametrize("rollers", [4, *(pytest.param(n, marks=pytest.mark.deep) for n in (3, 6, 8))])
def test_rings_on_rollers_by_sticks(rollers):
    """The figures are of 240 sticks, and rounded up."""
    sticks = 2 * rollers * (120 // rollers)
    own, load = worst(sticks, rollers, 1.0, 0.0, 12), worst(sticks, rollers, 1e-6, 1.0)
    assert 0.999 < hung_evenly(rollers)[0] / own < 1.05
    assert 0.999 < hung_evenly(rollers)[1] / load < 1.05


@pytest.mark.deep
@pytest.mark.parametrize("rollers", [5, 7])
def test_rings_on_five_or_seven_rollers_as_even_as_the_grid_lets_them(rollers):
    own, load = on_grid(even_row(rollers), 1.0, 0.0), on_grid(even_row(rollers), 1e-6, 1.0)
    assert 0.995 < hung_evenly(rollers)[0] / own < 1.03
    assert 0.995 < hung_evenly(rollers)[1] / load < 1.03


@pytest.mark.slow
@pytest.mark.parametrize("gap", [24, 25, 27, 29, 31, 33, 35])
def test_with_a_gap_of_120_degrees_and_more_it_alone_matters(gap):
    """The two rollers beside it bear all, wherever two or three others stand."""
    left = GRID - gap
    for others in ((left // 2, left - left // 2), (left // 3, left - left // 3), (left // 4, left // 2, left // 4)):
        gaps = [gap, *others[:-1], left - sum(others[:-1])]
        if max(gaps) == gap:
            own = on_grid(row_of(gaps), 1.0, 0.0)
            assert 0.99 < hung_within(gap)[0] / own < 1.03


# Of many that were found by climbing, the worst for its own weight and for a load, by the widest gap.
UNEVEN = [(1, 1, 8, 16, 22, 2, 22), (1, 18, 4, 6, 18, 2, 5, 18), (5, 15, 15, 7, 15, 15), (4, 12, 12, 8, 12, 12, 12)]


@pytest.mark.slow
@pytest.mark.parametrize("gaps", UNEVEN)
def test_no_rollers_that_stand_unevenly_bend_a_ring_farther_than_is_told(gaps):
    own = on_grid(row_of(gaps), 1.0, 0.0)
    assert own <= hung_within(max(gaps))[0] <= 1.4 * own


@pytest.mark.deep
def test_rollers_anywhere_bend_a_ring_no_farther_than_is_told():
    rng = np.random.default_rng(4)
    told = []
    for _ in range(60):
        row = tuple(sorted(rng.choice(GRID, rng.integers(3, 9), replace=False).tolist()))
        widest, _ = stood(row)
        if widest <= 35:
            own, load = on_grid(row, 1.0, 0.0), on_grid(row, 1e-6, 1.0, 72, 3)
            told.append(hung_within(widest)[0] / own)
            assert own <= hung_within(widest)[0] * 1.001 and load <= hung_within(widest)[1] * 1.02, row
    assert len(told) >= 30


# -- lying -------------------------------------------------------------------------------------------------------------


def lying(row: Sequence[int], twist: float) -> tuple[float, float]:
    """How far a ring goes down between rollers in these directions that hold it up and down: under its own weight, and
    under a force where it does most. Waves round the ring; R = EI = 1."""
    orders = np.arange(2, 1500)
    soft = (1 + twist * orders**2) / ((orders**2 - 1.0) ** 2 * twist * orders**2) / pi
    every = 2 * pi * np.arange(2 * GRID) / (2 * GRID)
    waves = np.cos(np.multiply.outer(every, orders)) @ soft
    at, count = 2 * np.array(row), len(row)
    plane = np.stack([np.ones_like(every), np.cos(every), np.sin(every)], axis=1)
    whole = np.zeros((count + 3, count + 3))
    whole[:count, :count] = -waves[(at[:, None] - at[None, :]) % len(every)]
    whole[:count, count:], whole[count:, :count] = plane[at], plane[at].T
    near = waves[(np.arange(len(every))[:, None] - at[None, :]) % len(every)]
    right = np.zeros((count + 3, 1 + len(every)))
    right[count, 0] = 2 * pi
    right[:count, 1:], right[count:, 1:] = -near.T, plane.T
    found = np.linalg.solve(whole, right)
    moved = plane @ found[count:] - near @ found[:count]
    return float(np.abs(moved[:, 0]).max()), float((waves[0] + np.diag(moved[:, 1:])).max())


@pytest.mark.deep
@pytest.mark.parametrize("twist", [1 / 1.34, 0.3, 1.2])
def test_a_ring_that_lies_on_rollers_anywhere_goes_down_no_farther_than_is_told(twist):
    rng = np.random.default_rng(9)
    for count in (3, 4, 6, 8):
        assert lying_evenly(count, twist) == pytest.approx(lying(even_row(count), twist), rel=1e-3)
    for count in (5, 7):
        told, found = lying_evenly(count, twist), lying(even_row(count), twist)
        assert all(one >= other * 0.999 for one, other in zip(told, found, strict=True))
    rows = [
        row_of(gaps) for gaps in ((12, 24, 12, 24), (2, 18, 8, 18, 8, 18), (18, 19, 35), (6, 12, 6, 12, 6, 12, 6, 12))
    ]
    rows += [tuple(sorted(rng.choice(GRID, rng.integers(3, 12), replace=False).tolist())) for _ in range(200)]
    for row in rows:
        widest, _ = stood(row)
        if widest <= 35:
            own, load = lying(row, twist)
            assert own <= lying_within(widest, twist)[0] and load <= lying_within(widest, twist)[1], row


def test_both_codes_take_the_same_figures():
    assert judged.HUNG_WITHIN == _HUNG_WITHIN and judged.LYING_WITHIN == _LYING_WITHIN
    for table in (_HUNG_WITHIN, _LYING_WITHIN):  # a wider gap never bends a ring less
        assert sorted(table.values()) == list(table.values())
        assert sorted(load for _, load in table.values()) == [load for _, load in table.values()]
    rng = np.random.default_rng(2)
    some = [row for count in range(3, 25) for row in even_rows(count)]
    some += [tuple(sorted(rng.choice(GRID, rng.choice((3, 4, 5, 7)), replace=False).tolist())) for _ in range(4000)]
    for row in some:
        gaps, (widest, even) = judged.gaps_of(Fraction(5 * at) for at in row), stood(row)
        if widest > 35:
            continue
        told = [hung_within(widest), None if even is None else hung_evenly(even)]
        assert judged.hung(gaps) == min(one for one in told if one is not None), row
        lies = judged.lying(gaps, 0.6)
        if lies is not None:
            own = lying_within(widest, 0.6) if even is None else lying_evenly(even, 0.6) or lying_within(widest, 0.6)
            assert lies == pytest.approx(own, rel=1e-12), row


@pytest.mark.slow
@pytest.mark.parametrize("rollers", [3, 4, 6])
@pytest.mark.parametrize("share", [0.2, 1.0, 5.0])
def test_the_sum_is_no_less_than_what_both_make_together(rollers, share):
    """A body of so many times the ring's weight."""
    sticks, force = 96, 2 * pi * share
    own, load = hung_evenly(rollers)
    assert worst(sticks, rollers, 1.0, force) <= 1.005 * (own + load * force)


@pytest.mark.slow
@pytest.mark.parametrize("gaps", UNEVEN[:2])
def test_the_sum_is_no_less_than_both_on_uneven_rollers(gaps):
    own, load = hung_within(max(gaps))
    assert on_grid(row_of(gaps), 1.0, 2 * pi, 72, 3) <= own + load * 2 * pi


@pytest.mark.parametrize(("gap", "times"), [(120, 1.0), (135, 2.2), (150, 5.5), (165, 22)])
def test_rollers_that_stand_unevenly_bend_a_ring_far_more(gap, times):
    """Of three the two beside the largest gap bear all when it is at the top. Own figures."""
    apart = round(gap / 1.5)
    found = departure(240, [0, apart, (apart + 240) // 2], pi + gap * pi / 360, 1.0, 0.0)
    assert found == pytest.approx(times * hung_evenly(3)[0], rel=0.03)
    assert found == pytest.approx(hung_within(gap // 5)[0], rel=0.02)
