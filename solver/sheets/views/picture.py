"""The picture of a placed train: a front view and a side view to scale, in black and white, as one SVG document."""

from __future__ import annotations

from functools import partial
from xml.sax.saxutils import escape, quoteattr

from solver.design.design import Design
from solver.design.train import Train
from solver.sheets.draw.svg import FONT, Pen, clean, decimal
from solver.sheets.views.front import front_view
from solver.sheets.views.notes import heading, notes
from solver.sheets.views.page import Sheet, fitted
from solver.sheets.views.parts import Model
from solver.sheets.views.side import side_view


def picture(design: Design, train: Train) -> str:
    """A front view and a side view of a placed train of a design, with a table and a legend, as an SVG document.

    The page is A4, larger only for more rings and third gears than fit on it. One unit of the document is a millimetre
    of the model (`data-units-per-mm` tells; others serve a radius below 10 mm or above 5 m), and (0, 0) the main axis
    of the front view. What is drawn there says what it is: `data-part`, with `data-link`, `data-ring`, `data-level`,
    `data-teeth` and `data-sense`. Raises ValueError for a train without places.
    """
    if train.placement is None:
        raise ValueError("a train without places cannot be drawn; the design needs fit.directions")
    model = Model(design, train, train.placement)
    sheet = fitted(model, partial(notes, model))
    per_mm = 1.0
    while model.envelope * per_mm < 10:  # three decimals would be too coarse
        per_mm *= 1000
    while model.envelope * per_mm > 5_000:  # some programs cannot draw letters that are hundreds of units high
        per_mm /= 1000
    pen = Pen(sheet.scale, per_mm)
    front_view(pen, model)
    side_view(pen, model, sheet.depth, sheet.side)
    heading(pen, model, sheet)
    for block, first, last, corner in sheet.notes:
        block.draw(pen, corner, first, last)
    return _document(pen, clean(design.title), sheet)


def _document(pen: Pen, title: str, sheet: Sheet) -> str:
    (left, top), (wide, high) = sheet.corner, sheet.size
    return "\n".join(
        [
            '<?xml version="1.0" encoding="UTF-8"?>',
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{decimal(wide, 3)}mm" height="{decimal(high, 3)}mm" '
            f'viewBox="{pen(left, top, wide, high)}" font-family={quoteattr(FONT)} '
            f'data-units-per-mm="{pen.per_mm:g}" data-scale="{pen.scale:.6g}">',
            f"<title>{escape(title)}</title>",
            f'<rect x="{pen(left)}" y="{pen(top)}" width="{pen(wide)}" height="{pen(high)}" fill="#fff"/>',
            *pen.lines,
            "</svg>",
            "",
        ]
    )
