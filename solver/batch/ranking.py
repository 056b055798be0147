"""Ranking tables over stored runs, for pandas users and the command line."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import pandas as pd

from solver.batch.errors import StoreError
from solver.batch.store import SOLUTION_SCHEMA, SOLUTIONS, load_run

COLUMN = {
    "error": "worst_error_pct",
    "parts": "parts",
    "jigs": "jigs",
    "teeth": "teeth",
    "largest": "largest",
    "envelope": "envelope_mm",
}


def read_solutions(folders: Iterable[Path]) -> pd.DataFrame:
    """All solutions of the runs, a row each, with the run's folder name in `run`.

    Columns as in `solutions.parquet`. Raises StoreError for a folder that is no sound run.
    """
    frames = []
    for folder in folders:
        run = load_run(folder)
        if SOLUTIONS in run.damaged:
            raise StoreError(f"{folder / SOLUTIONS}: its content is not what was recorded when the run was stored")
        frame = pd.DataFrame(run.rows, columns=SOLUTION_SCHEMA.names)
        frame.insert(0, "run", folder.resolve().name)
        frames.append(frame)
    filled = [frame for frame in frames if len(frame)]
    return pd.concat(filled or frames[:1], ignore_index=True)


def ranked(
    frame: pd.DataFrame, by: Iterable[str] = ("error", "parts"), most: dict[str, float] | None = None
) -> pd.DataFrame:
    """Rows within every limit of `most` (rank key: greatest value), ordered by the rank keys, then run and rank.

    Raises KeyError for a word that is no rank key.
    """
    for key, limit in (most or {}).items():
        frame = frame[frame[COLUMN[key]] <= limit]
    order = [COLUMN[key] for key in by]
    return frame.sort_values([*order, "run", "rank"], kind="stable", ignore_index=True)
