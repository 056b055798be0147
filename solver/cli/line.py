"""A line on a terminal that says what goes on."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from solver.cli import signals
from solver.cli.screen import Screen


@contextmanager
def words_line(first: str) -> Iterator[Callable[[str], None] | None]:
    """A callback that shows words on one line, after how long it took; silent where standard error is no terminal.
    first: what is shown at once."""
    if not sys.stderr.isatty():
        yield None
        return
    with signals.line_of_progress(), Screen(sys.stderr).status(first) as line:
        began = time.monotonic()
        line.update(spinner="dots")  # drawn now, and not with the next turn of the spinner
        yield lambda words: line.update(f"{time.monotonic() - began:.0f} s, {words}")
