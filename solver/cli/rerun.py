"""The command `rerun`: a stored design, or points of a stored sweep, solved again and compared."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from os import cpu_count
from pathlib import Path

from solver.batch.chosen import best_points, named_points
from solver.batch.rerun import rerun, rerun_points
from solver.batch.store.identity import answer_version
from solver.batch.store.runs import load_run
from solver.batch.sweep.file import short
from solver.batch.sweep.run import load_sweep
from solver.batch.sweep.table import PointState
from solver.batch.sweep.workers import LocalWorkers
from solver.cli import signals
from solver.cli.exits import EXIT_FAULT, EXIT_OK
from solver.cli.line import tell
from solver.cli.run import lost_pipes_told
from solver.design.errors import so_many
from solver.search.stop import NoStop
from solver.words.settings import settings_text

_INTERRUPTED = "interrupted: not compared to the end"


def rerun_design(folder: Path) -> int:
    """Solve a stored design again and compare; the exit code. Raises StoreError and DesignError."""
    stored = load_run(folder)
    tell("solving again")
    with signals.ending(_INTERRUPTED):
        comparison = rerun(stored)
    for note in comparison.notes:
        print(f"note: {note}", file=sys.stderr)
    return _told(comparison.differences)


def _told(differences: Sequence[str]) -> int:
    for line in differences or ["identical"]:
        print(line)
    return EXIT_FAULT if differences else EXIT_OK


def rerun_sweep(folder: Path, names: Sequence[str], best: int | None, slots: int | None) -> int:
    """Solve points of a stored sweep again and compare: those named, or the best ones, or all; the exit code. Raises
    StoreError."""
    run = load_sweep(folder)
    chosen = named_points(run, names) if names else run.points if best is None else best_points(run)[:best]
    proven = [point for point in chosen if point["state"] == PointState.SOLVED]
    if len(proven) < len(chosen):
        left = so_many(len(chosen) - len(proven), "point")
        print(f"note: {left} not proven when stored, so not compared", file=sys.stderr)
    if any(point["answer_version"] != answer_version() for point in proven):
        print("note: the code is not the one that solved the run", file=sys.stderr)
    labels = {p["point_id"]: f"{short(p['point_id'])} ({settings_text(p['settings'])})" for p in proven}
    differences: list[str] = []
    compared = 0

    def compare(point: str, lines: tuple[str, ...]) -> None:
        nonlocal compared
        differences.extend(f"{labels[point]}: {line}" for line in lines)
        compared += 1
        tell(f"{compared} of {so_many(len(labels), 'point')} solved again")

    tell(f"0 of {so_many(len(labels), 'point')} solved again")
    with signals.ending(_INTERRUPTED), lost_pipes_told(), LocalWorkers(slots or cpu_count() or 1) as workers:
        done = rerun_points(run, list(labels), workers, NoStop(), compare)
    print(f"{so_many(done, 'point')} solved again", file=sys.stderr)
    return _told(sorted(differences))
