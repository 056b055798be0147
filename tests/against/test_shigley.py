"""Shigley, Mechanical Engineering Design."""

from __future__ import annotations

from fractions import Fraction

from trains import design_for, ratio_of, train

from solver import Link, judge
from solver.forms.involute import least_teeth


def test_a_reverted_train_of_thirty_to_one():
    # From memory: 108/18 and 105/21.
    assert ratio_of((18, 105), Link("plain", 108, 21)) == Fraction(30)


def test_the_handbook_reverted_train_has_equal_centre_distances():
    # From memory: 108/18 and 105/21 for 30:1.
    rings = (18, 105)
    design = design_for(rings, reverted=True)
    rules = {violation.rule for violation in judge(design, train(rings, Link("plain", 108, 21))).violations}
    assert "reverted" not in rules
    rules = {violation.rule for violation in judge(design, train(rings, Link("plain", 108, 20))).violations}
    assert "reverted" in rules


def test_least_teeth_with_a_gear() -> None:
    # From memory: 16 teeth work with at most 101, 15 with 45, 14 with 26, 13
    # with 16.
    for pinion, most in ((13, 16), (14, 26), (15, 45), (16, 101)):
        assert least_teeth(most) == pinion and least_teeth(most + 1) == pinion + 1
