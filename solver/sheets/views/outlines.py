"""What the views from the front have in common: circles of all that stands, holes and slots, the frame, and where
coordinates are measured from; in millimetres of the model, (0, 0) on the main axis."""

from __future__ import annotations

from collections.abc import Sequence

from solver.design.design import Design
from solver.sheets.draw.drawing import Circle, Drawing, Line, Point, Shape, Text
from solver.sheets.draw.marks import arrow_head, cross, rect, slot
from solver.sheets.views.model import Model
from solver.sheets.views.spots import Drilled, origin_of
from solver.words.lengths import Lengths

LETTERS = 2.6  # size of the letters in the views
ROW = 1.35 * LETTERS


def of_level(model: Model, level: int) -> list[Shape]:
    """The ring and the gears of a level by their circles [mm of the model]; they say what they are."""
    radius, teeth = model.radii[level], model.train.rings[level]
    circles = {"ring": radius, "ring-tip": radius + model.addendum, "ring-edge": radius - model.rim}
    shapes: list[Shape] = [
        Circle(
            (0.0, 0.0),
            far,
            "pitch" if part == "ring" else "ring",
            facts=(("part", part), ("ring", level), ("teeth", teeth)),
        )
        for part, far in circles.items()
        if far > 0
    ]
    for gear in model.gears:
        if gear.level == level:
            link = (("link", gear.link),) if gear.link >= 0 else ()
            facts = (("teeth", gear.teeth), ("level", level), *link)
            shapes.append(Circle(gear.spot, gear.tip, gear.style, facts=(("part", f"{gear.part}-tip"), *facts)))
            shapes.append(Circle(gear.spot, gear.radius, "pitch", facts=(("part", gear.part), *facts)))
    return shapes


def rollers_of(model: Model) -> list[Shape]:
    """The rollers by their circles [mm of the model]."""
    return [
        Circle(spot, model.roller, "roller", facts=(("part", "roller"), ("ring", ring)))
        for ring, spot in model.rollers()
    ]


def outlines(model: Model) -> Drawing:
    """Rings, gears and rollers by their circles, and the main axis [mm of the model]."""
    levels = [shape for level in range(model.count) for shape in of_level(model, level)]
    return Drawing("", (*levels, *rollers_of(model), *cross((0.0, 0.0), 0.04 * model.envelope, "centre")))


def holes_of(holes: Sequence[Drilled]) -> Drawing:
    """A circle for every hole and its slot, 1:1."""
    shapes: list[Shape] = []
    for hole in holes:
        shapes.append(Circle(hole.at, hole.diameter / 2, f"drill-{hole.what}"))
        if hole.inward or hole.outward:
            shapes += slot(hole.middle, hole.slot_deg, (hole.inward + hole.outward) / 2, hole.diameter, "slots")
    return Drawing("", tuple(shapes))


def frame_of(model: Model) -> list[Shape]:
    """The frame, where there is one, however large [mm of the model]."""
    frame, half = model.fit.frame, model.whole_frame
    if frame is None or half is None:
        return []
    part = (("part", "frame"),)
    if frame.round:
        return [Circle((0.0, 0.0), half[0], "frame", facts=part)]
    return [rect((-half[0], -half[1], *half), "frame", facts=part)]


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


def origin_marks(at: Point, room: float = 12.0) -> list[Shape]:
    """Arrows along x and y from where coordinates are measured, as long as there is room for [mm of the paper]."""
    shapes: list[Shape] = []
    long = min(max(room, 5.0), 12.0)
    for end, heading in (((at[0] + long, at[1]), 0.0), ((at[0], at[1] + long), 90.0)):
        shapes += [Line(at, end, "dimension"), arrow_head(end, heading, "dimension")]
    shapes.append(Text((at[0] + long + 1.0, at[1] + 1.0), "x", 3.2, bold=True))
    shapes.append(Text((at[0] + 1.0, at[1] + long + 1.0), "y", 3.2, bold=True))
    return shapes
