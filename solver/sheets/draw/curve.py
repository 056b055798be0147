"""A curve over an axis, as a drawing: what changes over one turn, say."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil, floor, log10

from solver.sheets.draw.drawing import Drawing, Line, Point, Polyline, Shape, Text
from solver.words.numbers import decimal

_POINTS = 1200  # of the line; of more the least and the greatest in each part are kept
_LETTERS = 2.6


def curve(
    name: str,
    xs: Sequence[float],
    ys: Sequence[float],
    told: tuple[str, str],
    marks: Sequence[tuple[float, str]] = (),
    size: Point = (150.0, 70.0),
) -> Drawing:
    """The curve through points (xs ascending) within `size` [mm]. told: what stands along x and along y. marks: heights
    at which a thin line says something. Raises ValueError for fewer than two points."""
    if len(xs) < 2:
        raise ValueError(f"{name}: a curve needs two points")
    wide, high = size
    heights = [*ys, 0.0, *(y for y, _ in marks)]
    low, top = min(heights), max(heights)
    low, top = (low, top) if top > low else (low, low + 1.0)
    left, right = xs[0], xs[-1]

    def at(x: float, y: float) -> Point:
        return (x - left) / (right - left) * wide, (y - low) / (top - low) * high

    shapes: list[Shape] = [Line(at(left, low), at(left, top), "rule"), Line(at(left, 0.0), at(right, 0.0), "rule")]
    for y in _ticks(low, top):
        x0, y0 = at(left, y)
        shapes += [Line((x0, y0), (x0 - 1.5, y0), "rule")]
        shapes += [Text((x0 - 2.0, y0 - 0.35 * _LETTERS), decimal(y, 6), _LETTERS, "end")]
    for x in _ticks(left, right):
        x0, y0 = at(x, low)
        shapes += [Line((x0, y0 - 1.0), (x0, y0 - 2.5), "rule")]
        shapes += [Text((x0, y0 - 3.0 - _LETTERS), decimal(x, 6), _LETTERS, "middle")]
    for y, word in marks:
        shapes += [Line(at(left, y), at(right, y), "axis")]
        shapes += [Text((wide, at(left, y)[1] + 0.8), word, _LETTERS, "end")]
    shapes.append(Polyline(tuple(at(x, y) for x, y in _thinned(xs, ys)), "outline"))
    shapes.append(Text((wide / 2, at(left, low)[1] - 10.0), told[0], _LETTERS, "middle"))
    shapes.append(Text((0.0, high + 3.0), told[1], _LETTERS))
    return Drawing(name, tuple(shapes))


def _thinned(xs: Sequence[float], ys: Sequence[float]) -> Iterator[Point]:
    """The points, of many the least and the greatest of each part in order."""
    each = max(1, ceil(2 * len(xs) / _POINTS))
    for first in range(0, len(xs), each):
        some = range(first, min(first + each, len(xs)))
        ends = {min(some, key=ys.__getitem__), max(some, key=ys.__getitem__)}
        yield from ((xs[index], ys[index]) for index in sorted(ends | {0 if first == 0 else some[0]}))
    if (len(xs) - 1) % each:
        yield xs[-1], ys[-1]


def _ticks(low: float, top: float) -> list[float]:
    """Round values from low to top, for four to eight of them or so."""
    step = 10.0 ** floor(log10((top - low) / 4))
    step *= next(factor for factor in (1, 2, 5, 10) if (top - low) / (step * factor) <= 8)
    return [index * step for index in range(ceil(low / step - 1e-9), floor(top / step + 1e-9) + 1)]
