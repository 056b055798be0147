"""What drawings have in common: rectangles, crosses, slots, arrows, hatching, texts in their place, the scale bar."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product
from math import floor, sqrt

from solver.sheets.draw.drawing import Arc, Box, Facts, Line, Point, Polyline, Shape, Text, polar
from solver.sheets.draw.lettering import CAP_HEIGHT, TEXT


def rect(box: Box, layer: str, fill: float | None = None, facts: Facts = ()) -> Polyline:
    """A rectangle."""
    left, bottom, right, top = box
    return Polyline(((left, bottom), (right, bottom), (right, top), (left, top)), layer, True, fill, facts)


def lettered(at: Point, text: str, size: float = TEXT, anchor: str = "start", bold: bool = False) -> Text:
    """A text with the middle of its height at a point."""
    return Text((at[0], at[1] - CAP_HEIGHT / 2 * size), text, size, anchor, bold)


def boxed(box: Box, lines: Sequence[str], size: float = TEXT, bold: bool = False) -> list[Shape]:
    """Lines of text in the middle of a white box, the first of them bold or none."""
    left, bottom, right, top = box
    each = (top - bottom) / len(lines)
    shapes: list[Shape] = [rect(box, "label", 1.0, (("part", "label"),))]
    for number, line in enumerate(lines):
        middle = (left + right) / 2, top - (number + 0.5) * each
        shapes.append(lettered(middle, line, size, "middle", bold and number == 0))
    return shapes


def arrow_head(tip: Point, heading_deg: float, layer: str, fill: float = 0.0, facts: Facts = ()) -> Polyline:
    """The head of an arrow; heading: degrees counterclockwise from the right."""
    back = [polar(2.0, heading_deg + turn) for turn in (158.0, -158.0)]
    return Polyline((tip, *((tip[0] + x, tip[1] + y) for x, y in back)), layer, True, fill, facts)


# How far apart the lines of what is hatched are [mm], and which way they slope.
_HATCHES = {"pinion": (1.1, (1,)), "motor": (0.9, (1, -1)), "section": (0.7, (1,)), "plate": (0.9, (1,))}


def hatching(style: str, at: Point, radius: float, half: Point | None = None) -> Iterator[Line]:
    """The hatching of a style in a circle, or in the box of that half width and height inside of it."""
    apart, slopes = _HATCHES.get(style, (1.0, ()))
    slant = sqrt(0.5)
    for slope, step in product(slopes, range(-floor(radius / apart), floor(radius / apart) + 1)):
        high = sqrt(max(radius**2 - (step * apart) ** 2, 0))
        low = -high
        foot, along = (step * apart * slant, -step * apart * slope * slant), (slant, slope * slant)
        for side, size in enumerate(half or ()):
            ends = sorted(((-size - foot[side]) / along[side], (size - foot[side]) / along[side]))
            low, high = max(low, ends[0]), min(high, ends[1])
        if low < high:
            one, two = (tuple(at[i] + foot[i] + part * along[i] for i in (0, 1)) for part in (low, high))
            yield Line((one[0], one[1]), (two[0], two[1]), "hatch")


def cross(at: Point, arm: float, layer: str) -> tuple[Line, Line]:
    """Two lines that cross, each arm so long [mm]."""
    x, y = at
    return Line((x - arm, y), (x + arm, y), layer), Line((x, y - arm), (x, y + arm), layer)


def slot(at: Point, direction_deg: float, travel: float, diameter: float, layer: str) -> tuple[Shape, ...]:
    """The edge of a slot in which a rod of that diameter can move so far [mm] each way from its middle."""
    (x, y), radius = at, diameter / 2
    along, beside = polar(travel, direction_deg), polar(radius, direction_deg + 90)
    one, two = (x + along[0], y + along[1]), (x - along[0], y - along[1])
    return (
        Arc(one, radius, direction_deg - 90, direction_deg + 90, layer),
        Arc(two, radius, direction_deg + 90, direction_deg + 270, layer),
        Line((one[0] + beside[0], one[1] + beside[1]), (two[0] + beside[0], two[1] + beside[1]), layer),
        Line((one[0] - beside[0], one[1] - beside[1]), (two[0] - beside[0], two[1] - beside[1]), layer),
    )


BAR_MM, BAR_INCHES, _INCH = 100.0, 4, 25.4
_STRIP = 2.0  # how high each row of fields of a bar is


def scale_bar(left: float, bottom: float, inches: bool = False) -> tuple[Shape, ...]:
    """A bar of exactly 100 mm in steps of 10 mm, and what to do with it; its lower left corner. inches: above it one of
    exactly 4 in, in steps of half an inch.

    The outline is the first shape: a rectangle, 100 mm long; of inches the next, 4 in long.
    """
    strips = [(BAR_MM, 10.0, "100 mm"), *([(BAR_INCHES * _INCH, _INCH / 2, f"{BAR_INCHES} in")] if inches else [])]
    outlines, fields, told = list[Shape](), list[Shape](), list[Shape]()
    for row, (long, step, name) in enumerate(strips):
        low, high = bottom + row * _STRIP, bottom + (row + 1) * _STRIP
        outlines.append(rect((left, low, left + long, high), "scale-bar"))
        for field in range(0, round(long / step), 2):
            fields.append(rect((left + step * field, low, left + step * (field + 1), high), "scale-bar", 0.0))
        if row < len(strips) - 1:  # beside its end, as the next row is above it
            told.append(Text((left + BAR_INCHES * _INCH + 1.0, low), name, 2.5))
        else:
            told.append(Text((left + long, high + 1.0), name, 2.5, "end"))
    top = bottom + len(strips) * _STRIP + 1.0
    which = "print at 100 %, then measure this bar" if not inches else "print at 100 %, then measure a bar"
    told += [Text((left, top), "0", 2.5), Text((left + BAR_MM / 2, top), which, 2.5, "middle")]
    return (*outlines, *fields, *told)


def bar_told(inches: bool) -> str:
    """The bar that is to be measured, in words."""
    return "bar of 4 in, or that of 100 mm," if inches else "bar of 100 mm"
