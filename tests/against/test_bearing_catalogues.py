"""Against catalogues of ball bearings (CAT 2203/E, ch. 10.1): M = mu P d / 2, mu 0.0010 to 0.0015 about the bore."""

from __future__ import annotations

import pytest

from solver.design.loads import BEARINGS, ModelLoads
from solver.forces.friction import bearing_nmm


def test_a_608_under_20_newtons() -> None:
    """Bore 8 mm: 0.0015 * 20 * 8 / 2 = 0.12 N mm."""
    assert bearing_nmm(0.0015, 20.0, 8.0) == pytest.approx(0.12)


def test_ball_bearings_have_what_catalogues_say() -> None:
    assert 0.0010 <= float(BEARINGS["ball"]) <= 0.0015
    assert ModelLoads().bearing_friction == BEARINGS[ModelLoads().bearing]
