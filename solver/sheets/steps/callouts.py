"""Numbers in columns beside a view, each with a line to its part: no two numbers and no two lines of a column meet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import hypot

from solver.sheets.draw.drawing import Box, Circle, Line, Point, Shape
from solver.sheets.draw.lettering import text_width
from solver.sheets.draw.marks import lettered

LETTERS = 2.4  # of numbers [mm]
ROW, _APART = 1.25, 0.5  # from row to row, and more between callouts of several, in letters
_GAP = 0.7  # from a number to its line
_DOT = 0.4  # radius of the dot at the end of a line


@dataclass(frozen=True)
class Callout:
    """Lines of text, one below the other, and the point that they are about [mm of the paper]."""

    at: Point
    lines: tuple[str, ...]

    @property
    def high(self) -> float:
        """The height of its lines and a little between it and the next [mm]."""
        return (len(self.lines) * ROW + _APART * (len(self.lines) > 1)) * LETTERS


def split(callouts: Sequence[Callout], middle: float, high: float) -> tuple[list[Callout], list[Callout]]:
    """The callouts for the columns to the left and to the right of a view: what lies to the left of its middle goes
    left, but no column is higher than the view while the other one is lower."""
    ordered = sorted(callouts, key=lambda one: (one.at, one.lines))
    room = max(high, sum(one.high for one in ordered) / 2 + 2 * LETTERS)
    left = sum(one.at[0] < middle for one in ordered)
    while sum(one.high for one in ordered[:left]) > room:
        left -= 1
    while sum(one.high for one in ordered[left:]) > room:
        left += 1
    return ordered[:left], ordered[left:]


def column(callouts: Sequence[Callout], x: float, right: bool, view: Box) -> list[Shape]:
    """Callouts in one column that begins at x, to the right of a view, or ends there, to its left. Each stands near the
    height of its point and covers no other."""
    shapes: list[Shape] = []
    for one, y in _uncrossed(callouts, x, view):
        shapes += [Line((x - _GAP if right else x + _GAP, y), one.at, "callout"), Circle(one.at, _DOT, "callout", 0.0)]
        top = y + (len(one.lines) - 1) / 2 * ROW * LETTERS
        for number, line in enumerate(one.lines):
            at = x, top - number * ROW * LETTERS
            shapes.append(lettered(at, line, LETTERS, "start" if right else "end", True))
    return shapes


def width_of(callouts: Sequence[Callout]) -> float:
    """How wide a column for these is [mm]."""
    widths = (text_width(line, LETTERS) for one in callouts for line in one.lines)
    return 1.08 * max(widths, default=0.0)  # bold letters are wider


def places(wanted: Sequence[float], sizes: Sequence[float], low: float, high: float) -> list[float]:
    """Middles of things of these sizes, in this order, that do not overlap: between two bounds, and with the least sum
    of squares of how far each is from where it is wanted (isotonic regression: Barlow and others 1972, from memory).
    What has no room between the bounds stands about their middle."""
    centres, at = [], 0.0
    for size in sizes:
        centres.append(at + size / 2)
        at += size
    pools: list[tuple[float, int]] = []  # mean and how many
    for wish, centre in zip(wanted, centres, strict=True):
        pools.append((wish - centre, 1))
        while len(pools) > 1 and pools[-2][0] > pools[-1][0]:
            (one, few), (other, more) = pools[-2:]
            pools[-2:] = [((one * few + other * more) / (few + more), few + more)]
    free = [low, high - at] if at <= high - low else [(low + high - at) / 2] * 2
    moved = [min(max(mean, free[0]), free[1]) for mean, many in pools for _ in range(many)]
    return [centre + by for centre, by in zip(centres, moved, strict=True)]


def _uncrossed(callouts: Sequence[Callout], x: float, view: Box) -> list[tuple[Callout, float]]:
    """The callouts from below with their heights: by the height of their points, then exchanged in pairs while that
    makes their lines shorter in all. Of two lines that cross, both would be shorter exchanged."""
    order = sorted(callouts, key=lambda one: (one.at[1], one.at[0], one.lines))

    def placed(some: Sequence[Callout]) -> tuple[float, list[float]]:
        heights = places([one.at[1] for one in some], [one.high for one in some], view[1], view[3])
        return sum(hypot(one.at[0] - x, one.at[1] - y) for one, y in zip(some, heights, strict=True)), heights

    long, heights = placed(order)
    better = True
    while better:
        better = False
        for first, second in combinations(range(len(order)), 2):
            if not _cross((order[first].at, (x, heights[first])), (order[second].at, (x, heights[second]))):
                continue
            changed = list(order)
            changed[first], changed[second] = order[second], order[first]
            shorter, there = placed(changed)
            if shorter < long - 1e-9:
                order, long, heights, better = changed, shorter, there, True
    return list(zip(order, heights, strict=True))


def _cross(one: tuple[Point, Point], other: tuple[Point, Point]) -> bool:
    def side(line: tuple[Point, Point], at: Point) -> float:
        (x0, y0), (x1, y1) = line
        return (x1 - x0) * (at[1] - y0) - (y1 - y0) * (at[0] - x0)

    return side(one, other[0]) * side(one, other[1]) < 0 and side(other, one[0]) * side(other, one[1]) < 0
