"""Stop rules: when a search has to end before it is done. Time and interrupt are the same kind of thing."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from enum import StrEnum
from typing import Protocol

AGAIN_S = 0.02
_paused: Callable[[], float] = float  # of a process that nobody pauses: none


def awake() -> float:
    """A clock [s] like `time.monotonic`, which stands still while this process is paused."""
    return time.monotonic() - _paused()


def count_pauses(paused: Callable[[], float]) -> None:
    """Have `awake` leave out the pauses of this process. paused: how long they were so far, all together [s]."""
    global _paused
    _paused = paused


class Termination(StrEnum):
    """Why a search ended; what is then known about the problem is the status."""

    PROVED = "proved"  # it came to its end
    TIME = "time"
    INTERRUPT = "interrupt"
    WORK = "work"  # so many steps were allowed
    CROWDED = "crowded"  # more solutions share the best error than could be ordered
    THIRDS = "thirds"  # one train has more third gears than could be tried out


class StopRule(Protocol):
    """Asked between steps."""

    def __call__(self) -> Termination | None:
        """Why to stop, or None to go on."""

    def watch(self, wake: Callable[[], None]) -> Callable[[], None]:
        """Call `wake` when the rule strikes on its own; returns the call that ends the watch."""


class NoStop:
    """Never stops."""

    def __call__(self) -> Termination | None:
        return None

    def watch(self, wake: Callable[[], None]) -> Callable[[], None]:
        return lambda: None


class Deadline(NoStop):
    """Stops some seconds after it was made (wall clock, monotonic, without the time that the process was paused)."""

    def __init__(self, seconds: float) -> None:
        self.end = awake() + seconds

    def __call__(self) -> Termination | None:
        return Termination.TIME if awake() >= self.end else None

    def watch(self, wake: Callable[[], None]) -> Callable[[], None]:
        over = threading.Event()

        def watch() -> None:
            while not over.wait(min(max(self.end - awake(), AGAIN_S), 3600.0)):
                if self():
                    wake()  # again and again: what was not yet running a moment ago would not have heard it

        threading.Thread(target=watch, name="deadline", daemon=True).start()
        return over.set


class WorkLimit(NoStop):
    """Stops when it has been asked so often: a limit that does not look at the clock, and strikes at the same step
    each time."""

    def __init__(self, calls: int) -> None:
        self.left = calls

    def __call__(self) -> Termination | None:
        self.left -= 1
        return Termination.WORK if self.left < 0 else None


class Effort(NoStop):
    """Stops when this thread has worked so many seconds since the rule was made: on an idle machine a deadline, on a
    busy one the same work."""

    def __init__(self, seconds: float) -> None:
        self.end = time.thread_time() + seconds
        self._over = False

    def __call__(self) -> Termination | None:
        return Termination.WORK if self._over or time.thread_time() >= self.end else None

    def watch(self, wake: Callable[[], None]) -> Callable[[], None]:
        """What works meanwhile is seen from another thread, by the work of all threads."""
        end = time.process_time() + self.end - time.thread_time()
        done = threading.Event()

        def watch() -> None:
            while not done.wait(AGAIN_S):
                if time.process_time() >= end:
                    self._over = True
                    wake()  # again and again, as above

        threading.Thread(target=watch, name="effort", daemon=True).start()
        return done.set


class Interrupt(NoStop):
    """Stops when told to, from another thread or a signal handler; wakes a running solve."""

    def __init__(self) -> None:
        self._event = threading.Event()
        self._lock = threading.RLock()
        self._watchers: list[Callable[[], None]] = []

    def set(self) -> None:
        self._event.set()
        with self._lock:
            watchers = list(self._watchers)
        for wake in watchers:
            wake()

    def __call__(self) -> Termination | None:
        return Termination.INTERRUPT if self._event.is_set() else None

    def watch(self, wake: Callable[[], None]) -> Callable[[], None]:
        with self._lock:
            self._watchers.append(wake)
        if self._event.is_set():
            wake()

        def end() -> None:
            with self._lock:
                self._watchers.remove(wake)

        return end


class FirstOf:
    """Stops as soon as one of its rules does."""

    def __init__(self, *rules: StopRule) -> None:
        self.rules = rules

    def __call__(self) -> Termination | None:
        return next((reason for rule in self.rules if (reason := rule())), None)

    def watch(self, wake: Callable[[], None]) -> Callable[[], None]:
        ends = [rule.watch(wake) for rule in self.rules]

        def end() -> None:
            for one in ends:
                one()

        return end


class SearchStopped(Exception):
    """Raised inside the search when its stop rule strikes; carries the reason."""

    def __init__(self, reason: Termination) -> None:
        super().__init__(reason)
        self.reason = reason


def ask(stop: StopRule) -> None:
    """Ask a stop rule. Raises SearchStopped where it strikes."""
    if reason := stop():
        raise SearchStopped(reason)
