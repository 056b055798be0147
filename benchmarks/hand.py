"""The method of the workbench: choose each link's teeth from the inside outwards, one after the other."""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import replace
from fractions import Fraction

from solver.design.design import Design, Structure
from solver.design.kinematics import ring_ratios
from solver.design.links import KINDS
from solver.design.train import Link, Train
from solver.search.options.candidates import Candidate, Candidates


def gear_up(structure: Structure, design: Design, bench: Bench) -> Train | None:
    """The greedy gearing of a structure with plain links, or None where a link has no candidate.

    Each link takes the gears (and, where the next ring has choices, that ring) that bring the ring beyond it nearest
    to its body's period; a blank ring aims at the geometric middle between its neighbours. The first body is exact.
    Where ring 0 has choices, the best of them.
    """
    aims = _aims(design, structure)
    best: tuple[float, Train] | None = None
    for inner in structure.rings[0]:
        rings, links, period, worst = [inner], [], 0.0, 0.0
        for link in range(structure.links):
            nearest = min(
                (
                    (abs(period + step - aims[link + 1]), step, outer, one)
                    for outer in structure.rings[link + 1]
                    for step, one in bench.around(rings[-1], outer, aims[link + 1] - period)
                ),
                key=lambda found: found[0],
                default=None,
            )
            if nearest is None:
                break
            _, step, outer, one = nearest
            period += step
            rings.append(outer)
            links.append(Link(KINDS[0].name, one.wheel, one.pinion))
            worst = max(worst, abs(period - aims[link + 1])) if link + 1 in structure.seats else worst
        else:
            if best is None or worst < best[0]:
                best = worst, Train(tuple(rings), structure.seats, tuple(links))
    return None if best is None else best[1]


class Bench:
    """The plain gears between two rings, sorted by what they do to the logarithm of the period."""

    def __init__(self, design: Design) -> None:
        plain = replace(design.arbors, third_gears=0)
        self.candidates = Candidates(replace(design, arbors=plain))
        self._sorted: dict[tuple[int, int], tuple[list[float], list[Candidate]]] = {}

    def around(self, inner: int, outer: int, aim: float) -> list[tuple[float, Candidate]]:
        """The two steps next to the one wanted (logarithms), with their gears."""
        if (inner, outer) not in self._sorted:
            growing = outer > inner or not self.candidates.growing
            plain = [one for one in self.candidates.between(inner, outer) if one.kind == 0] if growing else []
            steps = sorted(((math.log(one.wheel * outer / (inner * one.pinion)), one) for one in plain), key=_step)
            self._sorted[inner, outer] = [step for step, _ in steps], [one for _, one in steps]
        steps_here, gears = self._sorted[inner, outer]
        at = bisect_left(steps_here, aim)
        return [(steps_here[i], gears[i]) for i in (at - 1, at) if 0 <= i < len(gears)]


def _step(item: tuple[float, Candidate]) -> float:
    return item[0]


def worst_error(design: Design, train: Train) -> Fraction:
    """Worst error of a train as a fraction, the first body exact."""
    ratios, first, worst = ring_ratios(train), design.bodies[0].low, Fraction(0)
    for body, place in zip(design.bodies, train.seats, strict=True):
        worst = max(worst, ratios[place] * first / body.high - 1, body.low / (ratios[place] * first) - 1)
    return worst


def best_by_hand(design: Design) -> Train | None:
    """The best of the greedy gearings of all structures."""
    bench = Bench(design)
    trains = [train for one in design.structures() if (train := gear_up(one, design, bench)) is not None]
    return min(trains, key=lambda train: worst_error(design, train), default=None)


def _aims(design: Design, structure: Structure) -> list[float]:
    """Logarithm of the period wanted at each ring, over that of the first body."""
    first = design.bodies[0].low
    known = {place: math.log(body.low / first) for place, body in zip(structure.seats, design.bodies, strict=True)}
    aims = []
    for ring in range(len(structure.rings)):
        before = max(place for place in known if place <= ring)
        after = min(place for place in known if place >= ring)
        share = (ring - before) / (after - before) if after > before else 0.0
        aims.append(known[before] * (1 - share) + known[after] * share)
    return aims
