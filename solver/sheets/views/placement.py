"""The front view of the placement drawing: the model to scale, everything with its name and coordinates."""

from __future__ import annotations

from math import hypot

import numpy as np
from numpy.typing import NDArray

from solver.design.design import Design
from solver.design.train import Train
from solver.sheets.draw.drawing import Drawing, Line, Point, Shape, Text, polar, together
from solver.sheets.draw.labels import Labels, call_out, half_size
from solver.sheets.draw.lettering import text_width, wrap
from solver.sheets.draw.marks import boxed
from solver.sheets.supports.frame import bars_beyond
from solver.sheets.supports.made import supports_made
from solver.sheets.views.gap import beside_model
from solver.sheets.views.model import Model
from solver.sheets.views.outlines import LETTERS, ROW, axis_told, frame_of, frame_told, holes_of, origin_marks, outlines
from solver.sheets.views.scales import usual_scales
from solver.sheets.views.spots import drilled, level_depths, origin_of
from solver.words.lengths import Lengths
from solver.words.numbers import decimal

ABOVE = 9.0  # the room above and below a view, for levels and what is told


def scale_for(design: Design, train: Train, room: Point) -> float:
    """The first usual scale, 1 : so much, at which the front view and the side view each have room [mm]."""
    model = Model(design, train)
    deep = level_depths(design, model.count)[1]
    names = max(text_width(name, LETTERS) for name in (*model.names.values(), "L00w")) + 30.0
    beyond = bars_beyond(design)
    wide, tall = model.view_half[0] + beyond, model.view_tall + beyond
    return next(
        scale
        for scale in usual_scales()
        if max(2 * wide / scale + 1.0, deep / scale + names) <= room[0] and 2 * tall / scale + 2 * ABOVE <= room[1]
    )


# -- from the front --------------------------------------------------------------------------------------------------


def front(design: Design, train: Train, scale: float, lengths: Lengths) -> Drawing:
    """The front view at 1 : scale; (0, 0) is the main axis. Arbors, third gears and the motor have their coordinates,
    and the main axis where they are not measured from it; rollers have their names. Of a frame that is far larger than
    the model only the edges near it are shown; `whole_frame` shows all of it."""
    model, holes, origin = Model(design, train), drilled(design, train), origin_of(design)
    plain = together("", outlines(model).without("ring"), holes_of(holes)).scaled(1 / scale)
    half = model.view_half[0] / scale, model.view_half[1] / scale
    labels = Labels((-half[0], -half[1], half[0], half[1]), LETTERS)
    for gear in model.gears:
        labels.gear((gear.spot[0] / scale, gear.spot[1] / scale), gear.tip / scale)
    for radius in model.radii:
        labels.circle((0.0, 0.0), radius / scale, 0.5)
    for hole in holes:
        labels.dot(
            (hole.at[0] / scale, hole.at[1] / scale),
            max((hole.diameter / 2 + max(hole.inward, hole.outward)) / scale, 1.0),
        )
    exact = 1 if lengths.unit == "mm" else 2
    if origin.at == (0.0, 0.0) or model.shows_all:
        x, y = origin.at[0] / scale, origin.at[1] / scale
        labels.take((x - 1.0, y - 1.0, x + 3.0, y + 14.0))
        labels.take((x - 1.0, y - 1.0, x + 14.0, y + 3.0))

    def told(at: Point) -> str:
        return ", ".join(lengths.bare(at[axis] - origin.at[axis], lengths.unit, exact) for axis in (0, 1))

    shapes: list[Shape] = []
    if origin.at != (0.0, 0.0):
        labels.dot((0.0, 0.0), 0.04 * model.envelope / scale)  # the cross that marks it
        shapes += call_out(labels, (0.0, 0.0), 0.0, "main axis", told((0.0, 0.0)), bold=True)
    shapes += _ring_numbers(labels, model, scale)
    for hole in sorted(holes, key=lambda one: one.what == "roller"):
        spot = hole.at[0] / scale, hole.at[1] / scale
        lines = [hole.name] if hole.what == "roller" else [hole.name, told(hole.at)]
        shapes += call_out(labels, spot, 0.0, *lines, bold=True)
    name = f"front view, 1 : {decimal(scale, 3)}"
    behind = beside_model(supports_made(design, train), scale) if model.shows_all else []
    return Drawing(name, (*behind, *plain.shapes, *shapes, *_edge(model, half, scale, lengths)))


def _ring_numbers(labels: Labels, model: Model, scale: float) -> list[Shape]:
    """The number of every ring on its pitch circle, where there is room between them, in one direction."""
    if model.gap / scale < 1.2 * LETTERS:
        return []
    size = np.array(half_size(["00"], LETTERS))

    def boxes(turn: float) -> NDArray[np.float64]:
        middles = np.array([polar(radius / scale, turn) for radius in model.radii])
        return np.hstack([middles - size, middles + size])

    def cost(turn: float) -> float:
        spots = [polar(radius / scale, turn) for radius in model.radii]
        gears = sum(hypot(x - gx, y - gy) < radius for x, y in spots for gx, gy, radius in labels.gears)
        return round(float(labels.covered(boxes(turn)).sum()) + 20 * gears, 6)

    shapes: list[Shape] = []
    for ring, box in enumerate(boxes(min(range(0, 360, 5), key=cost)).tolist()):
        labels.take(tuple(box))
        shapes += boxed(tuple(box), [str(ring)], LETTERS)
    return shapes


def _edge(model: Model, half: Point, scale: float, lengths: Lengths) -> list[Shape]:
    """As much of the frame as the view shows, and where coordinates are measured from, at the scale of the view."""
    design, shapes = model.design, list[Shape]()
    origin = origin_of(design)
    told = f"x and y, in {lengths.unit}, are measured from {origin.told}"
    if model.shows_all:
        shapes += Drawing("", tuple(frame_of(model))).scaled(1 / scale).shapes
        if shapes:
            above = half[1] + 1.8 + bars_beyond(design) / scale
            shapes.append(Text((half[0], above), frame_told(design, lengths), LETTERS, "end"))
    else:
        shapes += _near_edges(model, half, scale)
    if origin.at == (0.0, 0.0) or model.shows_all:
        shapes += origin_marks((origin.at[0] / scale, origin.at[1] / scale), model.free / scale)
    else:
        told += f", which this view does not show; the main axis is at {axis_told(design, lengths)}"
    below = -half[1] - 4.2 - bars_beyond(design) / scale
    for number, line in enumerate(wrap(told, 2 * half[0], LETTERS, 2)):
        shapes.append(Text((-half[0], below - ROW * number), line, LETTERS))
    return shapes


def _near_edges(model: Model, half: Point, scale: float) -> list[Shape]:
    """The edges of a far larger frame that run across the view."""
    size, frame = model.whole_frame, model.fit.frame
    if size is None or frame is None or frame.round:
        return []
    shapes: list[Shape] = []
    x, y = size[0] / scale, size[1] / scale
    if x <= half[0] + 1e-9:
        shapes += [Line((side, -half[1]), (side, half[1]), "frame") for side in (-x, x)]
    if y <= half[1] + 1e-9:
        shapes += [Line((-half[0], side), (half[0], side), "frame") for side in (-y, y)]
    return shapes
