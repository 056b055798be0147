"""Designs and trains of which kinematics alone matter."""

from __future__ import annotations

from fractions import Fraction

from solver import Design, Link, Train, judge, parse_design
from solver.design.kinematics import ring_ratios


def design_for(rings: tuple[int, ...], **arbors: object) -> Design:
    """A design that allows just about any train over these rings, so that only kinematics matter."""
    bodies = "\n".join(f'[[bodies.list]]\nname = "b{i}"\nperiod = {2 + i}' for i in range(len(rings)))
    reverted = str(arbors.get("reverted", False)).lower()
    return parse_design(
        f"""[bodies]
sense = "either"
{bodies}
[rings]
teeth = {[[z] for z in rings]}
[arbors]
wheel_teeth = {{min = 3, max = 900}}
pinion_teeth = {{min = 3, max = 900}}
third_gears = {arbors.get("third_gears", 4)}
third_teeth = {{min = 3, max = 900}}
reverted = {reverted}
[search]
max_error_pct = 1000
"""
    )


def train(rings: tuple[int, ...], *links: Link) -> Train:
    return Train(rings, tuple(range(len(rings))), links)


def ratio_of(rings: tuple[int, ...], *links: Link) -> Fraction:
    """Period of the outermost ring by that of the innermost; the judge must say the same."""
    one = train(rings, *links)
    ratio = ring_ratios(one)[-1]
    assert judge(design_for(rings), one).rings[-1].ratio == ratio
    return ratio
