"""How long one turn of ring 0 stands for, and in which unit of time."""

from __future__ import annotations

from fractions import Fraction
from math import sqrt

from solver.answer.document import RingAnswer, SolutionAnswer
from solver.design.design import Body, Design
from solver.files.body_sets import body_sets


def common_time(design: Design, solution: SolutionAnswer) -> Fraction:
    """How long one turn of ring 0 stands for, in the unit of the bodies' periods.

    That is the first body's period where it is the reference. A free common rate is irrational as a rule: it is read
    back from the body with the greatest error, to the 15 digits that the answer has.
    """
    if design.reference == "first":
        return design.bodies[0].low
    riders = list(zip(design.bodies, _with_bodies(solution), strict=True))
    body, ring = max(riders, key=lambda pair: abs(pair[1].period_error_pct or 0.0))
    told = Fraction(ring.period_error_pct or 0.0) / 100
    if told:
        edge = body.high if told > 0 else body.low
        return edge * (1 + told) / Fraction(*ring.ratio)
    least = max(body.low / Fraction(*ring.ratio) for body, ring in riders)
    most = min(body.high / Fraction(*ring.ratio) for body, ring in riders)
    return least if least == most else Fraction(sqrt(least * most))


def unit_of(bodies: tuple[Body, ...]) -> str | None:
    """The unit of the bodies' periods, known where one of them is a body of a set that ships (a list has one unit)."""
    known = {(name, period): one.unit for one in body_sets().values() for name, period in one.periods}
    units = {known.get((body.name, body.low)) for body in bodies if body.low == body.high} - {None}
    return units.pop() if len(units) == 1 else None


def _with_bodies(solution: SolutionAnswer) -> list[RingAnswer]:
    return [ring for ring in solution.rings if not ring.blank]
