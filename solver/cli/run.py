"""Running a search for a person at a terminal: progress, Ctrl-C, and the exit code that says how it ended."""

from __future__ import annotations

import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, TypeVar

from rich.console import Console

from solver.cli.tables import percent_at_least
from solver.search.answer import Answer, Status
from solver.search.engine import Progress
from solver.search.stop import Interrupt

EXIT_OK, EXIT_FAULT, EXIT_INPUT, EXIT_INFEASIBLE, EXIT_LIMIT, EXIT_BUSY = 0, 1, 2, 3, 4, 75
_SECOND_TIME = "stopped at once"

T = TypeVar("T")


def exit_code(answer: Answer, signum: int | None) -> int:
    """The process's exit code: 128 + the signal where one ended the search, else by status."""
    if signum is not None:
        return 128 + signum
    codes = {Status.OPTIMAL: EXIT_OK, Status.INFEASIBLE: EXIT_INFEASIBLE}
    return codes.get(answer.status, EXIT_LIMIT)


def interruptible(work: Callable[[Interrupt], T]) -> tuple[T, int | None]:
    """Run `work` in a thread and wait. SIGINT and SIGTERM tell its stop rule once; a second one kills.

    Returns the result and the signal that came, if any. Exceptions of `work` are raised here.
    """
    interrupt = Interrupt()
    came: list[int] = []
    result: list[T] = []
    fault: list[BaseException] = []

    def run() -> None:
        try:
            result.append(work(interrupt))
        except BaseException as error:  # noqa: BLE001 - handed to the waiting thread, which raises it
            fault.append(error)

    def on_signal(signum: int, _frame: Any) -> None:
        if came:
            print(_SECOND_TIME, file=sys.stderr, flush=True)
            signal.signal(signum, signal.SIG_DFL)
            signal.raise_signal(signum)
        came.append(signum)
        interrupt.set()

    with _handled((signal.SIGINT, signal.SIGTERM), on_signal):
        thread = threading.Thread(target=run, name="search", daemon=True)
        thread.start()
        while thread.is_alive():
            thread.join(0.1)
    if fault:
        raise fault[0]
    return result[0], came[0] if came else None


class Stopped(BaseException):
    """A signal that ends the work at once; what was begun is cleaned up on the way out."""

    def __init__(self, signum: int) -> None:
        super().__init__(signum)
        self.signum = signum


@contextmanager
def stoppable() -> Iterator[None]:
    """SIGINT and SIGTERM raise Stopped in here: the first that comes; later ones change nothing."""
    came: list[int] = []

    def on_signal(signum: int, _frame: Any) -> None:
        if not came:
            came.append(signum)
            raise Stopped(signum)

    with _handled((signal.SIGINT, signal.SIGTERM), on_signal):
        yield


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
def _handled(signals: tuple[int, ...], handler: Callable[[int, Any], None]):  # type: ignore[no-untyped-def]
    before = {number: signal.signal(number, handler) for number in signals}
    try:
        yield
    finally:
        for number, old in before.items():
            signal.signal(number, old)


@contextmanager
def progress_line():  # type: ignore[no-untyped-def]
    """A callback that shows the search's progress on one line; silent where standard error is no terminal."""
    if not sys.stderr.isatty():
        yield None
        return
    with Console(stderr=True).status("searching") as line:
        began = time.monotonic()

        def show(progress: Progress) -> None:
            words = [f"{time.monotonic() - began:.0f} s"]
            if progress.best_error is not None:
                words.append(f"best so far {progress.best_error * 100:.4f} %")
            if progress.key is not None and progress.best_value is not None:
                what, unit = ("least radius", " mm") if progress.key == "envelope" else (f"fewest {progress.key}", "")
                least = f"{progress.least_value or 0:.10g}{unit}"
                words.append(f"{what} so far {progress.best_value:.10g}{unit}, at least {least}")
            if progress.bound_error > 0:
                words.append(f"none below {percent_at_least(progress.bound_error * 100)} %")
            left = progress.structures_left
            words.append(f"ring structures left {left}" if left else "settling the ranked list")
            line.update(", ".join(words))

        yield show
