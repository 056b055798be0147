"""The chapters that drawings belong to: jigs, cut list with its bars, and placement with the drilling table."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from solver.design.design import Design
from solver.design.train import Train
from solver.forms.plans import JigPlan
from solver.sheets.book.document import Block, Figure, Gallery, Heading, Items, Paragraph, TextTable
from solver.sheets.book.lists import FROM_PLATE
from solver.sheets.draw.drawing import Drawing, Polyline, Text, together
from solver.sheets.draw.marks import bar_told
from solver.sheets.gears.adjust import Slot, most_travel_mm, slots_of
from solver.sheets.stock.packing import Packing, bars_told
from solver.sheets.views.bars import bar_drawings
from solver.sheets.views.outlines import axis_told
from solver.sheets.views.placement import front
from solver.sheets.views.placement_side import side
from solver.sheets.views.placement_whole import whole_frame
from solver.sheets.views.spots import (
    Drilled,
    close_pairs,
    drilled,
    drilling_table,
    level_depths,
    origin_of,
    told_inwards,
)
from solver.sheets.views.templates import merged
from solver.words.lengths import Lengths
from solver.words.numbers import decimal
from solver.words.spreadsheet import csv_text

SMALL = Paragraph("Small pictures, not to scale:", small=True)

_THUMB = ("text", "hole-marks", "tip-circle", "root-circle")  # layers that a small picture leaves out
_ACROSS = 12  # so many levels to a row of their depths
_SMOOTH = 0.4  # how far [mm] a small picture's outline may be off


def file_name(plan: JigPlan) -> str:
    """ "R30", the name of a jig's files."""
    return plan.name.removeprefix("jig ")


# -- jigs ------------------------------------------------------------------------------------------------------------


def jigs(plans: Sequence[JigPlan], drawings: Sequence[Drawing], lengths: Lengths, plate: bool) -> Iterator[Block]:
    """The jigs as a table, and each as a small picture. plate: whether gears are cut from plate."""
    shown = (
        "with the outline that is cut from plate and the hole in its middle"
        if plate
        else "with the holes of every tooth and one in the middle"
    )
    yield Paragraph(
        f"Each jig has one drawing, 1:1, {shown}. All of them are in `templates.pdf`: print it at "
        f"100 %, and measure the {bar_told('in' in lengths.units)} on every page before anything is drilled. A ring "
        "larger than the page is spread over tiles that overlap: cut along the corner marks and lay crosses of one "
        "letter on each other. For programs that draw or cut, each jig is a file of its own, in millimetres, SVG and "
        "DXF."
    )
    heads = ["jig", "teeth", *(f"pitch Ø [{unit}]" for unit in lengths.units), "holes", "for", "files"]
    rows = []
    for plan in plans:
        name = file_name(plan)
        size = [lengths.bare(2 * plan.pitch_radius_mm, unit) for unit in lengths.units]
        files = f"`jigs/{name}.svg` `jigs/{name}.dxf`"
        rows.append((name, str(plan.teeth), *size, str(len(plan.holes)), "; ".join(merged(plan.uses)), files))
    yield TextTable(tuple(heads), tuple(rows), "lr" + "r" * len(lengths.units) + "rll")
    yield SMALL
    yield Gallery(
        tuple(Figure(_small(drawing), file_name(plan), False) for plan, drawing in zip(plans, drawings, strict=True))
    )


def _small(drawing: Drawing) -> Drawing:
    """A template as a small picture: without text and marks, outlines smoothed."""
    from shapely import LineString

    shapes = []
    for shape in drawing.without(*_THUMB).shapes:
        if isinstance(shape, Polyline) and len(shape.points) > 2:
            points = LineString(shape.points).simplify(_SMOOTH).coords
            shape = Polyline(tuple((x, y) for x, y in points), shape.layer, shape.closed, shape.fill)
        shapes.append(shape)
    return Drawing(drawing.name, tuple(shapes))


# -- bars ------------------------------------------------------------------------------------------------------------


def bars(packings: Sequence[tuple[str, Packing]], kerf: float, lengths: Lengths) -> Iterator[Block]:
    """What is to be bought in all; then for each wire the bars to take and how they are cut."""
    if packings:
        yield Paragraph(_bought([packing for _, packing in packings], lengths))
    for wire, packing in packings:
        yield Heading(f"Bars of {wire}", 2)
        yield Paragraph(f"{packing.text(lengths.text)}. {lengths.text(packing.total_mm)} of wire.")
        packed = [(bar.stock_mm, bar.pieces) for bar in packing.bars]
        for drawing in bar_drawings(packed, lengths, kerf):
            yield Figure(drawing)


def _bought(packings: Sequence[Packing], lengths: Lengths) -> str:
    """The bars of all wires together, and what is known of them."""
    count, total = sum(len(one.bars) for one in packings), sum(one.total_mm for one in packings)
    told = f"To be bought in all: {bars_told(count)}, {lengths.text(total)} of wire"
    least, shortest = sum(one.least_bars for one in packings), sum(one.least_mm for one in packings)
    if all(one.proven for one in packings):
        told += "; proven: these pieces come from no fewer bars, nor from as few of less length"
    elif all(one.proven_bars for one in packings):
        told += (
            f"; proven: these pieces come from no fewer bars. Their length could be down to {lengths.text(shortest)}"
        )
    else:
        told += f"; not proven to be the fewest: at least {bars_told(least)} are needed"
    joined = sum(len(one.parts) for one in packings)
    if joined:
        pieces = "1 piece" if joined == 1 else f"{joined} pieces"
        of = sum(len(parts) for one in packings for parts in one.parts)
        told += (
            f". {pieces} longer than every bar {'is' if joined == 1 else 'are'} joined from {of} parts: loops "
            "anywhere, tooth wires at a root. Where was chosen with the rest, and what is proven holds for every way"
        )
    return told + "."


# -- placement -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Scales:
    """1 : so much: of the front and side view, of the whole frame where these do not show it, and of the gaps' arms."""

    views: float
    whole: float | None
    gaps: float = 1.0


def measured_from(design: Design, lengths: Lengths) -> str:
    """From where coordinates are measured, on paper, in lists and in files that draw."""
    axis = axis_told(design, lengths)
    told = f"Coordinates, seen from the front: x to the right and y upwards from {origin_of(design).told}"
    return f"{told}; the main axis is at {axis}." if axis else f"{told}."


def views(design: Design, train: Train, scales: Scales, lengths: Lengths) -> Iterator[Block]:
    """Front view and side view, and what is to be known of them; before them the whole frame where it is far larger."""
    levels = len(train.rings)
    depths, _, told = level_depths(design, levels)
    ratio, measured = decimal(scales.views, 3), measured_from(design, lengths)
    motor = "M: the motor; " if train.placement is not None and train.placement.drive is not None else ""
    if scales.whole is not None:
        yield Heading("Placement: the frame")
        yield Paragraph(
            f"Scale 1 : {decimal(scales.whole, 3)}. The frame is far larger than the model; the views that follow show "
            f"the model alone, larger. {measured}"
        )
        yield Figure(whole_frame(design, train, scales.whole, lengths))
    yield Heading("Placement: front view")
    yield Paragraph(
        f"Scale 1 : {ratio}. {measured} L: the arbor of a link; w and p beside it: its third "
        f"gear on the wheel's or pinion's side; {motor}r2.1: the first roller of ring 2. Chain lines are pitch "
        "circles, numbers on them rings."
    )
    from_front, from_side = _shown(design, train, scales.views, lengths)
    yield Figure(from_front)
    yield Heading("Placement: side view")
    yield Paragraph(
        f"Scale 1 : {ratio}, seen from the left of the front view, at the same heights. Depth is measured from {told}. "
        "All gears are drawn alike, however thick they are."
    )
    yield Figure(from_side)
    for first in range(0, levels, _ACROSS):
        some = range(first, min(first + _ACROSS, levels))
        rows = [(f"depth [{unit}]", *(lengths.bare(depths[level], unit) for level in some)) for unit in lengths.units]
        yield TextTable(("level", *map(str, some)), tuple(rows), "l" + "r" * len(some))


@lru_cache(maxsize=1)
def _shown(design: Design, train: Train, scale: float, lengths: Lengths) -> tuple[Drawing, Drawing]:
    """Front view and side view, which a pack has in three of its files."""
    return front(design, train, scale, lengths), side(design, train, scale, lengths)


def drilling(design: Design, train: Train, lengths: Lengths) -> Iterator[Block]:
    """The drilling table and how to read it."""
    heads, rows = drilling_table(design, train, lengths)
    most, slots = lengths.text(most_travel_mm(design)), slots_of(design, train)
    mirrored, drilled_for = " Who drills from the back mirrors x.", "drill for the fit that you want"
    if design.fit.plate != "none":
        drilled_for = "the build order tells that of its hole"
    elif design.armed:
        mirrored, drilled_for = "", "the eye that it stands in is in the table of its gap"
    notes = [
        f"{measured_from(design, lengths)} They are the same in `drilling.csv` and in `placement.dxf`.{mirrored}",
        f"Ø is that of the post; {drilled_for}. Depth is that of the last level that a post reaches.",
    ]
    if design.fit.plate != "none":
        notes.append(FROM_PLATE.format("Depths"))
    notes += [
        "Slot: begin at x and y, and go in and out from there, as far as the middle of the post may stand; out is "
        "at this angle, counterclockwise from the right, in is opposite. Within its slot every mesh of a post runs, by "
        "true gears; farther it would jam, slip, hunt more than it may, or meet a hub. What hunts too much at x and y "
        "already is kept from jam and slip alone. Wheel and pinion move together with their arbor; where both posts of "
        "a mesh can move, each has half of what it allows.",
        f"No slot goes farther than {most} each way, half the addendum: that is half a tooth of play where flanks are "
        "straight, more than hands need, and the design's clearances were judged at x and y: turn the model by hand "
        "before it is fixed.",
    ]
    if any(hole.what == "roller" for hole in drilled(design, train)):
        notes.append("Rollers move until they touch the inner edge of their ring; the ring stays about the main axis.")
    if design.fit.plate == "none":
        held = "by its arm" if design.armed else "from the frame"
        notes.append(
            f"There is no plate: each post is held {held} in its own gap, and the table says where its middle is. "
            "Posts on different levels may share x and y."
        )
    yield Items(tuple(notes))
    align = "ll" + "r" * (len(heads) - 2)
    yield TextTable(tuple(heads), tuple(map(tuple, rows)), align)
    short = [f"{name}: {told}" for name, slot in slots.items() for told in _short(slot, lengths)]
    if short:
        yield Paragraph(f"What keeps slots shorter than {most} each way:")
        yield Items(tuple(short))
    close = close_pairs(design, train)
    if close:
        yield Paragraph("Where little is left between two slots in the plate:")
        yield Items(tuple(_close(*pair, lengths) for pair in close))


def _short(slot: Slot, lengths: Lengths) -> Iterator[str]:
    """What ends a slot, in words."""
    if slot.round:
        meshes = ", ".join(dict.fromkeys((*slot.inward_by, *slot.outward_by)))
        yield f"a round hole, nothing to adjust{': ' if meshes else ''}{meshes}"
        return
    ends = ((slot.inward_mm, "in", slot.inward_by), (slot.outward_mm, "out", slot.outward_by))
    told = [
        f"more than {lengths.text(told_inwards(far, lengths.unit))} {way}, {' and '.join(by)}"
        for far, way, by in ends
        if by
    ]
    if told:
        yield "; ".join(told)


def _close(one: Drilled, other: Drilled, left: float, lengths: Lengths) -> str:
    if left <= 0:
        return f"{one.name} and {other.name} run into each other: give one of them a round hole"
    return f"{one.name} and {other.name}: {lengths.text(left)} is left"


def drilling_csv(design: Design, train: Train, lengths: Lengths) -> str:
    """The drilling table as CSV, each row with where its coordinates are measured from; in both units where one is the
    inch, as drills and machines may want the other."""
    lengths = replace(lengths, both="in" in lengths.units)
    heads, rows = drilling_table(design, train, lengths)
    told = origin_of(design).told
    return csv_text([[*heads, "x and y from"], *([*row, told] for row in rows)])


def both_views(design: Design, train: Train, scales: Scales, lengths: Lengths) -> Drawing:
    """Front view and side view beside each other, at one height, each with its name above it; before them the whole
    frame where it is far larger."""
    shown = [*_shown(design, train, scales.views, lengths)]
    told = f"{design.title}, 1 : {decimal(scales.views, 3)}"
    if scales.whole is not None:
        shown.insert(0, whole_frame(design, train, scales.whole, lengths))
        told += f", in its frame 1 : {decimal(scales.whole, 3)}"
    beside: list[Drawing] = []
    top = max(drawing.box[3] for drawing in shown) + 4.0
    for drawing in shown:
        left = drawing.box[0]
        named = drawing.with_shapes([Text((left, top), drawing.name, 4.0, bold=True)])
        beside.append(named.moved(beside[-1].box[2] - left + 10.0, 0.0) if beside else named)
    return together(told, *beside)
