"""SVG in black and white on a printed page: numbers, texts and how wide they are, and the pen that draws.

Everything is counted in millimetres of the printed page, x to the right and y downwards. The pen turns them into the
document's units, millimetres of the model: a circle's r is its radius in the metal.
"""

from __future__ import annotations

import re
import unicodedata
from math import cos, floor, hypot, sin, sqrt
from xml.sax.saxutils import escape, quoteattr

Point = tuple[float, float]
Box = tuple[float, float, float, float]  # left, top, right, bottom

TEXT, HEAD, TITLE = 2.3, 2.7, 4.4  # text sizes
POST, BODY = 0.45, 1.15  # radii of dots
FONT = "Helvetica, Arial, 'Liberation Sans', 'DejaVu Sans', sans-serif"

# Strokes: width, grey, dashes.
_STROKES: dict[str, tuple[float, str, tuple[float, ...]]] = {
    "ring": (0.16, "#444", ()),
    "pitch": (0.12, "#555", (2.2, 0.6, 0.4, 0.6)),
    "wheel": (0.25, "#000", ()),
    "pinion": (0.25, "#000", ()),
    "third": (0.25, "#000", (1.1, 0.6)),
    "motor": (0.35, "#000", ()),
    "roller": (0.2, "#000", ()),
    "frame": (0.45, "#000", ()),
    "ray": (0.1, "#999", (4, 0.8, 0.8, 0.8)),
    "thin": (0.13, "#000", ()),
    "rule": (0.25, "#000", ()),
    "level": (0.1, "#888", (3, 0.7, 0.5, 0.7)),
    "axis": (0.15, "#000", (6, 1, 1, 1)),
    "section": (0.2, "#000", ()),
    "plate": (0.3, "#000", ()),
    "hatch": (0.08, "#777", ()),
    "arrow": (0.3, "#000", ()),
    "arbor": (0.5, "#000", ()),
    "post": (0.15, "#777", ()),
}
_FILLS = {
    "even": 'fill="#000" fill-opacity="0.05" fill-rule="evenodd"',
    "odd": 'fill="#000" fill-opacity="0.12" fill-rule="evenodd"',
    "dot": 'fill="#000"',
    "white": 'fill="#fff"',
    "veil": 'fill="#fff" fill-opacity="0.3" fill-rule="evenodd"',
}
# How far apart the lines are, and which way they slope.
_HATCHES = {"pinion": (1.1, (1,)), "motor": (0.9, (1, -1)), "section": (0.7, (1,)), "plate": (0.9, (1,))}
_SLANT = sqrt(0.5)


# -- texts and numbers -----------------------------------------------------------------------------------------------

_UNPRINTABLE = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_TURNING = re.compile("[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")  # would turn the text around them
_NARROW, _BROAD = frozenset(" !'(),-./:;I[]fijlrt|·"), frozenset("%@MWmw—…")


def clean(text: str) -> str:
    """Text on one line, without what XML cannot hold; a name written from the right keeps its neighbours in place."""
    text = " ".join(_UNPRINTABLE.sub("\ufffd", _TURNING.sub("", text)).split())
    return text + "\u200e" if any(unicodedata.bidirectional(one) in ("R", "AL") for one in text) else text


def text_width(text: str, size: float = TEXT) -> float:
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


def shorten(text: str, widest: float, size: float = TEXT) -> str:
    """The text, cut with an ellipsis where it is wider."""
    if text_width(text, size) <= widest:
        return text
    while text and text_width(text + "…", size) > widest:
        text = text[:-1]
    return text.rstrip() + "…"


def wrap(text: str, widest: float, size: float, lines: int) -> list[str]:
    """The text on at most so many lines: broken between words, or within one that is too long; the rest is cut."""
    found: list[str] = []
    while text and len(found) < lines - 1 and text_width(text, size) > widest:
        end = len(text)
        while end > 1 and text_width(text[:end], size) > widest:
            end -= 1
        space = text.rfind(" ", 0, end + 1)
        after = text[space + 1 :].split(" ", 1)[0]
        # A word that has room on a line of its own is never broken.
        end = space if space > 0 and (space > end // 2 or text_width(after, size) <= widest) else end
        found.append(text[:end].rstrip())
        text = text[end:].lstrip()
    return [*found, shorten(text, widest, size)] if text else found


def decimal(value: float, decimals: int) -> str:
    """A number without trailing zeros."""
    text = f"{value:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


# -- the pen ---------------------------------------------------------------------------------------------------------


class Pen:
    """Writes SVG elements; takes millimetres of the page.

    scale: millimetres of the model per millimetre of the page. per_mm: units of the document per millimetre of the
    model.
    """

    def __init__(self, scale: float, per_mm: float) -> None:
        self.scale, self.per_mm = scale, per_mm
        self.unit = scale * per_mm
        self.lines: list[str] = []
        self.styles = dict(_FILLS)
        for name, (thick, grey, dashes) in _STROKES.items():
            dashed = f' stroke-dasharray="{self(*dashes)}"' if dashes else ""
            self.styles[name] = f'fill="none" stroke="{grey}" stroke-width="{self(thick)}"{dashed}'
        self.styles["open"] = self.styles["roller"].replace("none", "#fff")

    def __call__(self, *lengths: float) -> str:
        """Lengths in the document's units."""
        return " ".join(decimal(length * self.unit, 3) for length in lengths)

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
        self.put("circle", style, {"cx": self(at[0]), "cy": self(at[1]), "r": self(radius)}, data)
        self._hatch(at, radius, style)

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

    def arrow_head(self, tip: Point, heading: float, style: str) -> None:
        """The head of an arrow; heading: radians clockwise from the right."""
        sides = [self(tip[0] - 2.0 * cos(heading + turn), tip[1] - 2.0 * sin(heading + turn)) for turn in (0.38, -0.38)]
        self.path(f"M{self(*tip)}L{sides[0]}L{sides[1]}Z", style)

    def _hatch(self, at: Point, radius: float, style: str, half: Point | None = None) -> None:
        """The hatching of a style in a circle, or in the box of that half width and height inside of it."""
        apart, slopes = _HATCHES.get(style, (1.0, ()))
        d = ""
        for slope in slopes:
            for step in range(-floor(radius / apart), floor(radius / apart) + 1):
                off = step * apart
                high = sqrt(max(radius**2 - off**2, 0))
                low = -high
                foot, along = (off * _SLANT, off * slope * _SLANT), (_SLANT, -slope * _SLANT)
                for side, size in enumerate(half or ()):
                    ends = sorted(((-size - foot[side]) / along[side], (size - foot[side]) / along[side]))
                    low, high = max(low, ends[0]), min(high, ends[1])
                if low < high:
                    ends = [at[axis] + foot[axis] + part * along[axis] for part in (low, high) for axis in (0, 1)]
                    d += f"M{self(*ends[:2])}L{self(*ends[2:])}"
        if d:
            self.path(d, "hatch")

    def text(self, at: Point, text: str, size: float = TEXT, anchor: str = "middle", bold: bool = False) -> None:
        """One line of text; `at` is the middle of its height."""
        weight = ' font-weight="bold"' if bold else ""
        self.lines.append(
            f'<text x="{self(at[0])}" y="{self(at[1] + 0.36 * size)}" font-size="{self(size)}" '
            f'text-anchor="{anchor}"{weight} fill="#000">{escape(text)}</text>'
        )

    def label(self, box: Box, *lines: str) -> None:
        """Lines of text in the middle of a white box."""
        left, top, right, bottom = box
        self.rect(box, "white", part="label")
        for number, line in enumerate(lines):
            self.text(((left + right) / 2, top + (number + 0.5) * (bottom - top) / len(lines)), line)
