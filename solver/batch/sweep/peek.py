"""A quick look into a run's table of jobs, which is not judged here, and which another process may be writing."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from solver.batch.store.errors import StoreError
from solver.batch.sweep.table import INTERRUPTED, JOBS, PointState, waiting_again

_ASKED = 500  # names in one question; SQLite takes 999 at least
_WAIT_S = 5.0


def counts_in(folder: Path) -> dict[str, int]:
    """How many points of the run are in each state; what was interrupted waits. Raises StoreError."""
    query = "SELECT state, count(*), total(reason = ?) FROM points WHERE wanted GROUP BY state"
    found = {state: (number, again) for state, number, again in _asked(folder, query, (INTERRUPTED,))}
    interrupted = int(found.get(PointState.STOPPED, (0, 0))[1])
    return waiting_again({state: number for state, (number, _) in found.items()}, interrupted)


def solutions_in(folder: Path) -> int:
    """How many solutions the run has of all its points. Raises StoreError."""
    records = _asked(folder, "SELECT record FROM points WHERE wanted AND record IS NOT NULL")
    return sum(json.loads(record)["solutions"] for (record,) in records)


def solved_in(folder: Path, points: set[str]) -> set[str]:
    """Which of these points the run has solved. Raises StoreError."""
    if len(points) > _ASKED:
        return points.intersection(name for (name,) in _asked(folder, "SELECT id FROM points WHERE state = 'solved'"))
    marks = ", ".join("?" for _ in points)
    query = f"SELECT id FROM points WHERE id IN ({marks}) AND state = 'solved'"
    return {name for (name,) in _asked(folder, query, points)}


def _asked(folder: Path, query: str, values: Iterable[Any] = ()) -> list[Any]:
    path = folder / JOBS
    try:
        # As in `JobTable`: what a killed runner left half done has to be undone by whoever reads.
        table = sqlite3.connect(f"{path.absolute().as_uri()}?mode=rw", uri=True, timeout=_WAIT_S, isolation_level=None)
        try:
            return table.execute(query, tuple(values)).fetchall()
        finally:
            table.close()
    except sqlite3.Error as fault:
        raise StoreError(f"{path}: {fault}") from None
