"""The model as it must look when it is set: rings as circles, each body in its place, its reading beside it."""

from __future__ import annotations

from collections.abc import Sequence

from solver.design.design import Design
from solver.design.train import Train
from solver.sheets.draw.drawing import Circle, Drawing, Line, Point, Polyline, Shape, Text, polar
from solver.sheets.draw.marks import arrow_head, cross, lettered
from solver.sheets.setting.dial import DialScale
from solver.sheets.setting.steps import read_at
from solver.sky.setting import TeethSetting

_RADIUS, _DOT = 58.0, 1.7  # of the largest ring, and of a body [mm]
_COLUMN, _APART, _SIZE = 72.0, 5.2, 3.0  # where names stand, how far apart, their letters


def overview(design: Design, train: Train, setting: TeethSetting, scale: DialScale) -> Drawing:
    """The model set, not to scale: rings as far apart as their pitch circles are."""
    factor = _RADIUS / max(train.rings)
    shapes: list[Shape] = [Circle((0.0, 0.0), factor * teeth, "ring") for teeth in train.rings]
    shapes += cross((0.0, 0.0), 2.0, "centre")
    zero = scale.angle(0.0)
    shapes += [
        Line((0.0, 0.0), polar(_RADIUS + 4.0, zero), "ray"),
        arrow_head(polar(_RADIUS + 1.0, zero), zero + 180, "sense-head"),
    ]
    shapes.append(_beyond("0", zero))
    spots = []
    for body in setting.bodies:
        at = polar(factor * train.rings[body.ring], float(body.stands * 360))
        shapes.append(Circle(at, _DOT, "dot", 0.0))
        spots.append((at, f"{body.name} {read_at(scale, body.stands)}"))
    for right in (False, True):
        shapes += _column([one for one in spots if (one[0][0] >= 0) == right], 1.0 if right else -1.0)
    return Drawing(f"{design.title}, set", tuple(shapes))


def _beyond(text: str, angle: float) -> Text:
    return lettered(polar(_RADIUS + 7.0, angle), text, _SIZE, "middle", True)


def _column(spots: Sequence[tuple[Point, str]], way: float) -> list[Shape]:
    """Names in a column beside the rings, as high as their bodies or as near to that as there is room, each with a line
    to its body."""
    ordered = sorted(spots, key=lambda one: -one[0][1])
    heights: list[float] = []
    for (_, high), _ in ordered:
        heights.append(min(high, heights[-1] - _APART) if heights else high)
    # Those that were pushed down come up again by half of what they were.
    over = (sum(ordered[i][0][1] - heights[i] for i in range(len(heights))) / len(heights)) if heights else 0.0
    shapes: list[Shape] = []
    for ((x, y), text), high in zip(ordered, heights, strict=True):
        at = way * _COLUMN, high + over
        shapes.append(Polyline(((x, y), (way * (_COLUMN - 5.0), at[1]), (at[0] - way, at[1])), "leader"))
        shapes.append(lettered(at, text, _SIZE, "start" if way > 0 else "end"))
    return shapes
