"""What is worth saying of a solution beside its figures: which motor speed would give the wished time, and why a third
gear that was allowed is not used. Only what is proven is said."""

from __future__ import annotations

from fractions import Fraction

from solver.answer.document import Answer, SolutionAnswer, Status
from solver.design.design import Design


def wished_rpm(design: Design, solution: SolutionAnswer) -> Fraction | None:
    """The speed [rev/min] with which the same gears give the wished time exactly; None where no time is wished, or the
    drive gives it.

    The driven ring has Z teeth and the motor's pinion b, so that a turn of it takes 60 Z / (b rpm) seconds, and one
    of a body so much longer as its ratio is greater; a third gear changes nothing (kinematics of ordinary trains)."""
    drive = solution.drive
    if drive is None or drive.body is None or design.drive is None or design.drive.turn is None:
        return None
    _, seconds = design.drive.turn
    driven = solution.rings[drive.ring]
    (body,) = [ring for ring in solution.rings if not ring.blank and ring.name == drive.body]
    turns = Fraction(driven.teeth, drive.pinion) * Fraction(*body.ratio) / Fraction(*driven.ratio)  # of the motor
    exact = 60 * turns / seconds
    return None if exact == Fraction(drive.motor_rpm) else exact


def unused_thirds(design: Design, answer: Answer) -> str:
    """Why the best solution has no third gear though some are allowed; "" where it has one, or where nothing is proven.

    An odd number of them turns the last body, which rides on the outermost ring, against ring 0; an even number leaves
    its sense. What an odd number cannot be by the senses, and what is not the best by the proof, is said."""
    most = design.arbors.third_gears
    if not most or not answer.solutions or any(link.thirds for link in answer.solutions[0].links):
        return ""
    last = design.bodies[-1]
    if most == 1 and last.sense == "same":
        return f'no third gear is used: one alone would reverse {last.name}, whose sense is to be "same"'
    if answer.status is Status.OPTIMAL:
        return "no third gear is used: proven that none of the trains with one comes before solution 1"
    return ""
