"""Names beside what is drilled, 1:1: each at its hole, or farther away with a line to it where there is no room."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import product
from math import cos, hypot, pi, sin

from solver.sheets.draw.drawing import Box, Line, Point, Shape, Text, box_of
from solver.sheets.draw.lettering import CAP_HEIGHT, text_width
from solver.sheets.draw.marks import cross
from solver.sheets.views.spots import Drilled

NAME = 3.0  # size of the letters
_ARM = 1.5  # how far the cross of a hole reaches beyond it
_GAP = 1.0  # between a hole and its name
_CLEAR = 0.4  # between a name and all else
_TURNS = 24  # directions in which a name may stand farther away
_STEP, _STEPS = 2.5, 60  # how much farther at a time, and how often


def named_holes(holes: Sequence[Drilled], taken: Iterable[Box] = ()) -> list[Shape]:
    """The middle of every hole and its name [mm]. No name lies on another, on a hole, on its slot or on what is taken,
    as long as there is such a place within 150 mm; a name that does not stand at its hole has a line to it."""
    crosses = [shape for hole in holes for shape in cross(hole.at, hole.diameter / 2 + _ARM, "hole-marks")]
    spots, free = [_around(hole) for hole in holes], [*taken]
    names: list[Shape] = []
    leaders: list[tuple[Point, Point]] = []
    for number, hole in enumerate(holes):
        others = [*spots[:number], *spots[number + 1 :], *free]
        at, end = next(_places(hole, spots[number], others, leaders))
        half = text_width(hole.name, NAME) / 2
        name = Text((at[0] - half, at[1] - CAP_HEIGHT / 2 * NAME), hole.name, NAME, bold=True)
        free.append(box_of(name))
        names.append(name)
        if end is not None:
            leaders.append((hole.at, end))
            names.append(Line(hole.at, end, "leader"))
    return [*crosses, *names]


def _around(hole: Drilled) -> Box:
    """What a hole, its slot and its cross take."""
    far = hole.diameter / 2 + max(_ARM, hole.inward, hole.outward)
    (x, y) = hole.at
    return x - far, y - far, x + far, y + far


def _places(
    hole: Drilled, own: Box, others: Sequence[Box], leaders: Sequence[tuple[Point, Point]]
) -> Iterator[tuple[Point, Point | None]]:
    """Where the middle of a name has room, best first, and where the line to it ends; at last one without."""
    wide, tall = text_width(hole.name, NAME) / 2, 0.525 * NAME
    (x, y), far = hole.at, (own[2] - own[0]) / 2
    right, above = far + _GAP + wide, far + _GAP + tall
    beside = ((right, 0.0), (-right, 0.0), (0.0, above), (0.0, -above), *product((right, -right), (tall, -tall)))
    for dx, dy in beside:
        if _free((x + dx, y + dy), wide, tall, others, leaders):
            yield (x + dx, y + dy), None
    for step in range(1, _STEPS + 1):
        for turn in range(_TURNS):
            angle = pi / 4 + 2 * pi * turn / _TURNS
            along = cos(angle), sin(angle)
            out = far + step * _STEP
            at = x + along[0] * (out + wide), y + along[1] * (out + tall)
            end = min(max(x, at[0] - wide), at[0] + wide), min(max(y, at[1] - tall), at[1] + tall)
            if _free(at, wide, tall, others, leaders) and not _crossed(hole.at, end, others, leaders):
                yield at, end
    yield (x + right, y), None


def _free(at: Point, wide: float, tall: float, others: Sequence[Box], leaders: Sequence[tuple[Point, Point]]) -> bool:
    box = at[0] - wide - _CLEAR, at[1] - tall - _CLEAR, at[0] + wide + _CLEAR, at[1] + tall + _CLEAR
    if any(box[0] < one[2] and box[2] > one[0] and box[1] < one[3] and box[3] > one[1] for one in others):
        return False
    return not any(_meets(start, end, box) for start, end in leaders)


def _crossed(start: Point, end: Point, others: Sequence[Box], leaders: Sequence[tuple[Point, Point]]) -> bool:
    """Whether a line to a name would run over something else, or over another such line."""
    return any(_meets(start, end, box) for box in others) or any(
        _side(start, end, one) * _side(start, end, two) < 0 and _side(one, two, start) * _side(one, two, end) < 0
        for one, two in leaders
    )


def _meets(start: Point, end: Point, box: Box) -> bool:
    """Whether any point of a line is in a box, tried every half millimetre."""
    steps = max(1, round(2 * hypot(end[0] - start[0], end[1] - start[1])))
    return any(
        box[0] < start[0] + part * (end[0] - start[0]) < box[2]
        and box[1] < start[1] + part * (end[1] - start[1]) < box[3]
        for part in (step / steps for step in range(steps + 1))
    )


def _side(start: Point, end: Point, at: Point) -> float:
    return (end[0] - start[0]) * (at[1] - start[1]) - (end[1] - start[1]) * (at[0] - start[0])
