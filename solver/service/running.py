"""The server's end of a runner: begun, told to end, and listened to in a thread."""

from __future__ import annotations

import json
import signal
import threading
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import Any

from solver.service.documents import Kind
from solver.service.limits import Limits
from solver.service.pipes import begin

END_S = 10.0  # a runner that was told to end and has not after that [s] is killed


class Running:
    """One runner at work on one job. told: called with each line it says; ended: with its exit code, once."""

    def __init__(
        self,
        folder: Path,
        kind: Kind,
        limits: Limits,
        again: bool,
        told: Callable[[dict[str, Any]], None],
        ended: Callable[[int], None],
    ) -> None:
        """Raises OSError where no process can be begun."""
        words = [str(folder), kind, json.dumps(asdict(limits)), *(["again"] if again else [])]
        self._process = begin("solver.service.runner", *words)
        self._told, self._ended = told, ended
        self._listener = threading.Thread(target=self._listen, name=f"runner {folder.name}", daemon=True)
        self._listener.start()

    def _listen(self) -> None:
        assert self._process.stdout is not None and self._process.stdin is not None
        for line in self._process.stdout:
            try:
                told = json.loads(line)
            except ValueError:  # it was killed in the middle of a line
                continue
            self._told(told)
        code = self._process.wait()
        self._process.stdout.close()
        self._process.stdin.close()
        self._ended(code)

    def end(self) -> None:
        """Have it give back what it is at; returns at once."""
        assert self._process.stdin is not None
        try:
            self._process.stdin.write(b"end\n")
            self._process.stdin.flush()
        except (OSError, ValueError):  # it has ended already
            return
        timer = threading.Timer(END_S, self.kill)
        timer.daemon = True
        timer.start()

    def kill(self) -> None:
        if self._process.poll() is None:
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
