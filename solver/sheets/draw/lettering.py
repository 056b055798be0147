"""Letters on paper: their sizes [mm], how wide a text is, and what may be printed of it."""

from __future__ import annotations

import re
import unicodedata
from functools import cache, lru_cache

from solver.sheets.draw.typeface import BOLD, PLAIN, advances

TEXT, HEAD, TITLE = 2.3, 2.7, 4.4  # sizes
CAP_HEIGHT = 0.72  # of a capital letter, as a part of the letters' size
# Of pictures, in which no font is embedded: the PDFs' own where it is installed, else one about as wide.
FONT = "'DejaVu Sans Condensed', Helvetica, Arial, 'Liberation Sans', 'DejaVu Sans', sans-serif"

_UNPRINTABLE = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_TURNING = re.compile("[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")  # would turn the text around them


def clean(text: str) -> str:
    """Text on one line, without what XML cannot hold; a name written from the right keeps its neighbours in place."""
    text = " ".join(_UNPRINTABLE.sub("\ufffd", _TURNING.sub("", text)).split())
    return text + "\u200e" if any(unicodedata.bidirectional(one) in ("R", "AL") for one in text) else text


def printable(text: str) -> str:
    """The text in letters that the PDFs' fonts have, on one line: others lose their accents, or become "?"."""
    plain = unicodedata.normalize("NFC", clean(text)).replace("\u200e", "")
    return plain if plain.isascii() else "".join(map(_letter, plain))


@lru_cache(maxsize=4096)
def _letter(one: str) -> str:
    bare = "".join(part for part in unicodedata.normalize("NFKD", one) if not unicodedata.combining(part))
    return next((form for form in (one, bare) if all(ord(part) in advances(PLAIN) for part in form)), "?")


def escaped(text: str) -> str:
    """Text as XML has it; `xml.sax.saxutils` would load a whole client of HTTP."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def quoted(text: str) -> str:
    """The value of an attribute in XML."""
    return f'"{escaped(text).replace(chr(34), "&quot;")}"'


def text_width(text: str, size: float = TEXT) -> float:
    """How wide a text is in the PDFs' font, plain or bold, whichever is wider; about as wide in another font."""
    return sum(map(_ems, text)) * size


@cache
def _ems(one: str) -> float:
    """How wide a letter is, for letters of size 1."""
    if unicodedata.category(one) in ("Mn", "Me", "Cf"):
        return 0.0
    if unicodedata.east_asian_width(one) in ("W", "F"):
        return 1.05
    code = ord(one)
    return max((advances(name)[code] for name in (PLAIN, BOLD) if code in advances(name)), default=0.7)


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
