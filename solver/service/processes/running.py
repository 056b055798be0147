"""The server's end of a runner: begun, given slots, told to end, and listened to in a thread."""

from __future__ import annotations

import contextlib
import signal
import threading
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import Any, Literal

from solver.service.kept.documents import Kind
from solver.service.limits import ServiceLimits
from solver.service.processes import runner
from solver.service.processes.forked import Forked

END_S = 10.0  # a runner that was told to end and has not after that [s] is killed


class RunnerProcess:
    """One runner at work on one job. told: called with each document it says; ended: with its exit code, once."""

    def __init__(
        self,
        folder: Path,
        kind: Kind,
        limits: ServiceLimits,
        again: bool,
        slots: int,
        told: Callable[[dict[str, Any]], None],
        ended: Callable[[int], None],
    ) -> None:
        """Raises OSError where no process can be begun."""
        self._process = Forked(runner.run, str(folder), kind, asdict(limits), again, slots)
        self._told, self._ended = told, ended
        self._listener = threading.Thread(target=self._listen, name=f"runner {folder.name}", daemon=True)
        self._listener.start()

    def _listen(self) -> None:
        with contextlib.suppress(EOFError):
            while True:
                told = self._process.hear()
                assert told is not None
                self._told(told)
        self._ended(self._process.code())

    def slots(self, number: int) -> None:
        """So many it has from now on; returns at once."""
        with contextlib.suppress(OSError):  # it has ended already
            self._process.say({"slots": number})

    def end(self, when: Literal["now", "soon", "stop"] = "now") -> None:
        """Have it give back what it is at now, or end after the points that it is at, or with what these have found so
        far; returns at once."""
        with contextlib.suppress(OSError):
            self._process.say({"leave": when})
        if when != "soon":
            timer = threading.Timer(END_S, self.kill)
            timer.daemon = True
            timer.start()

    def kill(self) -> None:
        self._process.kill()

    def join(self, seconds: float) -> bool:
        """Wait for its end; whether it came within so many seconds [s]."""
        self._listener.join(seconds)
        return not self._listener.is_alive()


def ending(code: int) -> str:
    """How a process ended, in words."""
    try:
        return f"was ended by {signal.Signals(-code).name}" if code < 0 else f"ended with exit code {code}"
    except ValueError:
        return f"was ended by signal {-code}"
