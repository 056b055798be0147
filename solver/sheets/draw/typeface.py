"""The letters of the PDFs: a free font that is shipped with the program and embedded, and how wide its letters are.

The files in `fonts/` are a part of DejaVu Sans Condensed, about as wide as Helvetica: Latin, Greek and Cyrillic
letters, punctuation, arrows and signs (`fonts/README.txt`: what was kept, and the licence).
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from struct import unpack_from

PLAIN, BOLD = "DejaVuSansCondensed", "DejaVuSansCondensed-Bold"


@cache
def register() -> None:
    """Make both fonts known to reportlab, which must be there. A document holds of them only what it uses."""
    from reportlab.pdfbase.pdfmetrics import registerFont
    from reportlab.pdfbase.ttfonts import TTFont

    for name in (PLAIN, BOLD):
        registerFont(TTFont(name, io.BytesIO(_file(name))))


@cache
def advances(name: str) -> Mapping[int, float]:
    """How wide each letter of a font is, by its code point, for letters of size 1 (OpenType, tables cmap and hmtx)."""
    data = _file(name)
    count = unpack_from(">H", data, 4)[0]
    records = (unpack_from(">4sLLL", data, 12 + 16 * number) for number in range(count))
    tables = {tag: start for tag, _, start, _ in records}
    size = unpack_from(">H", data, tables[b"head"] + 18)[0]
    measured = unpack_from(">H", data, tables[b"hhea"] + 34)[0]

    def wide(glyph: int) -> float:
        at = tables[b"hmtx"] + 4 * min(glyph, measured - 1)
        return float(unpack_from(">H", data, at)[0] / size)

    return {code: wide(glyph) for code, glyph in _glyphs(data, tables[b"cmap"]).items()}


def _glyphs(data: bytes, cmap: int) -> dict[int, int]:
    """The glyph of each code point, from the first subtable of format 4."""
    count = unpack_from(">H", data, cmap + 2)[0]
    starts = [cmap + unpack_from(">HHL", data, cmap + 4 + 8 * number)[2] for number in range(count)]
    at = next(start for start in starts if unpack_from(">H", data, start)[0] == 4)
    twice = unpack_from(">H", data, at + 6)[0]
    ends, firsts, shifts, offsets = (at + 14 + part * twice + 2 * (part > 0) for part in range(4))
    found: dict[int, int] = {}
    for step in range(0, twice, 2):
        last, first = unpack_from(">H", data, ends + step)[0], unpack_from(">H", data, firsts + step)[0]
        shift, offset = unpack_from(">H", data, shifts + step)[0], unpack_from(">H", data, offsets + step)[0]
        for code in range(first, min(last, 0xFFFE) + 1):
            if offset:
                glyph = unpack_from(">H", data, offsets + step + offset + 2 * (code - first))[0]
                glyph = (glyph + shift) & 0xFFFF if glyph else 0
            else:
                glyph = (code + shift) & 0xFFFF
            if glyph:
                found[code] = glyph
    return found


def _file(name: str) -> bytes:
    return (files("solver.sheets.draw") / "fonts" / f"{name}.ttf").read_bytes()
