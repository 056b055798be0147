"""Stock bars drawn with the pieces cut from them; bars that are cut alike are drawn once and counted."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import groupby

from solver.sheets.draw.drawing import Drawing, Line, Shape, Text
from solver.sheets.draw.lettering import text_width, wrap
from solver.sheets.draw.marks import rect
from solver.words.lengths import Lengths

Piece = tuple[float, str]  # length [mm], what it is for
Bar = tuple[float, Sequence[Piece]]  # stock length [mm], the pieces

WIDTH = 184.0  # of the longest bar drawn [mm of the page]
_HIGH, _INSIDE, _LIST = 6.0, 2.4, 2.7  # of a bar, of the letters in it and below it


def patterns(bars: Sequence[Bar]) -> list[tuple[int, float, tuple[Piece, ...]]]:
    """How many bars of which stock are cut in which way: pieces from the longest to the shortest; the longest stock
    and what occurs most first."""
    counted = Counter((stock, tuple(sorted(pieces, key=lambda piece: (-piece[0], piece[1])))) for stock, pieces in bars)
    found = [(count, stock, pieces) for (stock, pieces), count in counted.items()]
    return sorted(found, key=lambda one: (-one[1], -one[0], [(-length, what) for length, what in one[2]]))


def bar_drawings(bars: Sequence[Bar], lengths: Lengths, kerf: float = 0.0, width: float = WIDTH) -> list[Drawing]:
    """A drawing for each way to cut a bar, all at one scale, the longest stock as wide as told [mm]. kerf: what each
    cut takes [mm]."""
    if not bars:
        return []
    scale = width / max(stock for stock, _ in bars)
    return [
        _drawing(number, count, stock, pieces, lengths, kerf, scale, width)
        for number, (count, stock, pieces) in enumerate(patterns(bars), start=1)
    ]


def _drawing(
    number: int,
    count: int,
    stock: float,
    pieces: Sequence[Piece],
    lengths: Lengths,
    kerf: float,
    scale: float,
    width: float,
) -> Drawing:
    title = f"{number}: {count} bar{'' if count == 1 else 's'} of {lengths.text(stock)}, cut alike"
    if count == 1:
        title = f"{number}: 1 bar of {lengths.text(stock)}"
    shapes: list[Shape] = [Text((0.0, 1.5), title, 3.0, bold=True)]
    shapes.append(rect((0.0, -_HIGH, stock * scale, 0.0), "bar", 1.0))
    at, told = 0.0, []
    for (length, what), alike in groupby(pieces):
        many = len(list(alike))
        start, end = at, min(at + many * (length + kerf), stock)
        for piece in range(1, many + 1):
            x = min(start + piece * (length + kerf) - kerf / 2, stock) * scale
            shapes.append(Line((x, -_HIGH), (x, 0.0), "bar"))
        text = (f"{many} × " if many > 1 else "") + what
        if text_width(text, _INSIDE) < (end - start) * scale - 1.0:
            shapes += _inside(text, (start + end) / 2 * scale)
        told.append(f"{many}\u00a0×\u00a0{lengths.text(length, 1)} {what}")
        at = end
    rest = stock - at
    if rest * scale > 0.3:
        shapes.append(rect((at * scale, -_HIGH, stock * scale, 0.0), "waste", 0.85))
    told.append(f"rest\u00a0{lengths.text(max(rest, 0.0), 1)}")
    down = -_HIGH - 1.2
    for line in wrap(" · ".join(told), width, _LIST, 40):
        down -= 1.3 * _LIST
        shapes.append(Text((0.0, down + 0.3 * _LIST), line, _LIST))
    return Drawing(f"bar {number}", (*shapes, Line((0.0, down), (width, down), "label")))


def _inside(text: str, middle: float) -> tuple[Shape, ...]:
    """What a piece is for, in the middle of it; the cuts between pieces alike are hidden behind it."""
    half = text_width(text, _INSIDE) / 2 + 0.3
    box = (middle - half, -_HIGH / 2 - 0.55 * _INSIDE, middle + half, -_HIGH / 2 + 0.55 * _INSIDE)
    return rect(box, "label", 1.0), Text((middle, -_HIGH / 2 - 0.36 * _INSIDE), text, _INSIDE, "middle")
