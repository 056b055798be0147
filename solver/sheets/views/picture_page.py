"""The page: the largest scale at which both views and the notes fit on it, and where each of them goes."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import count, product
from math import floor, log10

from solver.sheets.draw.drawing import Box, Point, Shape
from solver.sheets.draw.lettering import TITLE, clean, wrap
from solver.sheets.views.model import Model
from solver.sheets.views.picture_front import BESIDE
from solver.sheets.views.picture_side import ABOVE, Depth, depth_of

MARGIN = 10.0

_GAP = 5.0  # between views and notes
_PAGE = (210.0, 297.0)
_LEAST_FRONT = 50.0  # a front view that would be smaller than this gets a larger page
_STEPS = (1, 1.1, 1.2, 1.3, 1.4, 1.5, 1.6, 1.8, 2, 2.2, 2.5, 2.8, 3, 3.2, 3.5, 4, 4.5, 5, 5.5, 6, 7, 8, 9)
_NAMES = (44.0, 18.0)  # widths that a body's name may take in the table
_WHOLE = 1.15  # so much smaller the views may be for a table in one piece, or for all levels at their distance
_MANY = 8  # rings, from which on the side view may be pressed together

Cursor = tuple[float, float, float]  # x, y, and the width of the column so far


@dataclass(frozen=True)
class Notes:
    """A part of the notes in equal rows, which may go on in a next column: its width, the height above its rows and
    of each, how many, what draws the rows from one to before another under its upper left corner (and for a picture of
    that scale), and whether it had better stand beside what is before it."""

    width: float
    head: float
    row: float
    count: int
    draw: Callable[[Point, int, int, float], list[Shape]]
    beside: bool = False


Flowed = tuple[Notes, int, int, Point]  # with the rows from one to before another, and the corner


@dataclass(frozen=True)
class PicturePage:
    """The page: its size, how many model mm one mm of it stands for, where the views are, and the notes in place [mm
    from its lower left corner]."""

    size: Point
    scale: float
    title: list[str]
    front: Point  # the main axis of the front view
    side: Point  # level 0 on the main axis of the side view
    depth: Depth
    notes: list[Flowed]

    @property
    def badness(self) -> float:
        """The scale, and what else is less than it might be."""
        return float(self.scale * _WHOLE ** (len(self.notes) + self.depth.pressed / 2))


def fitted(model: Model, notes: Callable[[float], list[Notes]]) -> PicturePage:
    """The largest scale at which everything is on the page; a larger page where the front view would be too small.

    notes: the notes, for the width that a body's name may take in them.
    """
    across, least = 2 * max(model.half), _LEAST_FRONT
    page = _PAGE
    while True:
        for blocks in map(notes, _NAMES):
            found: list[PicturePage] = []
            for scale in _scales(across / (page[0] - 2 * MARGIN)):
                if across / scale < least or (found and scale > _WHOLE**2 * found[0].scale):
                    break
                for size, pressed in product((page, page[::-1]), (False, True) if model.count > _MANY else (False,)):
                    found += _arranged(model, blocks, size, depth_of(model, scale, pressed), scale)
            if found:
                return min(found, key=lambda sheet: sheet.badness)
        page, least = (page[1], 2 * page[0]), 1.4 * least


def _scales(least: float) -> Iterator[float]:
    """Scales of drawings from the least on: 1 : 2.5 and so on, and 2.5 : 1 for what is enlarged."""
    for exponent in count(floor(log10(least)) - 1):
        for step in _STEPS if exponent >= 0 else [10 / step for step in reversed(_STEPS)]:
            if step * 10.0**exponent >= least:
                yield step * 10.0**exponent


def _arranged(model: Model, blocks: list[Notes], size: Point, depth: Depth, scale: float) -> Iterator[PicturePage]:
    """The ways to fill a page at a scale: the side view beside or below the front view, the notes around them; y is
    counted from the top."""
    title = wrap(clean(model.design.title), size[0] - 2 * MARGIN, 1.2 * TITLE, 3)
    left, top = MARGIN, MARGIN + 5.6 * len(title) + 7
    right, bottom = size[0] - MARGIN, size[1] - MARGIN
    half, tall = (model.half[0] / scale, model.half[1] / scale), model.tall / scale
    wide, deep = 2 * (half[0] + BESIDE), depth.before + (model.count - 1) * depth.step + depth.after
    front, side = (2 * (height + ABOVE) + 3.5 for height in (half[1], tall))
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
        axis = left + free / 3 + wide / 2, top + ABOVE + (tall if in_row else half[1])
        level = (axis[0] + wide / 2 + free / 3 + _GAP if in_row else left) + depth.before
        middle = axis[1] if in_row else under + tall + ABOVE
        placed = [(block, first, last, (x, size[1] - y)) for block, first, last, (x, y) in notes]
        views = (axis[0], size[1] - axis[1]), (level, size[1] - middle)
        yield PicturePage(size, scale, title, *views, depth, placed)


def _flowed(blocks: list[Notes], regions: list[Box]) -> list[Flowed] | None:
    """Blocks as columns in regions, each whole where one has room for it, else over several columns; or None."""
    cursors = [(left, top, 0.0) for left, top, _, _ in regions]  # where the next block goes, and its column's width
    placed: list[Flowed] = []
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


def _next(block: Notes, region: Box, cursor: Cursor, rest: int) -> tuple[Cursor, int]:
    """Where a block may go on in a region, at the cursor or in a next column, and how many rows there is room for."""
    _, top, right, bottom = region
    x, y, width = cursor
    here = floor((bottom - y - block.head) / block.row) if x + block.width <= right else 0
    after = x + width + _GAP
    there = floor((bottom - top - block.head) / block.row) if after + block.width <= right else 0
    if (here >= min(rest, 4) and not (block.beside and there >= rest)) or there < 1:
        return cursor, here
    return (after, top, 0.0), there
