"""The server's end of the processes that validate submissions: a few, each with one submission at a time and a limit to
how long it may take."""

from __future__ import annotations

import contextlib
import queue
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from solver.batch.store.errors import StoreError
from solver.design.errors import Complaint, DesignError
from solver.service.errors import CheckFailed, TooSlow
from solver.service.kept.documents import Form, Kind
from solver.service.limits import ServiceLimits
from solver.service.processes import checker
from solver.service.processes.forked import Forked

AT_A_TIME = 2


@dataclass(frozen=True)
class Checked:
    """A submission that is valid. job: what its job is called; points: how many; sha256: what the name follows from;
    text: as TOML; places: whether pictures and sheets can be made."""

    job: str
    kind: Kind
    title: str
    sha256: str
    text: str
    places: bool
    points: int


class Checkers:
    """Thread-safe. Close it, or the processes end with this one."""

    def __init__(self, limits: ServiceLimits) -> None:
        self._limits = limits
        self._free: queue.SimpleQueue[Forked | None] = queue.SimpleQueue()
        self._all: set[Forked] = set()
        self._lock = threading.Lock()
        self._closed = False
        for _ in range(AT_A_TIME):
            self._free.put(None)

    def ready(self) -> None:
        """Have one wait for what comes. Returns once it is there."""
        with contextlib.suppress(StoreError), self._one():
            pass

    def check(self, text: str, form: Form, kind: Kind | None, jobs: Path, into: Path | None) -> Checked:
        """Validate, and where `into` is given enter what is no job yet in the folder `jobs` there. Raises DesignError,
        TooSlow, StoreError where it cannot be stored, and CheckFailed."""
        asked = {
            "text": text, "form": form, "kind": kind, "limits": asdict(self._limits), "jobs": str(jobs),
            "into": None if into is None else str(into),
        }  # fmt: skip
        with self._one() as process:
            told = self._ask(process, asked)
        if "faults" in told:
            raise DesignError(Complaint(**one) for one in told["faults"])
        if "not_stored" in told:
            raise StoreError(told["not_stored"])
        if "failed" in told:
            raise CheckFailed(told["failed"])
        return Checked(**told)

    @contextmanager
    def _one(self) -> Iterator[Forked]:
        """A process that nobody else uses; one that could not answer is ended."""
        process = self._free.get()
        try:
            if process is not None and process.gone():
                self._end(process)
                process = None
            if process is None:
                process = Forked(checker.check)
                with self._lock:
                    self._all.add(process)
                    closed = self._closed
                if closed:
                    self._end(process)
                    process = None
                    raise StoreError("the service is ending")
            try:
                yield process
            except BaseException:
                self._end(process)
                process = None
                raise
        finally:
            self._free.put(process)

    def _ask(self, process: Forked, asked: dict[str, Any]) -> dict[str, Any]:
        try:
            process.say(asked)
            told = process.hear(self._limits.check_seconds)
        except (OSError, EOFError):
            raise CheckFailed("the process that checks submissions ended without an answer") from None
        if told is None:
            raise TooSlow(self._limits.check_seconds)
        return told

    def _end(self, process: Forked) -> None:
        with self._lock:
            self._all.discard(process)
        process.kill()
        process.code()

    def close(self) -> None:
        """End the processes; who still waits for one is told so."""
        with self._lock:
            self._closed = True
            every = list(self._all)
        for process in every:
            process.kill()
        for _ in range(AT_A_TIME):
            with contextlib.suppress(queue.Empty):
                idle = self._free.get(timeout=0.2)
                if idle is not None:
                    self._end(idle)
        for _ in range(AT_A_TIME):
            self._free.put(None)
