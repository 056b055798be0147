"""Hayes, American Scientist 88(2), 2000: what Brocot's table gives."""

from __future__ import annotations

import pytest

from solver import parse_design, solve


def test_an_approximation_that_needs_factors():
    """191/23 by small factors: 108/13."""
    text = """
[bodies]
list = [{name = "slow", period = 23}, {name = "fast", period = 191}]
[rings]
teeth = [13, 108]
[arbors]
wheel_teeth = [12, 18, 24]
pinion_teeth = [12, 18, 24]
reverted = false
"""
    best = solve(parse_design(text)).solutions[0]
    assert best.rings[1].ratio == (108, 13)
    assert best.worst_error_pct == pytest.approx((108 * 23 / (13 * 191) - 1) * 100, rel=1e-9)
