"""Pages as one vector PDF, 1:1: a point of the file is 1/72 inch, and a millimetre of a drawing is a millimetre. Its
letters are embedded (`typeface`)."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

from solver.sheets.draw.drawing import Arc, Box, Circle, Line, Page, Placed, Point, Polyline, Shape, Text, within
from solver.sheets.draw.layers import LAYERS
from solver.sheets.draw.lettering import printable
from solver.sheets.draw.typeface import BOLD, PLAIN, register
from solver.sheets.errors import MissingExtra

POINT = 72 / 25.4  # points to the millimetre


def pdf(pages: Sequence[Page], title: str) -> bytes:
    """The pages as a PDF document; the same pages give the same bytes.

    Raises MissingExtra without reportlab and ValueError without pages.
    """
    if not pages:
        raise ValueError("a document needs a page")
    try:
        from reportlab.pdfgen.canvas import Canvas
    except ModuleNotFoundError:
        raise MissingExtra("reportlab") from None
    register()
    stream = io.BytesIO()
    canvas = Canvas(stream, pagesize=_points(pages[0].size), invariant=1, pageCompression=1, initialFontName=PLAIN)
    canvas.setTitle(printable(title))
    canvas.setCreator("Ringwright")
    canvas.setViewerPreference("PrintScaling", "None")  # what opens the print dialogue at 100 %
    for page in pages:
        canvas.setPageSize(_points(page.size))
        for placed in page.placed:
            draw(canvas, placed)
        canvas.showPage()
    canvas.save()
    return stream.getvalue()


def draw(canvas: Any, placed: Placed) -> None:
    """Draw a placed drawing on a reportlab canvas."""
    canvas.saveState()
    canvas.setLineCap(0)
    if placed.window is not None:
        left, bottom, right, top = placed.window
        path = canvas.beginPath()
        path.rect(left * POINT, bottom * POINT, (right - left) * POINT, (top - bottom) * POINT)
        canvas.clipPath(path, stroke=0, fill=0)
    part = _seen(placed)
    for layer, shapes in placed.drawing.by_layer():
        style = LAYERS[layer]
        canvas.setLineWidth(style.width * POINT)
        canvas.setStrokeGray(style.grey)
        canvas.setDash([long * POINT for long in style.dashes], 0)
        if style.opacity < 1:
            canvas.setFillAlpha(style.opacity)
        for shape in shapes:
            if part is None or within(shape, part):
                _shape(canvas, shape, placed.at, int(style.width > 0))
        if style.opacity < 1:
            canvas.setFillAlpha(1)
    canvas.restoreState()


def _points(size: Point) -> Point:
    return size[0] * POINT, size[1] * POINT


def _seen(placed: Placed) -> Box | None:
    """The part of the drawing that its window shows, and a little around it for the width of lines."""
    if placed.window is None:
        return None
    (left, bottom, right, top), (x, y) = placed.window, placed.at
    return left - x - 1, bottom - y - 1, right - x + 1, top - y + 1


def _shape(canvas: Any, shape: Shape, by: Point, stroke: int) -> None:
    """stroke: 1 where lines are drawn, 0 where only areas are."""

    def xy(at: Point) -> Point:
        return (at[0] + by[0]) * POINT, (at[1] + by[1]) * POINT

    if isinstance(shape, Circle):
        _fill(canvas, shape.fill)
        path = canvas.beginPath()
        for radius in (shape.radius, shape.inner) if shape.inner > 0 else (shape.radius,):
            path.circle(*xy(shape.at), radius * POINT)
        # By the even-odd rule: what is inside of both is not filled.
        canvas.drawPath(path, stroke=stroke, fill=int(shape.fill is not None), fillMode=0)
    elif isinstance(shape, Line):
        canvas.line(*xy(shape.start), *xy(shape.end))
    elif isinstance(shape, Arc):
        (x, y), radius = xy(shape.at), shape.radius * POINT
        path = canvas.beginPath()
        path.arc(x - radius, y - radius, x + radius, y + radius, shape.start_deg, shape.end_deg - shape.start_deg)
        canvas.drawPath(path)
    elif isinstance(shape, Polyline):
        _fill(canvas, shape.fill)
        path = canvas.beginPath()
        first, *rest = [((x + by[0]) * POINT, (y + by[1]) * POINT) for x, y in shape.points]
        path.moveTo(*first)
        for x, y in rest:
            path.lineTo(x, y)
        if shape.closed:
            path.close()
        canvas.drawPath(path, stroke=stroke, fill=int(shape.fill is not None))
    else:
        _text(canvas, shape, xy(shape.at))


def _fill(canvas: Any, grey: float | None) -> None:
    if grey is not None:
        canvas.setFillGray(grey)


def _text(canvas: Any, shape: Text, at: Point) -> None:
    canvas.setFillGray(0)
    canvas.setFont(BOLD if shape.bold else PLAIN, shape.size * POINT)
    put = {"start": canvas.drawString, "middle": canvas.drawCentredString, "end": canvas.drawRightString}
    put[shape.anchor](*at, printable(shape.text))
