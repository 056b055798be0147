"""One runner for one run: a lock that the system lets go of when its holder ends, however it ends."""

from __future__ import annotations

import fcntl
import json
import os
import platform
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from solver.batch.store.errors import Busy

LOCK = "lock"


def this_runner() -> str:
    """This process in words: "process 1234 on hall"."""
    return f"process {os.getpid()} on {platform.node() or 'this machine'}"


@contextmanager
def held(folder: Path) -> Iterator[None]:
    """Hold the run in `folder`. Raises Busy where another process does, OSError where the folder cannot be written."""
    path = folder / LOCK
    with path.open("a+", encoding="utf-8") as stream:
        try:
            fcntl.flock(stream, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise Busy(f"{folder}: held by {_holder(path)}; wait for it, or end it") from None
        stream.truncate(0)
        json.dump({"holder": this_runner(), "since": datetime.now(UTC).isoformat(timespec="seconds")}, stream)
        stream.flush()
        try:
            yield
        finally:
            stream.truncate(0)


def holder(folder: Path) -> str | None:
    """Who holds the run, in words; None where nobody does."""
    path = folder / LOCK
    try:
        with path.open("r", encoding="utf-8") as stream:
            try:
                fcntl.flock(stream, fcntl.LOCK_SH | fcntl.LOCK_NB)
            except BlockingIOError:
                return _holder(path)
    except OSError:
        return None
    return None


def _holder(path: Path) -> str:
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
        return f"{told['holder']} since {told['since']}"
    except (OSError, ValueError, LookupError, TypeError):  # it is just being written
        return "another process"
