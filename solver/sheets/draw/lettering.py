"""Letters on paper: their sizes [mm], how wide a text is, and what may be printed of it."""

from __future__ import annotations

import re
import unicodedata
from functools import cache

TEXT, HEAD, TITLE = 2.3, 2.7, 4.4  # sizes
CAP_HEIGHT = 0.72  # of a capital letter, as a part of the letters' size
FONT = "Helvetica, Arial, 'Liberation Sans', 'DejaVu Sans', sans-serif"

_UNPRINTABLE = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_TURNING = re.compile("[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")  # would turn the text around them
_NARROW, _BROAD = frozenset(" !'(),-./:;I[]fijlrt|·"), frozenset("%@MWmw—…")


def clean(text: str) -> str:
    """Text on one line, without what XML cannot hold; a name written from the right keeps its neighbours in place."""
    text = " ".join(_UNPRINTABLE.sub("\ufffd", _TURNING.sub("", text)).split())
    return text + "\u200e" if any(unicodedata.bidirectional(one) in ("R", "AL") for one in text) else text


def escaped(text: str) -> str:
    """Text as XML has it; `xml.sax.saxutils` would load a whole client of HTTP."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def quoted(text: str) -> str:
    """The value of an attribute in XML."""
    return f'"{escaped(text).replace(chr(34), "&quot;")}"'


def text_width(text: str, size: float = TEXT) -> float:
    """About how wide a text is, rather too wide than too narrow."""
    return sum(map(_ems, text)) * size


@cache
def _ems(one: str) -> float:
    """How wide a letter is, for letters of size 1."""
    if unicodedata.category(one) in ("Mn", "Me", "Cf"):
        return 0.0
    if unicodedata.east_asian_width(one) in ("W", "F"):
        return 1.05
    if one in _NARROW:
        return 0.36
    if one in _BROAD:
        return 0.98
    return 0.7 if one.isupper() or ord(one) > 0x24F else 0.61


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
