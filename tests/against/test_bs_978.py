"""BS 978-2: cycloidal teeth of clocks."""

from __future__ import annotations

import math

import pytest
from gears_drawn import sizes, spec

from solver.check.running_clock import clock_tooth
from solver.forms import FORMS
from solver.forms.cycloidal import addendum_factor


@pytest.mark.parametrize(
    ("leaves", "ratio", "factor"),
    [
        (6, 3, 1.259), (6, 8, 1.315), (6, 12, 1.328), (7, 3, 1.335), (8, 3, 1.403), (8, 12, 1.491), (10, 12, 1.626),
        (12, 8, 1.721), (16, 12, 1.940),
    ],
)  # fmt: skip
def test_addendum_factors_of_clock_wheels(leaves: int, ratio: int, factor: float) -> None:
    assert addendum_factor(leaves * ratio, leaves) == pytest.approx(factor, abs=0.0011)
    assert clock_tooth(leaves * ratio, (leaves,)).out == pytest.approx(factor, abs=0.0011)


def test_the_clock_wheel_is_drawn_with_its_addendum() -> None:
    shape = FORMS["cycloidal"].shape(sizes('form = "cycloidal"', "module = 2"), spec("ring", 18, "clock teeth", 6))
    # 18 teeth with 6 leaves, factor 1.259.
    assert shape.tip_radius_mm == pytest.approx(18 + 2 * 1.259, abs=0.003)
    assert max(math.hypot(*point) for point in shape.outline[0]) == pytest.approx(shape.tip_radius_mm, abs=1e-6)
    assert min(math.hypot(*point) for point in shape.outline[0]) == pytest.approx(shape.root_radius_mm, abs=1e-6)
    width = next(y for x, y in shape.outline[0] if abs(math.hypot(x, y) - 18) < 1e-6 and y > 0)
    assert 2 * 18 * math.asin(width / 18) == pytest.approx(math.pi, rel=1e-6)  # half the pitch of 2 pi


def test_few_leaves_and_low_ratios_are_said() -> None:
    form, given = FORMS["cycloidal"], sizes('form = "cycloidal"')
    # Least leaves 6.
    five = form.pair(given, spec("ring", 50, "clock teeth"), spec("gear", 5, "clock teeth"))
    assert [(r.runs, "at least 6" in r.text) for r in five.remarks] == [(False, True)]
    low = form.pair(given, spec("ring", 30, "clock teeth"), spec("gear", 18, "clock teeth"))
    assert any("1.67" in remark.text for remark in low.remarks)
    clock = form.pair(given, spec("ring", 96, "clock teeth"), spec("gear", 16, "clock teeth"))
    assert clock.remarks == ()
