"""Answers that are given to a command: those of a stored run, of points of a sweep, or of a file solved first."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from solver.answer.document import SolutionAnswer
from solver.cli.run import progress_line
from solver.design.design import Design
from solver.files.load import parse_design


@dataclass(frozen=True)
class Source:
    """An answer: the design, its solutions, best first, and the ranks of those on its front. name: of a sweep's point,
    else empty."""

    design: Design
    solutions: Sequence[SolutionAnswer]
    front: Sequence[int] | None
    name: str = ""


def sources(source: Path, point: Sequence[str]) -> Iterator[Source]:
    """The answers of a run, or of these points of a sweep, or of a file. Raises StoreError, DesignError, OSError."""
    if source.is_dir():
        from solver.batch.sweep.run import is_sweep

        yield from points_of(source, point) if is_sweep(source) else _run(source)
        return
    from solver.answer.solve import solve
    from solver.files.text import read_text

    design = parse_design(read_text(source), str(source))
    with progress_line() as progress:
        answer = solve(design, progress=progress)
    if not answer.proven:
        print("note: a limit stopped the search; what it found is put to the proof all the same", file=sys.stderr)
    yield Source(design, answer.solutions, answer.front)


def _run(folder: Path) -> Iterator[Source]:
    from solver.batch.as_stored import as_stored

    design, run = as_stored(folder)
    yield Source(design, run.solutions, run.record["front"])


def points_of(folder: Path, names: Sequence[str]) -> Iterator[Source]:
    """The points of a stored sweep that are named, or all that were solved. Raises StoreError and DesignError."""
    from solver.batch.store.runs import solution_from_row
    from solver.batch.sweep.run import load_sweep
    from solver.batch.sweep.table import PointState
    from solver.cli.rerun import chosen_points

    run = load_sweep(folder)
    rows: dict[str, list[SolutionAnswer]] = {}
    for row in run.solutions.to_pylist():
        rows.setdefault(row.pop("point_id"), []).append(solution_from_row(row))
    for one in chosen_points(run, names, None):
        if names or one["state"] == PointState.SOLVED:
            name = one["point_id"]
            yield Source(parse_design(one["design"], name), rows.get(name, []), one["front"], name)
