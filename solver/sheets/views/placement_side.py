"""The side view of the placement drawing: levels at their depth, everything at its height in the front view."""

from __future__ import annotations

from collections.abc import Sequence

from solver.design.design import Design
from solver.design.train import Train
from solver.sheets.draw.drawing import Drawing, Line, Shape, Text
from solver.sheets.draw.marks import lettered, rect
from solver.sheets.supports.frame import bars_beyond
from solver.sheets.supports.made import supports_made
from solver.sheets.views.edge_on import EdgeOn, spread
from solver.sheets.views.gap import behind_levels, beside_levels
from solver.sheets.views.model import Model
from solver.sheets.views.outlines import LETTERS, ROW
from solver.sheets.views.placement import ABOVE
from solver.sheets.views.spots import Drilled, drilled, level_depths
from solver.words.lengths import Lengths
from solver.words.numbers import decimal

_THICK = 0.3  # of a level spacing, how thick gears and rings are drawn


def side(design: Design, train: Train, scale: float, lengths: Lengths) -> Drawing:
    """The side view at 1 : scale, seen from the left of the front view, so that heights agree with it: depth to the
    right, from the back on, where the plate is; (0, 0) is on the main axis. How thick gears are is not computed: they
    are drawn alike. Of a frame that is far larger than the model only its depth is shown."""
    model, holes = Model(design, train), drilled(design, train)
    depths, whole_depth, _ = level_depths(design, model.count)
    half, deep = (model.view_tall + bars_beyond(design)) / scale, whole_depth / scale
    view = EdgeOn(model, scale, [depth / scale for depth in depths], half, LETTERS)
    made = supports_made(design, train) if model.shows_all else None
    view.shapes += beside_levels(made, scale)
    view.levels()
    if made is not None:  # the bars of the frame are drawn
        pass
    elif model.frame is not None:
        high = model.frame[1] / scale
        view.shapes.append(rect((0.0, -high, deep, high), "frame"))
    elif not model.shows_all:
        for x in (0.0, deep):
            view.line((x, -half), (x, half), "frame")
    view.line((-0.05 * deep, 0.0), (1.05 * deep, 0.0), "axis")
    plate = design.fit.plate
    if plate != "none":
        view.shapes.append(rect((-0.03 * deep, -half, 0.0, half), "plate", 0.8))
    thick = _THICK * model.spacing / scale
    for ring, radius in enumerate(model.radii):
        tip = radius + model.addendum
        view.shapes.append(rect(view.slab(ring, -tip, tip, thick), "ring"))
    for gear in model.gears:
        box = view.slab(gear.level, gear.spot[1] - gear.tip, gear.spot[1] + gear.tip, thick)
        view.shapes.append(rect(box, gear.style))
    for hole in holes:
        _rod(view, hole, plate != "none")
    # Bodies stand at the front: away from the plate, or where stands are told to be.
    to_front = {"outer": plate != "outer", "inner": plate == "outer", "none": True}[design.fit.stands]
    end = (deep + 3.0 if to_front else -3.0) if design.fit.stands != "none" else None
    view.bodies(end, deep + 10.6 if to_front else None, ROW)
    back = -1.0 - (0.03 * max(view.xs) if plate != "none" else 0.0) - behind_levels(made) / scale
    view.shapes += _hole_names(holes, scale, half, back)
    told = f"depth of level 0: {lengths.text(depths[0])}, each further level {lengths.text(model.spacing)}"
    view.shapes.append(Text((0.0, -half - 7.4), told, LETTERS))
    return Drawing(f"side view, 1 : {decimal(scale, 3)}", tuple(view.shapes))


def _rod(view: EdgeOn, hole: Drilled, plate: bool) -> None:
    """A post from the plate to its last level; without a plate the arbor alone. Arbors are drawn stronger."""
    ends = [view.xs[level] for level in hole.levels]
    over, y = 0.3 * view.model.spacing / view.scale, hole.at[1] / view.scale
    view.line((0.0 if plate else min(ends) - over, y), (max(ends) + over, y), "post")
    if hole.what != "roller":
        view.line((min(ends) - over, y), (max(ends) + over, y), "arbor")


def _hole_names(holes: Sequence[Drilled], scale: float, half: float, ends: float) -> list[Shape]:
    """Names of what is drilled, in a column beside the plate, each with a line to its height, from x on."""
    named = sorted(holes, key=lambda hole: hole.at[1])
    if len(named) * ROW > 2 * half + 2 * ABOVE:  # the table has them all
        named = [hole for hole in named if hole.what != "roller"]
    heights = [hole.at[1] / scale for hole in named]
    shapes: list[Shape] = []
    for hole, y, name in zip(named, heights, spread(heights, ROW), strict=True):
        shapes.append(Line((ends, y), (ends - 8.0, name), "leader"))
        shapes.append(lettered((ends - 8.6, name), hole.name, LETTERS, "end", hole.what != "roller"))
    return shapes
