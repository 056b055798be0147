"""The picture of a step: from the front, and beside it from the side, what is there in grey and what is added in black
with its numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor

from solver.sheets.draw.drawing import Box, Drawing, Point, Shape
from solver.sheets.draw.marks import cross, rect
from solver.sheets.steps.callouts import Callout, column, split, width_of
from solver.sheets.steps.from_front import black, callouts_of, grey, seen
from solver.sheets.steps.from_side import PLATE, SideView
from solver.sheets.steps.things import PlacedPart, PlacedParts
from solver.sheets.views.scales import usual_scales
from solver.sheets.views.spots import level_depths
from solver.words.numbers import decimal

HIGH = 112.0  # of a picture at most [mm of the paper]: half a page
_GAP, _BETWEEN = 5.0, 7.0  # from a view to its numbers, and from these to the next view
_LEAST, _SIDE = 3.2, 46.0  # from level to level, as far as the side view is no wider than that
_BEYOND = 4.0  # what a side view shows beyond the levels


@dataclass(frozen=True)
class StepShown:
    """What a picture shows. layer: of what is in black, "added" or "tried". carried: what is on that already, as hubs
    are, in grey. plate: its layer, "" where it is not shown. more: further shapes of the front view [mm of the model].
    marks: further callouts, at points of the model."""

    there: tuple[PlacedPart, ...]
    added: tuple[PlacedPart, ...]
    layer: str = "added"
    carried: tuple[PlacedPart, ...] = ()
    plate: str = ""
    more: tuple[Shape, ...] = ()
    marks: tuple[Callout, ...] = ()


def picture(things: PlacedParts, shown: StepShown, name: str, wide: float, high: float = HIGH) -> Drawing:
    """The picture of a step, no wider and higher than told [mm of the paper]; as many numbers as need more room make it
    higher. (0, 0) is on the main axis of the front view. Its scale is a usual one and stands in its name."""
    some = (*shown.there, *shown.added, *shown.carried)
    box = _around(some, shown.more)
    levels = _levels(shown)
    behind = max((one.shape.back_mm for one in some if one.shape is not None and one.shape.first < 0), default=0.0)
    marks = [*shown.marks, *callouts_of(shown.added, shown.there, 1.0)]
    for scale in usual_scales():
        left, low, right, top = view = box[0] / scale, box[1] / scale, box[2] / scale, box[3] / scale
        side = _side(things, scale, levels, behind)
        scaled = [Callout((one.at[0] / scale, one.at[1] / scale), one.lines) for one in marks]
        columns = split(scaled, (left + right) / 2, top - low)
        beyond = right + width_of(columns[1]) + (_GAP if columns[1] else 0.0) + _BETWEEN
        end = beyond + _BEYOND + side.wide + _GAP + width_of(side.callouts(shown.added)) if levels else beyond
        if end - left + width_of(columns[0]) + _GAP <= wide and top - low <= high - 6.0:
            break
    shapes = [
        *_front(things, shown, scale, view),
        *column(columns[0], left - _GAP, False, view),
        *column(columns[1], right + _GAP, True, view),
    ]
    if levels:
        at = round(beyond + _BEYOND - side.first, 2)
        shapes += Drawing("", tuple(_from_side(side, shown, levels, (low, top)))).moved(at, 0.0).shapes
    return Drawing(f"{name}, 1 : {decimal(scale, 3)}", tuple(shapes))


def _levels(shown: StepShown) -> list[int]:
    """The levels that the side view shows: rods that are there already are cut off behind what is on its level."""
    bare = [one for one in (*shown.there, *shown.added) if one.kind not in ("rod", "body")]
    bare += [one for one in shown.added if one.kind in ("rod", "body")]
    # What lies in a gap is between two levels; members of a frame reach from before the first to behind the last.
    return sorted({level for one in bare for level in range(ceil(one.span[0]), floor(one.span[1]) + 1)})


def _around(some: Sequence[PlacedPart], more: Sequence[Shape]) -> Box:
    boxes = [one.box for one in some]
    if more:
        boxes.append(Drawing("", tuple(more)).box)
    left, low, right, top = zip(*boxes, strict=True)
    return min(left), min(low), max(right), max(top)


def _side(things: PlacedParts, scale: float, levels: Sequence[int], behind: float) -> SideView:
    """Levels as far apart as they are, or farther where that would be too near to tell them apart. behind: how far a
    frame reaches behind the gap before level 0 [mm of the model]."""
    model = things.model
    depths = [depth / model.spacing for depth in level_depths(model.design, model.count)[0]]
    plate = model.fit.plate != "none"
    some = [depths[level] for level in levels]
    rows = max(some, default=0.0) - (0.0 if plate else min(some, default=0.0))
    step = max(model.spacing / scale, min(_LEAST, _SIDE / max(rows, 1.0)))
    first = 0.0 if plate else min(some, default=0.0) * step
    xs = tuple(round(depth * step, 2) for depth in depths)
    if behind:
        first = xs[0] - step / 2 - behind / scale
    return SideView(scale, xs, step, plate, first, (max(some, default=0.0) + 1) * step)


def _front(things: PlacedParts, shown: StepShown, scale: float, view: Box) -> list[Shape]:
    shapes = list(grey(seen(shown.there, things.model.front), scale))
    near = seen(shown.added, things.model.front)
    if shown.layer == "tried":  # on a board the larger ring is above: what is below it is seen through its hole
        top = max(max(one.levels) for one in near)
        far = [one for one in near if max(one.levels) < top]
        near = [one for one in near if max(one.levels) == top]
        shapes += [shape for shape in black(far, scale, "below") if shape.layer != "cover"]
    shapes += black(near, scale, shown.layer)
    shapes += [shape for shape in black(shown.carried, scale, "carried") if shape.layer != "cover"]
    shapes += Drawing("", shown.more).scaled(1 / scale).shapes
    if view[0] < 0 < view[2] and view[1] < 0 < view[3]:
        shapes += cross((0.0, 0.0), 2.0, "centre")
    return shapes


def _from_side(side: SideView, shown: StepShown, levels: Sequence[int], heights: Point) -> list[Shape]:
    low, high = heights
    shapes: list[Shape] = list(side.grid(levels, low, high))
    if shown.plate:
        shapes.append(rect((-PLATE, low, 0.0, high), shown.plate, 0.8, (("part", "plate"),)))
    for one in shown.there:
        shapes += side.part(one, "there")
    for one in shown.added:
        shapes += side.part(one, shown.layer)
    for one in shown.carried:
        shapes += side.part(one, "carried")
    found = side.callouts(shown.added)
    right = max(side.xs[level] for level in levels) + _BEYOND
    return [*shapes, *column(found, right + _GAP, True, (0.0, low, right, high))]
