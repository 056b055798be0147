"""The method of the workbench: choose each link's teeth from the inside outwards, one after the other."""

from __future__ import annotations

from fractions import Fraction

from solver.design.design import Design, Structure
from solver.search.candidates import Candidates


def inside_out(design: Design, structure: Structure) -> Fraction | None:
    """Worst error as a fraction of the greedy gearing with plain links, or None where a link has no candidate.

    Each link takes the gears that bring the ring beyond it nearest to its body's period; a blank ring aims at the
    geometric middle between its neighbours. Rings have the first of their tooth counts; the first body is exact.
    """
    candidates = Candidates(design)
    rings = [choice[0] for choice in structure.rings]
    wanted = _aims(design, structure)
    ratio, worst = Fraction(1), Fraction(0)
    for link in range(structure.links):
        inner, outer = rings[link], rings[link + 1]
        plain = [one for one in candidates.between(inner, outer) if one.kind == 0]
        if not plain:
            return None
        steps = [ratio * Fraction(one.wheel * outer, inner * one.pinion) for one in plain]
        aim = wanted[link + 1]
        ratio = min(steps, key=lambda step: max(float(step) / aim, aim / float(step)))
        if link + 1 in structure.places:
            body = design.bodies[structure.places.index(link + 1)]
            target = body.low / design.bodies[0].low
            worst = max(worst, max(ratio / target, target / ratio) - 1)
    return worst


def _aims(design: Design, structure: Structure) -> list[float]:
    known = {
        place: float(body.low / design.bodies[0].low)
        for place, body in zip(structure.places, design.bodies, strict=True)
    }
    aims = []
    for ring in range(len(structure.rings)):
        before = max(place for place in known if place <= ring)
        after = min(place for place in known if place >= ring)
        share = (ring - before) / (after - before) if after > before else 0.0
        aims.append(known[before] ** (1 - share) * known[after] ** share)
    return aims
