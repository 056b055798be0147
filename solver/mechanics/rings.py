"""Thin rings and arcs of one section: how far they go out of round, or out of their plane. Radius [mm] of the middle
line, forces [N], weight per length w [N/mm], EI [N mm2]; bending and twisting alone, as for all rings that are thin.
"""

from __future__ import annotations

from functools import lru_cache
from math import cos, pi, sin

_TERMS = 4000  # of series that fall off as 1 / k4 and faster


def quarter(radius: float, force: float, stiffness: float, twist: float) -> float:
    """How far the free end of a quarter circle, built in at the other, moves under a force across its plane:
    P R3 [(pi/4) / EI + (3 pi/4 - 2) / GJ] (Timoshenko, Strength of Materials I, 1955). twist: GJ / EI."""
    return force * radius**3 / stiffness * (pi / 4 + (3 * pi / 4 - 2) / twist)


def _softness(order: int, twist: float) -> float:
    """How far a wave of so many crests round a ring goes out of its plane, cos(k t), under a unit force that goes round
    as it does, in units of R3 / (pi EI). Least energy over the twist that goes with it."""
    k = order * order
    return (1 + twist * k) / ((k - 1) ** 2 * twist * k)


def flat(points: int, radius: float, weight: float, stiffness: float, twist: float) -> float:
    """How much lower a flat ring on n equal points is midway between them than at them, under its own weight (own, by
    Fourier series: forces at n equal points make waves of n, 2n, ... crests). points: 2 or more."""
    return _flat(points, twist) * weight * radius**4 / stiffness


@lru_cache(maxsize=256)
def _flat(points: int, twist: float) -> float:
    return sum(4 * _softness(points * m, twist) for m in range(1, _TERMS, 2))


def flat_loaded(points: int, radius: float, force: float, stiffness: float, twist: float) -> float:
    """How much lower a weightless flat ring is under a force midway between two of n equal points than the plane
    through these (own). The points hold it down too where it would lift; 3 or more."""
    return _flat_loaded(points, twist) * force * radius**3 / stiffness


@lru_cache(maxsize=256)
def _flat_loaded(points: int, twist: float) -> float:
    """The points' forces are such that they stay in one plane, and hold the load: a set of linear equations for them
    and for the plane."""

    def moved(turn: float) -> float:
        return sum(soft * cos(order * turn) for order, soft in enumerate(waves, start=2))

    waves = [_softness(order, twist) / pi for order in range(2, _TERMS)]
    turns = [pi / points * (2 * index + 1) for index in range(points)]
    size = points + 3
    near, loaded = [moved(2 * pi / points * index) for index in range(points)], [moved(turn) for turn in turns]
    rows = []
    for index, turn in enumerate(turns):  # a point goes down with its plane: none of it is left
        between = [-near[abs(index - other)] for other in range(points)]
        rows.append([*between, 1.0, cos(turn), sin(turn), -loaded[index]])
    for share in (lambda turn: 1.0, cos, sin):
        rows.append([share(turn) for turn in turns] + [0.0, 0.0, 0.0, share(0.0)])
    found = _solved(rows, size)
    forces, plane = found[:points], found[points:]
    own = near[0] - sum(force * by for force, by in zip(forces, loaded, strict=True))
    return own + plane[0] + plane[1]


def _solved(rows: list[list[float]], size: int) -> list[float]:
    """The solution of linear equations, each with its right side last (Gauss, with pivots)."""
    for column in range(size):
        pivot = max(range(column, size), key=lambda row: abs(rows[row][column]))
        rows[column], rows[pivot] = rows[pivot], rows[column]
        for row in range(size):
            if row != column:
                share = rows[row][column] / rows[column][column]
                rows[row] = [one - share * by for one, by in zip(rows[row], rows[column], strict=True)]
    return [rows[index][size] / rows[index][index] for index in range(size)]
