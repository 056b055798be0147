"""Sheets of a solution, made in a process of their own, and none for long."""

from __future__ import annotations

import subprocess
import threading
from pathlib import Path

from solver.service.errors import NotNow
from solver.service.processes.packer import REFUSED
from solver.service.processes.pipes import begin, end

MOST_S = 120.0


class Full(RuntimeError):
    """Too many wait for sheets, or they took too long."""


class Packers:
    """Thread-safe. Close it at the end. How many are made at a time is for `http/line.py` to say."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._all: set[subprocess.Popen[bytes]] = set()
        self._closed = False

    def zip(self, folder: Path, point: str, rank: int, paper: str, both_units: bool) -> bytes:
        """The sheets as a zip. Raises Full, NotNow where the solution cannot be built from (the message says why), and
        RuntimeError where they could not be made."""
        words = (str(folder), point, str(rank), paper, "both" if both_units else "one")
        with self._lock:
            if self._closed:
                raise Full("the service is ending")
            process = begin("solver.service.processes.packer", *words)
            self._all.add(process)
        try:
            return _made(process)
        finally:
            with self._lock:
                self._all.discard(process)
            end(process)

    def close(self) -> None:
        with self._lock:
            self._closed = True
            for process in self._all:
                process.kill()


def _made(process: subprocess.Popen[bytes]) -> bytes:
    """What the process writes; its standard input stays open meanwhile."""
    assert process.stdout is not None
    timer = threading.Timer(MOST_S, process.kill)
    timer.daemon = True
    timer.start()
    try:
        told = process.stdout.read()
        code = process.wait()
    finally:
        timer.cancel()
    if code == REFUSED:
        raise NotNow(told.decode("utf-8", "replace"))
    if code != 0:
        raise (
            Full(f"the sheets were not made within {MOST_S:g} s; try again")
            if code < 0
            else RuntimeError(f"the sheets could not be made: exit code {code}")
        )
    return told
