"""The command `rank`: stored solutions filtered, ordered, and given out as a table, CSV, JSON, Parquet or a plot."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import pyarrow.parquet as pq

from solver.batch.files import replacing
from solver.batch.ranking import PICKED, Shelf
from solver.cli.stored import CSV_COLUMNS, csv_of, json_of, print_stored
from solver.cli.tables import Paper
from solver.sheets.scatter import scatter


@dataclass(frozen=True)
class RankChoice:
    """What the words of the command line ask for. form: "table", "csv" or "json"."""

    by: Sequence[str]
    most: dict[str, float]
    where: Sequence[tuple[str, str]]
    front: Sequence[str]
    top: int
    form: str
    parquet: Path | None
    plot: Path | None


def run_rank(runs: Sequence[Path], choice: RankChoice) -> int:
    """Rank the solutions of stored runs; the exit code. Raises StoreError and OSError."""
    shelf = Shelf(runs)
    rows = shelf.within(choice.most, choice.where)
    chosen = shelf.front(rows, choice.front) if choice.front else rows
    chosen = shelf.ordered(chosen, choice.by)[: choice.top]
    if choice.parquet is not None:
        with replacing(choice.parquet) as stream, pq.ParquetWriter(stream, PICKED, write_page_checksum=True) as writer:
            for table in shelf.tables(chosen):
                writer.write_table(table)
        print(f"written to {choice.parquet}", file=sys.stderr)
    if choice.plot is not None:
        points = zip(shelf.figure("parts")[rows], shelf.figure("error")[rows], shelf.titles(rows), strict=True)
        choice.plot.write_text(
            scatter([(int(parts), error, title) for parts, error, title in points]), encoding="utf-8"
        )
        print(f"drawn as {choice.plot}", file=sys.stderr)
    if choice.form == "csv":
        sys.stdout.writelines(csv_of(shelf.tables(chosen, CSV_COLUMNS)))
    elif choice.form == "json":
        sys.stdout.writelines(json_of(shelf.tables(chosen)))
    elif len(chosen):
        print_stored(Paper(sys.stdout), shelf.table(chosen).to_pylist())
    else:
        print("no stored solution is within these limits", file=sys.stderr)
    return 0
