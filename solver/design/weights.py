"""What bodies weigh, as the file says it or as they are taken to weigh."""

from __future__ import annotations

from fractions import Fraction

from solver.design.design import Design

USUAL_GRAMS = Fraction(20)  # of a body, unless told


def body_grams(design: Design, body: int) -> Fraction:
    """Weight [g] of a body by its index: as told, or 20 g."""
    return dict(design.weights or ()).get(design.bodies[body].name, USUAL_GRAMS)
