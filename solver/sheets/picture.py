"""The picture of a placed train: a front view and a side view to scale, in black and white, as one SVG document.

Everything here is counted in millimetres of the printed page, x to the right and y downwards, from the main axis of
the front view. The pen turns them into the document's units, millimetres of the model: a circle's r is its radius in
the metal.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import count, pairwise, product
from math import atan2, ceil, cos, degrees, floor, hypot, log10, pi, radians, sin, sqrt
from xml.sax.saxutils import escape, quoteattr

import numpy as np
from numpy.typing import NDArray

from solver.design.design import MM_PER_INCH, Design
from solver.design.links import KIND_BY_NAME
from solver.design.train import DrivePlace, LinkPlace, Placement, Spot, Train

Point = tuple[float, float]
Box = tuple[float, float, float, float]  # left, top, right, bottom
Cursor = tuple[float, float, float]  # x, y, and the width of the column so far
Boxes = NDArray[np.float64]  # a row for each, or a number for each

_TEXT, _HEAD, _TITLE = 2.3, 2.7, 4.4  # text sizes
_ROW, _LEGEND_ROW, _GAP, _MARGIN = 3.1, 3.5, 5.0, 10.0  # rows of notes, between views and notes, page margin
_BESIDE, _ABOVE = 9.0, 5.6  # room for direction labels
_PAGE = (210.0, 297.0)
_LEAST_FRONT = 50.0  # a front view that would be smaller than this gets a larger page
_STEPS = (1, 1.1, 1.2, 1.3, 1.4, 1.5, 1.6, 1.8, 2, 2.2, 2.5, 2.8, 3, 3.2, 3.5, 4, 4.5, 5, 5.5, 6, 7, 8, 9)
_NAME, _NAMES = 22.0, (44.0, 18.0)  # widths that a body's name may take in a view, and in the table if need be
_WHOLE = 1.15  # so much smaller the views may be for a table in one piece, or for all levels at their distance
_MANY = 8  # rings, from which on the side view may be pressed together
_FAR_FRAME = 1.7  # a frame that is so many times larger than the train is told, not drawn
_FONT = "Helvetica, Arial, 'Liberation Sans', 'DejaVu Sans', sans-serif"

# Strokes: width, grey, dashes.
_STROKES: dict[str, tuple[float, str, tuple[float, ...]]] = {
    "ring": (0.16, "#444", ()),
    "pitch": (0.12, "#555", (2.2, 0.6, 0.4, 0.6)),
    "wheel": (0.3, "#000", ()),
    "pinion": (0.3, "#000", ()),
    "third": (0.3, "#000", (1.1, 0.6)),
    "motor": (0.4, "#000", ()),
    "roller": (0.2, "#000", ()),
    "frame": (0.45, "#000", ()),
    "ray": (0.1, "#999", (4, 0.8, 0.8, 0.8)),
    "thin": (0.13, "#000", ()),
    "rule": (0.25, "#000", ()),
    "level": (0.1, "#888", (3, 0.7, 0.5, 0.7)),
    "axis": (0.15, "#000", (6, 1, 1, 1)),
    "section": (0.2, "#000", ()),
    "plate": (0.3, "#000", ()),
    "hatch": (0.1, "#777", ()),
    "arbor": (0.5, "#000", ()),
    "post": (0.15, "#777", ()),
}
_FILLS = {
    "even": 'fill="#000" fill-opacity="0.05" fill-rule="evenodd"',
    "odd": 'fill="#000" fill-opacity="0.12" fill-rule="evenodd"',
    "dot": 'fill="#000"',
    "white": 'fill="#fff"',
}
# How far apart the lines are, and which way they slope.
_HATCHES = {"pinion": (1.1, (1,)), "motor": (0.9, (1, -1)), "section": (0.7, (1,)), "plate": (0.9, (1,))}
_SLANT = sqrt(0.5)


def picture(design: Design, train: Train) -> str:
    """A front view and a side view of a placed train of a design, with a table and a legend, as an SVG document.

    The page is A4, larger only for more rings and third gears than fit on it. One unit of the document is a millimetre
    of the model (`data-units-per-mm` tells; others serve a radius below 10 mm or above 5 m), and (0, 0) the main axis
    of the front view. What is drawn there says what it is: `data-part`, with `data-link`, `data-ring`, `data-level`,
    `data-teeth` and `data-sense`. Raises ValueError for a train without places.
    """
    if train.placement is None:
        raise ValueError("a train without places cannot be drawn; the design needs fit.directions")
    model = _Model(design, train, train.placement)
    sheet = _fitted(model)
    per_mm = 1.0
    while model.envelope * per_mm < 10:  # three decimals would be too coarse
        per_mm *= 1000
    while model.envelope * per_mm > 5_000:  # some programs cannot draw letters that are hundreds of units high
        per_mm /= 1000
    pen = _Pen(sheet.scale, per_mm)
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
        self.gap = max(min(outer - inner for inner, outer in pairwise(self.radii)), 0.0)
        self.spacing = float(design.rings.level_spacing)
        self.bodies = {ring: _clean(design.bodies[body].name) for body, ring in enumerate(train.places)}
        self.reverse = [False]
        for link in train.links:
            self.reverse.append(self.reverse[-1] ^ KIND_BY_NAME[link.kind].reverses)
        self.gears = list(self._gears())
        tips = [(0.0, 0.0, max(self.radii) + self.addendum), *((gear.x, gear.y, gear.tip) for gear in self.gears)]
        self.envelope = max(hypot(x, y) + tip for x, y, tip in tips)
        frame = self.fit.frame
        self.frame: Point | None = None  # half its width and height, unless it is far away
        self.half = self.envelope, self.envelope
        if frame is not None and max(frame.width, frame.height) <= 2 * _FAR_FRAME * self.envelope:
            self.frame = float(frame.width) / 2, float(frame.height) / 2
            self.half = (
                max(self.frame[0], *(abs(x) + tip for x, _, tip in tips)),
                max(self.frame[1], *(abs(y) + tip for _, y, tip in tips)),
            )
        self.tall = max(self.half[1], self.envelope)

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

    def stands_at(self, ring: int) -> float:
        """Radius [mm] at which a body stands on its ring: the middle of the rim."""
        return max(self.radii[ring] - self.rim / 2, self.radii[ring] / 2)

    def length(self, value: float) -> str:
        """A length [mm] in the design's unit, without it."""
        return _number(value / (float(MM_PER_INCH) if self.design.units == "in" else 1.0), 4)

    def spot(self, spot: Spot) -> tuple[str, str]:
        """x and y in the design's unit, to the hundredth of a mm, to the micrometre in a small train."""
        per_mm, decimals = (float(MM_PER_INCH), 3) if self.design.units == "in" else (1.0, 2)
        decimals += self.envelope < 10
        return _number(spot[0] / 1000 / per_mm, decimals), _number(spot[1] / 1000 / per_mm, decimals)


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

    def __init__(self, scale: float, per_mm: float) -> None:
        self.scale, self.per_mm = scale, per_mm
        self.unit = scale * per_mm
        self.lines: list[str] = []
        self.styles = dict(_FILLS)
        for name, (width, grey, dashes) in _STROKES.items():
            dashed = f' stroke-dasharray="{self(*dashes)}"' if dashes else ""
            self.styles[name] = f'fill="none" stroke="{grey}" stroke-width="{self(width)}"{dashed}'
        self.styles["open"] = self.styles["roller"].replace("none", "#fff")

    def __call__(self, *lengths: float) -> str:
        """Lengths in the document's units."""
        return " ".join(_number(length * self.unit, 3) for length in lengths)

    def put(self, name: str, style: str, attributes: dict[str, str], data: dict[str, str | int]) -> None:
        text = "".join(f" {key}={quoteattr(value)}" for key, value in attributes.items())
        told = "".join(f" data-{key}={quoteattr(str(value))}" for key, value in data.items())
        self.lines.append(f"<{name}{text} {self.styles[style]}{told}/>")

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

    def label(self, box: Box, text: str) -> None:
        """Text in the middle of a white box."""
        self.rect(box, "white", part="label")
        self.text(((box[0] + box[2]) / 2, (box[1] + box[3]) / 2), text)


# -- labels ----------------------------------------------------------------------------------------------------------


_FAR = (1.2, 2.2, 3.2, 4.5, 6.0, 8.0, 10.5, 13.5, 17.0, 21.0, 26.0, 32.0)  # of a label from what it names


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

    def covered(self, boxes: Boxes) -> Boxes:
        """What each box would cover of what is taken."""
        if not self.taken:
            return np.zeros(len(boxes))
        left, top, right, bottom = (boxes[:, side : side + 1] for side in range(4))
        x0, y0, x1, y1, weight = np.array(self.taken, dtype=float).T
        return np.asarray(((left < x1) & (right > x0) & (top < y1) & (bottom > y0)) @ weight)

    def costs(self, boxes: Boxes, owner: int = -2) -> Boxes:
        """What each box would cover. owner: whose own circles may be covered for a quarter of the cost."""
        left, top, right, bottom = (boxes[:, side : side + 1] for side in range(4))
        bounds = self.bounds
        out = (left < bounds[0]) | (top < bounds[1]) | (right > bounds[2]) | (bottom > bounds[3])
        total = self.covered(boxes) + 1000.0 * out[:, 0]
        if not self.circles:
            return total
        x, y, radius, weight, of = np.array(self.circles, dtype=float).T
        beside, over = np.maximum(left - x, x - right), np.maximum(top - y, y - bottom)
        near = np.maximum(beside, 0) ** 2 + np.maximum(over, 0) ** 2
        far = np.maximum(x - left, right - x) ** 2 + np.maximum(y - top, bottom - y) ** 2
        crossed = (near < (radius + 0.15) ** 2) & (far > np.maximum(radius - 0.15, 0) ** 2)
        return np.asarray(total + crossed @ np.where(of == owner, weight / 4, weight))

    def best(self, boxes: Boxes, before: Boxes, owner: int = -2) -> tuple[int, Box]:
        """The cheapest box, with what each costs before, and its number; it is taken."""
        at = int(np.argmin(np.round(self.costs(boxes, owner) + before, 6)))
        left, top, right, bottom = (float(side) for side in boxes[at])
        self.take((left, top, right, bottom))
        return at, (left, top, right, bottom)


def _size(text: str) -> tuple[float, float]:
    """Half the width and height of a label's box."""
    return _width(text, _TEXT) / 2 + 0.3, 0.56 * _TEXT


def _call_out(pen: _Pen, labels: _Labels, at: Point, inside: float, text: str) -> None:
    """A label near a point, and a line to it where it stands outside of that radius."""
    offsets = np.array([(far * cos(turn * pi / 8), far * sin(turn * pi / 8)) for far in _FAR for turn in range(16)])
    middles, size, start = np.array(at) + offsets, np.array(_size(text)), np.array(at)
    boxes = np.hstack([middles - size, middles + size])
    near = np.clip(start, boxes[:, :2], boxes[:, 2:])
    across = [labels.covered(np.hstack([start + part / 12 * (near - start)] * 2)) for part in range(2, 13)]
    corners = np.abs(offsets) + size
    outside = np.sqrt((corners**2).sum(axis=1)) > max(inside, 4.0)
    far = 0.15 * np.sqrt((offsets**2).sum(axis=1)) + 2.0 * outside
    chosen, box = labels.best(boxes, far + 0.3 * np.max(across, axis=0))
    if outside[chosen]:
        end = float(near[chosen][0]), float(near[chosen][1])
        pen.line(at, end, "thin")
        labels.line(at, end)
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
    pressed: bool  # with levels closer than is good to read, and without names
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

    @property
    def badness(self) -> float:
        """The scale, and what else is less than it might be."""
        return float(self.scale * _WHOLE ** (len(self.notes) + self.depth.pressed / 2))


def _fitted(model: _Model) -> _Sheet:
    """The largest scale at which everything is on the page; a larger page where the front view would be too small."""
    across, least = 2 * max(model.half), _LEAST_FRONT
    page = _PAGE
    while True:
        for widest in _NAMES:
            blocks = [_table(model, widest), _legend(model), _bars(model)]
            found: list[_Sheet] = []
            for scale in _scales(across / (page[0] - 2 * _MARGIN)):
                if across / scale < least or (found and scale > _WHOLE**2 * found[0].scale):
                    break
                for size, pressed in product((page, page[::-1]), (False, True) if model.count > _MANY else (False,)):
                    found += _arranged(model, blocks, size, _depth(model, scale, pressed), scale)
            if found:
                return min(found, key=lambda sheet: sheet.badness)
        page, least = (page[1], 2 * page[0]), 1.4 * least


def _scales(least: float) -> Iterator[float]:
    """Scales of drawings from the least on: 1 : 2.5 and so on, and 2.5 : 1 for what is enlarged."""
    for exponent in count(floor(log10(least)) - 1):
        for step in _STEPS if exponent >= 0 else [10 / step for step in reversed(_STEPS)]:
            if step * 10.0**exponent >= least:
                yield step * 10.0**exponent


def _depth(model: _Model, scale: float, pressed: bool) -> _Depth:
    fit = model.fit
    step = 52 / model.count if pressed else min(max(model.spacing / scale, 2.0), 90 / model.count)
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
    if fit.stands != "none" and not pressed:
        ends[fit.stands] += 3 + max(_width(_shorten(name, _NAME, _TEXT), _TEXT) for name in model.bodies.values())
    true = abs(step * scale - model.spacing) < 1e-6 * model.spacing
    return _Depth(step, ends["inner"], ends["outer"], plate, stands, true, pressed, over)


def _arranged(model: _Model, blocks: list[_Block], size: Point, depth: _Depth, scale: float) -> Iterator[_Sheet]:
    """The ways to fill a page at a scale: the side view beside or below the front view, the notes around them."""
    title = _wrap(_clean(model.design.title), size[0] - 2 * _MARGIN, 1.2 * _TITLE, 3)
    left, top = _MARGIN, _MARGIN + 5.6 * len(title) + 7
    right, bottom = size[0] - _MARGIN, size[1] - _MARGIN
    half, tall = (model.half[0] / scale, model.half[1] / scale), model.tall / scale
    wide, deep = 2 * (half[0] + _BESIDE), depth.before + (model.count - 1) * depth.step + depth.after
    front, side = (2 * (height + _ABOVE) + 3.5 for height in (half[1], tall))
    row, lower, under = left + wide + _GAP + deep, top + side + _GAP, top + front + _GAP
    ways: list[tuple[bool, list[Box]]] = []
    if row <= right and lower <= bottom:
        beside = row + _GAP
        ways.append((True, [(left, lower, right, bottom), (beside, top, right, top + side)]))
        ways.append((True, [(beside, top, right, bottom), (left, lower, row, bottom)]))
    if left + max(wide, deep) <= right and under + side <= bottom:
        ways.append((False, [(left + deep + _GAP, under, right, bottom), (left + wide + _GAP, top, right, under)]))
    for in_row, regions in ways:
        notes = _flowed(blocks, regions)
        if notes is None:
            continue
        free = right - row if in_row and all(x < row for _, _, _, (x, _) in notes) else 0.0
        axis = left + free / 3 + wide / 2, top + _ABOVE + (tall if in_row else half[1])
        level = (axis[0] + wide / 2 + free / 3 + _GAP if in_row else left) + depth.before
        middle = axis[1] if in_row else under + tall + _ABOVE
        placed = [(block, first, last, (x - axis[0], y - axis[1])) for block, first, last, (x, y) in notes]
        corner = -axis[0], -axis[1]
        yield _Sheet(size, scale, title, corner, half, (level - axis[0], middle - axis[1]), depth, placed)


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


def _next(block: _Block, region: Box, cursor: Cursor, rest: int) -> tuple[Cursor, int]:
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


def _table(model: _Model, widest: float) -> _Block:
    """A row for each ring and the link from it to the next, one for each third gear, and the drive's.

    widest: what a name may take.
    """
    rows: list[tuple[str, ...]] = []

    def place(spot: Spot, direction: float) -> tuple[str, str, str]:
        return _number(direction, 1), *model.spot(spot)

    def thirds(teeth: tuple[int, ...], at: LinkPlace) -> None:
        for one, spot in zip(teeth, at.thirds, strict=True):
            turned = degrees(atan2(spot[1], spot[0])) % 360
            rows.append(("", "", "", "", "third", *place(spot, turned), "", "", str(one)))

    for ring, teeth in enumerate(model.train.rings):
        name = _shorten(model.bodies.get(ring, "–"), widest, _TEXT)
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
                start, anchor = (edge + 1.1, "start") if column in _LEFT_ALIGNED else (edge + width - 1.1, "end")
                pen.text((start, middle), cell, anchor=anchor)
                edge += width
        for under in (1, last - first + 1):
            level = y + 5.2 + (under - 0.5) * _ROW
            pen.line((x, level), (right, level), "thin")

    return _Block(sum(widths), 5.2 + 0.5 * _ROW + 0.2, _ROW, len(rows), draw)


def _legend(model: _Model) -> _Block:
    """What the lines and labels mean, as far as they occur."""
    drive, fit, link = model.placement.drive, model.fit, model.train.links[0]
    lines = [
        ("line", "pitch", "pitch circle", True),
        ("circle", "wheel", "wheel, on the level of the inner ring", True),
        ("circle", "pinion", "pinion, on the level of the outer ring", True),
        ("circle", "third", "third gear", any(gear.part.endswith("third") for gear in model.gears)),
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
    ]
    texts = [
        f"0: {_shorten(model.bodies.get(0, ''), 12, _TEXT)} {model.train.rings[0]}: ring 0, its body, its teeth",
        f"L0 {link.wheel}/{link.pinion}: link 0 (ring 0 to 1), teeth of wheel/pinion",
        *([] if drive is None else [f"{_motor(drive)}: motor, teeth of its pinion, speed"]),
        "side view: links above and below the axis in turn",
        "x to the right, y upwards from the main axis,",
        "directions counterclockwise from the right",
    ]
    shown = [line[:3] for line in lines if line[3]] + [("", "", text) for text in texts]

    def draw(pen: _Pen, corner: Point, first: int, last: int) -> None:
        x, y = corner
        pen.text((x, y + 1.5), "Legend", _HEAD, "start", bold=True)
        for number, (shape, style, text) in enumerate(shown[first:last]):
            middle = y + 5.6 + number * _LEGEND_ROW
            if shape:
                _swatch(pen, (x + 5, middle), shape, style)
            pen.text((x + 12 if shape else x, middle), text, anchor="start")

    width = max(_width(text, _TEXT) + (12 if shape else 0) for shape, _, text in shown)
    return _Block(width, 3.8, _LEGEND_ROW, len(shown), draw, True)


def _motor(drive: DrivePlace) -> str:
    return f"M {drive.pinion}, {_number(float(drive.rpm), 3)} rpm"


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
        pen.line((x - 4, y), (x + 3, y), "wheel")
        pen.path(_head(pen, (x + 4, y), 0), style)
    else:
        pen.line((x - 5, y), (x + 5, y), style)


def _bars(model: _Model) -> _Block:
    """The scale bar in millimetres, and one in inches for a design in inches."""
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
            pen.rect((x, y, x + long, y + 1.5), "rule", part="scale", mm=_number(whole * length, 12))
            pen.text((x, y + 3.6), "0")
            pen.text((x + long, y + 3.6), f"{_number(whole, 12)} {unit}")

    return _Block(52, 0, 9, len(units), draw)


def _heading(pen: _Pen, model: _Model, sheet: _Sheet) -> None:
    """The title, and under it the scale and the lengths that hold everywhere."""
    x, y = sheet.corner[0] + _MARGIN, sheet.corner[1] + _MARGIN
    for number, line in enumerate(sheet.title):
        pen.text((x, y + 2.4 + 5.6 * number), line, _TITLE, "start", bold=True)
    rings, fit, frame = model.design.rings, model.fit, model.fit.frame
    pitch = float(rings.pitch.value)
    told = [
        f"Scale {_number(1 / pen.scale, 6)} : 1" if pen.scale < 1 else f"Scale 1 : {_number(pen.scale, 6)}",
        "lengths in inches" if model.design.units == "in" else "lengths in mm",
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
        labels.circle(at, gear.tip / scale, 2.0)
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
    names = sum(_width(_shorten(name, _NAME, _TEXT), _TEXT) for name in model.bodies.values())
    crowded = names * _TEXT > 0.1 * pi * (model.envelope / scale) ** 2
    turn = 1.5 * pi
    for ring in range(model.count):
        turn = _name_ring(pen, model, labels, ring, turn, crowded)
    pen.text((0, half[1] + _ABOVE + 2.5), "Front view", _HEAD, bold=True)
    pen.close()


def _edge(pen: _Pen, model: _Model, labels: _Labels, half: Point) -> None:
    """The frame, or where there is none a circle around everything; the directions along it."""
    frame = model.fit.frame
    size = half if model.frame is None else (model.frame[0] / pen.scale, model.frame[1] / pen.scale)
    square = model.frame is not None and frame is not None and not frame.round
    if square:
        pen.rect((-size[0], -size[1], size[0], size[1]), "frame", part="frame")
    else:
        pen.circle((0, 0), size[0], "frame" if model.frame else "thin", part="frame" if model.frame else "edge")
    drive = model.placement.drive
    used = {place.direction for place in (*model.placement.links, *([drive.at] if drive is not None else []))}
    for direction in sorted(model.fit.directions or (), key=lambda one: (one not in used, one)):
        turn = radians(float(direction))
        ray = cos(turn), -sin(turn)
        far = min(one / max(abs(part), 1e-9) for one, part in zip(size, ray, strict=True)) if square else size[0]
        at = ray[0] * far, ray[1] * far
        if direction in used:
            pen.line((0, 0), at, "ray")
        long = 2.0 if direction in used else 1.2
        pen.line(at, (at[0] + long * ray[0], at[1] + long * ray[1]), "rule" if direction in used else "thin")
        text = _number(float(direction), 2) + "°"
        wide = _width(text, _TEXT) / 2
        middle = at[0] + ray[0] * (2.6 + wide), at[1] + ray[1] * (2.6 + 1.1)
        place = (middle[0] - wide, middle[1] - 1.2, middle[0] + wide, middle[1] + 1.2)
        if not labels.covered(np.array([place]))[0]:
            labels.take(place)
            pen.text(middle, text, bold=direction in used)


def _ring(pen: _Pen, model: _Model, labels: _Labels, ring: int) -> None:
    pitch, tip = model.radii[ring] / pen.scale, (model.radii[ring] + model.addendum) / pen.scale
    edge = (model.radii[ring] - model.rim) / pen.scale
    teeth = model.train.rings[ring]
    pen.path(_disc(pen, tip) + (_disc(pen, edge) if edge > 0 else ""), "odd" if ring % 2 else "even")
    pen.circle((0, 0), tip, "ring", part="ring-tip", ring=ring, teeth=teeth)
    pen.circle((0, 0), pitch, "pitch", part="ring", ring=ring, teeth=teeth)
    if edge > 0:
        pen.circle((0, 0), edge, "ring", part="ring-edge", ring=ring, teeth=teeth)
    rare = min(1.0, model.gap / pen.scale / (2 * _TEXT))  # lines that lie close together have to be crossed
    for radius, weight in ((tip, 1.0), (pitch, 0.4), (edge, 1.0)):
        labels.circle((0, 0), max(radius, 0), weight * rare, ring)


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
            _call_out(pen, labels, at, gear.tip / scale, _motor(model.placement.drive))
        elif gear.part.endswith("third"):
            _call_out(pen, labels, at, gear.tip / scale, str(gear.teeth))


# Where a ring's label stands from its body, along the ring first: x, y, cost.
_COMPASS = [(x, y, abs(y) + abs(x * y) / 2) for y in (0, -1, 1) for x in (1, -1, 0) if x or y]


def _name_ring(pen: _Pen, model: _Model, labels: _Labels, ring: int, before: float, crowded: bool) -> float:
    """The body, the arrow for the sense and the label of a ring, together where they cover least, near a direction
    [radians]; returns theirs. crowded: without the name, which the table has."""
    body, teeth, reverse = model.bodies.get(ring), model.train.rings[ring], model.reverse[ring]
    text = f"{ring}: {teeth}" if body is None or crowded else f"{ring}: {_shorten(body, _NAME, _TEXT)} {teeth}"
    radius = model.stands_at(ring) / pen.scale
    way = -1 if reverse else 1
    first, last = (way * min(long / radius, turn) for long, turn in ((1.8, 0.4), (1.8 + _ARROW, 1.8)))

    def at(turn: float) -> Point:
        return radius * cos(turn), -radius * sin(turn)

    turns = [2 * pi * turn / _TURNS for turn in range(_TURNS)]
    spots = np.array([at(turn) for turn in turns])
    costs = labels.costs(np.hstack([spots - 1.4, spots + 1.4]), ring) + 1 - np.cos(np.array(turns) - before)
    arrows = [
        np.hstack([along - 0.9, along + 0.9])
        for part in (0.0, 0.5, 1.0)
        for along in [np.array([at(turn + first + part * (last - first)) for turn in turns])]
    ]
    costs = costs + sum(labels.costs(arrow, ring) / 2 for arrow in arrows)
    sides, size = np.tile(np.array(_COMPASS), (_TURNS, 1)), np.array(_size(text))
    middles = np.repeat(spots, len(_COMPASS), axis=0) + sides[:, :2] * (size + 1.4)
    boxes = np.hstack([middles - size, middles + size])
    costs = np.repeat(costs, len(_COMPASS)) + sides[:, 2]
    for arrow in (np.repeat(one, len(_COMPASS), axis=0) for one in arrows):
        hit = (boxes[:, :2] < arrow[:, 2:]) & (boxes[:, 2:] > arrow[:, :2])
        costs = costs + 60.0 * (hit[:, 0] & hit[:, 1])
    chosen, box = labels.best(boxes, costs, ring)
    turn = turns[chosen // len(_COMPASS)]
    start, end = at(turn + first), at(turn + last)
    for part in range(5):
        labels.dot(at(turn + first + part / 4 * (last - first)), 0.9, 30)
    labels.dot(at(turn), 1.4, 30)

    told: dict[str, str | int] = {"ring": ring, "sense": "reverse" if reverse else "same"}
    pen.open("", model.bodies.get(ring, f"ring {ring}, blank"))
    flag = 1 if reverse else 0  # with y downwards, 0 is counterclockwise
    pen.path(f"M{pen(*start)}A{pen(radius, radius)} 0 0 {flag} {pen(*end)}", "wheel", part="sense", **told)
    heading = atan2(-way * cos(turn + last), -way * sin(turn + last))
    tip = end[0] + 0.9 * cos(heading), end[1] + 0.9 * sin(heading)
    pen.path(_head(pen, tip, heading), "open" if reverse else "dot")
    if body is not None:
        pen.circle(at(turn), max(min(_BODY, 0.45 * model.gap / pen.scale), 0.7), "dot", part="body", ring=ring)
    pen.label(box, text)
    pen.close()
    return turn


def _head(pen: _Pen, tip: Point, heading: float) -> str:
    """The head of an arrow; heading: radians clockwise from the right."""
    sides = [pen(tip[0] - 2.0 * cos(heading + turn), tip[1] - 2.0 * sin(heading + turn)) for turn in (0.38, -0.38)]
    return f"M{pen(*tip)}L{sides[0]}L{sides[1]}Z"


# -- the side view ---------------------------------------------------------------------------------------------------


class _Section:
    """The side view: the main axis lies level, everything at its distance from it, links above and below in turn."""

    def __init__(self, pen: _Pen, model: _Model, sheet: _Sheet) -> None:
        self.pen, self.model, self.depth = pen, model, sheet.depth
        self.origin, self.half = sheet.side, model.tall / pen.scale
        self.last = model.count - 1
        left, right = self.x(0) - sheet.depth.before, self.x(self.last) + sheet.depth.after
        self.labels = _Labels((left, self.origin[1] - self.half, right, self.origin[1] + self.half))
        if sheet.depth.frame is not None:
            left, right = self.x(-0.5) - sheet.depth.frame, self.x(self.last + 0.5) + sheet.depth.frame
            self.labels.bounds = (left, self.labels.bounds[1], right, self.labels.bounds[3])
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
        """What holds something on these levels, where there is a plate."""
        side, y = self.model.fit.plate, self.y(radius, way)
        if side != "none":
            start = self.x(bottom if side == "inner" else top)
            self.pen.line((start, y), (self.end(side, self.depth.plate), y), "post")

    def slab(self, level: int, inner: float, outer: float, way: int, style: str, thick: float) -> None:
        """Something flat on a level, between two distances from the main axis."""
        x, ends = self.x(level), sorted((self.y(inner, way), self.y(outer, way)))
        box = (x - thick / 2, ends[0], x + thick / 2, ends[1])
        self.pen.rect(box, "white")
        self.pen.rect(box, style)
        self.labels.take(box, 3)


def _side(pen: _Pen, model: _Model, sheet: _Sheet) -> None:
    view = _Section(pen, model, sheet)
    pen.open("side")
    _background(view)
    rollers, over = dict(model.rollers()), 0.3 * sheet.depth.step
    for ring, spot in rollers.items():
        for way in (1, -1):
            view.post(hypot(*spot), way, ring, ring)
    shafts = [gear for gear in model.gears if gear.part != "pinion"]
    for gear in shafts:  # an arbor goes on to the next level, with its pinion
        view.post(hypot(gear.x, gear.y), view.way(gear.link), gear.level, gear.level + (gear.part == "wheel"))
    for gear in shafts:
        y, last = view.y(hypot(gear.x, gear.y), view.way(gear.link)), gear.level + (gear.part == "wheel")
        pen.line((view.x(gear.level) - over, y), (view.x(last) + over, y), "arbor")
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
    wide = _width(str(view.last), _TEXT) + 0.8
    every = next(every for every in (1, 2, 5, 10, 20, 50, 100) if every * depth.step >= wide)
    for level in range(model.count):
        pen.line((view.x(level), above), (view.x(level), below), "level", part="level", level=level)
        if level % every == 0:
            for y in (above - 2, below + 2):
                pen.text((view.x(level), y), str(level))
    left, right = view.x(-0.5) - (depth.frame or 0), view.x(view.last + 0.5) + (depth.frame or 0)
    if depth.frame is not None:
        for x in (left, right):
            pen.line((x, above), (x, below), "frame")
    if model.frame is not None and model.frame[1] >= model.envelope:  # else unrolled gears would seem to reach out
        for y in (above, below):
            pen.line((left, y), (right, y), "frame")
    pen.line(
        (min(left, view.x(-0.5)) - 2, view.origin[1]), (max(right, view.x(view.last + 0.5)) + 2, view.origin[1]), "axis"
    )
    side = model.fit.plate
    if side != "none":
        x = view.end(side, depth.plate)
        beyond = x - 1.4 if side == "inner" else x + 1.4
        box = (min(x, beyond), above, max(x, beyond), below)
        pen.rect(box, "plate", part="plate")
        view.labels.take(box)


def _bodies(view: _Section) -> None:
    """Bodies on their rings, or at the ends of their stands with their names beside them."""
    pen, depth, model = view.pen, view.depth, view.model
    side = model.fit.stands
    rings = sorted(model.bodies, reverse=True)
    if side == "none":
        for ring in rings:
            pen.circle((view.x(ring), view.y(model.stands_at(ring))), _BODY, "dot")
        return
    end, out = view.end(side, depth.stands), 1 if side == "outer" else -1
    beyond = (view.end(side, depth.plate) + 1.4 * out if model.fit.plate == side else end + 1.5 * out) + out
    heights = [view.y(model.stands_at(ring)) for ring in rings]
    for ring, y in zip(rings, heights, strict=True):
        pen.line((view.x(ring), y), (end, y), "rule")
        pen.circle((end, y), min(_BODY, 0.45 * abs(heights[0] - heights[-1]) / len(rings)), "dot")
        view.labels.line((view.x(ring), y), (end, y), 1)
        view.labels.dot((end, y), _BODY)
    if depth.pressed:
        return
    for ring, y, beside in zip(rings, heights, _spread(heights, 1.15 * _TEXT), strict=True):
        if beside != y or model.fit.plate == side:
            pen.line((end, y), (beyond, beside), "thin")
        name = _shorten(model.bodies[ring], _NAME, _TEXT)
        pen.text((beyond + 0.5 * out, beside), name, anchor="start" if out > 0 else "end")


def _spread(heights: Sequence[float], apart: float) -> list[float]:
    """Ascending heights, moved so that neighbours are so far apart, together as far up as down."""
    moved: list[float] = []
    for height in heights:
        moved.append(max(height, moved[-1] + apart) if moved else height)
    back = sum(new - old for new, old in zip(moved, heights, strict=True)) / len(moved)
    return [height - back for height in moved] if back > 1e-9 else moved


# -- the document ----------------------------------------------------------------------------------------------------


def _document(pen: _Pen, model: _Model, sheet: _Sheet) -> str:
    wide, high = sheet.size
    title = _clean(model.design.title)
    return "\n".join(
        [
            '<?xml version="1.0" encoding="UTF-8"?>',
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{_number(wide, 3)}mm" height="{_number(high, 3)}mm" '
            f'viewBox="{pen(*sheet.corner, wide, high)}" font-family={quoteattr(_FONT)} '
            f'data-units-per-mm="{pen.per_mm:g}" data-scale="{pen.scale:.6g}">',
            f"<title>{escape(title)}</title>",
            f'<rect x="{pen(sheet.corner[0])}" y="{pen(sheet.corner[1])}" width="{pen(wide)}" height="{pen(high)}" '
            'fill="#fff"/>',
            *pen.lines,
            "</svg>",
            "",
        ]
    )
