"""The picture of a placed train: a front view and a side view to scale, in black and white, on one page."""

from __future__ import annotations

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
from solver.sheets.views.picture_page import PicturePage, fitted
from solver.sheets.views.picture_side import side_view


def picture(design: Design, train: Train) -> str:
    """A front view and a side view of a placed train of a design, with a table and a legend, as an SVG document.

    The page is A4, larger only for more rings and third gears than fit on it. One unit of the document is a millimetre
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
    return svg_page(picture_page(model, page), clean(design.title), page.front, page.scale * per_mm, told)


def picture_page(model: Model, page: PicturePage) -> Page:
    """The views and the notes in their places; behind the model, in grey, frame and arms where they are designed."""
    made = supports_made(model.design, model.train)
    views = [Placed(plane, page.front) for plane in front_view(model, page.scale, made)]
    views.append(Placed(side_view(model, page.depth, page.scale, made), page.side))
    told = heading(model, page)
    for block, first, last, corner in page.notes:
        told += block.draw(corner, first, last, page.scale)
    return Page(page.size, (*views, Placed(Drawing("notes", tuple(told)), (0.0, 0.0))))
