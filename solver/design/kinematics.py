"""Exact kinematics: period ratios and errors of a train as Fractions.

A link turns ring i+1 with T[i+1]/T[i] = (wheel / Z[i]) * (Z[i+1] / pinion): the wheel meets ring i and the
pinion ring i+1 at equal pitch speed (common practice, no source). Third gears do not enter.

The common rate. With a rate r (the motor's), the deviation of a body with model ratio m and target range
[low, high] is max(r*m/high, low/(r*m), 1), and its error is that less 1. `reference = "first"` holds the first
body exact. `reference = "best"` leaves the rate free: the worst error is the least E for which one rate keeps
every body within min(E, its own cap). Both are one rule on pairs of bodies: with q = (m[j]/high[j]) / (m[k]/low[k]),
a common rate exists if and only if q <= (1 + min(E, cap[j])) * (1 + min(E, cap[k])) for every pair; the first body
counts as having cap 0 where it is held exact. Without caps this is the design's sqrt(max/min) - 1.
Errors are compared by (1 + E)**2, which is always a Fraction.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from solver.design.design import Body, Design
from solver.design.train import Train


@dataclass(frozen=True)
class Pair:
    """Two bodies (indices) whose rates bound each other: `above` must not turn too slowly beside `below`.

    least: target value of T[above]/T[below] at the upper edge of the ranges, high[above] / low[below];
    caps: the own greatest errors of both as fractions, the overall limit counted in.
    """

    above: int
    below: int
    least: Fraction
    cap_above: Fraction
    cap_below: Fraction

    def square(self, ratio: Fraction) -> Fraction | None:
        """(1 + E)**2 for the least E that allows T[above]/T[below] = ratio, or None where a cap forbids it."""
        q = ratio / self.least
        if q <= 1:
            return Fraction(1)
        small, large = sorted((self.cap_above, self.cap_below))
        if q <= (1 + small) ** 2:
            return q
        need = q / (1 + small)
        return None if need > 1 + large else need * need

    def factor(self, error: float) -> float:
        """(1 + min(E, cap)) of both bodies multiplied, for the float E: what q may reach."""
        return (1 + min(error, float(self.cap_above))) * (1 + min(error, float(self.cap_below)))


def effective_caps(design: Design) -> tuple[Fraction, ...]:
    """Each body's cap, the overall limit included; 0 for a first body that is the reference."""
    overall = design.limits.max_error
    caps = [overall if body.cap is None else min(body.cap, overall) for body in design.bodies]
    if design.reference == "first":
        caps[0] = Fraction(0)
    return tuple(caps)


def pairs(design: Design) -> tuple[Pair, ...]:
    """Every pair of bodies that bounds the error; with a first reference only those with the first body."""
    caps = effective_caps(design)
    found = []
    for above, outer in enumerate(design.bodies):
        for below, inner in enumerate(design.bodies):
            if above != below and (design.reference == "best" or 0 in (above, below)):
                found.append(Pair(above, below, outer.high / inner.low, caps[above], caps[below]))
    return tuple(found)


def ring_ratios(train: Train) -> tuple[Fraction, ...]:
    """Period of each ring over that of ring 0, exact."""
    ratios = [Fraction(1)]
    for index, link in enumerate(train.links):
        step = Fraction(link.wheel * train.rings[index + 1], train.rings[index] * link.pinion)
        ratios.append(ratios[-1] * step)
    return tuple(ratios)


def sense_allowed(body: Body, reverse: bool) -> bool:
    """Whether the body may turn that way relative to ring 0."""
    return body.sense == "either" or (body.sense == "reverse") == reverse


def error_square(pair_list: tuple[Pair, ...], ratios: tuple[Fraction, ...], seats: tuple[int, ...]) -> Fraction | None:
    """(1 + worst error)**2 of a train with these ring ratios, or None where a cap forbids it."""
    worst = Fraction(1)
    for pair in pair_list:
        square = pair.square(ratios[seats[pair.above]] / ratios[seats[pair.below]])
        if square is None:
            return None
        worst = max(worst, square)
    return worst
