"""The server's end of the processes that explain: one at a time, the others wait in line."""

from __future__ import annotations

import sys
import threading
import time
import traceback
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from solver.service.errors import TooMany
from solver.service.limits import ServiceLimits
from solver.service.processes import explainer
from solver.service.processes.forked import Forked
from solver.service.processes.running import ending

AT_A_TIME = 1
MOST_WAITING = 64
FAULTS_KEPT = 64
GRACE_S = 30.0  # beyond its own limit, after which a process that says nothing is ended [s]; machines may be busy


@dataclass(frozen=True)
class ExplanationUnderWay:
    """An explanation that is not there yet. ahead: how many come before it, 0 where it is being made; began: when that
    was, on the monotonic clock [s]; doing: what it looks at; known: what is known so far, as an explanation; failed:
    why there is none, "" otherwise."""

    ahead: int = 0
    began: float | None = None
    doing: str = ""
    known: dict[str, Any] | None = None
    failed: str = ""


class Explainers:
    """Thread-safe. Close it at the end, or the processes end with this one."""

    def __init__(self, limits: ServiceLimits) -> None:
        self._limits = limits
        self._lock = threading.Lock()
        self._waiting: OrderedDict[str, tuple[str, float, Callable[[dict[str, Any]], None]]] = OrderedDict()
        self._at_work: dict[str, ExplanationUnderWay] = {}
        self._failed: OrderedDict[str, str] = OrderedDict()
        self._processes: set[Forked] = set()
        self._closed = False

    def begin(self, name: str, text: str, seconds: float, made: Callable[[dict[str, Any]], None]) -> None:
        """Have the design of that text explained, for so long [s] at most, unless that is under way. name: of this
        explanation; made: called with it, from a thread. Returns at once. Raises TooMany."""
        with self._lock:
            if self._closed or name in self._waiting or name in self._at_work:
                return
            if len(self._waiting) >= MOST_WAITING:
                raise TooMany(f"{MOST_WAITING} explanations wait for their turn, and no more may; ask again later",
                              MOST_WAITING)  # fmt: skip
            self._failed.pop(name, None)
            self._waiting[name] = (text, seconds, made)
            self._go_on()

    def look(self, name: str) -> ExplanationUnderWay | None:
        """How far it is; None where it is neither under way nor has failed."""
        with self._lock:
            if name in self._at_work:
                return self._at_work[name]
            if name in self._waiting:
                return ExplanationUnderWay(ahead=list(self._waiting).index(name) + len(self._at_work))
            return ExplanationUnderWay(failed=self._failed[name]) if name in self._failed else None

    def close(self) -> None:
        """End all of them."""
        with self._lock:
            self._closed = True
            self._waiting.clear()
            for process in self._processes:
                process.kill()

    def _go_on(self) -> None:
        """Begin what is next, under the lock."""
        while self._waiting and len(self._at_work) < AT_A_TIME and not self._closed:
            name, (text, seconds, made) = self._waiting.popitem(last=False)
            self._at_work[name] = ExplanationUnderWay(began=time.monotonic())
            threading.Thread(target=self._work, args=(name, text, seconds, made), name="explainer", daemon=True).start()

    def _work(self, name: str, text: str, seconds: float, made: Callable[[dict[str, Any]], None]) -> None:
        failed = "its process cannot be begun"
        try:
            told = self._asked(name, text, seconds)
            failed = told.get("failed", "it cannot be stored")
            if "made" in told:
                made(told["made"])
                failed = ""
        except OSError:  # the disk is full, or the job was removed meanwhile
            traceback.print_exc(file=sys.stderr)
        finally:
            with self._lock:
                del self._at_work[name]
                if failed:
                    self._failed[name] = failed
                    while len(self._failed) > FAULTS_KEPT:
                        self._failed.popitem(last=False)
                self._go_on()

    def _asked(self, name: str, text: str, seconds: float) -> dict[str, Any]:
        """What the process says at last. Raises OSError where it cannot be begun."""
        process = Forked(explainer.explain, text, seconds, self._limits.memory_mb)
        with self._lock:
            self._processes.add(process)
            if self._closed:
                process.kill()
        until = time.monotonic() + seconds + GRACE_S
        try:
            while (told := process.hear(max(until - time.monotonic(), 0.0))) is not None:
                if "doing" not in told:
                    return told
                with self._lock:
                    self._at_work[name] = replace(self._at_work[name], **told)
            return {"failed": f"it took more than {seconds:g} s"}
        except EOFError:
            return {"failed": f"its process {ending(process.code())}"}
        finally:
            process.kill()
            process.code()
            with self._lock:
                self._processes.discard(process)
