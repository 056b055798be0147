"""How fast the rings of a solution really turn, in exact arithmetic, and the unit of a design's periods."""

from __future__ import annotations

from fractions import Fraction

from solver.answer.common_time import common_time, unit_of
from solver.answer.document import RingAnswer, SolutionAnswer
from solver.design.design import Body, Design
from solver.files.body_sets import body_sets
from solver.sky.errors import SkyError
from solver.sky.paths import unit_days


def period_unit(design: Design) -> str:
    """ "days", "hours" or "years": the unit of the periods. Raises SkyError where nothing says it."""
    of_set = body_sets()[design.set_name].unit if design.set_name is not None else None
    unit = design.unit or of_set or unit_of(design.bodies)
    if unit is None:
        raise SkyError('the unit of the periods is not known: say bodies.unit = "days", "hours" or "years" in the file')
    return unit


def model_rates(design: Design, solution: SolutionAnswer) -> tuple[Fraction, ...]:
    """How fast each ring turns, blank rings too [degrees a day]: exact where the first body is the reference, else by
    the common rate to the digits that the answer has. Which way a ring turns beside ring 0 is its `sense`.

    Raises SkyError where the unit of the periods is not known.
    """
    turn = common_time(design, solution) * unit_days(period_unit(design))  # of ring 0
    return tuple(360 / (turn * Fraction(*ring.ratio)) for ring in solution.rings)


def body_rates(design: Design, solution: SolutionAnswer) -> tuple[Fraction, ...]:
    """How fast the ring of each body of the design turns the way that its body goes [degrees a day], negative where it
    turns against it. Exactness, and what is raised, as of `model_rates`."""
    riding = [
        (ring, rate) for ring, rate in zip(solution.rings, model_rates(design, solution), strict=True) if not ring.blank
    ]
    return tuple(
        -rate if against(design, body, ring) else rate
        for body, (ring, rate) in zip(design.bodies, riding, strict=True)
    )  # fmt: skip


def against(design: Design, body: Body, ring: RingAnswer) -> bool:
    """Whether a ring turns against its body. All bodies of a set go round one way; an own body goes as ring 0 does,
    unless the file says "reverse" of it."""
    own_reverse = body.sense == "reverse" and not of_set(design, body)
    return (ring.sense == "reverse") != own_reverse


def of_set(design: Design, body: Body) -> bool:
    """Whether a body, with its period, is one of the design's set."""
    return design.set_name is not None and (body.name, body.low) in body_sets()[design.set_name].periods
