"""The front view of the placement drawing: the model to scale, everything with its name and coordinates."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count
from math import cos, hypot, pi, sin

import numpy as np

from solver.design.design import Design
from solver.design.train import Train
from solver.sheets.draw.drawing import CAP_HEIGHT, Drawing, Line, Shape, Text, rect, together
from solver.sheets.draw.labels import Labels, call_out, half_size
from solver.sheets.draw.svg import TEXT, Box, Point, decimal, text_width, wrap
from solver.sheets.views.outlines import (
    LETTERS,
    ROW,
    axis_told,
    frame_of,
    frame_size,
    frame_told,
    holes_of,
    marks_long,
    model_of,
    origin_marks,
    outlines,
    shows_all,
    view_half,
    view_tall,
)
from solver.sheets.views.parts import Model
from solver.sheets.views.spots import drilled, level_depths, origin_of
from solver.words.lengths import Lengths

SCALES = (1.0, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.5, 8.0, 10.0)
ABOVE = 9.0  # the room above and below a view, for levels and what is told
_AS_LABELS = TEXT / LETTERS  # labels are placed as if letters had the size that `Labels` takes for granted


def scale_for(design: Design, train: Train, room: Point) -> float:
    """The first usual scale, 1 : so much, at which the front view and the side view each have room [mm]."""
    model = model_of(design, train)
    deep = level_depths(design, model.count)[1]
    names = max(text_width(name, LETTERS) for name in (*model.names.values(), "L00w")) + 30.0
    wide, tall = view_half(design, model)[0], view_tall(design, model)
    return next(
        scale
        for scale in usual_scales()
        if max(2 * wide / scale + 1.0, deep / scale + names) <= room[0] and 2 * tall / scale + 2 * ABOVE <= room[1]
    )


def usual_scales() -> Iterator[float]:
    """The scales, 1 : so much, at which drawings are made, without end."""
    for tens in count():
        yield from (step * 10.0**tens for step in SCALES)


# -- from the front --------------------------------------------------------------------------------------------------


def front(design: Design, train: Train, scale: float, lengths: Lengths) -> Drawing:
    """The front view at 1 : scale; (0, 0) is the main axis. Arbors, third gears and the motor have their coordinates,
    and the main axis where they are not measured from it; rollers have their names. Of a frame that is far larger than
    the model only the edges near it are shown; `whole_frame` shows all of it."""
    model, holes = model_of(design, train), drilled(design, train)
    plain = together("", outlines(model).without("ring"), holes_of(holes, False)).scaled(1 / scale)
    wide, high = view_half(design, model)
    half = wide / scale, high / scale
    labels = Labels((-_AS_LABELS * half[0], -_AS_LABELS * half[1], _AS_LABELS * half[0], _AS_LABELS * half[1]))
    for gear in model.gears:
        x, y = gear.spot
        labels.circle(_down((x / scale, y / scale)), _AS_LABELS * gear.tip / scale, 2.0)
        labels.gears.append((*_down((x / scale, y / scale)), _AS_LABELS * gear.tip / scale))
    for radius in model.radii:
        labels.circle((0.0, 0.0), _AS_LABELS * radius / scale, 0.5)
    for hole in holes:
        labels.dot(_down((hole.at[0] / scale, hole.at[1] / scale)), _AS_LABELS * max(hole.slot_length / scale / 2, 1.0))
    pen, origin = _Marks(), origin_of(design)
    exact = 1 if lengths.unit == "mm" else 2
    if origin.at == (0.0, 0.0) or shows_all(model):
        x, y = _down((origin.at[0] / scale, origin.at[1] / scale))
        labels.take((x - 1.0, y - 14.0, x + 3.0, y + 1.0))
        labels.take((x - 1.0, y - 3.0, x + 14.0, y + 1.0))

    def told(at: Point) -> str:
        return ", ".join(lengths.bare(at[axis] - origin.at[axis], lengths.unit, exact) for axis in (0, 1))

    if origin.at != (0.0, 0.0):
        labels.dot((0.0, 0.0), _AS_LABELS * 0.04 * model.envelope / scale)  # the cross that marks it
        call_out(pen, labels, (0.0, 0.0), 0.0, "main axis", told((0.0, 0.0)))
    _ring_numbers(pen, labels, model, scale)
    for hole in sorted(holes, key=lambda one: one.what == "roller"):
        spot = _down((hole.at[0] / scale, hole.at[1] / scale))
        call_out(pen, labels, spot, 0.0, hole.name, *([] if hole.what == "roller" else [told(hole.at)]))
    name = f"front view, 1 : {decimal(scale, 3)}"
    return Drawing(name, (*plain.shapes, *pen.shapes, *_edge(design, model, half, scale, lengths)))


def _ring_numbers(pen: _Marks, labels: Labels, model: Model, scale: float) -> None:
    """The number of every ring on its pitch circle, where there is room between them, in one direction."""
    if model.gap / scale < 1.2 * LETTERS:
        return
    best, spots = None, []
    size = half_size("00")
    for turn in (2 * pi * step / 72 for step in range(72)):
        middles = [
            (_AS_LABELS * radius / scale * cos(turn), -_AS_LABELS * radius / scale * sin(turn))
            for radius in model.radii
        ]
        boxes = np.array([(x - size[0], y - size[1], x + size[0], y + size[1]) for x, y in middles])
        gears = sum(hypot(x - gx, y - gy) < radius for x, y in middles for gx, gy, radius in labels.gears)
        cost = float(labels.covered(boxes).sum()) + 20 * gears
        if best is None or cost < best - 1e-6:
            best, spots = cost, middles
    for ring, (x, y) in enumerate(spots):
        box = (x - size[0], y - size[1], x + size[0], y + size[1])
        labels.take(box)
        pen.label(box, str(ring), bold=False)


def _down(at: Point) -> Point:
    """A point of a drawing as labels count: y downwards."""
    return at[0] * _AS_LABELS, -at[1] * _AS_LABELS


class _Marks:
    """Labels and the lines to them as shapes."""

    def __init__(self) -> None:
        self.shapes: list[Shape] = []

    def line(self, start: Point, end: Point, style: str) -> None:
        self.shapes.append(Line(self._up(start), self._up(end), "leader"))

    def label(self, box: Box, *lines: str, bold: bool = True) -> None:
        left, top, right, bottom = box
        low, high = self._up((left, bottom)), self._up((right, top))
        self.shapes.append(rect((*low, *high), "label", 1.0))
        each = (high[1] - low[1]) / len(lines)
        for number, line in enumerate(lines):
            middle = high[1] - (number + 0.5) * each
            at = (low[0] + high[0]) / 2, middle - CAP_HEIGHT / 2 * LETTERS
            self.shapes.append(Text(at, line, LETTERS, "middle", bold and number == 0))

    @staticmethod
    def _up(at: Point) -> Point:
        return at[0] / _AS_LABELS, -at[1] / _AS_LABELS


def _edge(design: Design, model: Model, half: Point, scale: float, lengths: Lengths) -> list[Shape]:
    """As much of the frame as the view shows, and where coordinates are measured from, at the scale of the view."""
    origin, shapes = origin_of(design), list[Shape]()
    told = f"x and y, in {lengths.unit}, are measured from {origin.told}"
    if shows_all(model):
        shapes += Drawing("", tuple(frame_of(design))).scaled(1 / scale).shapes
        if shapes:
            shapes.append(Text((half[0], half[1] + 1.8), frame_told(design, lengths), LETTERS, "end"))
    else:
        shapes += _near_edges(design, half, scale)
    if origin.at == (0.0, 0.0) or shows_all(model):
        shapes += origin_marks((origin.at[0] / scale, origin.at[1] / scale), marks_long(model, scale))
    else:
        told += f", which this view does not show; the main axis is at {axis_told(design, lengths)}"
    for number, line in enumerate(wrap(told, 2 * half[0], LETTERS, 2)):
        shapes.append(Text((-half[0], -half[1] - 4.2 - ROW * number), line, LETTERS))
    return shapes


def _near_edges(design: Design, half: Point, scale: float) -> list[Shape]:
    """The edges of a far larger frame that run across the view."""
    size, frame = frame_size(design), design.fit.frame
    if size is None or frame is None or frame.round:
        return []
    shapes: list[Shape] = []
    x, y = size[0] / scale, size[1] / scale
    if x <= half[0] + 1e-9:
        shapes += [Line((side, -half[1]), (side, half[1]), "frame") for side in (-x, x)]
    if y <= half[1] + 1e-9:
        shapes += [Line((-half[0], side), (half[0], side), "frame") for side in (-y, y)]
    return shapes
