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
_MANY, _ROUNDS = 20, 30  # callouts of a column, from which on it is worked out in a simpler way; its rounds at most
_OVER = 0.6  # a line that is nearer than this to another one's end runs over it


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
    edge = x - _GAP if right else x + _GAP
    for one, y in _uncrossed(callouts, edge, view):
        shapes += [Line((edge, y), one.at, "callout"), Circle(one.at, _DOT, "callout", 0.0)]
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
    """The callouts from below with their heights: by the height of their points, then of two whose lines cross one is
    moved past the other, or both are exchanged, while that leaves fewer that cross or run over another one's end."""
    order = sorted(callouts, key=lambda one: (one.at[1], one.at[0], one.lines))
    if len(order) > _MANY:
        return _exchanged(order, x, view)
    cost, heights, crossed = _placed(order, x, view)
    while crossed:
        tried = []
        for first, second in crossed:
            low, high, between = order[first], order[second], order[first + 1 : second]
            for middle in ((high, *between, low), (*between, high, low), (high, low, *between)):
                changed = [*order[:first], *middle, *order[second + 1 :]]
                tried.append((*_placed(changed, x, view), changed))
        best = min(tried, key=lambda one: one[0])
        if best[0] >= cost:
            break
        cost, heights, crossed, order = best
    return list(zip(order, heights, strict=True))


def _exchanged(order: list[Callout], x: float, view: Box) -> list[tuple[Callout, float]]:
    """The same for very many: those that cross are exchanged while any cross. Where all are of one height and keep
    their rows, each exchange makes all lines together shorter (of two that cross, both sides of a triangle are longer
    than the third), so that it ends with none; else all are placed anew after each round."""
    alike = len({one.high for one in order}) == 1

    def placed() -> list[float]:
        return places([one.at[1] for one in order], [one.high for one in order], view[1], view[3])

    heights, rounds, crossed = placed(), 0, True
    while crossed and (alike or rounds < _ROUNDS):
        rounds, crossed = rounds + 1, False
        for first, second in combinations(range(len(order)), 2):
            if _cross((order[first].at, (x, heights[first])), (order[second].at, (x, heights[second]))):
                order[first], order[second], crossed = order[second], order[first], True
        heights = heights if alike else placed()
    return list(zip(order, heights, strict=True))


_Crossed = list[tuple[int, int]]


def _placed(order: Sequence[Callout], x: float, view: Box) -> tuple[tuple[int, int, float], list[float], _Crossed]:
    """In this order: how many lines cross, how many run over the end of another, and how long all are together; the
    heights; and which pairs cross or run over each other."""
    heights = places([one.at[1] for one in order], [one.high for one in order], view[1], view[3])
    lines = [(one.at, (x, y)) for one, y in zip(order, heights, strict=True)]
    pairs = list(combinations(range(len(lines)), 2))
    crossed = [(one, other) for one, other in pairs if _cross(lines[one], lines[other])]
    over = [(one, other) for one, other in pairs if _runs_over(lines[one], lines[other])]
    long = sum(hypot(start[0] - end[0], start[1] - end[1]) for start, end in lines)
    return (len(crossed), len(over), round(long, 6)), heights, crossed + over


_Straight = tuple[Point, Point]  # from what it is about to the column


def _cross(one: _Straight, other: _Straight) -> bool:
    def side(line: _Straight, at: Point) -> float:
        (x0, y0), (x1, y1) = line
        return (x1 - x0) * (at[1] - y0) - (y1 - y0) * (at[0] - x0)

    return side(one, other[0]) * side(one, other[1]) < 0 and side(other, one[0]) * side(other, one[1]) < 0


def _runs_over(one: _Straight, other: _Straight) -> bool:
    """Whether one of two lines runs over the point that the other is about, which would be taken for its own."""
    apart = hypot(one[0][0] - other[0][0], one[0][1] - other[0][1])
    return apart > _OVER and (_off(one, other[0]) < _OVER or _off(other, one[0]) < _OVER)


def _off(line: _Straight, at: Point) -> float:
    """How far a point is from a line between two points."""
    (x0, y0), (x1, y1) = line
    long = (x1 - x0) ** 2 + (y1 - y0) ** 2
    part = min(max(((at[0] - x0) * (x1 - x0) + (at[1] - y0) * (y1 - y0)) / long, 0.0), 1.0) if long else 0.0
    return hypot(at[0] - x0 - part * (x1 - x0), at[1] - y0 - part * (y1 - y0))
