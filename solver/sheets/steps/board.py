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
from solver.sheets.views.scales import usual_scales
from solver.words.lengths import Lengths
from solver.words.numbers import decimal

_GEARS_HIGH = 44.0  # of gears at most, all rows together [mm of the paper]
_GEAR_LOW = 14.0  # of one row, where there are many


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
    high = 2 * max(one.radius for one in made)
    lettered = 3.8 * LETTERS
    for scale in usual_scales():
        rooms = [max(2 * one.radius / scale, word) + 4.0 for one, word in zip(made, words, strict=True)]
        rows = _rows(rooms, wide)
        # Where many are alike, rows of small ones do.
        if max(rooms) <= wide and high / scale <= max(_GEARS_HIGH / len(rows), _GEAR_LOW):
            break
    shapes: list[Shape] = []
    for number, row in enumerate(rows):
        x, middle = 0.0, -number * (high / scale + lettered)
        for index in row:
            one, lines = made[index], told[index]
            at = x + rooms[index] / 2
            spot = at * scale, middle * scale
            here = [replace(thing, at=spot) for thing in (one, hub_of.get(one.name)) if thing is not None]
            shapes += black(here[:1], scale, "made")
            shapes += [shape for shape in black(here[1:], scale) if shape.layer != "cover"]
            shapes += cross((at, middle), 1.0, "centre")
            for line, words_of in enumerate(lines):
                below = middle - high / 2 / scale - (line + 1) * 1.4 * LETTERS
                shapes.append(Text((at, below), words_of, LETTERS, "middle", not line))
            x += rooms[index]
    return Drawing(f"{name}, 1 : {decimal(scale, 3)}", tuple(shapes))


def _rows(rooms: Sequence[float], wide: float) -> list[list[int]]:
    """Numbers of things that take so much room each, in rows that are no wider than that."""
    rows: list[list[int]] = [[]]
    used = 0.0
    for index, room in enumerate(rooms):
        if rows[-1] and used + room > wide:
            rows.append([])
            used = 0.0
        rows[-1].append(index)
        used += room
    return rows


def _told(one: PlacedPart, hub: PlacedPart | None, jig: str) -> tuple[str, str]:
    return (one.number if hub is None else f"{one.number}, {hub.number}"), f"on {jig}"
