"""The console that tables are drawn on: nothing in a title or a name can do anything to it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, TextIO, cast

from rich import box
from rich.console import Console, ConsoleOptions, RenderableType
from rich.segment import Segment
from rich.table import Table
from rich.text import Text

from solver.cli.streams import written
from solver.words.shown import shown, shown_lines

# What stands for signs of ours where the encoding does not have them, and for the lines of a table.
_PLAIN = str.maketrans({"°": "deg", "→": "->", "±": "+-", "×": "x", "–": "-", "—": "-", "…": "...", "−": "-"})
HEAD = box.SIMPLE_HEAD
_PLAIN_HEAD = box.Box("    \n    \n -- \n    \n    \n    \n    \n    \n", ascii=True)


class Lines(str):
    """Several lines of text. Any other text is one line, whatever is in it."""

    def __new__(cls, *lines: str) -> Lines:
        return super().__new__(cls, "\n".join(map(shown, lines)))


class Screen(Console):
    """A console on a stream, with what the stream can show. width: None for a terminal's own."""

    def __init__(self, stream: TextIO, width: int | None = None) -> None:
        super().__init__(file=getattr(stream, "drawn", stream), width=width, highlight=False, markup=False, emoji=False)

    def render_str(self, text: str, **options: Any) -> Text:
        seen = text if isinstance(text, Lines) else shown(text)
        return super().render_str(written(seen, cast(TextIO, self.file), _PLAIN), **options)

    def render(self, renderable: RenderableType, options: ConsoleOptions | None = None) -> Iterable[Segment]:
        if isinstance(renderable, Table) and renderable.box is HEAD and (options or self.options).ascii_only:
            renderable.box = _PLAIN_HEAD
        for segment in super().render(renderable, options):
            yield segment if segment.control else Segment(shown_lines(segment.text), segment.style)
