"""An abstract drawing: circles, lines, polylines, arcs and texts in millimetres, y upwards, on named layers.

The writers (`out_svg`, `out_pdf`, `out_dxf`) turn the same drawing into a file each, so that what is measured in one
holds for the others. Line widths, dashes and letters are millimetres of the paper and do not scale with the drawing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product
from math import cos, floor, hypot, radians, sin, sqrt

from solver.sheets.draw.lettering import TEXT, text_width

Point = tuple[float, float]
Box = tuple[float, float, float, float]  # left, bottom, right, top

CAP_HEIGHT = 0.72  # of a capital letter, as a part of the letters' size


@dataclass(frozen=True)
class Layer:
    """How a layer is drawn: width [mm; 0 draws areas alone], grey (0 black to 1 white), dashes [mm], its colour number
    in DXF, and how much the areas on it hide of what is below (1: all)."""

    width: float
    grey: float = 0.0
    dashes: tuple[float, ...] = ()
    colour: int = 7
    opacity: float = 1.0


_CHAIN = (6.0, 1.0, 1.0, 1.0)
_FINE_CHAIN = (3.0, 0.7, 0.5, 0.7)

# In the order in which they are drawn, the last on top.
LAYERS: dict[str, Layer] = {
    # what fills an area
    "shade": Layer(0.05, 0.85, colour=9),
    "veil": Layer(0.0, 1.0, opacity=0.3),
    "even": Layer(0.0, opacity=0.05),
    "odd": Layer(0.0, opacity=0.12),
    # a jig
    "pitch": Layer(0.13, 0.33, _FINE_CHAIN, 4),
    "tip-circle": Layer(0.1, 0.5, (2.0, 1.2), 8),
    "root-circle": Layer(0.1, 0.5, (2.0, 1.2), 8),
    "outline": Layer(0.3, 0.55, colour=3),
    "holes-root": Layer(0.18, colour=1),
    "holes-tip": Layer(0.18, colour=5),
    "holes-pin": Layer(0.18, colour=6),
    "holes-centre": Layer(0.18, colour=2),
    "hole-marks": Layer(0.1, colour=8),
    "centre": Layer(0.15, colour=2),
    # a model
    "level": Layer(0.1, 0.5, _FINE_CHAIN, 8),
    "ray": Layer(0.1, 0.6, (4.0, 0.8, 0.8, 0.8), 9),
    "axis": Layer(0.15, 0.0, _CHAIN, 4),
    "frame": Layer(0.5),
    "plate": Layer(0.3, colour=8),
    "post": Layer(0.15, 0.45, colour=8),
    "arbor": Layer(0.5),
    "ring": Layer(0.16, 0.27, colour=3),
    "wheel": Layer(0.25, colour=5),
    "pinion": Layer(0.25, colour=6),
    "third": Layer(0.25, 0.0, (1.1, 0.6), 30),
    "motor": Layer(0.4, colour=1),
    "section": Layer(0.2, colour=3),
    "roller": Layer(0.2, colour=4),
    "hatch": Layer(0.08, 0.45, colour=9),
    "stand": Layer(0.25),
    "slots": Layer(0.25, colour=2),
    "drill-arbor": Layer(0.2, colour=1),
    "drill-third": Layer(0.2, colour=30),
    "drill-roller": Layer(0.2, colour=4),
    "drill-motor": Layer(0.2, colour=6),
    "sense": Layer(0.3),
    "sense-head": Layer(0.2),
    "dot": Layer(0.05),
    # stock bars
    "bar": Layer(0.2),
    "waste": Layer(0.15, 0.4, colour=8),
    # what is told
    "dimension": Layer(0.13, colour=8),
    "leader": Layer(0.15, colour=8),
    "rule": Layer(0.25),
    "scale-bar": Layer(0.2),
    "label": Layer(0.05, 1.0),
    "text": Layer(0.1),
    # a page
    "page-frame": Layer(0.1, 0.6, colour=9),
    "crop": Layer(0.15),
    "join": Layer(0.15),
}

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

    @property
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


# -- what drawings have in common ------------------------------------------------------------------------------------


def rect(box: Box, layer: str, fill: float | None = None, facts: Facts = ()) -> Polyline:
    """A rectangle."""
    left, bottom, right, top = box
    return Polyline(((left, bottom), (right, bottom), (right, top), (left, top)), layer, True, fill, facts)


def beside(at: Point, text: str, size: float = TEXT, anchor: str = "start", bold: bool = False) -> Text:
    """A text with the middle of its height at a point."""
    return Text((at[0], at[1] - CAP_HEIGHT / 2 * size), text, size, anchor, bold)


def boxed(box: Box, lines: Sequence[str], size: float = TEXT, bold: bool = False) -> list[Shape]:
    """Lines of text in the middle of a white box, the first of them bold or none."""
    left, bottom, right, top = box
    each = (top - bottom) / len(lines)
    shapes: list[Shape] = [rect(box, "label", 1.0, (("part", "label"),))]
    for number, line in enumerate(lines):
        middle = (left + right) / 2, top - (number + 0.5) * each
        shapes.append(beside(middle, line, size, "middle", bold and number == 0))
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


def polar(radius: float, degrees: float) -> Point:
    """The point at a radius [mm] in a direction [degrees from the right, counterclockwise]."""
    return radius * cos(radians(degrees)), radius * sin(radians(degrees))


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


BAR_MM = 100.0


def scale_bar(left: float, bottom: float) -> tuple[Shape, ...]:
    """A bar of exactly 100 mm in steps of 10 mm, and what to do with it; its lower left corner.

    The outline is the first shape: a rectangle, 100 mm long.
    """
    high = 2.0
    fields = [
        rect((left + 10 * step, bottom, left + 10 * step + 10, bottom + high), "scale-bar", 0.0)
        for step in range(0, 10, 2)
    ]
    told = (
        Text((left, bottom + high + 1.0), "0", 2.5),
        Text((left + BAR_MM, bottom + high + 1.0), "100 mm", 2.5, "end"),
        Text((left + BAR_MM / 2, bottom + high + 1.0), "print at 100 %, then measure this bar", 2.5, "middle"),
    )
    return (rect((left, bottom, left + BAR_MM, bottom + high), "scale-bar"), *fields, *told)
