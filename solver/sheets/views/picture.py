"""The picture of a placed train: a front view and a side view to scale, in black and white, on one page."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from solver.design.design import Design
from solver.design.train import Train
from solver.sheets.draw.drawing import Drawing, Page, Placed
from solver.sheets.draw.lettering import clean
from solver.sheets.draw.out_svg import svg_page
from solver.sheets.supports.made import supports_made
from solver.sheets.views.model import Model
from solver.sheets.views.picture_front import front_view
from solver.sheets.views.picture_notes import heading, notes
from solver.sheets.views.picture_page import MARGIN, PicturePage, fitted
from solver.sheets.views.picture_side import side_view


def picture(design: Design, train: Train, trimmed: bool = False) -> str:
    """A front view and a side view of a placed train of a design, with a table and a legend, as an SVG document.

    The page is A4, larger only for more rings and third gears than fit on it; trimmed: it ends below what is drawn, for
    a screen. One unit of the document is a millimetre
    of the model (`data-units-per-mm` tells; others serve a radius below 10 mm or above 5 m), and (0, 0) the main axis
    of the front view. What is drawn there says what it is: `data-part`, with `data-link`, `data-ring`, `data-level`,
    `data-teeth` and `data-sense`. Raises ValueError for a train without places.
    """
    model = Model(design, train)
    page = fitted(model, partial(notes, model))
    per_mm = 1.0
    while model.envelope * per_mm < 10:  # three decimals would be too coarse
        per_mm *= 1000
    while model.envelope * per_mm > 5_000:  # some programs cannot draw letters that are hundreds of units high
        per_mm /= 1000
    told = ("units-per-mm", f"{per_mm:g}"), ("scale", f"{page.scale:.6g}")
    drawn, (x, y) = picture_page(model, page), page.front
    empty = max(_lowest(drawn) - MARGIN, 0.0) if trimmed else 0.0
    return svg_page(_without(drawn, empty), clean(design.title), (x, y - empty), page.scale * per_mm, told)


def _lowest(page: Page) -> float:
    """How far above the lower edge of a page its lowest part is [mm]."""
    return min(one.at[1] + one.drawing.box[1] for one in page.placed)


def _without(page: Page, empty: float) -> Page:
    """A page without its lowest so many mm."""
    placed = tuple(replace(one, at=(one.at[0], one.at[1] - empty)) for one in page.placed)
    return Page((page.size[0], page.size[1] - empty), placed)


def picture_page(model: Model, page: PicturePage) -> Page:
    """The views and the notes in their places; behind the model, in grey, frame and arms where they are designed."""
    made = supports_made(model.design, model.train)
    views = [Placed(plane, page.front) for plane in front_view(model, page.scale, made)]
    views.append(Placed(side_view(model, page.depth, page.scale, made), page.side))
    told = heading(model, page)
    for block, first, last, corner in page.notes:
        told += block.draw(corner, first, last, page.scale)
    return Page(page.size, (*views, Placed(Drawing("notes", tuple(told)), (0.0, 0.0))))
