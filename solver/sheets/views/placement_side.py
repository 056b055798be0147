"""The side view of the placement drawing: levels at their depth, everything at its height in the front view."""

from __future__ import annotations

from collections.abc import Sequence

from solver.design.design import Design
from solver.design.train import Train
from solver.sheets.draw.drawing import CAP_HEIGHT, Circle, Drawing, Line, Polyline, Shape, Text, rect
from solver.sheets.draw.svg import decimal, text_width
from solver.sheets.views.outlines import LETTERS, ROW, frame_size, model_of, shows_all, view_tall
from solver.sheets.views.parts import Gear, Model
from solver.sheets.views.placement import ABOVE
from solver.sheets.views.spots import Drilled, drilled, level_depths
from solver.words.lengths import Lengths

_THICK = 0.3  # of a level spacing, how thick gears and rings are drawn


def side(design: Design, train: Train, scale: float, lengths: Lengths) -> Drawing:
    """The side view at 1 : scale, seen from the left of the front view, so that heights agree with it: depth to the
    right, from the back on, where the plate is; (0, 0) is on the main axis. How thick gears are is not computed: they
    are drawn alike. Of a frame that is far larger than the model only its depth is shown."""
    model, holes = model_of(design, train), drilled(design, train)
    depths, deep, _ = level_depths(design, model.count)
    half = view_tall(design, model)
    shapes: list[Shape] = []
    for depth in depths:
        shapes.append(Line((depth, -half), (depth, half), "level"))
    frame = frame_size(design)
    if frame is not None and shows_all(model):
        shapes.append(rect((0.0, -frame[1], deep, frame[1]), "frame"))
    elif frame is not None:
        shapes += [Line((x, -half), (x, half), "frame") for x in (0.0, deep)]
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
            LETTERS,
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
    apart = text_width("00", LETTERS) + 0.8
    every = next((every for every in steps if every * step > apart), len(depths))
    return [
        Text((depths[level] / scale, y), str(level), LETTERS, "middle")
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
    if len(named) * ROW > 2 * half + 2 * ABOVE:  # the table has them all
        named = [hole for hole in named if hole.what != "roller"]
        heights = [hole.at[1] / scale for hole in named]
    shapes: list[Shape] = []
    for hole, y, beside in zip(named, heights, _apart(heights), strict=True):
        shapes.append(Line((ends, y), (ends - 8.0, beside), "leader"))
        at = ends - 8.6, beside - CAP_HEIGHT / 2 * LETTERS
        shapes.append(Text(at, hole.name, LETTERS, "end", hole.what != "roller"))
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
            shapes.append(Text((x + 7.6, beside - CAP_HEIGHT / 2 * LETTERS), model.names[ring], LETTERS))
    return shapes


def _apart(heights: Sequence[float]) -> list[float]:
    """Ascending heights moved so that there is a row between neighbours, each near its own."""
    groups: list[tuple[float, int]] = []  # middle and how many
    for height in heights:
        groups.append((height, 1))
        while len(groups) > 1:
            (low, under), (high, over) = groups[-2:]
            if high - low >= (under + over) / 2 * ROW:
                break
            groups[-2:] = [((low * under + high * over) / (under + over), under + over)]
    return [middle + (place - (many - 1) / 2) * ROW for middle, many in groups for place in range(many)]
