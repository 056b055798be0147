"""What a signal does to a command, at any moment: SIGINT, SIGTERM and SIGHUP.

Unless told otherwise a command ends at once, with 128 + the signal as its exit code; nothing that it stores can be
found half written. While a search is at work, or a run is being stored, the first signal is heard and answered for, and
the second one ends the command at once. A thread of its own hears them (`signal.set_wakeup_fd`), since Python's own
handlers wait for the main thread, which may be inside a library.
"""

from __future__ import annotations

import atexit
import gc
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from typing import Any, NoReturn

SIGNALS = tuple(getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name))
_SECOND_TIME = "stopped at once"
_CURSOR = "\x1b[?25h\r\n"  # shows it again, on a line of its own

Plan = Callable[[int], None]


class Signalled(BaseException):
    """A signal that ends the work at once; what was begun is cleaned up on the way out."""

    def __init__(self, signum: int) -> None:
        super().__init__(signum)
        self.signum = signum


class _Desk:
    """What signals do now. raises: whether the first one raises Signalled in the main thread; came: the first one that
    was kept; words: what is said where one ends the command; line: whether a line of progress hides the cursor; left:
    whether work was left behind."""

    def __init__(self) -> None:
        self.plan: Plan = end_at_once
        self.raises = False
        self.came: int | None = None
        self.words: str | None = None
        self.line = False
        self.left = False

    def hear(self, signum: int) -> None:
        if self.came is not None and self.plan is not _nothing:
            self.words = _SECOND_TIME
            end_at_once(signum)
        self.plan(signum)

    def keep(self, signum: int) -> None:
        self.came = signum


def _nothing(_signum: int) -> None:
    """What is done where somebody else handles signals."""


def end_at_once(signum: int) -> NoReturn:
    """End this process as that signal does, from whichever thread."""
    text = (_CURSOR if _DESK.line else "") + (f"{_DESK.words}\n" if _DESK.words else "")
    with suppress(OSError):
        os.write(2, text.encode())
    os._exit(128 + signum)


_DESK = _Desk()


def begin() -> None:
    """Hear signals from here on; once, in the main thread. Who has this process ignore SIGHUP (nohup) has his wish."""
    read, write = os.pipe()
    os.set_blocking(write, False)
    for number in SIGNALS:
        if signal.getsignal(number) is not signal.SIG_IGN or number == signal.SIGINT:
            signal.signal(number, _in_main_thread)
    atexit.register(_ignore)  # the first to be registered is the last to be called
    signal.set_wakeup_fd(write, warn_on_full_buffer=False)
    threading.Thread(target=_listen, args=(read,), name="signals", daemon=True).start()


def _ignore() -> None:
    """Python takes its handlers away while it ends, and the exit code is settled by then."""
    for number in SIGNALS:
        signal.signal(number, signal.SIG_IGN)


def _in_main_thread(signum: int, _frame: Any) -> None:
    if _DESK.raises:
        _DESK.raises = False
        raise Signalled(signum)


def _listen(pipe: int) -> None:
    while True:
        for number in os.read(pipe, 64):
            if number in SIGNALS:
                _DESK.hear(number)


@contextmanager
def _planned(plan: Plan, words: str | None = None) -> Iterator[None]:
    before = _DESK.plan, _DESK.words
    _DESK.plan, _DESK.words = plan, words
    try:
        yield
    finally:
        _DESK.plan, _DESK.words = before


def told(wake: Callable[[], None]) -> Any:
    """A context in which the first signal is kept (`came`) and `wake` called, in another thread."""

    def hear(signum: int) -> None:
        _DESK.keep(signum)
        wake()

    return _planned(hear)


def held() -> Any:
    """A context in which the first signal is kept (`came`), and nothing else is done about it."""
    return _planned(_DESK.keep)


def ending(words: str) -> Any:
    """A context in which a signal ends the command at once, with these words."""
    return _planned(end_at_once, words)


def elsewhere() -> Any:
    """A context in which somebody else handles signals."""
    return _planned(_nothing)


@contextmanager
def stoppable() -> Iterator[None]:
    """The first signal raises Signalled in here, in the main thread; the command then ends, and later ones change
    nothing."""
    before, _DESK.plan = _DESK.plan, _nothing
    _DESK.raises = True
    try:
        yield
    finally:
        if _DESK.raises:  # none has come
            _DESK.raises, _DESK.plan = False, before


def came() -> int | None:
    """The first signal that was kept, if any."""
    return _DESK.came


@contextmanager
def line_of_progress() -> Iterator[None]:
    """While a line of progress is shown, which hides the cursor."""
    _DESK.line = True
    try:
        yield
    finally:
        _DESK.line = False


def leave_behind() -> None:
    """Something is still at work that cannot be ended: this process must not wait for it (see `finish`)."""
    _DESK.left = True


def finish(code: int) -> NoReturn:
    """End this process."""
    if _DESK.left:
        for stream in (sys.stdout, sys.stderr):
            stream.flush()
        os._exit(code)
    gc.freeze()  # looking through all that was loaded for garbage takes its time
    sys.exit(code)
