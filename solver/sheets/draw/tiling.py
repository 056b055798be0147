"""Drawings 1:1 on pages: small ones several to a page, large ones on tiles that overlap, with crop and join marks.

Every page has its own bar of 100 mm and says 'print at 100 %'. A drawing that is larger than the page lies on a grid
of tiles; each shows its own part and the overlap with its neighbours. Crop marks at its corners stand where it is cut,
join marks (crosses with a letter) lie in the middle of the overlap, on both tiles at the same spot of the drawing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil

from solver.sheets.draw.drawing import Box, Circle, Drawing, Line, Page, Placed, Point, Shape, Text, box_of, within
from solver.sheets.draw.lettering import shorten
from solver.sheets.draw.marks import cross, rect, scale_bar

MARGIN, TILE_MARGIN = 8.0, 10.0  # what printers leave white, and the same with room for crop marks [mm]
FOOT = 14.0  # the strip with the scale bar and the page's name
OVERLAP = 10.0
_GAP = 3.5  # around a drawing in its frame
_TEXT = 3.0
_MARK = 4.5  # how far around a join mark the drawing is best empty
# Where along an edge a join mark may stand: two to each edge, in the order in which spots are preferred.
_ALONG = ((0.25, 0.22, 0.28, 0.19, 0.31, 0.16, 0.34), (0.75, 0.78, 0.72, 0.81, 0.69, 0.84, 0.66))
_HOW = "cut along the corner marks, then lay crosses of one letter on each other"


@dataclass(frozen=True)
class Grid:
    """How a drawing is cut: rows from the top, columns from the left, and the tile's own width and height [mm]."""

    page: Point
    rows: int
    columns: int
    tile: Point

    @property
    def count(self) -> int:
        return self.rows * self.columns


def pages(drawings: Sequence[Drawing], paper: Point, title: str, inches: bool = False) -> list[Page]:
    """The drawings on pages of that size [mm], upright or lying: those that fit together on shared pages, larger ones
    on tiles of their own; inches: each has a bar of 4 in as well. Raises ValueError where the paper is too small for
    anything."""
    small = [drawing for drawing in drawings if fits(drawing, paper)]
    found = _shared(small, paper)
    for drawing in drawings:
        if drawing not in small:
            found += list(_tiles(drawing, paper))
    return [
        Page(
            page.size,
            (
                *page.placed,
                Placed(_foot(page.size, label, f"{title}, page {number} of {len(found)}", inches), (0.0, 0.0)),
            ),
        )
        for number, (page, label) in enumerate(found, start=1)
    ]


def tiles(drawings: Sequence[Drawing], paper: Point) -> int:
    """How many pages of tiles those of the drawings take that are larger than the paper [mm]."""
    return sum(grid(one.size, paper).count for one in drawings if not fits(one, paper))


def fits(drawing: Drawing, paper: Point) -> bool:
    """Whether a drawing has room on a page, upright or lying."""
    return _fits(drawing, paper) or _fits(drawing, paper[::-1])


def _free(page: Point, margin: float) -> Point:
    """What a page has room for."""
    return page[0] - 2 * margin, page[1] - 2 * margin - FOOT


def _foot(size: Point, label: str, title: str, inches: bool) -> Drawing:
    """The strip at the bottom: bar, what is on the page, and which it is."""
    right, room = size[0] - TILE_MARGIN, size[0] - 2 * TILE_MARGIN - (118.0 if inches else 106.0)
    told = [
        Text((right, TILE_MARGIN + rise), shorten(text, room, _TEXT), _TEXT, "end", bold)
        for rise, text, bold in ((4.2, label, True), (0.0, title, False))
    ]
    return Drawing("foot", (*scale_bar(TILE_MARGIN, TILE_MARGIN - 1.0, inches), *told))


# -- small drawings --------------------------------------------------------------------------------------------------


def _fits(drawing: Drawing, page: Point) -> bool:
    """Whether a page has room for a drawing; its frame may lie in the margin."""
    (wide, high), free = drawing.size, _free(page, MARGIN)
    return wide <= free[0] and high <= free[1]


def _shared(drawings: Sequence[Drawing], paper: Point) -> list[tuple[Page, str]]:
    """Drawings on shared pages, each in its frame; pages upright or lying, whichever takes fewer. What fits one way
    only is put on pages of that way."""
    found = []
    for page in (paper, paper[::-1]):
        these = [one for one in drawings if _fits(one, page)]
        others = [one for one in drawings if not _fits(one, page)]
        found.append(_shelved(these, page) + _shelved(others, page[::-1]))
    return min(found, key=len)


def _shelved(drawings: Sequence[Drawing], page: Point) -> list[tuple[Page, str]]:
    """The tallest first, each on the first shelf with room for it, a new shelf where a page has room for one, else a
    new page (first fit by falling height); the pages with the smallest come first."""
    free = _free(page, MARGIN - _GAP)
    shelves: list[_Shelf] = []
    filled: list[float] = []  # of each page, how much of its height
    for drawing in sorted(drawings, key=lambda one: -one.size[1]):
        wide, high = drawing.size[0] + 2 * _GAP, drawing.size[1] + 2 * _GAP
        shelf = next((one for one in shelves if one.used + wide <= free[0] + 1e-9 and high <= one.high + 1e-9), None)
        if shelf is None:
            on = next((number for number, used in enumerate(filled) if used + high <= free[1] + 1e-9), len(filled))
            if on == len(filled):
                filled.append(0.0)
            shelf = _Shelf(on, filled[on], high)
            shelves.append(shelf)
            filled[on] += high
        shelf.add(drawing, wide)
    corner = MARGIN - _GAP, page[1] - MARGIN + _GAP
    return [
        _shelf_page(page, corner, [shelf for shelf in shelves if shelf.page == number])
        for number in reversed(range(len(filled)))
    ]


class _Shelf:
    """Drawings side by side: on which page, how far from its top, how high, how much of its width is used."""

    def __init__(self, page: int, down: float, high: float) -> None:
        self.page, self.down, self.high = page, down, high
        self.used = 0.0
        self.held: list[tuple[float, float, Drawing]] = []

    def add(self, drawing: Drawing, wide: float) -> None:
        self.held.append((self.used, wide, drawing))
        self.used += wide


def _shelf_page(page: Point, corner: Point, shelves: Sequence[_Shelf]) -> tuple[Page, str]:
    placed: list[Placed] = []
    names: list[str] = []
    for shelf in shelves:
        for x, wide, drawing in shelf.held:
            left, top, box = corner[0] + x, corner[1] - shelf.down, drawing.box
            frame = rect((left, top - shelf.high, left + wide, top), "page-frame")
            placed.append(Placed(Drawing("frame", (frame,)), (0.0, 0.0)))
            placed.append(Placed(drawing, (left + _GAP - box[0], top - _GAP - box[3])))
            names.append(drawing.name.removeprefix("jig "))
    return Page(page, tuple(placed)), ", ".join(names)


# -- large drawings --------------------------------------------------------------------------------------------------


def grid(size: Point, paper: Point) -> Grid:
    """The fewest tiles for a drawing of that size [mm], on upright or lying pages.

    A tile is what a page has room for; each further one brings what it has less the overlap. Raises ValueError where
    the paper leaves no room beside the overlap.
    """
    found = []
    for page in (paper, paper[::-1]):
        free = _free(page, TILE_MARGIN)
        if min(free) <= 2 * OVERLAP:
            raise ValueError(f"a page of {page[0]:g} × {page[1]:g} mm has no room for tiles")
        columns, rows = (
            max(1, ceil((long - OVERLAP) / (room - OVERLAP) - 1e-9)) for long, room in zip(size, free, strict=True)
        )
        # All tiles alike, so that cuts are spread evenly.
        tile = (
            (size[0] + (columns - 1) * OVERLAP) / columns,
            (size[1] + (rows - 1) * OVERLAP) / rows,
        )
        found.append(Grid(page, rows, columns, tile))
    return min(found, key=lambda one: one.count)


def _tiles(drawing: Drawing, paper: Point) -> Iterator[tuple[Page, str]]:
    cut = grid(drawing.size, paper)
    left, _, _, top = drawing.box
    wide, high = cut.tile
    step = wide - OVERLAP, high - OVERLAP
    joins = _join_marks(drawing, cut)
    for row in range(cut.rows):
        for column in range(cut.columns):
            part = (
                left + column * step[0],
                top - row * step[1] - high,
                left + column * step[0] + wide,
                top - row * step[1],
            )
            free = _free(cut.page, TILE_MARGIN)
            corner = TILE_MARGIN + (free[0] - wide) / 2, TILE_MARGIN + FOOT + (free[1] - high) / 2
            window = (corner[0], corner[1], corner[0] + wide, corner[1] + high)
            at = corner[0] - part[0], corner[1] - part[1]
            if not any(within(shape, part) for shape in drawing.shapes):
                continue
            label = (
                f"{drawing.name.removeprefix('jig ')} row {row + 1} of {cut.rows}, column {column + 1} of {cut.columns}"
            )
            yield (
                Page(
                    cut.page,
                    (Placed(drawing, at, window), Placed(joins, at, window), Placed(_crop(window, label), (0.0, 0.0))),
                ),
                label,
            )


def _join_marks(drawing: Drawing, cut: Grid) -> Drawing:
    """Crosses with letters in the middle of every overlap, two along each edge of a tile, where little is drawn."""
    left, _, _, top = drawing.box
    wide, high = cut.tile
    spots: list[Point] = []
    boxed = [(shape, box_of(shape)) for shape in drawing.shapes]
    for row in range(cut.rows):
        for column in range(cut.columns):
            x, y = left + column * (wide - OVERLAP), top - row * (high - OVERLAP)
            if column + 1 < cut.columns:
                beside = x + wide - OVERLAP / 2
                spots += [_free_spot(boxed, [(beside, y - part * high) for part in parts]) for parts in _ALONG]
            if row + 1 < cut.rows:
                below = y - high + OVERLAP / 2
                spots += [_free_spot(boxed, [(x + part * wide, below) for part in parts]) for parts in _ALONG]
    shapes: list[Shape] = []
    for number, spot in enumerate(spots):
        shapes += [*cross(spot, 3.5, "join"), Circle(spot, 1.5, "join")]
        shapes.append(Text((spot[0] + 1.8, spot[1] + 1.4), _letter(number), 2.5, layer="join"))
    return Drawing("join marks", tuple(shapes))


def _free_spot(boxed: Sequence[tuple[Shape, Box]], spots: list[Point]) -> Point:
    """The first of these spots around which least is drawn. boxed: all that is drawn, with its box."""

    def drawn(spot: Point) -> int:
        x, y = spot
        left, low, right, top = around = (x - _MARK, y - _MARK, x + _MARK, y + _MARK)
        return sum(
            within(shape, around)
            for shape, box in boxed
            if box[0] <= right and box[2] >= left and box[1] <= top and box[3] >= low
        )

    return min(spots, key=drawn)


def _letter(number: int) -> str:
    """A, B, ... Z, A2, B2, ..."""
    around, place = divmod(number, 26)
    return chr(ord("A") + place) + (str(around + 1) if around else "")


def _crop(window: Box, label: str) -> Drawing:
    """Marks outside of a tile's corners, and its name above it."""
    left, bottom, right, top = window
    shapes: list[Shape] = []
    for x, out in ((left, -1), (right, 1)):
        for y, away in ((bottom, -1), (top, 1)):
            shapes.append(Line((x + out * 1.2, y), (x + out * 5.0, y), "crop"))
            shapes.append(Line((x, y + away * 1.2), (x, y + away * 5.0), "crop"))
    middle = (left + right) / 2
    shapes.append(Text((middle, top + 5.0), label, _TEXT, "middle", True))
    shapes.append(Text((middle, top + 1.6), _HOW, 2.5, "middle"))
    return Drawing("crop marks", tuple(shapes))
