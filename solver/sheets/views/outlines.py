"""What the placement drawings have in common: circles of all that stands, holes and slots, the frame, and where
coordinates are measured from; in millimetres of the model, (0, 0) on the main axis."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot

from solver.design.design import Design
from solver.design.train import Train
from solver.sheets.draw.drawing import Circle, Drawing, Line, Polyline, Shape, Text, cross, rect, slot
from solver.sheets.draw.svg import Point
from solver.sheets.views.parts import FAR_FRAME, Model
from solver.sheets.views.spots import Drilled, origin_of
from solver.words.lengths import Lengths

LETTERS = 2.6  # size of the letters in the views
ROW = 1.35 * LETTERS


def model_of(design: Design, train: Train) -> Model:
    """What stands in the train [mm]. Raises ValueError for a train without places."""
    if train.placement is None:
        raise ValueError("a train without places cannot be drawn; the design needs fit.directions")
    return Model(design, train, train.placement)


def outlines(model: Model) -> Drawing:
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


def holes_of(holes: Sequence[Drilled], names: bool) -> Drawing:
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


def shows_all(model: Model) -> bool:
    """Whether the views show the whole frame, or there is none; one that is far larger than the model they do not."""
    return model.fit.frame is None or model.frame is not None


def view_half(design: Design, model: Model) -> Point:
    """Half of what the front view shows to the left and right, and above and below: all that stands, and the frame
    where it is not far larger in that direction."""
    frame, size = design.fit.frame, frame_size(design)
    if frame is None or size is None or frame.round or shows_all(model):
        return model.half
    wide, high = (far if far <= FAR_FRAME * model.envelope else model.envelope for far in size)
    return max(wide, model.half[0]), max(high, model.half[1])


def view_tall(design: Design, model: Model) -> float:
    """The same above and below in the side view."""
    return max(view_half(design, model)[1], model.envelope)


def frame_size(design: Design) -> Point | None:
    """Half the frame's width and height."""
    frame = design.fit.frame
    return None if frame is None else (float(frame.width) / 2, float(frame.height) / 2)


def frame_of(design: Design) -> list[Shape]:
    """The frame, where there is one, however large."""
    frame, half = design.fit.frame, frame_size(design)
    if frame is None or half is None:
        return []
    edge = Circle((0.0, 0.0), half[0], "frame") if frame.round else rect((-half[0], -half[1], *half), "frame")
    return [edge]


def frame_told(design: Design, lengths: Lengths) -> str:
    """ "square frame 460 mm"; nothing without one."""
    frame = design.fit.frame
    if frame is None:
        return ""
    size = [frame.width] if frame.shape != "rectangle" else [frame.width, frame.height]
    word = {"square": "square frame", "round": "round frame Ø"}.get(frame.shape, "frame")
    return f"{word} {' × '.join(lengths.text(float(side)) for side in size)}"


def axis_told(design: Design, lengths: Lengths) -> str:
    """ "x 230 mm, y 230 mm": the main axis, from where coordinates are measured; nothing where that is the axis."""
    x, y = origin_of(design).at
    return f"x\u00a0{lengths.text(-x)}, y\u00a0{lengths.text(-y)}" if (x, y) != (0.0, 0.0) else ""


def origin_marks(at: Point, long: float = 12.0) -> list[Shape]:
    """Arrows along x and y from where coordinates are measured, so long [mm of the paper]."""
    shapes: list[Shape] = []
    for end in ((at[0] + long, at[1]), (at[0], at[1] + long)):
        shapes += _arrow(at, end)
    shapes.append(Text((at[0] + long + 1.0, at[1] + 1.0), "x", 3.2, bold=True))
    shapes.append(Text((at[0] + 1.0, at[1] + long + 1.0), "y", 3.2, bold=True))
    return shapes


def marks_long(model: Model, scale: float) -> float:
    """How long these arrows are at 1 : scale so that they end inside of the innermost ring where they begin at the main
    axis."""
    return min(max(0.6 * (model.radii[0] - model.rim) / scale, 5.0), 12.0)


def _arrow(start: Point, end: Point) -> list[Shape]:
    long = hypot(end[0] - start[0], end[1] - start[1])
    along = (end[0] - start[0]) / long, (end[1] - start[1]) / long
    back = end[0] - 2.5 * along[0], end[1] - 2.5 * along[1]
    beside = -0.7 * along[1], 0.7 * along[0]
    head = (end, (back[0] + beside[0], back[1] + beside[1]), (back[0] - beside[0], back[1] - beside[1]))
    return [Line(start, end, "dimension"), Polyline(head, "dimension", True, 0.0)]
