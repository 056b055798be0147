"""What other runs in the same folder have proven already, so that it need not be solved again."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from solver.batch.store import parts
from solver.batch.store.errors import StoreError
from solver.batch.store.runs import COMPARED, RUN, SOLUTION_SCHEMA, load_run
from solver.batch.sweep.peek import solved_in
from solver.batch.sweep.run import MANIFEST, is_sweep, load_sweep, table_files
from solver.batch.sweep.table import JOBS, Finished, JobTable, PointState


def known_elsewhere(results: Path, own: Path, wanted: set[str]) -> Iterator[tuple[str, str, Finished]]:
    """Wanted points that a run in `results`, or the finished tables in `own`, have proven: point, the run, the result.

    Each at most once. A run that is damaged is passed over: nothing in it is trusted.
    """
    missing = set(wanted)
    for folder in [own, *sorted(path for path in results.iterdir() if path.is_dir() and path != own)]:
        if not missing:
            return
        try:
            found = list(_known_in(folder, missing, folder == own))
        except (StoreError, OSError, LookupError, TypeError, ValueError, pa.ArrowException):
            continue
        for point, result in found:
            missing.discard(point)
            yield point, folder.name, result


def _known_in(folder: Path, wanted: set[str], own: bool) -> Iterator[tuple[str, Finished]]:
    if is_sweep(folder) and not (own and not (folder / MANIFEST).is_file()):
        if own or _may_hold(folder, wanted):  # the own table is the one that is to be filled
            yield from _of_sweep(folder, wanted)
    elif (folder / RUN).is_file():
        yield from _of_run(folder, wanted)


def _of_sweep(folder: Path, wanted: set[str]) -> Iterator[tuple[str, Finished]]:
    manifest = table_files(folder)
    if manifest is not None:
        named = pq.read_table(folder / parts.POINTS, columns=["point_id"])["point_id"].to_pylist()
        if not wanted.intersection(named):
            return
        reports = {row["point_id"]: row for row in pq.read_table(folder / parts.REPORT).to_pylist()}
    else:
        table = JobTable(folder, read_only=True)
        try:
            solved = {point["id"]: point for point in table.points(PointState.SOLVED, columns=("id", "report"))}
        finally:
            table.close()
        if not wanted.intersection(solved):
            return
        reports = {name: json.loads(point["report"]) for name, point in solved.items()}
    run = load_sweep(folder)
    for point in run.points:
        name = point["point_id"]
        if name in wanted and point["state"] == PointState.SOLVED:
            record = {key: point.get(key) for key in COMPARED}
            yield name, _result(record, _rows_of(run.solutions, name), reports.get(name, {}), folder.name)


def _may_hold(folder: Path, wanted: set[str]) -> bool:
    """Whether it is worth reading, by its table of jobs where it has one: there may be thousands of runs."""
    try:
        return not (folder / JOBS).is_file() or bool(solved_in(folder, wanted))
    except StoreError:
        return True


def _of_run(folder: Path, wanted: set[str]) -> Iterator[tuple[str, Finished]]:
    record = json.loads((folder / RUN).read_text(encoding="utf-8"))
    if record.get("point_id") not in wanted or not record.get("proven"):
        return
    run = load_run(folder)
    if not run.damaged:
        rows = pa.Table.from_pylist(run.rows, schema=SOLUTION_SCHEMA)
        yield record["point_id"], _result({key: record[key] for key in COMPARED}, rows, record["report"], folder.name)


def _rows_of(solutions: pa.Table, point: str) -> pa.Table:
    return solutions.filter(pc.equal(solutions["point_id"], point)).drop_columns(["point_id"])


def _result(record: dict[str, Any], rows: pa.Table, report: dict[str, Any], run: str) -> Finished:
    told = {key: report.get(key) for key in ("seconds", "ended", "worker")}
    return Finished(PointState.SOLVED, None, record, parts.to_stream(rows), {**told, "from_run": run})
