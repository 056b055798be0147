"""Remarks on an answer: the speed that gives the wished time, and why no third gear is used, said only where proven."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from commands import two_bodies

from solver import parse_design, solve
from solver.answer.document import Status
from solver.answer.remarks import unused_thirds, wished_rpm
from solver.cli.numbers import rpm_text
from solver.cli.tables import drive_text
from solver.design.links import KINDS

MOTOR = "[drive]\nmotor_rpm = 2\nthird_gears = 1\nturn = {{body = '{body}', seconds = {seconds}}}\n"


def driven(body: str, seconds: str):
    design = parse_design(two_bodies("Two", "In", "Out") + MOTOR.format(body=body, seconds=seconds))
    return design, solve(design).solutions[0]


@pytest.mark.parametrize("body", ["In", "Out"])
@pytest.mark.parametrize("seconds", ["17", "40", '"61/3"'])
def test_the_speed_with_which_the_same_gears_give_the_wished_time(body, seconds):
    """Times are inversely as speeds: what the judge finds the body takes, at 2 rev/min, decides."""
    design, solution = driven(body, seconds)
    exact = wished_rpm(design, solution)
    wished = design.drive.turn[1]
    assert solution.drive.seconds is not None and exact is not None
    assert float(exact * wished) == pytest.approx(2 * solution.drive.seconds, rel=1e-12)
    assert f"which {rpm_text(exact)} would give" in drive_text(design, solution, solution.drive)
    right = parse_design(
        two_bodies("Two", "In", "Out") + MOTOR.format(body=body, seconds=seconds).replace("= 2", f'= "{exact}"', 1)
    )
    again = solve(right).solutions[0]
    if again.drive.pinion == solution.drive.pinion and again.drive.ring == solution.drive.ring:
        assert wished_rpm(right, again) is None and again.drive.seconds == pytest.approx(float(wished), rel=1e-12)
        assert "would give" not in drive_text(right, again, again.drive)


def test_a_speed_is_told_exactly():
    assert rpm_text(Fraction(5)) == "5 rev/min" and rpm_text(Fraction(33, 16)) == "2.0625 rev/min"
    assert rpm_text(Fraction(7, 3)) == "2.33333 rev/min (exactly 7/3)"


def thirds(most: int, sense: str = "same"):
    text = two_bodies("Two", "In", "Out").replace("[fit]", f"[arbors]\nthird_gears = {most}\n[fit]")
    design = parse_design(text.replace('period = "2.01"', f'period = "2.01"\nsense = "{sense}"'))
    return design, solve(design)


def test_one_third_gear_would_reverse_the_last_body():
    assert [kind.reverses for kind in KINDS] == [kind.thirds % 2 == 1 for kind in KINDS]
    told = unused_thirds(*thirds(1))
    assert told == 'no third gear is used: one alone would reverse Out, whose sense is to be "same"'
    assert unused_thirds(*thirds(0)) == ""


def test_no_other_cause_is_told_than_the_proof():
    design, answer = thirds(2)
    plain = answer.model_copy(update={"solutions": [s for s in answer.solutions if not any(k.thirds for k in s.links)]})
    assert plain.solutions
    assert unused_thirds(design, plain) == (
        "no third gear is used: proven that none of the trains with one comes before solution 1"
    )
    assert unused_thirds(design, plain.model_copy(update={"status": Status.FEASIBLE})) == ""
    assert unused_thirds(design, plain.model_copy(update={"solutions": []})) == ""
    reverse, used = thirds(1, "reverse")
    assert unused_thirds(reverse, used) == "" and used.solutions[0].links[0].thirds
    either = replace(design, arbors=replace(design.arbors, third_gears=1), bodies=(
        design.bodies[0], replace(design.bodies[1], sense="either")
    ))  # fmt: skip
    assert "would reverse" not in unused_thirds(either, plain)
