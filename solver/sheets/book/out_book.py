"""A document as a printed book: chapters on pages of their own, drawings in their true size, page numbers."""

from __future__ import annotations

import io
from collections.abc import Iterator
from html import escape
from typing import Any

from solver.sheets.book.document import (
    Block,
    CautionBox,
    Document,
    Figure,
    Gallery,
    Heading,
    Items,
    Paragraph,
    TextTable,
)
from solver.sheets.draw.drawing import Drawing, Placed, Point
from solver.sheets.draw.lettering import printable, shorten
from solver.sheets.draw.out_pdf import POINT, draw
from solver.sheets.draw.typeface import BOLD, PLAIN, register
from solver.sheets.errors import MissingExtra

_MARGIN, _FOOT = 10.0, 10.0
_PADDING = 6  # what reportlab keeps free in a frame, on each side [pt]
_BODY, _TABLE, _SMALL = 9.5, 8.0, 8.0  # sizes of letters [pt]
_GAP = 11  # between columns [pt]
_BESIDE = 70  # what a heading and a caption take on the page of a drawing that is made to fit [pt]


def room(paper: Point) -> Point:
    """What a page has room for [mm]."""
    return paper[0] - 2 * _MARGIN - 2 * _PADDING / POINT, paper[1] - 2 * _MARGIN - _FOOT - 2 * _PADDING / POINT


def book(document: Document, paper: Point) -> bytes:
    """The document as PDF on pages of that size [mm]; the same document gives the same bytes.

    Raises MissingExtra without reportlab.
    """
    try:
        from reportlab.platypus import SimpleDocTemplate
    except ModuleNotFoundError:
        raise MissingExtra("reportlab") from None
    register()
    stream = io.BytesIO()
    template = SimpleDocTemplate(
        stream,
        pagesize=(paper[0] * POINT, paper[1] * POINT),
        leftMargin=_MARGIN * POINT,
        rightMargin=_MARGIN * POINT,
        topMargin=_MARGIN * POINT,
        bottomMargin=(_MARGIN + _FOOT) * POINT,
        title=printable(document.title),
        creator="Ringwright",
        invariant=1,
        initialFontName=PLAIN,
        pageCompression=1,
    )

    def foot(canvas: Any, _template: Any) -> None:
        canvas.saveState()
        canvas.setFont(PLAIN, _SMALL)
        canvas.setFillGray(0.3)
        wide = paper[0] - 2 * _MARGIN - 25
        title = shorten(document.title, wide / 1.1, _SMALL / POINT)
        canvas.drawString(_MARGIN * POINT + _PADDING, _MARGIN * POINT, printable(title))
        canvas.drawRightString(
            (paper[0] - _MARGIN) * POINT - _PADDING, _MARGIN * POINT, f"page {canvas.getPageNumber()}"
        )
        canvas.restoreState()

    setter = _Setter(room(paper))
    template.build(list(setter.story(document)), onFirstPage=foot, onLaterPages=foot)
    return stream.getvalue()


class _Setter:
    """Turns blocks into what reportlab sets."""

    def __init__(self, free: Point) -> None:
        from reportlab.lib.styles import ParagraphStyle

        self.free = free[0] * POINT, free[1] * POINT
        plain = ParagraphStyle(
            "body", fontName=PLAIN, bulletFontName=PLAIN, fontSize=_BODY, leading=1.35 * _BODY, spaceAfter=5
        )

        def style(name: str, size: float, **more: Any) -> None:
            self.styles[name] = ParagraphStyle(name, plain, fontSize=size, leading=1.3 * size, **more)

        self.styles: dict[str, Any] = {"body": plain}
        style("small", _SMALL, textColor="#444444")
        style("title", 18, fontName=BOLD, spaceAfter=3)
        style("h1", 14, fontName=BOLD, spaceAfter=6)
        style("h2", 11, fontName=BOLD, spaceBefore=9, spaceAfter=4, keepWithNext=1)
        style("caption-head", 11, fontName=BOLD, spaceBefore=9, spaceAfter=4)  # a table is long: it may begin below
        for side, alignment in (("l", 0), ("r", 2)):
            style(f"cell-{side}", _TABLE, spaceAfter=0, alignment=alignment)
            style(f"head-{side}", _TABLE, spaceAfter=0, alignment=alignment, fontName=BOLD)
        style("item", _BODY, leftIndent=16, bulletIndent=0, spaceAfter=3)
        style("caption", _SMALL, spaceAfter=8)

    def paragraph(self, text: str, style: str, **more: Any) -> Any:
        from reportlab.platypus import Paragraph as Set

        return Set(escape(printable_spaces(text).replace("`", ""), quote=False), self.styles[style], **more)

    def story(self, document: Document) -> Iterator[Any]:
        from reportlab.platypus import PageBreak

        yield self.paragraph(document.title, "title")
        yield self.paragraph(document.subtitle, "small")
        begun = False
        for block in document.blocks:
            if isinstance(block, Heading) and block.level == 1:
                if begun:
                    yield PageBreak()
                begun = True
            yield from self.set(block)

    def set(self, block: Block) -> Iterator[Any]:
        if isinstance(block, Heading):
            yield self.paragraph(block.text, f"h{block.level}")
        elif isinstance(block, Paragraph):
            yield self.paragraph(block.text, "small" if block.small else "body")
        elif isinstance(block, Items):
            yield from self._items(block)
        elif isinstance(block, TextTable):
            yield from self._table(block)
        elif isinstance(block, Figure):
            yield from self._figure(block)
        elif isinstance(block, Gallery):
            for figure in block.figures:
                yield from self._figure(figure)
        else:
            yield from self._caution(block)

    def _items(self, items: Items) -> Iterator[Any]:
        for number, item in enumerate(items.items, start=1):
            if items.boxes:
                yield _ticked(self.paragraph(item, "item"))
            else:
                yield self.paragraph(item, "item", bulletText=f"{number}." if items.numbered else "\u2022")

    def _table(self, table: TextTable) -> Iterator[Any]:
        from reportlab.platypus import CondPageBreak
        from reportlab.platypus import Table as Set

        if table.caption:
            yield CondPageBreak(80)
            yield self.paragraph(table.caption, "caption-head")
        kinds = ("head", *["cell"] * len(table.rows), *["head"] * len(table.totals))
        data = [
            [self.paragraph(cell, f"{kind}-{side}") for cell, side in zip(row, table.align, strict=True)]
            for kind, row in zip(kinds, (table.heads, *table.rows, *table.totals), strict=True)
        ]
        first = len(data) - len(table.totals)
        style = [
            ("FONTNAME", (0, 0), (-1, -1), PLAIN),  # else a font is named that no file has
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("RIGHTPADDING", (0, 0), (-1, -1), _GAP),
            ("TOPPADDING", (0, 0), (-1, -1), 1.6),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 1.6),
            ("LINEBELOW", (0, 0), (-1, 0), 0.9, "#000000"),
            ("LINEBELOW", (0, 1), (-1, -1), 0.25, "#bbbbbb"),
        ]
        if table.totals:
            style.append(("LINEABOVE", (0, first), (-1, first), 0.9, "#000000"))
        made = Set(data, colWidths=self._widths(table), repeatRows=1, style=style, hAlign="LEFT")
        made.spaceAfter = 10
        yield made

    def _widths(self, table: TextTable) -> list[float]:
        """As wide as the widest cell. What does not fit: heads break between words, then the widest columns are made
        narrower, whose text then wraps."""
        from reportlab.pdfbase.pdfmetrics import stringWidth

        def all_in(heads: list[list[str]]) -> list[float]:
            def widest(column: int, words: list[str]) -> float:
                cells = [(row[column], PLAIN) for row in table.rows]
                cells += [(cell, BOLD) for cell in (*words, *(row[column] for row in table.totals))]
                return max(float(stringWidth(printable(cell), font, _TABLE)) for cell, font in cells)

            return [widest(column, words) + _GAP + 1 for column, words in enumerate(heads)]

        widths = all_in([[head] for head in table.heads])
        if sum(widths) > self.free[0]:
            widths = all_in([head.split(" ") for head in table.heads])
        while sum(widths) > self.free[0] + 1e-6:
            widest = max(widths)
            alike = [number for number, width in enumerate(widths) if width > widest - 1e-9]
            others = [width for width in widths if width <= widest - 1e-9]
            down = max(max(others, default=0.0), widest - (sum(widths) - self.free[0]) / len(alike))
            for number in alike:
                widths[number] = down
        return widths

    def _figure(self, figure: Figure) -> Iterator[Any]:
        drawn = _drawn(figure.drawing, self.free, figure.true)
        drawn.keepWithNext = bool(figure.caption)  # a heading before it stays with both: groups within groups do not
        yield drawn
        if figure.caption:
            yield self.paragraph(figure.caption, "caption")

    def _caution(self, caution: CautionBox) -> Iterator[Any]:
        from reportlab.platypus import KeepTogether
        from reportlab.platypus import Table as Set

        head = self.paragraph(caution.title, "h2")
        items = [self.paragraph(item, "item", bulletText="\u2022") for item in caution.items]
        style = [
            ("FONTNAME", (0, 0), (-1, -1), PLAIN),
            ("BOX", (0, 0), (-1, -1), 0.9, "#000000"),
            ("LINEBEFORE", (0, 0), (0, -1), 5, "#000000"),
            ("LEFTPADDING", (0, 0), (-1, -1), 12),
            ("TOPPADDING", (0, 0), (-1, -1), 1),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 1),
            ("TOPPADDING", (0, 0), (-1, 0), 5),
            ("BOTTOMPADDING", (0, -1), (-1, -1), 6),
        ]
        rows = [[head], *([item] for item in items)]
        made = Set(rows, colWidths=[self.free[0]], style=style, hAlign="LEFT")
        made.spaceBefore, made.spaceAfter = 4, 10
        yield KeepTogether([made])


def printable_spaces(text: str) -> str:
    """As `printable`, but spaces at which no line may break stay; one before a diameter is such."""
    return "\u00a0".join(printable(part) for part in text.replace("⌀ ", "⌀\u00a0").split("\u00a0"))


def _drawn(drawing: Drawing, free: Point, true: bool) -> Any:
    """A drawing as something that reportlab sets: in its true size, or made smaller to fit where it need not be."""
    from reportlab.platypus import Flowable

    left, bottom, right, top = drawing.box
    size = (right - left) * POINT, (top - bottom) * POINT
    factor = 1.0 if true else min(1.0, free[0] / size[0], (free[1] - _BESIDE) / size[1])

    class Drawn(Flowable):  # type: ignore[misc]
        def wrap(self, _width: float, _height: float) -> Point:
            return size[0] * factor, size[1] * factor + 8

        def draw(self) -> None:
            self.canv.saveState()
            self.canv.translate(0, 8)
            self.canv.scale(factor, factor)
            draw(self.canv, Placed(drawing, (-left, -bottom)))
            self.canv.restoreState()

    return Drawn()


def _ticked(paragraph: Any) -> Any:
    """A paragraph with a box to tick before it."""
    from reportlab.platypus import Flowable

    class Ticked(Flowable):  # type: ignore[misc]
        def wrap(self, width: float, height: float) -> Point:
            wide, high = paragraph.wrap(width, height)
            self.size = (wide, high)
            return self.size

        def getSpaceAfter(self) -> float:
            return float(paragraph.getSpaceAfter())

        def draw(self) -> None:
            paragraph.drawOn(self.canv, 0, 0)
            self.canv.setLineWidth(0.7)
            self.canv.rect(1, self.size[1] - _BODY - 0.6, 7.5, 7.5)

    return Ticked()
