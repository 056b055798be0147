"""Running a search for a person at a terminal: progress, Ctrl-C, and the exit code that says how it ended."""

from __future__ import annotations

import ctypes
import signal
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, TypeVar

from solver.answer.document import Answer, Status
from solver.cli import signals
from solver.cli.exits import EXIT_INFEASIBLE, EXIT_LIMIT, EXIT_OK
from solver.cli.line import words_line
from solver.cli.numbers import length_text
from solver.search.stop import Interrupt
from solver.words.numbers import percent_at_least

if TYPE_CHECKING:
    from solver.search.order.shared import Progress  # which takes a while to load

GRACE_S = 0.35  # how long a search may take to end after a signal
_LOOK_S = 0.1

T = TypeVar("T")


def exit_code(answer: Answer, signum: int | None) -> int:
    """The process's exit code: 128 + the signal where one ended the search, else by status."""
    if signum is not None:
        return 128 + signum
    codes = {Status.OPTIMAL: EXIT_OK, Status.INFEASIBLE: EXIT_INFEASIBLE}
    return codes.get(answer.status, EXIT_LIMIT)


def interruptible(work: Callable[[Interrupt], T], so_far: Callable[[], T] | None = None) -> tuple[T, int | None]:
    """Run `work` in a thread and wait. The first signal tells its stop rule, a second one ends the command at once.

    so_far: where given, what is known is taken from it if `work` does not end within GRACE_S [s] of a signal; it is
    left behind then, inside some library. Returns the result and the signal that came, if any. Exceptions of `work`
    are raised here.
    """
    interrupt = Interrupt()
    struck: list[float] = []
    result: list[T] = []
    fault: list[BaseException] = []

    def run() -> None:
        try:
            result.append(work(interrupt))
        except BaseException as error:  # noqa: BLE001 - handed to the waiting thread, which raises it
            fault.append(error)

    def wake() -> None:
        struck.append(time.monotonic())
        interrupt.set()

    with signals.told(wake):
        thread = threading.Thread(target=run, name="search", daemon=True)
        thread.start()
        while thread.is_alive():
            thread.join(_LOOK_S)
            if so_far is not None and struck and time.monotonic() - struck[0] > GRACE_S and thread.is_alive():
                _leave_behind(thread)
                return so_far(), signals.came()
    if fault:
        raise fault[0]
    return result[0], signals.came()


def _leave_behind(thread: threading.Thread) -> None:
    """Go on without a thread. One that is in Python, and not in a library, is ended, or it would take half the time."""
    signals.leave_behind()
    ctypes.pythonapi.PyThreadState_SetAsyncExc(ctypes.c_ulong(thread.ident or 0), ctypes.py_object(SystemExit))


def but_stored(fault: OSError, where: str) -> OSError:
    """A fault of an output that took nothing, which says as well where the run is."""
    return OSError(fault.errno, f"{fault.strerror}; the run is stored {where}", fault.filename)


@contextmanager
def lost_pipes_told() -> Iterator[None]:
    """While workers and clients are written to: one that has gone is an error to be handled, not the end of this
    process, which `main` asks for where the reader of its own output is gone."""
    if not hasattr(signal, "SIGPIPE"):
        yield
        return
    before = signal.signal(signal.SIGPIPE, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGPIPE, before)


@contextmanager
def progress_line(units: str = "mm"):  # type: ignore[no-untyped-def]
    """A callback that shows the search's progress on one line; silent where standard error is no terminal. units: of
    lengths."""
    with words_line("searching") as tell:
        if tell is None:
            yield None
            return

        def show(progress: Progress) -> None:
            words = []
            if progress.best_error is not None:
                words.append(f"best so far {progress.best_error * 100:.4f} %")
            if progress.key is not None and progress.best_value is not None:
                envelope = progress.key == "envelope"
                what = "least radius" if envelope else f"fewest {progress.key}"
                best, least = (
                    f"{length_text(value, units)} {units}" if envelope else f"{value:g}"
                    for value in (progress.best_value, progress.least_value or 0)
                )
                words.append(f"{what} so far {best}, at least {least}")
            if progress.bound_error > 0:
                words.append(f"none below {percent_at_least(progress.bound_error * 100)} %")
            left = progress.structures_left
            words.append(f"ring structures left {left}" if left else "settling the ranked list")
            tell(", ".join(words))

        yield show
