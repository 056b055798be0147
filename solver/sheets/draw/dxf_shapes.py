"""Shapes as entities of a DXF file, tag by tag (DXF reference, section ENTITIES): a group code, then its value.

A drawing has tens of thousands of points, and to write them here takes a tenth of what it takes by way of the library's
own objects; the tests read what is written with the library.
"""

from __future__ import annotations

from collections.abc import Iterator

from solver.sheets.draw.drawing import Arc, Circle, Line, Point, Polyline, Shape
from solver.sheets.draw.lettering import CAP_HEIGHT, clean

Tag = tuple[int, object]  # group code and value
_ALIGNED = {"start": 0, "middle": 1, "end": 2}  # group code 72; 0 is left out


def entity(shape: Shape, handle: str, owner: str) -> str:
    """A shape as an entity with its handle, in the block of that owner; "" for a polyline without points."""
    if isinstance(shape, Polyline) and not shape.points:
        return ""
    kind, tags = _kind(shape)
    head: list[Tag] = [(0, kind), (5, handle), (330, owner), (100, "AcDbEntity"), (8, shape.layer)]
    return "".join([f"{code:3d}\n{value}\n" for code, value in (*head, *tags)])


def _kind(shape: Shape) -> tuple[str, Iterator[Tag]]:
    if isinstance(shape, Circle):
        return "CIRCLE", _circle(shape)
    if isinstance(shape, Line):
        return "LINE", _line(shape)
    if isinstance(shape, Arc):
        return "ARC", _arc(shape)
    if isinstance(shape, Polyline):
        return "LWPOLYLINE", _polyline(shape)
    # "%%" and "^" begin codes in the text of a DXF file.
    text = clean(shape.text).replace("%%", "% %").replace("^", "^ ")
    return "TEXT", _text(shape.at, text, CAP_HEIGHT * shape.size, _ALIGNED[shape.anchor])


def _at(code: int, at: Point) -> Iterator[Tag]:
    yield from ((code, float(at[0])), (code + 10, float(at[1])), (code + 20, 0.0))


def _circle(shape: Circle | Arc) -> Iterator[Tag]:
    yield 100, "AcDbCircle"
    yield from _at(10, shape.at)
    yield 40, float(shape.radius)


def _arc(shape: Arc) -> Iterator[Tag]:
    yield from _circle(shape)
    yield 100, "AcDbArc"
    yield 50, float(shape.start_deg % 360)
    yield 51, float(shape.end_deg % 360)


def _line(shape: Line) -> Iterator[Tag]:
    yield 100, "AcDbLine"
    yield from _at(10, shape.start)
    yield from _at(11, shape.end)


def _polyline(shape: Polyline) -> Iterator[Tag]:
    yield 100, "AcDbPolyline"
    yield 90, len(shape.points)
    yield 70, int(shape.closed)
    for x, y in shape.points:
        yield 10, float(x)
        yield 20, float(y)


def _text(at: Point, text: str, height: float, aligned: int) -> Iterator[Tag]:
    yield 100, "AcDbText"
    yield from _at(10, at)
    yield 40, float(height)
    yield 1, text
    if aligned:
        yield 72, aligned
    yield from _at(11, at)
    yield 100, "AcDbText"
