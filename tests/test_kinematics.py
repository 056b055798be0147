"""Exact kinematics: third gears, blanks, errors."""

from __future__ import annotations

from fractions import Fraction

import pytest
from trains import design_for, train

from solver import Link, Train, judge, parse_design


@pytest.mark.parametrize(
    ("kinds", "reverse"),
    [
        # Counting meshes, each of which reverses (common practice, no source): 2, 3, 3 and 4 of them.
        (("plain",), (False, False)),
        (("third-wheel",), (False, True)),
        (("third-pinion",), (False, True)),
        (("third-both",), (False, False)),
        (("third-wheel", "plain", "third-pinion"), (False, True, True, False)),
    ],
)
def test_every_third_gear_turns_all_rings_beyond_it(kinds, reverse):
    thirds = {"plain": (), "third-wheel": (9,), "third-pinion": (9,), "third-both": (9, 11)}
    rings = tuple(30 + 4 * i for i in range(len(kinds) + 1))
    one = train(rings, *(Link(kind, 12, 8, thirds[kind]) for kind in kinds))
    verdict = judge(design_for(rings), one)
    assert tuple(ring.reverse for ring in verdict.rings) == reverse
    # A third gear never changes the ratio.
    assert verdict.rings[1].ratio == Fraction(12 * rings[1], rings[0] * 8)


def test_blanks_take_part_in_the_product_and_not_in_the_error():
    design = parse_design(
        """
[bodies]
list = [{name = "a", period = 1}, {name = "b", period = 4}]
[rings]
inner_teeth = 24
tooth_step = 6
blanks = 1
"""
    )
    one = Train((24, 30, 36), (0, 2), (Link("plain", 13, 7), Link("plain", 14, 8)))
    verdict = judge(design, one)
    assert verdict.rings[1].body is None and verdict.rings[1].error is None
    assert verdict.rings[2].ratio == Fraction(13 * 36 * 14, 24 * 7 * 8)
    assert verdict.worst_error == verdict.rings[2].error


def test_the_free_rate_halves_the_spread():
    text = """
[bodies]
reference = "{}"
list = [{{name = "a", period = 10}}, {{name = "b", period = 20}}, {{name = "c", period = 40}}]
[rings]
teeth = [24, 30, 36]
[arbors]
wheel_teeth = {{min = 3, max = 90}}
pinion_teeth = {{min = 3, max = 90}}
"""
    one = Train((24, 30, 36), (0, 1, 2), (Link("plain", 16, 10), Link("plain", 18, 12)))
    # m/t: 1, (16*30/(24*10))/2 = 1, (that * 18*36/(30*12))/4 = 3.6/4 = 0.9
    first = judge(parse_design(text.format("first")), one)
    best = judge(parse_design(text.format("best")), one)
    assert first.error_square == Fraction(10, 9) ** 2
    assert best.error_square == Fraction(10, 9)  # sqrt(max/min) - 1, squared: the definition
    assert best.rings[0].error == pytest.approx(best.worst_error, rel=1e-12)
    assert best.rings[2].error == pytest.approx(best.worst_error, rel=1e-12)


def test_own_caps_move_the_free_rate():
    """The common rate is then the best that keeps every body within its cap: not the middle any more."""
    text = """
[bodies]
reference = "best"
list = [{name = "a", period = 10, max_error_pct = 1}, {name = "b", period = 20}, {name = "c", period = 40}]
[rings]
teeth = [24, 30, 36]
[arbors]
wheel_teeth = {min = 3, max = 90}
pinion_teeth = {min = 3, max = 90}
"""
    one = Train((24, 30, 36), (0, 1, 2), (Link("plain", 16, 10), Link("plain", 18, 12)))
    verdict = judge(parse_design(text), one)
    assert verdict.error_square == (Fraction(10, 9) / Fraction(101, 100)) ** 2
    assert verdict.rings[0].error == pytest.approx(0.01, rel=1e-12)


def test_inside_a_range_there_is_no_error_and_outside_the_nearer_end_counts():
    text = """
[bodies]
list = [{name = "a", period = 1}, {name = "b", period_range = ["2", "2.4"]}]
[rings]
inner_teeth = 24
tooth_step = 6
"""
    design = parse_design(text)
    inside = judge(design, Train((24, 30), (0, 1), (Link("plain", 14, 8),)))  # 2.1875
    assert inside.error_square == 1 and inside.rings[1].period_error == 0
    above = judge(design, Train((24, 30), (0, 1), (Link("plain", 12, 6),)))  # 2.5
    assert above.rings[1].error == pytest.approx(2.5 / 2.4 - 1)
    below = judge(design, Train((24, 30), (0, 1), (Link("plain", 18, 12),)))  # 1.875
    assert below.rings[1].error == pytest.approx(2 / 1.875 - 1)
    assert below.rings[1].period_error == pytest.approx(1.875 / 2 - 1)
