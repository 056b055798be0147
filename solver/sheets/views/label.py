"""The label plate 1:1: its outline, the holes of its screws and the text."""

from __future__ import annotations

from dataclasses import dataclass

from solver.sheets.draw.drawing import Circle, Drawing, Line, Shape
from solver.sheets.draw.lettering import CAP_HEIGHT, text_width
from solver.sheets.draw.marks import lettered, rect
from solver.sheets.gears.fastening import LABEL
from solver.sheets.gears.inventory import Inventory
from solver.words.lengths import Lengths

_EDGE = 1.0  # mm between a head and the label's edge, and the text (common practice, no source)
_NOTE = 3.0  # mm, letters of what is told below it


@dataclass(frozen=True)
class LabelLayout:
    """A label: its size, its screws' holes, how far these are apart, and how high its letters may be [mm]."""

    wide_mm: float
    high_mm: float
    hole_mm: float
    apart_mm: float
    letters_mm: float
    text: str


def label_layout(stock: Inventory) -> LabelLayout | None:
    """How the label is laid out; None without one. Letters take half its height, or what is free between heads."""
    label = stock.design.hardware.label if stock.design.hardware is not None else None
    if label is None:
        return None
    wide, high, text = float(label.width), float(label.height), label.text or stock.design.title
    inside = stock.fittings.head.diameter / 2 + _EDGE  # of a hole's middle, from the edge
    apart = max(wide - 2 * inside, 0.0)
    free = max(apart - 2 * inside, 0.0)
    letters = min(high / 2 / CAP_HEIGHT, free / text_width(text, 1.0))
    return LabelLayout(wide, high, stock.fittings.screw.clearance, apart, letters, text)


def label_drawing(stock: Inventory, lengths: Lengths) -> Drawing | None:
    """The label 1:1, (0, 0) in its middle; None without one."""
    one = label_layout(stock)
    if one is None:
        return None
    x, y = one.wide_mm / 2, one.high_mm / 2
    shapes: list[Shape] = [rect((-x, -y, x, y), "outline")]
    for side in (-one.apart_mm / 2, one.apart_mm / 2):
        shapes += [
            Circle((side, 0.0), one.hole_mm / 2, "holes-centre"),
            Line((side - 2.0, 0.0), (side + 2.0, 0.0), "hole-marks"),
            Line((side, -2.0), (side, 2.0), "hole-marks"),
        ]
    shapes.append(lettered((0.0, 0.0), one.text, one.letters_mm, "middle"))
    told = lengths.text
    size = f"label, {told(one.wide_mm)} by {told(one.high_mm)}, {told(LABEL)} thick"
    holes = f"2 holes of {told(one.hole_mm)}, {told(one.apart_mm)} apart"
    least = 2 * (stock.fittings.head.diameter + 2 * _EDGE), stock.fittings.head.diameter + 2 * _EDGE
    short = f"too small for its screws: at least {told(least[0])} by {told(least[1])}, or glue it on"
    lines = (size, holes, *((short,) if one.wide_mm < least[0] or one.high_mm < least[1] else ()))
    shapes += [lettered((-x, -y - 4.0 - 4.5 * n), line, _NOTE) for n, line in enumerate(lines)]
    return Drawing("label plate, 1:1", tuple(shapes))
