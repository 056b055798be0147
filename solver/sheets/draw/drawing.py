"""An abstract drawing: circles, lines, polylines, arcs and texts in millimetres, y upwards, on named layers.

The writers (`out_svg`, `out_pdf`, `out_dxf`) turn the same drawing into a file each, so that what is measured in one
holds for the others. Line widths, dashes and letters are millimetres of the paper and do not scale with the drawing.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from math import cos, hypot, radians, sin

from solver.sheets.draw.layers import LAYERS
from solver.sheets.draw.lettering import text_width

Point = tuple[float, float]
Box = tuple[float, float, float, float]  # left, bottom, right, top

Facts = tuple[tuple[str, str | int], ...]  # what a shape is, for programs that read the drawing


@dataclass(frozen=True)
class Circle:
    """A circle; fill: grey (0 black to 1 white) or None. inner: the radius from which on it is filled."""

    at: Point
    radius: float
    layer: str
    fill: float | None = None
    inner: float = 0.0
    facts: Facts = ()


@dataclass(frozen=True)
class Line:
    """A straight line."""

    start: Point
    end: Point
    layer: str


@dataclass(frozen=True)
class Polyline:
    """Straight lines from point to point; fill: grey (0 black to 1 white) or None."""

    points: tuple[Point, ...]
    layer: str
    closed: bool = False
    fill: float | None = None
    facts: Facts = ()

    @cached_property
    def box(self) -> Box:
        """Left, bottom, right and top [mm]; kept, as an outline may have thousands of points."""
        return _around(self.points)


@dataclass(frozen=True)
class Arc:
    """Part of a circle, counterclockwise from start to end [degrees from the right]."""

    at: Point
    radius: float
    start_deg: float
    end_deg: float
    layer: str
    facts: Facts = ()


@dataclass(frozen=True)
class Text:
    """One line of text; at: on its baseline, at its start, middle or end. size: of the letters [mm of the paper]."""

    at: Point
    text: str
    size: float
    anchor: str = "start"
    bold: bool = False
    layer: str = "text"


Shape = Circle | Line | Polyline | Arc | Text


@dataclass(frozen=True)
class Drawing:
    """A drawing and its name. Raises KeyError where a shape is on a layer that does not exist."""

    name: str
    shapes: tuple[Shape, ...]

    def __post_init__(self) -> None:
        for shape in self.shapes:
            LAYERS[shape.layer]

    @cached_property
    def box(self) -> Box:
        """Left, bottom, right and top of all that is drawn [mm]; raises ValueError for an empty drawing."""
        boxes = [box_of(shape) for shape in self.shapes]
        if not boxes:
            raise ValueError(f"{self.name}: nothing is drawn")
        left, bottom, right, top = zip(*boxes, strict=True)
        return min(left), min(bottom), max(right), max(top)

    @property
    def size(self) -> Point:
        """Width and height [mm]."""
        left, bottom, right, top = self.box
        return right - left, top - bottom

    def by_layer(self) -> list[tuple[str, list[Shape]]]:
        """The shapes by layer, in the order in which layers are drawn."""
        found: dict[str, list[Shape]] = {}
        for shape in self.shapes:
            found.setdefault(shape.layer, []).append(shape)
        return [(layer, found[layer]) for layer in LAYERS if layer in found]

    def moved(self, x: float, y: float) -> Drawing:
        """The same, moved by so much [mm]."""
        return Drawing(self.name, tuple(_changed(shape, 1.0, (x, y)) for shape in self.shapes))

    def scaled(self, factor: float) -> Drawing:
        """The same, larger about (0, 0); letters and line widths stay."""
        return Drawing(self.name, tuple(_changed(shape, factor, (0.0, 0.0)) for shape in self.shapes))

    def with_shapes(self, shapes: Iterable[Shape]) -> Drawing:
        """The same with more shapes."""
        return Drawing(self.name, (*self.shapes, *shapes))

    def without(self, *layers: str) -> Drawing:
        """The same without these layers."""
        return Drawing(self.name, tuple(shape for shape in self.shapes if shape.layer not in layers))


@dataclass(frozen=True)
class Placed:
    """A drawing on a page: where its (0, 0) is [mm from the page's lower left corner], and the part of the page that
    it may fill; None: all of it."""

    drawing: Drawing
    at: Point
    window: Box | None = None


@dataclass(frozen=True)
class Page:
    """A page: its size [mm] and what is on it, the last on top."""

    size: Point
    placed: tuple[Placed, ...]


def together(name: str, *drawings: Drawing) -> Drawing:
    """Several drawings as one."""
    return Drawing(name, tuple(shape for drawing in drawings for shape in drawing.shapes))


def box_of(shape: Shape) -> Box:
    """Left, bottom, right and top of a shape [mm]; of a text about."""
    if isinstance(shape, Circle | Arc):
        (x, y), radius = shape.at, shape.radius
        return x - radius, y - radius, x + radius, y + radius
    if isinstance(shape, Text):
        (x, y), long = shape.at, text_width(shape.text, shape.size)
        left = x - long * {"start": 0.0, "middle": 0.5, "end": 1.0}[shape.anchor]
        return left, y - 0.25 * shape.size, left + long, y + 0.8 * shape.size
    return _around((shape.start, shape.end)) if isinstance(shape, Line) else shape.box


def _around(points: Iterable[Point]) -> Box:
    xs, ys = zip(*points, strict=True)
    return min(xs), min(ys), max(xs), max(ys)


def within(shape: Shape, part: Box) -> bool:
    """Whether anything of a shape can be seen in a part of the drawing; a circle's line, not its empty inside."""
    left, bottom, right, top = part
    box = box_of(shape)
    if box[0] > right or box[2] < left or box[1] > top or box[3] < bottom:
        return False
    if not isinstance(shape, Circle | Arc) or (isinstance(shape, Circle) and shape.fill is not None):
        return True
    x, y = shape.at
    near = hypot(max(left - x, 0, x - right), max(bottom - y, 0, y - top))
    far = hypot(max(x - left, right - x), max(y - bottom, top - y))
    return near <= shape.radius <= far


def _changed(shape: Shape, factor: float, by: Point) -> Shape:
    def point(at: Point) -> Point:
        return at[0] * factor + by[0], at[1] * factor + by[1]

    if isinstance(shape, Circle | Arc):
        moved = replace(shape, at=point(shape.at), radius=shape.radius * factor)
        return replace(moved, inner=moved.inner * factor) if isinstance(moved, Circle) else moved
    if isinstance(shape, Text):
        return replace(shape, at=point(shape.at))
    if isinstance(shape, Line):
        return Line(point(shape.start), point(shape.end), shape.layer)
    return replace(shape, points=tuple(map(point, shape.points)))


def polar(radius: float, degrees: float) -> Point:
    """The point at a radius [mm] in a direction [degrees from the right, counterclockwise]."""
    return radius * cos(radians(degrees)), radius * sin(radians(degrees))
