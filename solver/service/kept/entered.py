"""A submission as a run folder: its table of jobs with every point, made before anything is answered, and read back
when its turn comes."""

from __future__ import annotations

import json
from pathlib import Path

import pyarrow.compute as pc

from solver.batch.store.errors import StoreError
from solver.batch.store.files import flush_folder, replace_whole
from solver.batch.store.identity import answer_version
from solver.batch.store.parts import PARTS
from solver.batch.sweep.file import Point, Sweep, SweepLimits
from solver.batch.sweep.peek import counts_in, solutions_in
from solver.batch.sweep.run import load_sweep
from solver.batch.sweep.sweeps import SWEEP
from solver.batch.sweep.table import JobTable, PointState
from solver.service.kept.documents import Kind, Meant, meant
from solver.service.limits import ServiceLimits

_LIMITS = "limits"


def enter(folder: Path, found: Meant) -> None:
    """Make a new run folder for a submission, and have it on the disk. Raises OSError and StoreError."""
    folder.mkdir(parents=True)
    replace_whole(folder / SWEEP, found.text.encode())
    table = JobTable(folder)
    try:
        about = {
            "title": found.title,
            "meaning": json.dumps(found.sweep.meaning(), ensure_ascii=False),
            "answer_version": answer_version(),
            _LIMITS: found.sweep.limits.model_dump_json(),
        }
        table.describe(found.sweep.points, answer_version(), about)
    finally:
        table.close()
    flush_folder(folder)


def entered(folder: Path, kind: Kind, limits: ServiceLimits, mend: bool) -> Sweep:
    """The sweep of a run folder, without validating every point again; but from its text where the code that answers
    has changed since, or where its table is damaged and `mend` asks for it. Raises DesignError, StoreError, OSError."""
    try:
        found = _from_table(folder)
    except StoreError:
        if not mend:
            raise
        found = None
    if found is None:
        found = meant((folder / SWEEP).read_text(encoding="utf-8"), "toml", kind, limits).sweep
    return found


def _from_table(folder: Path) -> Sweep | None:
    """None where other code has entered it."""
    table = JobTable(folder, read_only=True)
    try:
        if table.about("answer_version") != answer_version():
            return None
        meaning = json.loads(table.about("meaning") or "{}")
        title = table.about("title") or folder.name
        told = SweepLimits().model_copy(update=json.loads(table.about(_LIMITS) or "{}"))
        columns = ("id", "settings", "design", "title", "config_sha256", "time_limit_s")
        rows = table.points(columns=columns)
    finally:
        table.close()
    points = tuple(
        Point(
            row["id"],
            json.loads(row["settings"]),
            row["design"],
            row["title"],
            row["config_sha256"],
            row["time_limit_s"],
        )
        for row in rows
    )
    text = (folder / SWEEP).read_text(encoding="utf-8")
    return Sweep(folder.name, title, text, None, None, meaning, points, 0, told)


def states(folder: Path) -> dict[str, int]:
    """How many points of a run are in each state; what was interrupted, or was being solved when its runner ended,
    waits. Raises StoreError."""
    counts = counts_in(folder)
    counts[PointState.WAITING] += counts[PointState.SOLVING]
    counts[PointState.SOLVING] = 0
    return counts


def best_so_far(folder: Path) -> float | None:
    """The least error of all solutions of a run, None where it has none; at once where it was never begun. Raises
    StoreError."""
    if not (folder / PARTS).is_dir() or not solutions_in(folder):
        return None
    best: float | None = pc.min(load_sweep(folder).solutions["worst_error_pct"]).as_py()
    return best
