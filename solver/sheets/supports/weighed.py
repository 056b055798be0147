"""What frame and arms weigh and where their middles are, for the balance of masses."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import hypot, pi

from solver.sheets.gears.masses import Mass
from solver.sheets.supports.arms import BuiltArm
from solver.sheets.supports.frame import FrameBar
from solver.sheets.supports.made import SupportsMade


def weighed(made: SupportsMade | None) -> Iterator[tuple[str, Mass]]:
    """Every bar, arm and bush with its group, "frame" or "arms"; nothing where none are designed. An arm's wire is
    taken to lie on its middle line, and that of its eye, and its bush, where it holds."""
    if made is None:
        return
    for bar in made.frame.bars:
        for x, y, depth in _middles(made, bar):
            yield "frame", Mass(bar.what, bar.grams, x, y, depth)
    for arm in made.arms:
        depth = made.frame.depths[arm.held.gap]
        yield "arms", Mass(f"arm of {arm.held.name}", arm.grams, *_middle(arm), depth)
        if arm.bush is not None:
            yield "arms", Mass(f"bush of {arm.held.name}", arm.bush.grams, *arm.points[0], depth)


def _middles(made: SupportsMade, bar: FrameBar) -> Iterator[tuple[float, float, float]]:
    """x, y and depth of each of bars alike."""
    frame = made.frame
    back, front = frame.bar_depths[-1], frame.bar_depths[made.levels - 1]
    if bar.gap is not None:
        depth, x, y = frame.bar_depths[bar.gap], frame.wide_mm + frame.bar_mm / 2, frame.high_mm + frame.bar_mm / 2
        sides = {"top": (0.0, y), "bottom": (0.0, -y), "left": (-x, 0.0), "right": (x, 0.0)}
        for at in [sides[side] for side in bar.sides] or [(0.0, 0.0)]:
            yield (*at, depth)
        return
    behind = bar.length_mm / 2 / (pi if bar.thin else 1)  # half an eye to hang by, or half a foot
    depth = (back + front) / 2 if bar.what.startswith("member") else back - frame.bar_mm / 2 - behind
    for spot in bar.spots:
        yield (*spot, depth)


def _middle(arm: BuiltArm) -> tuple[float, float]:
    """The middle of an arm's wire from the front."""
    parts = [(hypot(d[0] - c[0], d[1] - c[1]), (c[0] + d[0]) / 2, (c[1] + d[1]) / 2) for c, d in pairwise(arm.points)]
    parts.append((max(arm.wire_mm - arm.line_mm, 0.0), *arm.points[0]))
    long = sum(part[0] for part in parts)
    return sum(far * x for far, x, _ in parts) / long, sum(far * y for far, _, y in parts) / long
