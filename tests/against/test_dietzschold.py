"""Dietzschold, Die Räderwerke: the sidereal month."""

from __future__ import annotations

from fractions import Fraction

import pytest
from auditing import mesh, meshes
from trains import ratio_of

from solver import Link


def test_the_train_as_rings():
    assert ratio_of((9, 73), Link("plain", 64, 19)) == Fraction(64 * 73, 9 * 19)


def test_the_sidereal_month_in_days():
    # 64/9 * 73/19 = 27.3216374
    assert float(Fraction(64 * 73, 9 * 19)) == pytest.approx(27.3216374, abs=5e-8)


def test_an_audit_knows_the_last_digit():
    # Sidereal month in days: 64/9 * 73/19 = 27.3216374.
    train = "[train]\n" + mesh("month", "middle", 64, 9) + mesh("middle", "day", 73, 19)
    state = '[[train.states]]\nof = "day"\nper = "month"\nturns = "{}"\nsense = "same"\n'
    assert meshes(train + state.format("27.3216374")).sound
    assert [claim.verdict for claim in meshes(train + state.format("27.3216375")).claims] == ["wrong"]
