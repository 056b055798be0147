"""The picture of a placed train: a front view and a side view to scale, in black and white, as one SVG document.

Everything here is counted in millimetres of the printed page, x to the right and y downwards, from the main axis of
the front view. The pen turns them into the document's units: millimetres of the model (micrometres where it is tiny),
so a circle's r is its radius in the metal.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import count
from math import atan2, ceil, cos, degrees, floor, hypot, log10, pi, radians, sin, sqrt
from xml.sax.saxutils import escape, quoteattr

import numpy as np
from numpy.typing import NDArray

from solver.design.design import MM_PER_INCH, Design
from solver.design.links import KIND_BY_NAME
from solver.design.train import LinkPlace, Placement, Spot, Train

Point = tuple[float, float]
Box = tuple[float, float, float, float]  # left, top, right, bottom

_TEXT, _HEAD, _TITLE = 2.3, 2.7, 4.4  # text sizes
_ROW, _GAP, _MARGIN = 3.1, 5.0, 10.0  # table row, between views and notes, page margin
_BESIDE, _ABOVE = 9.5, 6.0  # room for direction labels
_PAGE = (210.0, 297.0)
_LEAST_FRONT = 60.0  # a front view that would be smaller than this gets a larger page
_STEPS = (1, 1.1, 1.2, 1.3, 1.4, 1.5, 1.6, 1.8, 2, 2.2, 2.5, 2.8, 3, 3.2, 3.5, 4, 4.5, 5, 5.5, 6, 7, 8, 9)
_NAME, _LONG_NAME = 22.0, 38.0  # widths that a body's name may take in a view and in the table
_WHOLE = 1.15  # so much smaller the views may be if a table then stays in one piece
_FAR_FRAME = 2.2  # a frame that is so many times larger than the train is told, not drawn
_FONT = "Helvetica, Arial, 'Liberation Sans', 'DejaVu Sans', sans-serif"

_STYLES: dict[str, tuple[str, str, float, tuple[float, ...]]] = {  # fill, stroke, stroke width, dashes
    "even": ("#000", "none", 0, ()),
    "odd": ("#000", "none", 0, ()),
    "ring": ("none", "#444", 0.16, ()),
    "pitch": ("none", "#555", 0.12, (2.2, 0.6, 0.4, 0.6)),
    "wheel": ("none", "#000", 0.3, ()),
    "pinion": ("none", "#000", 0.3, ()),
    "third": ("none", "#000", 0.3, (1.1, 0.6)),
    "motor": ("none", "#000", 0.4, ()),
    "roller": ("none", "#000", 0.2, ()),
    "dot": ("#000", "none", 0, ()),
    "frame": ("none", "#000", 0.45, ()),
    "ray": ("none", "#999", 0.1, (4, 0.8, 0.8, 0.8)),
    "thin": ("none", "#000", 0.13, ()),
    "rule": ("none", "#000", 0.25, ()),
    "arrow": ("none", "#000", 0.3, ()),
    "open": ("#fff", "#000", 0.2, ()),
    "level": ("none", "#888", 0.1, (3, 0.7, 0.5, 0.7)),
    "axis": ("none", "#000", 0.15, (6, 1, 1, 1)),
    "section": ("none", "#000", 0.2, ()),
    "plate": ("none", "#000", 0.3, ()),
    "hatch": ("none", "#777", 0.1, ()),
    "arbor": ("none", "#000", 0.5, ()),
    "post": ("none", "#777", 0.15, ()),
    "white": ("#fff", "none", 0, ()),
}
_HATCHES = {
    "pinion": (1.1, (1,)),
    "motor": (0.9, (1, -1)),
    "section": (0.7, (1,)),
    "plate": (0.9, (1,)),
}  # apart, slopes
_SLANT = sqrt(0.5)


def picture(design: Design, train: Train) -> str:
    """A front view and a side view of a placed train of a design, with a table and a legend, as an SVG document.

    The page is A4 (larger only for more rings than fit on it). One unit of the document is a millimetre of the model,
    a micrometre where the whole train is smaller than 20 mm; (0, 0) is the main axis of the front view. What is drawn
    says what it is: `data-part`, with `data-link`, `data-ring` and `data-teeth`. Raises ValueError for a train
    without places.
    """
    if train.placement is None:
        raise ValueError("a train without places cannot be drawn; the design needs fit.directions")
    model = _Model(design, train, train.placement)
    sheet = _fitted(model)
    pen = _Pen(sheet.scale, 1000 if model.envelope < 10 else 1)
    _front(pen, model, sheet)
    _side(pen, model, sheet)
    _heading(pen, model, sheet)
    for block, first, last, corner in sheet.notes:
        block.draw(pen, corner, first, last)
    return _document(pen, model, sheet)


# -- what is drawn ---------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Gear:
    """A gear of a link or of the drive (link -1): what it is, on which level, its spot and radii [mm of the model]."""

    part: str
    link: int
    level: int
    teeth: int
    x: float
    y: float
    radius: float
    tip: float


class _Model:
    """Everything that stands in a placed train, in millimetres of the model."""

    def __init__(self, design: Design, train: Train, placement: Placement) -> None:
        self.design, self.train, self.placement = design, train, placement
        self.fit, self.count = design.fit, len(train.rings)
        self.radii = [self.radius(teeth) for teeth in train.rings]
        self.addendum, self.rim = float(design.rings.addendum), float(design.rings.rim)
        self.roller = 0.0 if self.fit.rollers is None else float(self.fit.rollers.radius)
        self.spacing = float(design.rings.level_spacing)
        self.bodies = {ring: _clean(design.bodies[body].name) for body, ring in enumerate(train.places)}
        self.reverse = [False]
        for link in train.links:
            self.reverse.append(self.reverse[-1] ^ KIND_BY_NAME[link.kind].reverses)
        self.gears = list(self._gears())
        reach = [hypot(gear.x, gear.y) + gear.tip for gear in self.gears]
        self.envelope = max(*reach, self.radii[-1] + self.addendum)
        frame = self.fit.frame
        self.frame: Point | None = None  # half its width and height
        if frame is not None and max(frame.width, frame.height) <= 2 * _FAR_FRAME * self.envelope:
            self.frame = float(frame.width) / 2, float(frame.height) / 2
        self.half = self.frame or (self.envelope, self.envelope)

    def radius(self, teeth: int) -> float:
        """Pitch radius [mm]."""
        return self.design.rings.pitch.radius_mm(teeth)

    def _gears(self) -> Iterator[_Gear]:
        for index, (link, place) in enumerate(zip(self.train.links, self.placement.links, strict=True)):
            levels = [index] * KIND_BY_NAME[link.kind].wheel_thirds
            levels += [index + 1] * (len(link.thirds) - len(levels))
            yield self._gear("wheel", index, index, link.wheel, place.arbor)
            yield self._gear("pinion", index, index + 1, link.pinion, place.arbor)
            for level, teeth, spot in zip(levels, link.thirds, place.thirds, strict=True):
                yield self._gear("third", index, level, teeth, spot)
        drive = self.placement.drive
        if drive is not None:
            yield self._gear("motor-pinion", -1, drive.ring, drive.pinion, drive.at.arbor)
            for teeth, spot in zip(drive.thirds, drive.at.thirds, strict=True):
                yield self._gear("motor-third", -1, drive.ring, teeth, spot)

    def _gear(self, part: str, link: int, level: int, teeth: int, spot: Spot) -> _Gear:
        radius = self.radius(teeth)
        return _Gear(part, link, level, teeth, spot[0] / 1000, spot[1] / 1000, radius, radius + self.addendum)

    def rollers(self) -> Iterator[tuple[int, Point]]:
        """The ring and the spot [mm] of every roller."""
        for ring, some in enumerate(self.placement.rollers):
            for roller in some:
                yield ring, (roller.spot[0] / 1000, roller.spot[1] / 1000)

    def shafts(self) -> list[LinkPlace]:
        """The places of all arbors, and the motor's."""
        drive = self.placement.drive
        return [*self.placement.links, *([drive.at] if drive is not None else [])]

    def stands_at(self, ring: int) -> float:
        """Radius [mm] at which a body stands on its ring: the middle of the rim."""
        return max(self.radii[ring] - self.rim / 2, self.radii[ring] / 2)

    def length(self, value: float) -> str:
        """A length [mm] in the design's unit, without it."""
        return _number(value / float(MM_PER_INCH), 3) if self.design.units == "in" else _number(value, 2)


# -- text ------------------------------------------------------------------------------------------------------------

_UNPRINTABLE = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_TURNING = re.compile("[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")  # would turn the text around them
_NARROW, _BROAD = frozenset(" !'(),-./:;I[]fijlrt|·"), frozenset("%@MWmw—…")


def _clean(text: str) -> str:
    """Text on one line, without what XML cannot hold; a name written from the right keeps its neighbours in place."""
    text = " ".join(_UNPRINTABLE.sub("\ufffd", _TURNING.sub("", text)).split())
    return text + "\u200e" if any(unicodedata.bidirectional(one) in ("R", "AL") for one in text) else text


def _width(text: str, size: float) -> float:
    """About how wide a text is, rather too wide than too narrow."""
    ems = 0.0
    for one in text:
        if unicodedata.category(one) in ("Mn", "Me", "Cf"):
            continue
        if unicodedata.east_asian_width(one) in ("W", "F"):
            ems += 1.05
        elif one in _NARROW:
            ems += 0.36
        elif one in _BROAD:
            ems += 0.98
        else:
            ems += 0.7 if one.isupper() or ord(one) > 0x24F else 0.61
    return ems * size


def _shorten(text: str, width: float, size: float) -> str:
    """The text, cut with an ellipsis where it is wider."""
    if _width(text, size) <= width:
        return text
    while text and _width(text + "…", size) > width:
        text = text[:-1]
    return text.rstrip() + "…"


def _wrap(text: str, width: float, size: float, lines: int) -> list[str]:
    """The text on at most so many lines: broken between words, or within one that is too long; the rest is cut."""
    found: list[str] = []
    while text and len(found) < lines - 1 and _width(text, size) > width:
        end = len(text)
        while end > 1 and _width(text[:end], size) > width:
            end -= 1
        space = text.rfind(" ", 0, end + 1)
        end = space if space > end // 2 else end
        found.append(text[:end].rstrip())
        text = text[end:].lstrip()
    return [*found, _shorten(text, width, size)] if text else found


def _number(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


# -- the pen ---------------------------------------------------------------------------------------------------------


class _Pen:
    """Writes SVG elements; takes millimetres of the page.

    scale: millimetres of the model per millimetre of the page. per_mm: units of the document per millimetre of the
    model.
    """

    def __init__(self, scale: float, per_mm: int) -> None:
        self.scale, self.per_mm = scale, per_mm
        self.unit = scale * per_mm
        self.lines: list[str] = []
        self.styles = {name: self._style(*style) for name, style in _STYLES.items()}
        self.styles["even"] += ' fill-opacity="0.05"'
        self.styles["odd"] += ' fill-opacity="0.12"'

    def _style(self, fill: str, stroke: str, width: float, dashes: tuple[float, ...]) -> str:
        text = f' fill="{fill}"'
        if stroke != "none":
            text += f' stroke="{stroke}" stroke-width="{self(width)}"'
        if dashes:
            text += f' stroke-dasharray="{" ".join(self(dash) for dash in dashes)}"'
        return text

    def __call__(self, *lengths: float) -> str:
        """Lengths in the document's units."""
        return " ".join(_number(length * self.unit, 3) for length in lengths)

    def put(self, name: str, style: str, attributes: dict[str, str], data: dict[str, str | int]) -> None:
        text = "".join(f" {key}={quoteattr(value)}" for key, value in attributes.items())
        told = "".join(f" data-{key}={quoteattr(str(value))}" for key, value in data.items())
        self.lines.append(f"<{name}{text}{self.styles[style]}{told}/>")

    def open(self, name: str, hint: str = "") -> None:
        """Begin a group; hint: what a reader is told who points at it."""
        self.lines.append(f'<g data-view="{name}">' if name else "<g>")
        if hint:
            self.lines.append(f"<title>{escape(hint)}</title>")

    def close(self) -> None:
        self.lines.append("</g>")

    def circle(self, at: Point, radius: float, style: str, **data: str | int) -> None:
        self._hatch(at, radius, style)
        self.put("circle", style, {"cx": self(at[0]), "cy": self(at[1]), "r": self(radius)}, data)

    def line(self, start: Point, end: Point, style: str, **data: str | int) -> None:
        ends = {"x1": self(start[0]), "y1": self(start[1]), "x2": self(end[0]), "y2": self(end[1])}
        self.put("line", style, ends, data)

    def rect(self, box: Box, style: str, **data: str | int) -> None:
        left, top, right, bottom = box
        half = (right - left) / 2, (bottom - top) / 2
        self._hatch((left + half[0], top + half[1]), hypot(*half), style, half)
        sides = {"x": self(left), "y": self(top), "width": self(right - left), "height": self(bottom - top)}
        self.put("rect", style, sides, data)

    def path(self, d: str, style: str, **data: str | int) -> None:
        self.put("path", style, {"d": d}, data)

    def _hatch(self, at: Point, radius: float, style: str, half: Point | None = None) -> None:
        """The hatching of a style in a circle, or in the box of that half width and height inside of it."""
        apart, slopes = _HATCHES.get(style, (1.0, ()))
        d = ""
        for slope in slopes:
            for number in range(-floor(radius / apart), floor(radius / apart) + 1):
                off = number * apart
                low, high = -sqrt(max(radius**2 - off**2, 0)), sqrt(max(radius**2 - off**2, 0))
                foot, along = (off * _SLANT, off * slope * _SLANT), (_SLANT, -slope * _SLANT)
                for side, size in enumerate(half or ()):
                    ends = sorted(((-size - foot[side]) / along[side], (size - foot[side]) / along[side]))
                    low, high = max(low, ends[0]), min(high, ends[1])
                if low < high:
                    ends = [at[axis] + foot[axis] + part * along[axis] for part in (low, high) for axis in (0, 1)]
                    d += f"M{self(*ends[:2])}L{self(*ends[2:])}"
        if d:
            self.path(d, "hatch")

    def text(self, at: Point, text: str, size: float = _TEXT, anchor: str = "middle", bold: bool = False) -> None:
        """One line of text; `at` is the middle of its height."""
        weight = ' font-weight="bold"' if bold else ""
        self.lines.append(
            f'<text x="{self(at[0])}" y="{self(at[1] + 0.36 * size)}" font-size="{self(size)}" '
            f'text-anchor="{anchor}"{weight} fill="#000">{escape(text)}</text>'
        )

    def label(self, box: Box, text: str, bold: bool = False) -> None:
        """Text in the middle of a white box."""
        self.rect(box, "white")
        self.text(((box[0] + box[2]) / 2, (box[1] + box[3]) / 2), text, bold=bold)


# -- labels ----------------------------------------------------------------------------------------------------------


def _boxes(centres: Sequence[Point], text: str) -> NDArray[np.float64]:
    """The box of a text around each of the centres."""
    middle = np.array(centres, dtype=float).reshape(-1, 2)
    half = np.array([_width(text, _TEXT) / 2 + 0.3, 0.56 * _TEXT])
    return np.hstack([middle - half, middle + half])


class _Labels:
    """Where labels may stand: lines they should not cross, and boxes that are taken."""

    def __init__(self, bounds: Box) -> None:
        self.bounds = bounds
        self.circles: list[tuple[float, float, float, float, int]] = []  # x, y, radius, weight, owner
        self.taken: list[tuple[float, float, float, float, float]] = []  # box, weight

    def circle(self, at: Point, radius: float, weight: float, owner: int = -1) -> None:
        self.circles.append((*at, radius, weight, owner))

    def take(self, box: Box, weight: float = 60.0) -> None:
        self.taken.append((*box, weight))

    def dot(self, at: Point, radius: float, weight: float = 8.0) -> None:
        self.take((at[0] - radius, at[1] - radius, at[0] + radius, at[1] + radius), weight)

    def line(self, start: Point, end: Point, weight: float = 3.0) -> None:
        """A straight line, as dots along it."""
        steps = max(1, ceil(hypot(end[0] - start[0], end[1] - start[1])))
        for step in range(steps + 1):
            part = step / steps
            self.dot((start[0] + part * (end[0] - start[0]), start[1] + part * (end[1] - start[1])), 0.1, weight)

    def costs(self, boxes: NDArray[np.float64], owner: int = -2) -> NDArray[np.float64]:
        """What each box would cover. owner: whose own circles may be covered for a quarter of the cost."""
        left, top, right, bottom = (boxes[:, side : side + 1] for side in range(4))
        bounds = self.bounds
        out = (left < bounds[0]) | (top < bounds[1]) | (right > bounds[2]) | (bottom > bounds[3])
        total = np.asarray(1000.0 * out[:, 0], dtype=np.float64)
        if self.circles:
            x, y, radius, weight, of = np.array(self.circles, dtype=float).T
            near = (
                np.maximum(np.maximum(left - x, x - right), 0) ** 2
                + np.maximum(np.maximum(top - y, y - bottom), 0) ** 2
            )
            far = np.maximum(x - left, right - x) ** 2 + np.maximum(y - top, bottom - y) ** 2
            crossed = (near < (radius + 0.15) ** 2) & (far > np.maximum(radius - 0.15, 0) ** 2)
            total = total + crossed @ np.where(of == owner, weight / 4, weight)
        if self.taken:
            x0, y0, x1, y1, weight = np.array(self.taken, dtype=float).T
            over = (left < x1) & (right > x0) & (top < y1) & (bottom > y0)
            total = total + over @ weight
        return total

    def best(self, boxes: NDArray[np.float64], before: NDArray[np.float64], owner: int = -2) -> tuple[int, Box]:
        """The cheapest box, with what each costs before, and its number; it is taken."""
        at = int(np.argmin(np.round(self.costs(boxes, owner) + before, 6)))
        left, top, right, bottom = (float(side) for side in boxes[at])
        self.take((left, top, right, bottom))
        return at, (left, top, right, bottom)


def _around(at: Point, distances: Sequence[float], turns: int = 16) -> list[Point]:
    return [
        (at[0] + far * cos(2 * pi * turn / turns), at[1] - far * sin(2 * pi * turn / turns))
        for far in distances
        for turn in range(turns)
    ]


def _call_out(pen: _Pen, labels: _Labels, at: Point, inside: float, text: str, owner: int = -2) -> None:
    """A label near a point, and a line to it where it stands outside of that radius."""
    steps = (0.0, 2.2, 3.2, 4.5, 6.0, 8.0, 10.5, 13.5, 17.0, 21.0, 26.0, 32.0)
    centres = _around(at, steps)
    away = np.array([0.12 * hypot(x - at[0], y - at[1]) for x, y in centres])
    _, box = labels.best(_boxes(centres, text), away, owner)
    near = min(max(at[0], box[0]), box[2]), min(max(at[1], box[1]), box[3])
    corner = max(hypot(x - at[0], y - at[1]) for x in box[::2] for y in box[1::2])
    if corner > max(inside, 4.0) and near != at:
        pen.line(at, near, "thin")
        labels.line(at, near)
    pen.label(box, text)


# -- the page --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Block:
    """A part of the notes in equal rows, which may go on in a next column: its width, the height above its rows and
    of each, how many, what draws the rows from one to before another at a corner, and whether it had better stand
    beside what is before it."""

    width: float
    head: float
    row: float
    count: int
    draw: Callable[[_Pen, Point, int, int], None]
    beside: bool = False


@dataclass(frozen=True)
class _Depth:
    """The side view along the main axis: how far apart levels are drawn, how much it needs before the first level and
    after the last, and where plate and stands end (from the nearest level)."""

    step: float
    before: float
    after: float
    plate: float
    stands: float
    true: bool
    frame: float | None  # how far the frame reaches beyond the outermost levels


@dataclass(frozen=True)
class _Sheet:
    """The page: its size, how many model mm one mm of it stands for, where the views are, and the notes in place."""

    size: Point
    scale: float
    title: list[str]
    corner: Point  # of the page, seen from the main axis of the front view
    half: Point  # of the front view, without its direction labels
    side: Point  # level 0 on the main axis of the side view
    depth: _Depth
    notes: list[tuple[_Block, int, int, Point]]


def _fitted(model: _Model) -> _Sheet:
    """The largest scale at which everything is on the page; a larger page where the front view would be too small."""
    blocks = [_table(model), _legend(model), _bars(model)]
    across = 2 * max(model.half)
    for larger in count():
        growth = 2 ** (larger / 2)
        sizes = [(size[0] * growth, size[1] * growth) for size in (_PAGE, _PAGE[::-1])]
        found: list[_Sheet] = []
        for scale in _scales(across / (190 * growth)):
            if across / scale < _LEAST_FRONT * growth or (found and scale > _WHOLE * found[0].scale):
                break
            found += [sheet for size in sizes for sheet in _arranged(model, blocks, size, scale)]
        if found:
            return min(found, key=lambda sheet: sheet.scale * _WHOLE ** (len(sheet.notes) - len(blocks)))
    raise AssertionError("pages grow until everything fits")


def _scales(least: float) -> Iterator[float]:
    """Scales of drawings from the least on: 1 : 2.5 and so on, and 2.5 : 1 for what is enlarged."""
    for exponent in count(floor(log10(least)) - 1):
        for step in _STEPS if exponent >= 0 else [10 / step for step in reversed(_STEPS)]:
            if step * 10.0**exponent >= least:
                yield step * 10.0**exponent


def _depth(model: _Model, scale: float) -> _Depth:
    fit = model.fit
    step = min(max(model.spacing / scale, 2.0), 90 / model.count)
    over = None
    if model.frame is not None and fit.frame is not None and fit.frame.depth is not None:
        over = (float(fit.frame.depth) / model.spacing - model.count) / 2 * step
        over = over if over <= 15 else None
    edge = step / 2 + max(over or 0, 0)
    apart = min(max(step, 3.0), 7.0)
    stands = edge + 0.8 * apart
    ends = {"inner": edge + 1.5, "outer": edge + 1.5}
    if fit.stands != "none":
        ends[fit.stands] = stands + 1.5
    plate = ends.get(fit.plate, 0) + 0.6 * apart
    if fit.plate != "none":
        ends[fit.plate] = plate + 2.5
    if fit.stands != "none":
        ends[fit.stands] += 3 + max(_width(_shorten(name, _NAME, _TEXT), _TEXT) for name in model.bodies.values())
    true = abs(step * scale - model.spacing) < 1e-6 * model.spacing
    return _Depth(step, ends["inner"], ends["outer"], plate, stands, true, over)


def _arranged(model: _Model, blocks: list[_Block], size: Point, scale: float) -> Iterator[_Sheet]:
    """The ways to fill a page at a scale: the side view beside or below the front view, the notes around them."""
    title = _wrap(_clean(model.design.title), size[0] - 2 * _MARGIN, _TITLE, 3)
    left, top = _MARGIN, _MARGIN + 5.6 * len(title) + 7
    right, bottom = size[0] - _MARGIN, size[1] - _MARGIN
    half = model.half[0] / scale, model.half[1] / scale
    depth = _depth(model, scale)
    wide, high = 2 * (half[0] + _BESIDE), 2 * (half[1] + _ABOVE) + 4
    deep = depth.before + (model.count - 1) * depth.step + depth.after
    row, below = left + wide + _GAP + deep, top + high + _GAP
    ways: list[tuple[bool, list[Box]]] = []
    if row <= right and top + high <= bottom:
        beside = row + _GAP
        ways.append((True, [(left, below, right, bottom), (beside, top, right, top + high)]))
        ways.append((True, [(beside, top, right, bottom), (left, below, row, bottom)]))
    if left + max(wide, deep) <= right and below + high <= bottom:
        ways.append((False, [(left + deep + _GAP, below, right, bottom), (left + wide + _GAP, top, right, below)]))
    for in_row, regions in ways:
        notes = _flowed(blocks, regions)
        if notes is None:
            continue
        free = right - row if in_row and all(x < row for _, _, _, (x, _) in notes) else 0.0
        axis = left + free / 3 + wide / 2, top + half[1] + _ABOVE
        if in_row:
            side = axis[0] + wide / 2 + free / 3 + _GAP + depth.before, axis[1]
        else:
            side = left + depth.before, axis[1] + high + _GAP
        placed = [(block, first, last, (x - axis[0], y - axis[1])) for block, first, last, (x, y) in notes]
        corner = -axis[0], -axis[1]
        yield _Sheet(size, scale, title, corner, half, (side[0] - axis[0], side[1] - axis[1]), depth, placed)


def _flowed(blocks: list[_Block], regions: list[Box]) -> list[tuple[_Block, int, int, Point]] | None:
    """Blocks as columns in regions, each whole where one has room for it, else over several columns; or None."""
    cursors = [(left, top, 0.0) for left, top, _, _ in regions]  # where the next block goes, and its column's width
    placed: list[tuple[_Block, int, int, Point]] = []
    for block in blocks:
        first = 0
        while first < block.count:
            rest = block.count - first
            tried = [_next(block, region, cursor, rest) for region, cursor in zip(regions, cursors, strict=True)]
            some = [number for number, (_, room) in enumerate(tried) if room >= min(rest, 4)]
            if not some:
                return None
            chosen = next((number for number in some if tried[number][1] >= rest), some[0])
            (x, y, width), room = tried[chosen]
            last = first + min(rest, room)
            placed.append((block, first, last, (x, y)))
            cursors[chosen] = x, y + block.head + (last - first) * block.row + _GAP, max(width, block.width)
            first = last
    return placed


def _next(
    block: _Block, region: Box, cursor: tuple[float, float, float], rest: int
) -> tuple[tuple[float, float, float], int]:
    """Where a block may go on in a region, at the cursor or in a next column, and how many rows there is room for."""
    _, top, right, bottom = region
    x, y, width = cursor
    here = floor((bottom - y - block.head) / block.row) if x + block.width <= right else 0
    after = x + width + _GAP
    there = floor((bottom - top - block.head) / block.row) if after + block.width <= right else 0
    if (here >= min(rest, 4) and not (block.beside and there >= rest)) or there < 1:
        return cursor, here
    return (after, top, 0.0), there


# -- notes -----------------------------------------------------------------------------------------------------------

_HEADS = ("ring", "body", "teeth", "sense", "link", "direction", "x", "y", "wheel", "pinion", "third")
_LEFT_ALIGNED = (1, 3)


def _table(model: _Model) -> _Block:
    """A row for each ring and the link from it to the next, one for each third gear, and the drive's."""
    rows: list[tuple[str, ...]] = []

    def place(spot: Spot, direction: float) -> tuple[str, str, str]:
        return _number(direction, 1), model.length(spot[0] / 1000), model.length(spot[1] / 1000)

    def thirds(teeth: tuple[int, ...], at: LinkPlace) -> None:
        for one, spot in zip(teeth, at.thirds, strict=True):
            turned = degrees(atan2(spot[1], spot[0])) % 360
            rows.append(("", "", "", "", "third", *place(spot, turned), "", "", str(one)))

    for ring, teeth in enumerate(model.train.rings):
        name = _shorten(model.bodies.get(ring, "–"), _LONG_NAME, _TEXT)
        own = (str(ring), name, str(teeth), "reverse" if model.reverse[ring] else "same")
        if ring == model.count - 1:
            rows.append((*own, *[""] * 7))
            continue
        link, at = model.train.links[ring], model.placement.links[ring]
        rows.append((*own, f"L{ring}", *place(at.arbor, float(at.direction)), str(link.wheel), str(link.pinion), ""))
        thirds(link.thirds, at)
    drive = model.placement.drive
    if drive is not None:
        told = f"motor, {_number(float(drive.rpm), 3)} rpm"
        spot = place(drive.at.arbor, float(drive.at.direction))
        rows.append((str(drive.ring), told, "", "", "M", *spot, "", str(drive.pinion), ""))
        thirds(drive.thirds, drive.at)
    widths = [
        max(_width(head, _TEXT), *(_width(row[column], _TEXT) for row in rows)) + 2.2
        for column, head in enumerate(_HEADS)
    ]

    def draw(pen: _Pen, corner: Point, first: int, last: int) -> None:
        x, y = corner
        right = x + sum(widths)
        pen.text((x, y + 1.5), f"Rings and links [{model.design.units}]", _HEAD, "start", bold=True)
        for number, row in enumerate((_HEADS, *rows[first:last])):
            middle, edge = y + 5.2 + number * _ROW, x
            for column, (cell, width) in enumerate(zip(row, widths, strict=True)):
                start = column in _LEFT_ALIGNED
                pen.text(
                    (edge + 1.1 if start else edge + width - 1.1, middle), cell, anchor="start" if start else "end"
                )
                edge += width
        for under in (1, last - first + 1):
            level = y + 5.2 + (under - 0.5) * _ROW
            pen.line((x, level), (right, level), "thin")

    return _Block(sum(widths), 5.2 + 0.5 * _ROW + 0.2, _ROW, len(rows), draw)


def _legend(model: _Model) -> _Block:
    """What the lines and labels mean, as far as they occur."""
    drive, fit = model.placement.drive, model.fit
    thirds = any(gear.part.endswith("third") for gear in model.gears)
    link = model.train.links[0]
    entries = [
        ("line", "pitch", "pitch circle", True),
        ("circle", "wheel", "wheel, on the level of the inner ring", True),
        ("circle", "pinion", "pinion, on the level of the outer ring", True),
        ("circle", "third", "third gear", thirds),
        ("circle", "motor", "motor pinion", drive is not None),
        ("ring", "ring", "ring, from its inner edge to its tips", True),
        ("circle", "roller", "roller", any(model.placement.rollers)),
        ("post", "dot", "post: arbor, third gear, motor or roller", True),
        ("body", "dot", "body on its ring; blank rings have none", True),
        ("arrow", "dot", "sense: as ring 0, counterclockwise", True),
        ("arrow", "open", "sense: reverse", any(model.reverse)),
        ("line", "arbor", "arbor or shaft, in the side view", True),
        ("line", "post", "post to the plate, in the side view", fit.plate != "none"),
        ("rect", "section", "ring or plate, cut", True),
        (
            "text",
            "",
            f"0: {_shorten(model.bodies[0], 12, _TEXT)} {model.train.rings[0]}: ring 0, its body, its teeth",
            True,
        ),
        ("text", "", f"L0 {link.wheel}/{link.pinion}: link 0 (ring 0 to 1), teeth of wheel/pinion", True),
    ]
    shown = [entry[:3] for entry in entries if entry[3]]

    def draw(pen: _Pen, corner: Point, first: int, last: int) -> None:
        x, y = corner
        pen.text((x, y + 1.5), "Legend", _HEAD, "start", bold=True)
        for number, (shape, style, text) in enumerate(shown[first:last]):
            middle = y + 5.6 + number * 3.6
            if shape != "text":
                _swatch(pen, (x + 5, middle), shape, style)
            pen.text((x if shape == "text" else x + 12, middle), text, anchor="start")

    return _Block(12 + max(_width(text, _TEXT) for _, _, text in shown), 3.8, 3.6, len(shown), draw, True)


def _swatch(pen: _Pen, at: Point, shape: str, style: str) -> None:
    x, y = at
    if shape == "circle":
        pen.circle(at, 1.5, style)
    elif shape == "ring":
        pen.rect((x - 5, y - 1, x + 5, y + 1), "odd")
        for edge in (y - 1, y + 1):
            pen.line((x - 5, edge), (x + 5, edge), style)
    elif shape == "rect":
        pen.rect((x - 5, y - 1, x + 5, y + 1), style)
    elif shape in ("post", "body"):
        pen.circle(at, _BODY if shape == "body" else _POST, style)
    elif shape == "arrow":
        pen.line((x - 4, y), (x + 3, y), "arrow")
        pen.path(_head(pen, (x + 4, y), 0), style)
    else:
        pen.line((x - 5, y), (x + 5, y), style)


def _bars(model: _Model) -> _Block:
    """The scale bar, in the design's unit and always in millimetres."""
    units = [("mm", 1.0), *([("in", float(MM_PER_INCH))] if model.design.units == "in" else [])]

    def draw(pen: _Pen, corner: Point, first: int, last: int) -> None:
        for number, (unit, length) in enumerate(units[first:last]):
            x, y = corner[0], corner[1] + 9 * number
            most = 48 * pen.scale / length
            step = 10.0 ** floor(log10(most))
            whole = step * next(factor for factor in (5, 2, 1) if factor * step <= most)
            long = whole * length / pen.scale
            for part in range(5):
                box = (x + part * long / 5, y, x + (part + 1) * long / 5, y + 1.5)
                pen.rect(box, "dot" if part % 2 == 0 else "white")
            pen.rect((x, y, x + long, y + 1.5), "rule", part="scale", mm=_number(whole * length, 6))
            pen.text((x, y + 3.6), "0")
            pen.text((x + long, y + 3.6), f"{_number(whole, 6)} {unit}")

    return _Block(60, 0, 9, len(units), draw)


def _heading(pen: _Pen, model: _Model, sheet: _Sheet) -> None:
    """The title, and under it the scale and the lengths that hold everywhere."""
    x, y = sheet.corner[0] + _MARGIN, sheet.corner[1] + _MARGIN
    for number, line in enumerate(sheet.title):
        pen.text((x, y + 2.4 + 5.6 * number), line, _TITLE, "start", bold=True)
    rings, fit, frame = model.design.rings, model.fit, model.fit.frame
    pitch = float(rings.pitch.value)
    told = [
        f"Scale {_number(1 / pen.scale, 6)} : 1" if pen.scale < 1 else f"Scale 1 : {_number(pen.scale, 6)}",
        f"lengths in {model.design.units}",
        f"module {model.length(pitch)}" if rings.pitch.is_module else f"tooth pitch {model.length(pitch)}",
        f"addendum {model.length(model.addendum)}",
        f"rim {model.length(model.rim)}",
        f"levels {model.length(model.spacing)} apart" + ("" if sheet.depth.true else " (not drawn to scale)"),
    ]
    if frame is not None:
        sizes = [frame.width] if frame.shape != "rectangle" else [frame.width, frame.height]
        size = " × ".join(model.length(float(one)) for one in sizes)
        deep = "" if frame.depth is None else f", {model.length(float(frame.depth))} deep"
        told.append(f"{frame.shape} frame {size}{deep}" + (" (too large to be drawn)" if model.frame is None else ""))
    if fit.rollers is not None:
        told.append(f"rollers of radius {model.length(model.roller)}")
    told.append("x to the right and y upwards from the main axis, directions counterclockwise from the right")
    y += 5.6 * len(sheet.title) + 1.2
    for number, line in enumerate(_wrap(" · ".join(told), sheet.size[0] - 2 * _MARGIN, _TEXT, 2)):
        pen.text((x, y + 3.1 * number), line, anchor="start")


# -- the front view --------------------------------------------------------------------------------------------------

_POST, _BODY, _ARROW = 0.45, 1.15, 6.5  # radii of dots, length of an arrow
_TURNS = 48  # directions in which a ring's label may stand
_GEAR_STYLES = {"wheel": "wheel", "pinion": "pinion", "motor-pinion": "motor"}


def _front(pen: _Pen, model: _Model, sheet: _Sheet) -> None:
    scale, half = pen.scale, sheet.half
    labels = _Labels((-half[0], -half[1], half[0], half[1]))
    pen.open("front")
    _edge(pen, model, labels, half)
    for ring in reversed(range(model.count)):
        _ring(pen, model, labels, ring)
    for gear in sorted(model.gears, key=lambda gear: -gear.teeth):
        at, style = (gear.x / scale, -gear.y / scale), _GEAR_STYLES.get(gear.part, "third")
        told: dict[str, str | int] = {"teeth": gear.teeth, "level": gear.level}
        if gear.link >= 0:
            told["link"] = gear.link
        pen.circle(at, gear.tip / scale, style, part=f"{gear.part}-tip", **told)
        pen.circle(at, gear.radius / scale, "pitch", part=gear.part, **told)
        labels.circle(at, gear.tip / scale, 1.5)
        labels.circle(at, gear.radius / scale, 0.5)
    for ring, spot in model.rollers():
        at, radius = (spot[0] / scale, -spot[1] / scale), model.roller / scale
        pen.circle(at, radius, "roller", part="roller", ring=ring)
        pen.circle(at, _POST / 2, "dot", part="post")
        labels.circle(at, radius, 1.5)
        labels.dot(at, _POST)
    axles = {(gear.x, gear.y) for gear in model.gears}
    for x, y in sorted(axles):
        pen.circle((x / scale, -y / scale), _POST, "dot", part="post")
        labels.dot((x / scale, -y / scale), _POST)
    _name_gears(pen, model, labels)
    turn = 1.5 * pi
    for ring in range(model.count):
        turn = _name_ring(pen, model, labels, ring, turn)
    pen.text((0, half[1] + _ABOVE + 2.5), "Front view", _HEAD, bold=True)
    pen.close()


def _edge(pen: _Pen, model: _Model, labels: _Labels, half: Point) -> None:
    """The frame, or where there is none a circle around everything; the directions along it."""
    frame = model.fit.frame
    square = model.frame is not None and frame is not None and not frame.round
    box = (-half[0], -half[1], half[0], half[1])
    if square:
        pen.rect(box, "frame", part="frame")
    else:
        pen.circle((0, 0), half[0], "thin" if model.frame is None else "frame", part="frame" if model.frame else "edge")
    used = {place.direction for place in model.shafts()}
    taken: list[Box] = []
    for direction in sorted(model.fit.directions or (), key=lambda one: (one not in used, one)):
        turn = radians(float(direction))
        ray = cos(turn), -sin(turn)
        far = min(size / abs(part) if abs(part) > 1e-9 else 1e9 for size, part in zip(half, ray, strict=True))
        far = far if square else half[0]
        at = ray[0] * far, ray[1] * far
        if direction in used:
            pen.line((0, 0), at, "ray")
        long = 2.0 if direction in used else 1.2
        pen.line(at, (at[0] + long * ray[0], at[1] + long * ray[1]), "rule" if direction in used else "thin")
        text = _number(float(direction), 2) + "°"
        wide = _width(text, _TEXT) / 2
        middle = at[0] + ray[0] * (2.6 + wide), at[1] + ray[1] * (2.6 + 1.1)
        place = (middle[0] - wide, middle[1] - 1.2, middle[0] + wide, middle[1] + 1.2)
        if not any(_meet(place, other) for other in taken):
            taken.append(place)
            labels.take(place)
            pen.text(middle, text, bold=direction in used)


def _meet(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _ring(pen: _Pen, model: _Model, labels: _Labels, ring: int) -> None:
    pitch, tip = model.radii[ring] / pen.scale, (model.radii[ring] + model.addendum) / pen.scale
    edge = (model.radii[ring] - model.rim) / pen.scale
    teeth = model.train.rings[ring]
    pen.path(_disc(pen, tip) + (_disc(pen, edge) if edge > 0 else ""), "odd" if ring % 2 else "even")
    pen.lines[-1] = pen.lines[-1].replace("/>", ' fill-rule="evenodd"/>')
    pen.circle((0, 0), tip, "ring", part="ring-tip", ring=ring, teeth=teeth)
    pen.circle((0, 0), pitch, "pitch", part="ring", ring=ring, teeth=teeth)
    if edge > 0:
        pen.circle((0, 0), edge, "ring", part="ring-edge", ring=ring, teeth=teeth)
    for radius, weight in ((tip, 1.0), (pitch, 0.4), (edge, 1.0)):
        labels.circle((0, 0), max(radius, 0), weight, ring)


def _disc(pen: _Pen, radius: float) -> str:
    half = f"A{pen(radius, radius)} 0 0 0"
    return f"M{pen(radius)} 0{half} {pen(-radius)} 0{half} {pen(radius)} 0Z"


def _name_gears(pen: _Pen, model: _Model, labels: _Labels) -> None:
    """The tooth counts of every link, third gear and of the drive, near their middles."""
    scale = pen.scale
    for index, (link, place) in enumerate(zip(model.train.links, model.placement.links, strict=True)):
        at = place.arbor[0] / 1000 / scale, -place.arbor[1] / 1000 / scale
        inside = (model.radius(max(link.wheel, link.pinion)) + model.addendum) / scale
        _call_out(pen, labels, at, inside, f"L{index} {link.wheel}/{link.pinion}")
    for gear in model.gears:
        at = gear.x / scale, -gear.y / scale
        if gear.part == "motor-pinion":
            assert model.placement.drive is not None
            rpm = _number(float(model.placement.drive.rpm), 3)
            _call_out(pen, labels, at, gear.tip / scale, f"M {gear.teeth}, {rpm} rpm")
        elif gear.part.endswith("third"):
            _call_out(pen, labels, at, gear.tip / scale, str(gear.teeth))


_COMPASS = (
    (1, 0, 0.0),
    (-1, 0, 0.0),
    (0, -1, 1.0),
    (0, 1, 1.0),
    (1, -1, 1.5),
    (-1, -1, 1.5),
    (1, 1, 1.5),
    (-1, 1, 1.5),
)


def _name_ring(pen: _Pen, model: _Model, labels: _Labels, ring: int, before: float) -> float:
    """The body, the arrow for the sense and the label of a ring, together where they cover least, near a direction
    [radians]; returns theirs."""
    body, teeth, reverse = model.bodies.get(ring), model.train.rings[ring], model.reverse[ring]
    text = f"{ring}: {teeth}" if body is None else f"{ring}: {_shorten(body, _NAME, _TEXT)} {teeth}"
    radius = model.stands_at(ring) / pen.scale
    way = -1 if reverse else 1
    first, last = (way * min(long / radius, turn) for long, turn in ((1.8, 0.4), (1.8 + _ARROW, 1.8)))
    wide, high = _width(text, _TEXT) / 2 + 0.3, 0.56 * _TEXT

    def at(turn: float) -> Point:
        return radius * cos(turn), -radius * sin(turn)

    choices = [(2 * pi * turn / _TURNS, side) for turn in range(_TURNS) for side in _COMPASS]
    spots = np.array([at(turn) for turn, _ in choices])
    sides = np.array([side for _, side in choices])
    size = np.array([wide, high])
    middles = spots + sides[:, :2] * (size + 1.4)
    boxes = np.hstack([middles - size, middles + size])
    costs = labels.costs(np.hstack([spots - 1.4, spots + 1.4]), ring) + sides[:, 2]
    costs = costs + np.array([1 - cos(turn - before) for turn, _ in choices])
    for part in (0.0, 0.5, 1.0):
        along = np.array([at(turn + first + part * (last - first)) for turn, _ in choices])
        arrow = np.hstack([along - 0.9, along + 0.9])
        hit = (boxes[:, :2] < arrow[:, 2:]) & (boxes[:, 2:] > arrow[:, :2])
        costs = costs + labels.costs(arrow, ring) / 2 + 60.0 * (hit[:, 0] & hit[:, 1])
    chosen, box = labels.best(boxes, costs, ring)
    turn = choices[chosen][0]
    start, end = at(turn + first), at(turn + last)
    for part in range(5):
        labels.dot(at(turn + first + part / 4 * (last - first)), 0.9, 30)
    labels.dot(at(turn), 1.4, 30)

    told: dict[str, str | int] = {"ring": ring, "sense": "reverse" if reverse else "same"}
    pen.open("", model.bodies.get(ring, f"ring {ring}, blank"))
    flag = 1 if reverse else 0  # with y downwards, 0 is counterclockwise
    pen.path(f"M{pen(*start)}A{pen(radius, radius)} 0 0 {flag} {pen(*end)}", "arrow", part="sense", **told)
    heading = atan2(-way * cos(turn + last), -way * sin(turn + last))
    tip = end[0] + 0.9 * cos(heading), end[1] + 0.9 * sin(heading)
    pen.path(_head(pen, tip, heading), "open" if reverse else "dot")
    if body is not None:
        pen.circle(at(turn), _BODY, "dot", part="body", ring=ring)
    pen.label(box, text)
    pen.close()
    return turn


def _head(pen: _Pen, tip: Point, heading: float) -> str:
    """The head of an arrow; heading: radians clockwise from the right."""
    corners = [tip] + [
        (tip[0] - 2.0 * cos(heading + turn), tip[1] - 2.0 * sin(heading + turn)) for turn in (0.38, -0.38)
    ]
    return "M" + "L".join(pen(*corner) for corner in corners) + "Z"


# -- the side view ---------------------------------------------------------------------------------------------------


class _Section:
    """The side view: the main axis lies level, everything at its distance from it, links above and below in turn."""

    def __init__(self, pen: _Pen, model: _Model, sheet: _Sheet) -> None:
        self.pen, self.model, self.depth = pen, model, sheet.depth
        self.origin, self.half = sheet.side, sheet.half[1]
        self.last = model.count - 1
        left, right = self.x(0) - sheet.depth.before, self.x(self.last) + sheet.depth.after
        self.labels = _Labels((left, self.origin[1] - self.half, right, self.origin[1] + self.half))
        self.thick = min(0.42 * sheet.depth.step, 3.0)

    def x(self, level: float) -> float:
        return self.origin[0] + level * self.depth.step

    def y(self, radius: float, way: int = 1) -> float:
        """Where a distance [mm of the model] from the main axis is: way 1 above it, -1 below."""
        return self.origin[1] - way * radius / self.pen.scale

    def end(self, side: str, beyond: float) -> float:
        return self.x(0) - beyond if side == "inner" else self.x(self.last) + beyond

    def way(self, link: int) -> int:
        """Links stand above and below in turn; the drive (-1) opposite to the wheel on its level."""
        if link >= 0:
            return 1 if link % 2 == 0 else -1
        drive = self.model.placement.drive
        assert drive is not None
        return -self.way(drive.ring) if drive.ring < self.last else self.way(self.last)

    def post(self, radius: float, way: int, bottom: int, top: int) -> None:
        """What holds something on these levels: to the plate, or a stub."""
        side, y = self.model.fit.plate, self.y(radius, way)
        if side != "none":
            start = self.x(bottom if side == "inner" else top)
            self.pen.line((start, y), (self.end(side, self.depth.plate), y), "post")

    def slab(
        self, level: int, inner: float, outer: float, way: int, style: str, thick: float, **data: str | int
    ) -> None:
        """Something flat on a level, between two distances from the main axis."""
        x, ends = self.x(level), sorted((self.y(inner, way), self.y(outer, way)))
        box = (x - thick / 2, ends[0], x + thick / 2, ends[1])
        self.pen.rect(box, "white")
        self.pen.rect(box, style, **data)
        self.labels.take(box, 3)


def _side(pen: _Pen, model: _Model, sheet: _Sheet) -> None:
    view = _Section(pen, model, sheet)
    pen.open("side")
    _background(view)
    for index, place in enumerate(model.placement.links):
        view.post(hypot(*place.arbor) / 1000, view.way(index), index, index + 1)
    for gear in model.gears:
        if gear.part not in ("wheel", "pinion"):
            view.post(hypot(gear.x, gear.y), view.way(gear.link), gear.level, gear.level)
    rollers = dict(model.rollers())
    for ring, spot in rollers.items():
        for way in (1, -1):
            view.post(hypot(*spot), way, ring, ring)
    for index, place in enumerate(model.placement.links):
        y, over = view.y(hypot(*place.arbor) / 1000, view.way(index)), 0.3 * sheet.depth.step
        pen.line((view.x(index) - over, y), (view.x(index + 1) + over, y), "arbor", part="arbor", link=index)
    for gear in model.gears:
        radius, style = hypot(gear.x, gear.y), _GEAR_STYLES.get(gear.part, "third")
        thick = view.thick * (0.35 if style == "third" else 0.7)
        view.slab(gear.level, radius - gear.tip, radius + gear.tip, view.way(gear.link), style, thick)
    for ring, radius in enumerate(model.radii):
        for way in (1, -1):
            view.slab(ring, max(radius - model.rim, 0), radius + model.addendum, way, "section", view.thick)
    for ring, spot in rollers.items():
        for way in (1, -1):
            view.slab(ring, hypot(*spot) - model.roller, hypot(*spot) + model.roller, way, "roller", 0.6 * view.thick)
    _bodies(view)
    for index, place in enumerate(model.placement.links):
        at = (view.x(index) + view.x(index + 1)) / 2, view.y(hypot(*place.arbor) / 1000, view.way(index))
        view.labels.line((view.x(index), at[1]), (view.x(index + 1), at[1]), 2)
        _call_out(pen, view.labels, at, 3.0, f"L{index}")
    drive = model.placement.drive
    if drive is not None:
        _call_out(pen, view.labels, (view.x(drive.ring), view.y(hypot(*drive.at.arbor) / 1000, view.way(-1))), 3.0, "M")
    middle = (view.x(0) + view.x(view.last)) / 2
    pen.text((middle, view.origin[1] + view.half + _ABOVE + 2.5), "Side view", _HEAD, bold=True)
    pen.close()


def _background(view: _Section) -> None:
    """Levels with their numbers, the main axis, the frame and the plate."""
    pen, depth, model = view.pen, view.depth, view.model
    above, below = view.origin[1] - view.half, view.origin[1] + view.half
    every = next(every for every in (1, 2, 5, 10, 20, 50, 100) if every * depth.step >= 3.6)
    for level in range(model.count):
        pen.line((view.x(level), above), (view.x(level), below), "level", part="level", level=level)
        if level % every == 0:
            for y in (above - 2, below + 2):
                pen.text((view.x(level), y), str(level))
    left, right = view.x(0) - depth.step / 2, view.x(view.last) + depth.step / 2
    if model.frame is not None:
        over = depth.frame or 0.0
        frame = (left - over, above, right + over, below)
        if depth.frame is not None:
            pen.rect(frame, "frame", part="frame")
        else:
            for y in (above, below):
                pen.line((frame[0], y), (frame[2], y), "frame")
        left, right = min(left, frame[0]), max(right, frame[2])
    pen.line((left - 2, view.origin[1]), (right + 2, view.origin[1]), "axis")
    side = model.fit.plate
    if side != "none":
        x = view.end(side, depth.plate)
        beyond = x - 1.4 if side == "inner" else x + 1.4
        pen.rect((min(x, beyond), above, max(x, beyond), below), "plate", part="plate")


def _bodies(view: _Section) -> None:
    """Bodies on their rings, or at the ends of their stands with their names beside them."""
    pen, depth, model = view.pen, view.depth, view.model
    side = model.fit.stands
    lowest = -1e9
    for ring, name in sorted(model.bodies.items(), reverse=True):
        y = view.y(model.stands_at(ring))
        if side == "none":
            pen.circle((view.x(ring), y), _BODY, "dot")
            continue
        end = view.end(side, depth.stands)
        pen.line((view.x(ring), y), (end, y), "rule")
        pen.circle((end, y), _BODY, "dot")
        out = 1 if side == "outer" else -1
        lowest = max(y, lowest + 1.15 * _TEXT)
        beyond = end + out * (2.5 + (0.6 * min(max(depth.step, 3.0), 7.0) + 2.5 if model.fit.plate == side else 0))
        if lowest != y or model.fit.plate == side:
            pen.line((end, y), (beyond, lowest), "thin")
        pen.text((beyond + out * 0.4, lowest), _shorten(name, _NAME, _TEXT), anchor="start" if out > 0 else "end")


# -- the document ----------------------------------------------------------------------------------------------------


def _document(pen: _Pen, model: _Model, sheet: _Sheet) -> str:
    wide, high = sheet.size
    title = _clean(model.design.title)
    return "\n".join(
        [
            '<?xml version="1.0" encoding="UTF-8"?>',
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{_number(wide, 3)}mm" height="{_number(high, 3)}mm" '
            f'viewBox="{pen(*sheet.corner, wide, high)}" font-family={quoteattr(_FONT)} '
            f'data-units-per-mm="{pen.per_mm}" data-scale="{_number(pen.scale, 6)}">',
            f"<title>{escape(title)}</title>",
            f'<rect x="{pen(sheet.corner[0])}" y="{pen(sheet.corner[1])}" width="{pen(wide)}" height="{pen(high)}" '
            'fill="#fff"/>',
            *pen.lines,
            "</svg>",
            "",
        ]
    )
