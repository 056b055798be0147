"""The server's end of the processes that validate submissions: a few, begun when they are first needed, each with one
submission at a time and a limit to how long it may take."""

from __future__ import annotations

import contextlib
import json
import queue
import select
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from solver.batch.errors import StoreError
from solver.design.errors import Complaint, DesignError
from solver.service.documents import Form, Kind
from solver.service.errors import CheckFailed, TooSlow
from solver.service.limits import Limits
from solver.service.pipes import begin, end

AT_A_TIME = 2
_CHUNK = 1 << 16


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

    def __init__(self, limits: Limits) -> None:
        self._limits = limits
        self._free: queue.SimpleQueue[subprocess.Popen[bytes] | None] = queue.SimpleQueue()
        self._all: set[subprocess.Popen[bytes]] = set()
        self._lock = threading.Lock()
        self._closed = False
        for _ in range(AT_A_TIME):
            self._free.put(None)

    def check(self, text: str, form: Form, kind: Kind | None, jobs: Path, into: Path | None) -> Checked:
        """Validate, and where `into` is given enter what is no job yet in the folder `jobs` there. Raises DesignError,
        TooSlow, StoreError where it cannot be stored, and CheckFailed."""
        asked = {
            "text": text, "form": form, "kind": kind, "limits": asdict(self._limits), "jobs": str(jobs),
            "into": None if into is None else str(into),
        }  # fmt: skip
        with self._one() as process:
            told = self._ask(process, json.dumps(asked).encode() + b"\n")
        if "faults" in told:
            raise DesignError(Complaint(**one) for one in told["faults"])
        if "not_stored" in told:
            raise StoreError(told["not_stored"])
        if "failed" in told:
            raise CheckFailed(told["failed"])
        return Checked(**told)

    @contextmanager
    def _one(self) -> Iterator[subprocess.Popen[bytes]]:
        """A process that nobody else uses; one that could not answer is ended."""
        process = self._free.get()
        try:
            if process is None or process.poll() is not None:
                with self._lock:
                    if self._closed:
                        raise StoreError("the service is ending")
                    process = begin("solver.service.checker")
                    self._all.add(process)
            try:
                yield process
            except BaseException:
                self._end(process)
                process = None
                raise
        finally:
            self._free.put(process)

    def _ask(self, process: subprocess.Popen[bytes], line: bytes) -> dict[str, Any]:
        assert process.stdin is not None and process.stdout is not None
        until = time.monotonic() + self._limits.check_seconds
        told = b""
        try:
            process.stdin.write(line)
            process.stdin.flush()
            while not told.endswith(b"\n"):
                if not select.select([process.stdout], [], [], max(0.0, until - time.monotonic()))[0]:
                    raise TooSlow(self._limits.check_seconds)
                chunk = process.stdout.read1(_CHUNK)  # type: ignore[attr-defined]
                if not chunk:
                    raise CheckFailed("the process that checks submissions ended without an answer")
                told += chunk
        except OSError:
            raise CheckFailed("the process that checks submissions ended without an answer") from None
        answer: dict[str, Any] = json.loads(told)
        return answer

    def _end(self, process: subprocess.Popen[bytes]) -> None:
        with self._lock:
            self._all.discard(process)
        end(process)

    def close(self) -> None:
        """End the processes; who still waits for one is told so."""
        with self._lock:
            self._closed = True
            every = list(self._all)
        for process in every:
            process.kill()
        for _ in range(AT_A_TIME):
            with contextlib.suppress(queue.Empty):
                idle = self._free.get(timeout=1.0)
                if idle is not None:
                    self._end(idle)
        for _ in range(AT_A_TIME):
            self._free.put(None)
