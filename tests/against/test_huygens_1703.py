"""Huygens, Descriptio automati planetarii, 1703: planets, in turns a year."""

from __future__ import annotations

from fractions import Fraction

import pytest
from commands import CONFIGS
from trains import ratio_of

from solver import Link, parse_design, solve
from solver.check.audit_meshes import audit_meshes
from solver.files.train_file import load_train

PLANETS = {"Venus": (32, 52), "Mars": (158, 84), "Jupiter": (166, 14), "Saturn": (206, 7)}


@pytest.mark.parametrize("rings", PLANETS.values(), ids=PLANETS)
def test_a_planets_wheels_as_rings(rings):
    assert ratio_of(rings, Link("plain", 20, 20)) == Fraction(rings[1], rings[0])


def test_huygens_planets_are_exact():
    # Revolutions a year: Venus 52/32, Mars 84/158, Jupiter 14/166, Saturn 7/206.
    audit = audit_meshes(load_train(CONFIGS / "audit-huygens.toml"))
    turns = {one.name: abs(one.turns) for one in audit.arbors}
    assert turns["Venus"] == Fraction(52, 32) and turns["Mars"] == Fraction(84, 158)
    assert turns["Jupiter"] == Fraction(14, 166) and turns["Saturn"] == Fraction(7, 206)
    assert audit.sound and len(audit.claims) == 4
    # Saturn 10759.226739 days, the year 365.256363: mean sidereal, from the mean motions in ERFA plan94.
    assert audit.arbors[-1].slow == pytest.approx(206 / 7 * 365.256363 / 10759.226739 - 1)
    assert audit.arbors[-1].error == pytest.approx(10759.226739 / 365.256363 * 7 / 206 - 1)


def test_a_train_of_huygens_is_found_among_all():
    """Saturn's 206/7 turns: Huygens' convergent of 77708431/2640858."""
    text = """
[bodies]
list = [{name = "year", period = 1}, {name = "Saturn", period = "77708431/2640858"}]
[rings]
teeth = [7, 206]
[arbors]
wheel_teeth = {min = 12, max = 60}
pinion_teeth = {min = 12, max = 60}
reverted = false
"""
    best = solve(parse_design(text)).solutions[0]
    assert best.links[0].wheel == best.links[0].pinion
    assert best.rings[1].ratio == (206, 7)
