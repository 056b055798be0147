"""Standard output and standard error of a command: whatever is written, they take it, or the command says why not.

What others wrote (titles, names of bodies and files) reaches no terminal raw: see `solver.words.shown`. A character
that the stream's encoding does not have is written out as in a string of JSON, so that JSON stays what it is. A closed
or full standard output is a fault that `run` tells in one line; what standard error does not take is lost.
"""

from __future__ import annotations

import codecs
import errno
import io
import os
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import IO, Any, TextIO, cast

from solver.words.shown import escaped, shown, shown_lines

OUTPUT = "standard output"
_ERRORS = "ringwright.written_out"
_USUAL = ("strict", "surrogateescape", "backslashreplace")  # where nothing else was asked for (PYTHONIOENCODING)


class _Output(io.FileIO):
    """Says that it takes no more, once: what is left over at the end of the process is not tried again."""

    def __init__(self) -> None:
        super().__init__(1, "w", closefd=False)
        self._lost = False

    def write(self, data: Any) -> int:
        if self._lost:
            return len(data)
        try:
            return super().write(data)
        except OSError as fault:
            self._lost = True
            told = "closed" if fault.errno == errno.EBADF else fault.strerror
            raise type(fault)(fault.errno, told, OUTPUT) from None


class _Messages(io.FileIO):
    def __init__(self) -> None:
        super().__init__(2, "w", closefd=False)

    def write(self, data: Any) -> int:
        try:
            return super().write(data)
        except OSError:
            return len(data)


_BEFORE: list[Callable[[], None]] = []


@contextmanager
def before_writing(away: Callable[[], None]) -> Iterator[None]:
    """In here `away` is called before anything is written to a terminal."""
    _BEFORE.append(away)
    try:
        yield
    finally:
        _BEFORE.remove(away)


def make_room(stream: IO[str]) -> None:
    """Have what is shown on a terminal for the moment taken away, before something stays there."""
    if _BEFORE and stream.isatty():
        for away in _BEFORE:
            away()


class ShownStream(io.TextIOWrapper):
    """A stream whose text is shown. `drawn` is the same stream for what has been made fit to be shown already, and may
    move the cursor and colour the text."""

    def __init__(self, raw: io.FileIO, like: IO[str] | None) -> None:
        encoding, errors = getattr(like, "encoding", None) or "utf-8", getattr(like, "errors", None) or "strict"
        super().__init__(
            io.BufferedWriter(raw), encoding, _ERRORS if errors in _USUAL else errors, line_buffering=raw.isatty()
        )

    def write(self, text: str) -> int:
        make_room(self)
        super().write(shown_lines(text))
        return len(text)

    @property
    def drawn(self) -> TextIO:
        return cast(TextIO, _Bare(self))


class _Bare:
    def __init__(self, stream: ShownStream) -> None:
        self._stream = stream

    def write(self, text: str) -> int:
        if self._stream is not sys.stderr:  # else it is the line of progress itself, or what moves the cursor
            make_room(self._stream)
        return io.TextIOWrapper.write(self._stream, text)

    def flush(self) -> None:
        self._stream.flush()

    def isatty(self) -> bool:
        return self._stream.isatty()

    def fileno(self) -> int:
        return self._stream.fileno()

    @property
    def encoding(self) -> str:
        return self._stream.encoding

    @property
    def errors(self) -> str | None:
        return self._stream.errors


class Messages(ShownStream):
    """Standard error. `print` gives a message and its end apart, so that a line feed within is not one of ours: part of
    a file's name, for one."""

    def __init__(self, raw: io.FileIO, like: IO[str] | None) -> None:
        super().__init__(raw, like)
        self.reconfigure(line_buffering=True)

    def write(self, text: str) -> int:
        super().write(text if text.endswith("\n") else shown(text))
        return len(text)


def begin() -> None:
    """Have this process write to its standard output and standard error in this way; before anything is printed."""
    _open_closed()
    sys.stdout, sys.stderr = ShownStream(_Output(), sys.stdout), Messages(_Messages(), sys.stderr)


def _open_closed() -> None:
    """What this process was begun without is opened: else the next file would be mistaken for it. Nothing can be
    written to standard output then."""
    for number, flags in ((0, os.O_RDONLY), (1, os.O_RDONLY), (2, os.O_WRONLY)):
        try:
            os.fstat(number)
        except OSError:
            opened = os.open(os.devnull, flags)
            if opened != number:
                os.dup2(opened, number)
                os.close(opened)
            os.set_inheritable(number, True)


def _written_out(fault: UnicodeError) -> tuple[str, int]:
    if not isinstance(fault, UnicodeEncodeError):
        raise fault
    return "".join(map(escaped, fault.object[fault.start : fault.end])), fault.end


codecs.register_error(_ERRORS, _written_out)


def written(text: str, stream: TextIO, instead: Mapping[int, str]) -> str:
    """The text as it can be written to a stream; instead: what stands for signs that its encoding may not have."""
    encoding = stream.encoding or "utf-8"
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        if stream.errors in (_ERRORS, "strict"):
            return text.translate(instead).encode(encoding, _ERRORS).decode(encoding)
    return text


def flush() -> None:
    """Write what is left. Raises OSError where standard output does not take it."""
    sys.stdout.flush()
    sys.stderr.flush()
