"""A drawing as SVG: one unit is a millimetre, width and height are told in millimetres, layers are groups."""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr

from solver.sheets.draw.drawing import LAYERS, Arc, Circle, Drawing, Line, Polyline, Shape, Text, polar
from solver.sheets.draw.svg import FONT, Box, Point, clean, decimal

_INKSCAPE = "http://www.inkscape.org/namespaces/inkscape"


def svg_document(drawing: Drawing, margin: float = 5.0) -> str:
    """The drawing 1:1 as a document of its own, with so much room [mm] around it. Layers are named, and programs that
    know layers show them as such."""
    left, bottom, right, top = drawing.box
    box = (left - margin, bottom - margin, right + margin, top + margin)
    lines = ['<?xml version="1.0" encoding="UTF-8"?>', _opening(box, f' xmlns:inkscape="{_INKSCAPE}"', True)]
    lines.append(f"<title>{escape(clean(drawing.name))}</title>")
    for layer, shapes in drawing.by_layer():
        named = f' id="{layer}" inkscape:groupmode="layer" inkscape:label="{layer}"'
        lines += _group(layer, shapes, box[3], named)
    return "\n".join([*lines, "</svg>", ""])


def svg_figure(drawing: Drawing, margin: float = 1.0) -> str:
    """The drawing as an element of a page, as wide as the page lets it be; its own width in millimetres at most."""
    left, bottom, right, top = drawing.box
    box = (left - margin, bottom - margin, right + margin, top + margin)
    lines = [_opening(box, f' role="img" aria-label={quoteattr(clean(drawing.name))}', False)]
    for layer, shapes in drawing.by_layer():
        lines += _group(layer, shapes, box[3], "")
    return "\n".join([*lines, "</svg>"])


def _opening(box: Box, more: str, document: bool) -> str:
    left, bottom, right, top = box
    wide, high = decimal(right - left, 4), decimal(top - bottom, 4)
    size = f'width="{wide}mm" height="{high}mm"' if document else f'style="width:100%;max-width:{wide}mm"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg"{more} {size} viewBox="{decimal(left, 4)} 0 {wide} {high}" '
        f"font-family={quoteattr(FONT)}>"
    )


def _grey(grey: float) -> str:
    return "#" + f"{round(255 * grey):02x}" * 3


def _group(layer: str, shapes: list[Shape], top: float, named: str) -> list[str]:
    style = LAYERS[layer]
    dashes = f' stroke-dasharray="{" ".join(decimal(one, 2) for one in style.dashes)}"' if style.dashes else ""
    stroke = f'stroke="{_grey(style.grey)}" stroke-width="{decimal(style.width, 3)}"'
    return [f'<g{named} fill="none" {stroke}{dashes}>', *(_element(shape, top) for shape in shapes), "</g>"]


def _element(shape: Shape, top: float) -> str:
    def xy(at: Point) -> tuple[str, str]:
        return decimal(at[0], 4), decimal(top - at[1], 4)

    if isinstance(shape, Circle):
        x, y = xy(shape.at)
        return f'<circle cx="{x}" cy="{y}" r="{decimal(shape.radius, 4)}"{_fill(shape.fill)}/>'
    if isinstance(shape, Line):
        (x1, y1), (x2, y2) = xy(shape.start), xy(shape.end)
        return f'<line x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}"/>'
    if isinstance(shape, Arc):
        start, end = (
            xy((shape.at[0] + dx, shape.at[1] + dy))
            for dx, dy in (polar(shape.radius, shape.start_deg), polar(shape.radius, shape.end_deg))
        )
        large = 1 if (shape.end_deg - shape.start_deg) % 360 > 180 else 0
        r = decimal(shape.radius, 4)
        return f'<path d="M{start[0]} {start[1]}A{r} {r} 0 {large} 0 {end[0]} {end[1]}"/>'
    if isinstance(shape, Polyline):
        name = "polygon" if shape.closed else "polyline"
        points = " ".join(",".join(xy(at)) for at in shape.points)
        return f'<{name} points="{points}"{_fill(shape.fill)}/>'
    return _letters(shape, xy(shape.at))


def _letters(shape: Text, at: tuple[str, str]) -> str:
    anchor = "" if shape.anchor == "start" else f' text-anchor="{shape.anchor}"'
    weight = ' font-weight="bold"' if shape.bold else ""
    size = f'font-size="{decimal(shape.size, 3)}"'
    text = escape(clean(shape.text))
    return f'<text x="{at[0]}" y="{at[1]}" {size}{anchor}{weight} fill="#000" stroke="none">{text}</text>'


def _fill(grey: float | None) -> str:
    return "" if grey is None else f' fill="{_grey(grey)}"'
