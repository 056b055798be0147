"""A line on a terminal that says what goes on, from the first moment on; what else is written takes its place.

One line is shown at a time: a part of the work that tells of itself tells on the line that is there. Where standard
error is no terminal, not a byte is written.
"""

from __future__ import annotations

import os
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from solver.cli import signals, streams
from solver.words.shown import shown

_TURNS = "|/-\\"
_EVERY_S = 0.2
_AWAY = "\r\x1b[2K"  # back to the beginning of the line, which is emptied (ECMA-48, CR and EL)


class _DrawnLine:
    """The line: drawn when something is told, and again now and then, with the seconds since it began. What is written
    to the terminal takes it away, until something is told again."""

    def __init__(self) -> None:
        self._began, self._turn, self._words, self._drawn = time.monotonic(), 0, "", False
        self._lock, self._over = threading.RLock(), threading.Event()
        self._stream = sys.stderr.drawn if isinstance(sys.stderr, streams.ShownStream) else sys.stderr

    def begin(self) -> None:
        """Be redrawn now and then, in a thread of its own."""
        threading.Thread(target=self._turning, name="line", daemon=True).start()

    def tell(self, words: str) -> None:
        """Show these words from now on."""
        with self._lock:
            self._words = words
            self._draw()

    def away(self) -> None:
        """Make room for something else."""
        with self._lock:
            if self._drawn:
                self._drawn = False
                self._write(_AWAY)

    def end(self) -> None:
        """Be shown no more."""
        self._over.set()
        self.away()

    def _turning(self) -> None:
        while not self._over.wait(_EVERY_S):
            with self._lock:
                if self._drawn:
                    self._draw()

    def _draw(self) -> None:
        if self._over.is_set():
            return
        self._turn += 1
        seconds = time.monotonic() - self._began
        text = f"{_TURNS[self._turn % len(_TURNS)]} {f'{seconds:.0f} s, ' if seconds >= 1 else ''}{self._words}"
        self._drawn = True
        self._write(_AWAY + _cut(shown(text), _columns() - 1))

    def _write(self, text: str) -> None:
        self._stream.write(text)
        self._stream.flush()


def _columns() -> int:
    try:
        return os.get_terminal_size(sys.stderr.fileno()).columns or 80
    except (OSError, ValueError):
        return 80


def _cut(text: str, columns: int) -> str:
    """Text on one line of a terminal, some of whose letters may take two columns."""
    if text.isascii():
        return text[:columns]
    from rich.cells import cell_len, set_cell_size

    return text if cell_len(text) <= columns else set_cell_size(text, columns)


_SHOWN: list[_DrawnLine] = []


@contextmanager
def words_line(first: str) -> Iterator[Callable[[str], None] | None]:
    """A callback that shows words on the line, after how long it took; None where standard error is no terminal.
    first: what is shown at once."""
    if not sys.stderr.isatty():
        yield None
        return
    if _SHOWN:
        _SHOWN[0].tell(first)
        yield _SHOWN[0].tell
        return
    line = _DrawnLine()
    with signals.line_of_progress(), streams.before_writing(line.away):
        _SHOWN.append(line)
        try:
            line.tell(first)
            line.begin()
            yield line.tell
        finally:
            _SHOWN.clear()
            line.end()


def tell(words: str) -> None:
    """Show words on the line, if there is one."""
    if _SHOWN:
        _SHOWN[0].tell(words)
