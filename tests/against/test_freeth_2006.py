"""Freeth et al., Nature 444, 2006: trains of the Antikythera mechanism."""

from __future__ import annotations

from fractions import Fraction

from commands import CONFIGS
from trains import ratio_of

from solver import Link
from solver.check.audit_meshes import audit_meshes
from solver.files.train_file import load_train


def test_the_moons_train_as_rings():
    # 64/38 * 48/24 * 127/32
    assert ratio_of((38, 48, 127), Link("plain", 64, 24), Link("plain", 48, 32)) == Fraction(254, 19)


def test_the_draconic_train_as_rings():
    # 64/38 * 53/96 * 15/53
    assert ratio_of((38, 53, 15), Link("plain", 64, 96), Link("plain", 53, 53)) == Fraction(5, 19)


def test_the_antikythera_trains_are_exact():
    # 64/38 * 48/24 * 127/32 = 254/19 and 64/38 * 53/96 * 15/53 = 5/19.
    audit = audit_meshes(load_train(CONFIGS / "audit-antikythera-moon.toml"))
    turns = {one.name: one.turns for one in audit.arbors}
    # Three meshes in each: both turn against the main wheel.
    assert turns["Moon"] == -Fraction(254, 19) and turns["dial"] == -Fraction(5, 19)
    assert audit.sound and [claim.verdict for claim in audit.claims] == ["right", "right"]
    # Gears of 64, 38, 48, 24, 127, 32 and 53, 96, 15, 53 teeth.
    assert (audit.gears, audit.jigs, audit.teeth, audit.largest) == (10, 9, 550, 127)
