"""Text, tables and drawings in reading order: what the page (`out_html`) and the book (`out_book`) both show."""

from __future__ import annotations

from dataclasses import dataclass

from solver.sheets.draw.drawing import Drawing


@dataclass(frozen=True)
class Heading:
    """A heading; level 1 begins a chapter, which begins a page of the book."""

    text: str
    level: int = 1


@dataclass(frozen=True)
class Paragraph:
    text: str
    small: bool = False


@dataclass(frozen=True)
class Items:
    """A list. numbered: steps in order. boxes: each has a box to tick."""

    items: tuple[str, ...]
    numbered: bool = False
    boxes: bool = False


@dataclass(frozen=True)
class TextTable:
    """Rows under heads; align: a letter for each column, l or r. totals: rows below a line."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    align: str
    caption: str = ""
    totals: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True)
class Figure:
    """A drawing. true: printed in its own size, else as wide as there is room."""

    drawing: Drawing
    caption: str = ""
    true: bool = True


@dataclass(frozen=True)
class Gallery:
    """Small drawings side by side, each with its caption; not to scale."""

    figures: tuple[Figure, ...]


@dataclass(frozen=True)
class CautionBox:
    """What can hurt, where the work is."""

    title: str
    items: tuple[str, ...]


Block = Heading | Paragraph | Items | TextTable | Figure | Gallery | CautionBox


@dataclass(frozen=True)
class Document:
    """A title, what stands below it, and the blocks."""

    title: str
    subtitle: str
    blocks: tuple[Block, ...]
