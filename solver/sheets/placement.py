"""The placement drawing: the model from the front and from the side, to scale, everything with its name; and the same
1:1 for drilling."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import count
from math import cos, hypot, pi, sin

import numpy as np

from solver.design.design import Design
from solver.design.train import Train
from solver.sheets.drawing import (
    CAP_HEIGHT,
    Circle,
    Drawing,
    Line,
    Polyline,
    Shape,
    Text,
    cross,
    rect,
    slot,
    together,
)
from solver.sheets.labels import Labels, call_out, half_size
from solver.sheets.lengths import Lengths
from solver.sheets.parts import Gear, Model
from solver.sheets.spots import Drilled, drilled, level_depths, origin_of
from solver.sheets.svg import TEXT, Box, Point, decimal, text_width

SCALES = (1.0, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.5, 8.0, 10.0)
_LETTERS = 2.6  # size of the letters in the views
_AS_LABELS = TEXT / _LETTERS  # labels are placed as if letters had the size that `Labels` takes for granted
_THICK = 0.3  # of a level spacing, how thick gears and rings are drawn from the side
_ROW = 1.35 * _LETTERS
_ABOVE = 9.0  # the room above and below a view, for levels and corners


def model_of(design: Design, train: Train) -> Model:
    """What stands in the train [mm]. Raises ValueError for a train without places."""
    if train.placement is None:
        raise ValueError("a train without places cannot be drawn; the design needs fit.directions")
    return Model(design, train, train.placement)


def scale_for(design: Design, train: Train, room: Point) -> float:
    """The first usual scale, 1 : so much, at which the front view and the side view each have room [mm]."""
    model = model_of(design, train)
    deep = level_depths(design, model.count)[1]
    names = max(text_width(name, _LETTERS) for name in (*model.names.values(), "L00w")) + 30.0
    for tens in count():
        for step in SCALES:
            scale = step * 10.0**tens
            wide = max(2 * model.half[0] / scale + 1.0, deep / scale + names)
            if wide <= room[0] and 2 * model.tall / scale + 2 * _ABOVE <= room[1]:
                return scale
    raise AssertionError("scales have no end")


# -- from the front --------------------------------------------------------------------------------------------------


def front(design: Design, train: Train, scale: float, lengths: Lengths) -> Drawing:
    """The front view at 1 : scale; (0, 0) is the main axis. Arbors, third gears and the motor have their coordinates,
    rollers their names."""
    model, holes = model_of(design, train), drilled(design, train)
    plain = together("", _outlines(model).without("ring"), _drilling(holes, False)).scaled(1 / scale)
    half = model.half[0] / scale, model.half[1] / scale
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
    corner = _down((origin.at[0] / scale, origin.at[1] / scale))
    labels.take((corner[0] - 1.0, corner[1] - 14.0, corner[0] + 3.0, corner[1] + 1.0))
    labels.take((corner[0] - 1.0, corner[1] - 3.0, corner[0] + 14.0, corner[1] + 1.0))
    _ring_numbers(pen, labels, model, scale)
    for hole in sorted(holes, key=lambda one: one.what == "roller"):
        spot = _down((hole.at[0] / scale, hole.at[1] / scale))
        told = [lengths.bare(hole.at[axis] - origin.at[axis], lengths.unit, exact) for axis in (0, 1)]
        call_out(pen, labels, spot, 0.0, hole.name, *([] if hole.what == "roller" else [", ".join(told)]))
    name = f"front view, 1 : {decimal(scale, 3)}"
    return Drawing(name, (*plain.shapes, *pen.shapes, *_edge(design, model, half, lengths)))


def _ring_numbers(pen: _Marks, labels: Labels, model: Model, scale: float) -> None:
    """The number of every ring on its pitch circle, where there is room between them, in one direction."""
    if model.gap / scale < 1.2 * _LETTERS:
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
            at = (low[0] + high[0]) / 2, middle - CAP_HEIGHT / 2 * _LETTERS
            self.shapes.append(Text(at, line, _LETTERS, "middle", bold and number == 0))

    @staticmethod
    def _up(at: Point) -> Point:
        return at[0] / _AS_LABELS, -at[1] / _AS_LABELS


def _outlines(model: Model) -> Drawing:
    """Rings, gears and rollers by their circles, and the main axis [mm of the model]."""
    shapes: list[Shape] = []
    for radius in model.radii:
        shapes += [Circle((0.0, 0.0), radius, "pitch"), Circle((0.0, 0.0), radius + model.addendum, "ring")]
        if radius > model.rim:
            shapes.append(Circle((0.0, 0.0), radius - model.rim, "ring"))
    for gear in model.gears:
        shapes += [Circle(gear.spot, gear.tip, gear.style), Circle(gear.spot, gear.radius, "pitch")]
    shapes += [Circle(spot, model.roller, "roller") for _, spot in model.rollers()]
    return Drawing("", (*shapes, *cross((0.0, 0.0), 0.04 * model.envelope, "centre")))


def _drilling(holes: Sequence[Drilled], names: bool) -> Drawing:
    """A circle for every hole, its slot and its middle, 1:1; with names beside them or without."""
    shapes: list[Shape] = []
    for hole in holes:
        shapes.append(Circle(hole.at, hole.diameter / 2, f"drill-{hole.what}"))
        if hole.travel > 0:
            shapes += slot(hole.at, hole.slot_deg, hole.travel, hole.diameter, "slots")
        if names:
            shapes += cross(hole.at, hole.diameter / 2 + 1.5, "hole-marks")
            right = hole.at[0] + hole.slot_length / 2 + 1.0
            shapes.append(Text((right, hole.at[1] + 0.8), hole.name, 3.0, bold=True))
    return Drawing("", tuple(shapes))


def _edge(design: Design, model: Model, half: Point, lengths: Lengths) -> list[Shape]:
    """The frame and where coordinates are measured from, at the scale of the view."""
    shapes: list[Shape] = []
    frame = design.fit.frame
    if frame is not None and model.frame is not None:
        shapes.append(
            Circle((0.0, 0.0), half[0], "frame")
            if frame.round
            else rect((-half[0], -half[1], half[0], half[1]), "frame")
        )
    corner = (-half[0], -half[1]) if frame is not None and not frame.round else (0.0, 0.0)
    for end in ((corner[0] + 12.0, corner[1]), (corner[0], corner[1] + 12.0)):
        shapes += _arrow(corner, end)
    shapes.append(Text((corner[0] + 13.0, corner[1] + 1.0), "x", 3.2, bold=True))
    shapes.append(Text((corner[0] + 1.0, corner[1] + 13.0), "y", 3.2, bold=True))
    told = f"x and y from here: {origin_of(design).told}, {lengths.unit}"
    shapes.append(Text((-half[0], -half[1] - 4.2), told, _LETTERS))
    if frame is not None:
        size = [frame.width] if frame.shape != "rectangle" else [frame.width, frame.height]
        sides = " × ".join(lengths.text(float(side)) for side in size)
        word = {"square": "square frame", "round": "round frame Ø"}.get(frame.shape, "frame")
        shapes.append(Text((half[0], half[1] + 1.8), f"{word} {sides}", _LETTERS, "end"))
    return shapes


def _arrow(start: Point, end: Point) -> list[Shape]:
    long = hypot(end[0] - start[0], end[1] - start[1])
    along = (end[0] - start[0]) / long, (end[1] - start[1]) / long
    back = end[0] - 2.5 * along[0], end[1] - 2.5 * along[1]
    beside = -0.7 * along[1], 0.7 * along[0]
    head = (end, (back[0] + beside[0], back[1] + beside[1]), (back[0] - beside[0], back[1] - beside[1]))
    return [Line(start, end, "dimension"), Polyline(head, "dimension", True, 0.0)]


# -- from the side ---------------------------------------------------------------------------------------------------


def side(design: Design, train: Train, scale: float, lengths: Lengths) -> Drawing:
    """The side view at 1 : scale, seen from the left of the front view, so that heights agree with it: depth to the
    right, from the back on, where the plate is; (0, 0) is on the main axis. How
    thick gears are is not computed: they are drawn alike."""
    model, holes = model_of(design, train), drilled(design, train)
    depths, deep, _ = level_depths(design, model.count)
    half = model.tall
    shapes: list[Shape] = []
    for depth in depths:
        shapes.append(Line((depth, -half), (depth, half), "level"))
    frame = design.fit.frame
    if frame is not None and model.frame is not None:
        high = model.frame[1]
        shapes.append(rect((0.0, -high, deep, high), "frame"))
    shapes.append(Line((-0.05 * deep, 0.0), (1.05 * deep, 0.0), "axis"))
    if design.fit.plate != "none":
        shapes.append(rect((-0.03 * deep, -half, 0.0, half), "plate", 0.8))
    shapes += _edge_on(model, depths)
    for hole in holes:
        shapes += _rod(design, model, hole, depths)
    plain = Drawing("", tuple(shapes)).scaled(1 / scale)
    told = [*_level_names(depths, half / scale, scale), *_hole_names(design, holes, depths, scale, half / scale)]
    told += _body_names(design, model, depths, deep, scale)
    told.append(
        Text(
            (0.0, -half / scale - 7.4),
            f"depth of level 0: {lengths.text(depths[0])}, each further level {lengths.text(model.spacing)}",
            _LETTERS,
        )
    )
    return Drawing(f"side view, 1 : {decimal(scale, 3)}", (*plain.shapes, *told))


def _edge_on(model: Model, depths: Sequence[float]) -> list[Shape]:
    """Rings and gears as they look from the side: as high as their tips."""
    thick = _THICK * model.spacing
    shapes: list[Shape] = []
    for ring, radius in enumerate(model.radii):
        tip = radius + model.addendum
        shapes.append(rect((depths[ring] - thick / 2, -tip, depths[ring] + thick / 2, tip), "ring"))

    def slab(gear: Gear) -> Polyline:
        x, (_, y) = depths[gear.level], gear.spot
        return rect((x - thick / 2, y - gear.tip, x + thick / 2, y + gear.tip), gear.style)

    return [*shapes, *map(slab, model.gears)]


def _rod(design: Design, model: Model, hole: Drilled, depths: Sequence[float]) -> list[Shape]:
    """A post from the plate to its last level; without a plate the arbor alone. Arbors are drawn stronger."""
    ends = [depths[level] for level in hole.levels]
    over, y = 0.3 * model.spacing, hole.at[1]
    start = 0.0 if design.fit.plate != "none" else min(ends) - over
    shapes: list[Shape] = [Line((start, y), (max(ends) + over, y), "post")]
    if hole.what != "roller":
        shapes.append(Line((min(ends) - over, y), (max(ends) + over, y), "arbor"))
    return shapes


def _level_names(depths: Sequence[float], half: float, scale: float) -> list[Shape]:
    """The numbers of levels above and below, as many as there is room for; that of level 0 always."""
    step = abs(depths[1] - depths[0]) / scale if len(depths) > 1 else 99.0
    steps = (1, 2, 5, 10, 20, 50, 100)
    apart = text_width("00", _LETTERS) + 0.8
    every = next((every for every in steps if every * step > apart), len(depths))
    return [
        Text((depths[level] / scale, y), str(level), _LETTERS, "middle")
        for level in range(0, len(depths), every)
        for y in (half + 1.5, -half - 3.6)
    ]


def _hole_names(
    design: Design, holes: Sequence[Drilled], depths: Sequence[float], scale: float, half: float
) -> list[Shape]:
    """Names of what is drilled, in a column beside the plate, each with a line to its height."""
    wide = 0.03 * max(depths) / scale if design.fit.plate != "none" else 0.0
    ends = -wide - 1.0
    named = sorted(holes, key=lambda hole: hole.at[1])
    heights = [hole.at[1] / scale for hole in named]
    if len(named) * _ROW > 2 * half + 2 * _ABOVE:  # the table has them all
        named = [hole for hole in named if hole.what != "roller"]
        heights = [hole.at[1] / scale for hole in named]
    shapes: list[Shape] = []
    for hole, y, beside in zip(named, heights, _apart(heights), strict=True):
        shapes.append(Line((ends, y), (ends - 8.0, beside), "leader"))
        at = ends - 8.6, beside - CAP_HEIGHT / 2 * _LETTERS
        shapes.append(Text(at, hole.name, _LETTERS, "end", hole.what != "roller"))
    return shapes


def _body_names(design: Design, model: Model, depths: Sequence[float], deep: float, scale: float) -> list[Shape]:
    """Bodies at the ends of their stands, where they have some, on the side away from the plate; and their names.

    Bodies stand at the height of their ring's top, since they turn about the axis.
    """
    outer = design.fit.plate != "outer"
    towards = {"outer": outer, "inner": not outer, "none": True}[design.fit.stands]
    x = (deep if towards else 0.0) / scale + (3.0 if towards else -3.0)
    rings = sorted(model.bodies, key=model.stands_at)
    heights = [model.stands_at(ring) / scale for ring in rings]
    shapes: list[Shape] = []
    for ring, y, beside in zip(rings, heights, _apart(heights), strict=True):
        start = depths[ring] / scale
        if design.fit.stands != "none":
            shapes += [Line((start, y), (x, y), "post"), Circle((x, y), 0.9, "dimension", 0.0)]
        else:
            shapes.append(Circle((start, y), 0.9, "dimension", 0.0))
        if towards:
            shapes.append(Line((x + 1.0 if design.fit.stands != "none" else start, y), (x + 7.0, beside), "leader"))
            shapes.append(Text((x + 7.6, beside - CAP_HEIGHT / 2 * _LETTERS), model.names[ring], _LETTERS))
    return shapes


def _apart(heights: Sequence[float]) -> list[float]:
    """Ascending heights moved so that there is a row between neighbours, each near its own."""
    groups: list[tuple[float, int]] = []  # middle and how many
    for height in heights:
        groups.append((height, 1))
        while len(groups) > 1:
            (low, under), (high, over) = groups[-2:]
            if high - low >= (under + over) / 2 * _ROW:
                break
            groups[-2:] = [((low * under + high * over) / (under + over), under + over)]
    return [middle + (place - (many - 1) / 2) * _ROW for middle, many in groups for place in range(many)]


# -- 1:1 -------------------------------------------------------------------------------------------------------------


def drilling_template(design: Design, train: Train) -> Drawing:
    """Everything that is drilled, 1:1 and named, seen from the front, with the frame and the main axis."""
    model, frame = model_of(design, train), design.fit.frame
    shapes: list[Shape] = list(_drilling(drilled(design, train), True).shapes)
    if frame is not None and model.frame is not None:
        wide, high = model.frame
        shapes.append(Circle((0.0, 0.0), wide, "frame") if frame.round else rect((-wide, -high, wide, high), "frame"))
    shapes += cross((0.0, 0.0), 10.0, "centre")
    shapes.append(Text((1.5, 1.5), "main axis", 3.0))
    return Drawing("drilling", tuple(shapes))


def model_outline(design: Design, train: Train) -> Drawing:
    """The front view 1:1 with all circles, for programs that draw: rings, gears, rollers, holes and slots by layer."""
    return together("placement", _outlines(model_of(design, train)), drilling_template(design, train))
