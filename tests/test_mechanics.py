"""Deflections against worked examples of handbooks, and against integration by numbers."""

from math import cos, pi, sin

import numpy as np
import pytest

from solver.mechanics.beams import loaded_at, loaded_evenly
from solver.mechanics.metals import METALS, newtons
from solver.mechanics.rings import (
    flat,
    flat_loaded,
    quarter,
)
from solver.mechanics.sections import Section, round_rod, strip


def test_a_thick_cantilever_with_its_load_at_the_end():
    """A beam calculator's worked example: L 15 in, d 5 in, P 20 lb, E 30e6 psi: 2.44462e-5 in, 24.446 psi."""
    rod = round_rod(5)
    assert loaded_at(15, 15, 20, 30e6 * rod.moment) == pytest.approx(2.44462e-5, rel=1e-5)
    assert 20 * 15 * 2.5 / rod.moment == pytest.approx(24.446, rel=1e-4)


def test_a_cantilever_with_its_load_short_of_the_end():
    """An exercise: E 200e9, I 1.60e-8 m4, L 1 m, P at 0.9 m, tip 10 mm; our answer 112.9 N."""
    moved = loaded_at(1000, 900, 1.0, 200e3 * 1.60e-8 * 1e12)
    assert 10 / moved == pytest.approx(112.9, abs=0.05)


def test_a_quarter_circle_under_a_load_across_its_plane():
    """Timoshenko, Strength of Materials I (1955): E 30e6, d 2 in, R 100 in, P 50 lb: 2.648 in; 2.649 with nu .3."""
    rod = round_rod(2)
    twist = rod.torsion / rod.moment / (2 * 1.3)
    assert quarter(100, 50, 30e6 * rod.moment, twist) == pytest.approx(2.649, abs=0.0005)
    assert quarter(100, 50, 30e6 * rod.moment, twist) == pytest.approx(2.648, abs=0.0015)


@pytest.mark.parametrize(("points", "sag"), [(3, 0.0726), (4, 0.0195), (5, 0.00741), (6, 0.00343), (8, 0.00104)])
def test_a_flat_ring_on_points(points, sag):
    """Own figures by a grid, to 0.1 %: round wire, nu .34."""
    assert flat(points, 1, 1, 1, 1 / 1.34) == pytest.approx(sag, rel=1.5e-3, abs=5e-6)


def test_a_brass_rod_of_3_mm():
    """Own: E 110, d 3, L 100, 1 N: I 3.9761 mm4, 0.7621 mm."""
    rod = round_rod(3)
    assert rod.moment == pytest.approx(3.9761, abs=5e-5)
    assert loaded_at(100, 100, 1, METALS["brass"].modulus * rod.moment) == pytest.approx(0.7621, abs=5e-5)


def test_a_cantilever_by_integration():
    """Curvature M / EI, integrated twice from the fixed end, under a load and its own weight."""
    length, at, force, own, stiffness = 120.0, 70.0, 0.7, 0.3, 9e5
    x = np.linspace(0, length, 200_001)
    moment = force * np.clip(at - x, 0, None) + own / length * (length - x) ** 2 / 2
    moved = np.trapezoid(moment / stiffness * (length - x), x)
    both = loaded_at(length, at, force, stiffness) + loaded_evenly(length, own, stiffness)
    assert both == pytest.approx(moved, rel=1e-8)


def _sticks(points, loads, sticks=240, twist=1 / 1.34):
    """A flat ring of straight sticks, R = EI = 1, on points: how far nodes go down under loads. A grid of 3 freedoms a
    node: down, and turned about x and y."""
    turns = [2 * pi * index / sticks for index in range(sticks)]
    size = 3 * sticks
    whole = np.zeros((size, size))
    for index in range(sticks):
        a, b = turns[index], turns[(index + 1) % sticks]
        dx, dy = cos(b) - cos(a), sin(b) - sin(a)
        long = (dx * dx + dy * dy) ** 0.5
        c, s = dx / long, dy / long
        k, g = 1 / long**3, twist / long
        local = np.array(
            [
                [12 * k, 0, 6 * k * long, -12 * k, 0, 6 * k * long],
                [0, g, 0, 0, -g, 0],
                [6 * k * long, 0, 4 * k * long**2, -6 * k * long, 0, 2 * k * long**2],
                [-12 * k, 0, -6 * k * long, 12 * k, 0, -6 * k * long],
                [0, -g, 0, 0, g, 0],
                [6 * k * long, 0, 2 * k * long**2, -6 * k * long, 0, 4 * k * long**2],
            ]
        )
        one = np.array([[1, 0, 0], [0, c, s], [0, -s, c]])
        turned = np.block([[one, np.zeros((3, 3))], [np.zeros((3, 3)), one]])
        where = [*range(3 * index, 3 * index + 3), *(3 * ((index + 1) % sticks) + n for n in range(3))]
        whole[np.ix_(where, where)] += turned.T @ local @ turned
    free = [n for n in range(size) if n not in {3 * (index * sticks // points) for index in range(points)}]
    force = np.zeros(size)
    force[::3] = loads
    moved = np.zeros(size)
    moved[free] = np.linalg.solve(whole[np.ix_(free, free)], force[free])
    return moved[::3]


@pytest.mark.parametrize("points", [3, 4, 6])
def test_flat_rings_as_a_grid_of_sticks(points):
    sticks, middle = 240, 240 // points // 2
    own = _sticks(points, np.full(sticks, 2 * pi / sticks))
    assert own[middle] == pytest.approx(flat(points, 1, 1, 1, 1 / 1.34), rel=3e-3)
    one = np.zeros(sticks)
    one[middle] = 1
    assert _sticks(points, one)[middle] == pytest.approx(flat_loaded(points, 1, 1, 1, 1 / 1.34), rel=3e-3)


def test_strips_and_weights():
    square = strip(2, 2)
    assert square.moment == pytest.approx(16 / 12) and square.torsion == pytest.approx(0.1406 * 16, rel=2e-3)
    assert isinstance(square, Section) and newtons(1000) == 9.80665
    assert strip(1, 8).torsion == strip(8, 1).torsion and strip(8, 1).moment > strip(1, 8).moment
