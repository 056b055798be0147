"""Pictures of what is no level of the model: two rings and their link tried on a board, the plate with its holes,
gears with their hubs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import hypot

from solver.sheets.draw.drawing import Circle, Drawing, Line, Shape, Text
from solver.sheets.draw.lettering import text_width
from solver.sheets.draw.marks import cross, rect
from solver.sheets.steps.callouts import LETTERS, Callout
from solver.sheets.steps.from_front import black
from solver.sheets.steps.picture import HIGH, StepShown, picture
from solver.sheets.steps.things import PlacedPart, PlacedParts
from solver.sheets.views.placement import usual_scales
from solver.words.lengths import Lengths
from solver.words.numbers import decimal

_GEARS_HIGH = 44.0  # of gears side by side at most [mm of the paper]


def board(things: PlacedParts, names: Sequence[str], name: str, wide: float, lengths: Lengths) -> Drawing:
    """What is tried on a board, from the front and from the side, with how far every post is from the centre."""
    tried = things.some(names)
    hubs = [one for one in things.by_name.values() if one.kind == "hub" and one.on in set(names)]
    far = [one for one in tried if one.kind == "post"]
    more: list[Shape] = [Line((0.0, 0.0), one.at, "dimension") for one in far]
    marks = [Callout((one.at[0] / 2, one.at[1] / 2), (lengths.text(hypot(*one.at)),)) for one in far]
    return picture(
        things, StepShown(tuple(hubs), tuple(tried), "tried", more=tuple(more), marks=tuple(marks)), name, wide
    )


def plate(things: PlacedParts, name: str, wide: float) -> Drawing:
    """The plate with a hole for every post and for the motor's shaft, each with the number of what stands there."""
    model = things.model
    half = model.frame or model.half
    box = -half[0], -half[1], half[0], half[1]
    frame = model.fit.frame
    if model.frame is not None and frame is not None and frame.round:
        edge: Shape = Circle((0.0, 0.0), half[0], "added", facts=(("part", "plate"),))
    else:
        edge = rect(box, "added", facts=(("part", "plate"),))
    more: list[Shape] = [edge]
    marks = []
    for one in things.by_name.values():
        if one.kind in ("post", "shaft"):
            number = "M" if one.kind == "shaft" else one.number.removeprefix("P")
            more.append(Circle(one.at, one.radius, "added", facts=(("hole", number),)))
            marks.append(Callout(one.at, (number,)))
    return picture(things, StepShown((), (), plate="added", more=tuple(more), marks=tuple(marks)), name, wide, 2 * HIGH)


def gears(things: PlacedParts, names: Sequence[str], name: str, wide: float) -> Drawing:
    """Gears side by side at one scale, each with its number and that of its jig. Hubs are in black, as they are what is
    put on."""
    made = [one for one in things.some(names) if one.kind in ("ring", "gear")]
    hub_of = {one.on: one for one in things.by_name.values() if one.kind == "hub"}
    jig_of = {use: jig.name.split()[-1] for jig in things.stock.jigs for use in jig.uses}
    told = [_told(one, hub_of.get(one.name), jig_of[one.name]) for one in made]
    words = [max(text_width(line, LETTERS) for line in lines) for lines in told]
    for scale in usual_scales():
        rooms = [max(2 * one.radius / scale, word) + 4.0 for one, word in zip(made, words, strict=True)]
        if sum(rooms) <= wide and max(2 * one.radius for one in made) / scale <= _GEARS_HIGH:
            break
    shapes: list[Shape] = []
    x, low = 0.0, -max(one.radius for one in made) / scale
    for one, room, lines in zip(made, rooms, told, strict=True):
        at = x + room / 2
        here = [replace(thing, at=(at * scale, 0.0)) for thing in (one, hub_of.get(one.name)) if thing is not None]
        shapes += black(here[:1], scale, "made")
        shapes += [shape for shape in black(here[1:], scale) if shape.layer != "cover"]
        shapes += cross((at, 0.0), 1.0, "centre")
        for row, line in enumerate(lines):
            spot = at, low - (row + 1) * 1.4 * LETTERS
            shapes.append(Text(spot, line, LETTERS, "middle", not row))
        x += room
    return Drawing(f"{name}, 1 : {decimal(scale, 3)}", tuple(shapes))


def _told(one: PlacedPart, hub: PlacedPart | None, jig: str) -> tuple[str, str]:
    return (one.number if hub is None else f"{one.number}, {hub.number}"), f"on {jig}"
