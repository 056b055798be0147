"""Placement where nothing is left out: the model in a frame that is far larger, and everything 1:1 for drilling and for
programs that draw."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from solver.design.design import Design
from solver.design.train import Train
from solver.sheets.draw.drawing import Drawing, Line, Point, Polyline, Shape, Text, box_of, together
from solver.sheets.draw.lettering import text_width, wrap
from solver.sheets.draw.marks import cross
from solver.sheets.supports.made import supports_made
from solver.sheets.views.gap import beside_model
from solver.sheets.views.hole_names import NAME, named_holes
from solver.sheets.views.model import Model
from solver.sheets.views.outlines import LETTERS, ROW, axis_told, frame_of, frame_told, holes_of, origin_marks, outlines
from solver.sheets.views.scales import usual_scales
from solver.sheets.views.spots import Drilled, drilled, origin_of
from solver.words.lengths import Lengths
from solver.words.numbers import decimal

_AROUND = 8.0  # the room above and below for what is told [mm of the paper]
_BELOW = 4.5  # from a line of text beside the main axis to the next [mm of the paper]
_LEAST = 10.0  # how far from the frame's edge the main axis is where its distance is told beside the line


def whole_frame_scale(design: Design, train: Train, room: Point) -> float | None:
    """The first usual scale, 1 : so much, at which the whole frame has room [mm]; None where views show it."""
    model = Model(design, train)
    size = model.whole_frame
    if size is None or model.shows_all:
        return None
    free = room[0] - 1.0, room[1] - 2 * _AROUND
    return next(s for s in usual_scales() if 2 * size[0] / s <= free[0] and 2 * size[1] / s <= free[1])


def whole_frame(design: Design, train: Train, scale: float, lengths: Lengths) -> Drawing:
    """The model in its frame at 1 : scale, without names; (0, 0) is the main axis, whose distances from where
    coordinates are measured are told."""
    origin, model = origin_of(design), Model(design, train)
    size = model.whole_frame
    assert size is not None
    shown = together("", outlines(model), Drawing("", tuple(frame_of(model)))).scaled(1 / scale)
    (x, y), half = (side / scale for side in origin.at), (size[0] / scale, size[1] / scale)
    shapes: list[Shape] = list(origin_marks((x, y), model.free / scale))
    told = f"x and y, in {lengths.unit}, are measured from {origin.told}"
    if origin.at != (0.0, 0.0):
        told += f"; the main axis is at {axis_told(design, lengths)}"
        shapes += [Line((x, 0.0), (0.0, 0.0), "level"), Line((0.0, y), (0.0, 0.0), "level")]
        if min(-x, -y) > _LEAST:
            shapes.append(Text((x + 1.5, 1.0), f"x = {lengths.text(-origin.at[0])}", LETTERS))
            shapes.append(Text((1.0, y + 1.5), f"y = {lengths.text(-origin.at[1])}", LETTERS))
    shapes.append(Text((half[0], half[1] + 1.8), frame_told(design, lengths), LETTERS, "end"))
    lines = wrap(told, max(2 * half[0], 120.0), LETTERS, 2)
    shapes += [Text((-half[0], -half[1] - 4.2 - ROW * number), line, LETTERS) for number, line in enumerate(lines)]
    return Drawing(f"the model in its frame, 1 : {decimal(scale, 3)}", (*shown.shapes, *shapes))


# -- 1:1 -------------------------------------------------------------------------------------------------------------


def drilling_template(design: Design, train: Train, lengths: Lengths) -> Drawing:
    """Everything that is drilled, 1:1 and named, seen from the front, with the main axis and, where it is not far
    larger than the model, the frame; (0, 0) is the main axis."""
    model = Model(design, train)
    return _drilling(model, lengths, model.shows_all)


def model_outline(design: Design, train: Train) -> Drawing:
    """The front view 1:1 with all circles, for programs that draw: the frame, rings, gears, rollers, holes, slots, bars
    and arms by layer. (0, 0) is where coordinates are measured from, as in the drilling table."""
    at, model = origin_of(design).at, Model(design, train)
    held = Drawing("", tuple(beside_model(supports_made(design, train), 1.0)))
    whole = together("placement", outlines(model), _drilling(model, Lengths("mm"), True), held)
    return whole.moved(-at[0], -at[1])


def _drilling(model: Model, lengths: Lengths, framed: bool) -> Drawing:
    origin, holes = origin_of(model.design), drilled(model.design, model.train)
    frame = frame_of(model) if framed else []
    shapes: list[Shape] = [*holes_of(holes).shapes, *frame, *cross((0.0, 0.0), 10.0, "centre")]
    told = f"x and y, in {lengths.unit}, are measured from {origin.told}"
    texts: list[Shape] = []
    x, y = origin.at
    if (x, y) == (0.0, 0.0):
        lines = ["main axis", *wrap(told, 48.0, NAME, 4)]
    else:
        lines = ["main axis", f"x = {lengths.text(-x)}", f"y = {lengths.text(-y)}", f"from {origin.told}"]
        if framed:
            texts += [*origin_marks((x, y)), Text((x + 18.0, y + 2.0), told, NAME)]
    texts += _at_the_axis(lines, holes)
    edges = [Line(a, b, "frame") for one in frame if isinstance(one, Polyline) for a, b in pairwise(one.points)]
    taken = [(-10.0, -0.2, 10.0, 0.2), (-0.2, -10.0, 0.2, 10.0), *map(box_of, (*texts, *edges))]
    return Drawing("drilling", (*shapes, *texts, *named_holes(holes, taken)))


def _at_the_axis(lines: Sequence[str], holes: Sequence[Drilled]) -> list[Shape]:
    """Lines of text in the quarter around the main axis where they lie on the fewest holes."""
    wide, tall = max(text_width(line, NAME) for line in lines), _BELOW * len(lines)

    def over(corner: Point) -> int:
        return sum(
            corner[0] - 3.0 < hole.at[0] < corner[0] + wide + 3.0
            and corner[1] - 3.0 < hole.at[1] < corner[1] + tall + 3.0
            for hole in holes
        )

    corners = [(left, low) for left in (1.5, -1.5 - wide) for low in (-tall, 0.5)]
    left, low = min(corners, key=over)
    return [Text((left, low + tall - _BELOW * (number + 0.75)), line, NAME) for number, line in enumerate(lines)]
