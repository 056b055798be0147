"""A drawing as SVG: one unit is a millimetre, width and height are told in millimetres, layers are groups."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

from solver.sheets.draw.drawing import Arc, Box, Circle, Drawing, Facts, Line, Page, Point, Polyline, Shape, Text, polar
from solver.sheets.draw.layers import LAYERS
from solver.sheets.draw.lettering import FONT, clean, escaped, quoted
from solver.words.numbers import decimal

_INKSCAPE = ' xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape"'
_XML = '<?xml version="1.0" encoding="UTF-8"?>'


def svg_document(drawing: Drawing, margin: float = 5.0) -> str:
    """The drawing 1:1 as a document of its own, with so much room [mm] around it. Layers are named, and programs that
    know layers show them as such."""
    box = _around(drawing, margin)
    lines = [_XML, _opening(box, _INKSCAPE, _printed(box)), _title(drawing.name)]
    for layer, shapes in drawing.by_layer():
        named = f' id="{layer}" inkscape:groupmode="layer" inkscape:label="{layer}"'
        lines += _Pen((0.0, 0.0)).group(layer, shapes, named)
    return "\n".join([*lines, "</svg>", ""])


def svg_figure(drawing: Drawing, margin: float = 1.0) -> str:
    """The drawing as an element of a page, as wide as the page lets it be; its own width in millimetres at most."""
    box = _around(drawing, margin)
    wide = f'style="width:100%;max-width:{_number(box[2] - box[0])}mm"'
    lines = [_opening(box, f' role="img" aria-label={quoted(clean(drawing.name))}', wide)]
    for layer, shapes in drawing.by_layer():
        lines += _Pen((0.0, 0.0)).group(layer, shapes)
    return "\n".join([*lines, "</svg>"])


def svg_page(page: Page, title: str, origin: Point, unit: float, facts: Facts) -> str:
    """A page, each drawing a group with its name (`data-view`). The document's (0, 0) is at a point of the page [mm
    from its lower left corner], and it has so many units to a millimetre of the page."""
    (wide, high), (x, y) = page.size, origin
    box = -unit * x, -unit * y, unit * (wide - x), unit * (high - y)
    lines = [_XML, _opening(box, _data(facts), _printed((0.0, 0.0, wide, high))), _title(title)]
    lines.append(
        f'<rect x="{_number(box[0])}" y="{_number(-box[3])}" width="{_number(unit * wide)}" '
        f'height="{_number(unit * high)}" fill="#fff"/>'
    )
    for placed in page.placed:
        lines.append(f"<g data-view={quoted(placed.drawing.name)}>")
        pen = _Pen((placed.at[0] - x, placed.at[1] - y), unit)
        for layer, shapes in placed.drawing.by_layer():
            lines += pen.group(layer, shapes)
        lines.append("</g>")
    return "\n".join([*lines, "</svg>", ""])


def _number(length: float) -> str:
    """As `decimal` has it, with three; nothing is written as often as this."""
    text = f"{length:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _around(drawing: Drawing, margin: float) -> Box:
    left, bottom, right, top = drawing.box
    return left - margin, bottom - margin, right + margin, top + margin


def _printed(box: Box) -> str:
    return f'width="{_number(box[2] - box[0])}mm" height="{_number(box[3] - box[1])}mm"'


def _opening(box: Box, more: str, size: str) -> str:
    seen = " ".join(map(_number, (box[0], -box[3], box[2] - box[0], box[3] - box[1])))
    return f'<svg xmlns="http://www.w3.org/2000/svg"{more} {size} viewBox="{seen}" font-family={quoted(FONT)}>'


def _title(text: str) -> str:
    return f"<title>{escaped(clean(text))}</title>"


def _data(facts: Facts) -> str:
    return "".join(f" data-{name}={quoted(str(value))}" for name, value in facts if name != "title")


def _grey(grey: float) -> str:
    return "#" + f"{round(255 * grey):02x}" * 3


def _fill(grey: float | None) -> str:
    return "" if grey is None else f' fill="{_grey(grey)}"'


@dataclass(frozen=True)
class _Pen:
    """Writes shapes. at: where the drawing's (0, 0) is in the document [mm, y upwards]; unit: of the document, to the
    millimetre."""

    at: Point
    unit: float = 1.0

    def group(self, layer: str, shapes: list[Shape], named: str = "") -> Iterator[str]:
        """The shapes of a layer; lines that follow each other are one path."""
        style = LAYERS[layer]
        dashes = f' stroke-dasharray="{" ".join(map(self._long, style.dashes))}"' if style.dashes else ""
        stroke = f'stroke="{_grey(style.grey)}" stroke-width="{self._long(style.width)}"{dashes}'
        veiled = f' fill-opacity="{decimal(style.opacity, 2)}"' if style.opacity < 1 else ""
        yield f'<g{named} fill="none"{veiled} {stroke if style.width else ""}>'.replace(" >", ">")
        for lines, some in groupby(shapes, lambda shape: isinstance(shape, Line)):
            if lines:
                path = (f"M{self._xy(one.start)}L{self._xy(one.end)}" for one in some if isinstance(one, Line))
                yield f'<path d="{"".join(path)}"/>'
            else:
                yield from map(self._element, some)
        yield "</g>"

    def _long(self, length: float) -> str:
        return _number(length * self.unit)

    def _xy(self, at: Point, between: str = " ") -> str:
        x, y = self.at
        return f"{_number((at[0] + x) * self.unit)}{between}{_number(-(at[1] + y) * self.unit)}"

    def _element(self, shape: Shape) -> str:
        if isinstance(shape, Text):
            return self._letters(shape)
        if isinstance(shape, Line):
            raise TypeError("lines are written as paths")
        hint = next((str(value) for name, value in shape.facts if name == "title"), "")
        name, drawn = self._drawn(shape)
        open_ = f"<{name} {drawn}{_data(shape.facts)}"
        return f"{open_}>{_title(hint)}</{name}>" if hint else f"{open_}/>"

    def _drawn(self, shape: Circle | Arc | Polyline) -> tuple[str, str]:
        if isinstance(shape, Polyline):
            points = " ".join(self._xy(at, ",") for at in shape.points)
            return "polygon" if shape.closed else "polyline", f'points="{points}"{_fill(shape.fill)}'
        if isinstance(shape, Arc):
            start, end = (self._on(shape.at, shape.radius, turn) for turn in (shape.start_deg, shape.end_deg))
            large = int((shape.end_deg - shape.start_deg) % 360 > 180)
            r = self._long(shape.radius)
            return "path", f'd="M{start}A{r} {r} 0 {large} 0 {end}"'
        if shape.inner > 0:
            return "path", f'd="{self._round(shape.at, shape.radius)}{self._round(shape.at, shape.inner)}" ' + (
                f'fill-rule="evenodd"{_fill(shape.fill)}'
            )
        x, y = self._xy(shape.at).split()
        return "circle", f'cx="{x}" cy="{y}" r="{self._long(shape.radius)}"{_fill(shape.fill)}'

    def _on(self, at: Point, radius: float, turn_deg: float) -> str:
        x, y = polar(radius, turn_deg)
        return self._xy((at[0] + x, at[1] + y))

    def _round(self, at: Point, radius: float) -> str:
        right, left, r = self._on(at, radius, 0), self._on(at, radius, 180), self._long(radius)
        return f"M{right}A{r} {r} 0 0 0 {left}A{r} {r} 0 0 0 {right}Z"

    def _letters(self, shape: Text) -> str:
        x, y = self._xy(shape.at).split()
        anchor = "" if shape.anchor == "start" else f' text-anchor="{shape.anchor}"'
        weight = ' font-weight="bold"' if shape.bold else ""
        size, text = f'font-size="{self._long(shape.size)}"', escaped(clean(shape.text))
        return f'<text x="{x}" y="{y}" {size}{anchor}{weight} fill="#000" stroke="none">{text}</text>'
