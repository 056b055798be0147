"""Stock bars drawn with the pieces cut from them; bars that are cut alike are drawn once and counted."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import groupby

from solver.sheets.draw.drawing import Drawing, Line, Shape, Text
from solver.sheets.draw.lettering import text_width, wrap
from solver.sheets.draw.marks import boxed, rect
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
    drawings = []
    for number, (count, stock, pieces) in enumerate(patterns(bars), start=1):
        scale = width / max(length for length, _ in bars)
        bars_told = (
            f"1 bar of {lengths.text(stock)}" if count == 1 else f"{count} bars of {lengths.text(stock)}, cut alike"
        )
        alike = [(len(list(some)), piece) for piece, some in groupby(pieces)]
        told = [f"{many}\u00a0×\u00a0{lengths.sawn_text(length)} {what}" for many, (length, what) in alike]
        rest = max(stock - sum(many * (length + kerf) for many, (length, _) in alike), 0.0)
        shapes = [Text((0.0, 1.5), f"{number}: {bars_told}", 3.0, bold=True), *_cut(stock, alike, kerf, scale)]
        down = -_HIGH - 1.2
        for line in wrap(" · ".join([*told, f"rest\u00a0{lengths.text(rest)}"]), width, _LIST, 40):
            down -= 1.3 * _LIST
            shapes.append(Text((0.0, down + 0.3 * _LIST), line, _LIST))
        drawings.append(Drawing(f"bar {number}", (*shapes, Line((0.0, down), (width, down), "label"))))
    return drawings


def _cut(stock: float, alike: Sequence[tuple[int, Piece]], kerf: float, scale: float) -> list[Shape]:
    """A bar and its cuts. What pieces are for stands in their middle; the cuts between those alike are behind it."""
    shapes: list[Shape] = [rect((0.0, -_HIGH, stock * scale, 0.0), "bar", 1.0)]
    start = 0.0
    for many, (length, what) in alike:
        end = min(start + many * (length + kerf), stock)
        for piece in range(1, many + 1):
            x = min(start + piece * (length + kerf) - kerf / 2, stock) * scale
            shapes.append(Line((x, -_HIGH), (x, 0.0), "bar"))
        text, middle = (f"{many} × " if many > 1 else "") + what, (start + end) / 2 * scale
        wide = text_width(text, _INSIDE)
        if wide < (end - start) * scale - 1.0:
            half = wide / 2 + 0.3, 0.55 * _INSIDE
            box = middle - half[0], -_HIGH / 2 - half[1], middle + half[0], -_HIGH / 2 + half[1]
            shapes += boxed(box, [text], _INSIDE)
        start = end
    if (stock - start) * scale > 0.3:
        shapes.append(rect((start * scale, -_HIGH, stock * scale, 0.0), "waste", 0.85))
    return shapes
