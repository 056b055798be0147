"""The Parquet files of a sweep: parts written while it runs, and what they are made into at its end.

`solutions.parquet` has a row for each solution and `points.parquet` one for each point; both follow from the sweep file
and the code alone, so that they are the same bytes each time. What differs from run to run (times, tries, machines) is
in `report.parquet`. Ratios are exact: two integers, and the same as text.
"""

from __future__ import annotations

import io
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from solver.batch.store.errors import StoreError
from solver.batch.store.files import replacing, sha256_of
from solver.batch.store.provenance import code_revision, code_sha256, versions
from solver.batch.store.runs import CHOICES, SOLUTION_SCHEMA, SOLUTIONS, column

PARTS = "parts"
POINTS, REPORT = "points.parquet", "report.parquet"
# Rows that are read together; small, so that the first twenty of a ranked list are had without reading the rest.
GROUP_ROWS = 4096
# So many points are put in order at a time, so that memory does not grow with the sweep.
CHUNK_POINTS = 64
KEYS = ("worst_error_pct", "parts", "jigs", "teeth", "largest", "envelope_mm", "new_gears")

PART_SCHEMA = pa.schema([column("point_id", pa.string(), nullable=False), *SOLUTION_SCHEMA])
POINT_SCHEMA = pa.schema(
    [
        column("point_id", pa.string(), nullable=False),
        column("ordinal", pa.int32(), "1", nullable=False),
        column("settings", pa.string(), nullable=False),
        column("title", pa.string(), nullable=False),
        column("config_sha256", pa.string(), nullable=False),
        column("answer_version", pa.string(), nullable=False),
        column("design", pa.string(), nullable=False),
        column("state", pa.string(), nullable=False),
        column("reason", pa.string()),
        column("status", pa.string()),
        column("termination", pa.string()),
        column("proven", pa.bool_()),
        column("bound_worst_error_pct", pa.float64(), "percent"),
        column("least_first_key", pa.float64()),
        column("solutions", pa.int32(), "1"),
        column("front", pa.list_(pa.int32())),
        column("front_ties", pa.list_(pa.int64()), "1"),
        column("best_worst_error_pct", pa.float64(), "percent"),
        *(column(f"best_{key}", pa.int32(), "1") for key in KEYS[1:5]),
        column("best_envelope_mm", pa.float64(), "mm"),
        column("proofs", pa.string()),
        column("best_new_gears", pa.int32(), "1"),
    ]
)
REPORT_SCHEMA = pa.schema(
    [
        column("point_id", pa.string(), nullable=False),
        column("seconds", pa.float64(), "s"),
        column("tries", pa.int32(), "1", nullable=False),
        column("strikes", pa.int32(), "1", nullable=False),
        column("ended", pa.string()),
        column("worker", pa.string()),
        column("from_run", pa.string()),
        column("report", pa.string()),
    ]
)
_RECORDED = (
    "status", "termination", "proven", "bound_worst_error_pct", "least_first_key", "solutions", "front", "front_ties",
)  # fmt: skip


def to_stream(rows: pa.Table | Iterable[dict[str, Any]]) -> bytes:
    """Rows as `solution_row` makes them, or a table of such rows, as an Arrow stream."""
    table = rows if isinstance(rows, pa.Table) else pa.Table.from_pylist(list(rows), schema=SOLUTION_SCHEMA)
    buffer = io.BytesIO()
    options = pa.ipc.IpcWriteOptions(compression="lz4", use_threads=False)
    with pa.ipc.new_stream(buffer, SOLUTION_SCHEMA, options=options) as stream:
        stream.write_table(table.cast(SOLUTION_SCHEMA))
    return buffer.getvalue()


def from_stream(data: bytes) -> pa.Table:
    """The table of an Arrow stream that `to_stream` made."""
    return pa.ipc.open_stream(data, options=pa.ipc.IpcReadOptions(use_threads=False)).read_all()


def provenance() -> dict[str, Any]:
    """Where an answer comes from: versions, the hash and the revision of the code."""
    return {"versions": versions(), "code_sha256": code_sha256(), "code_revision": code_revision()}


def part_name(number: int) -> str:
    """The file of a part, below the run's folder."""
    return f"{PARTS}/solutions-{number:06d}.parquet"


def number_of(name: str) -> int:
    """The number of the part that a file belongs to; the inverse of `part_name`."""
    return int(name.rsplit("-", 1)[1].split(".")[0])


def write_part(folder: Path, number: int, points: Iterable[dict[str, Any]]) -> dict[str, str]:
    """Write a part from finished points of the job table; returns its file and SHA-256. Raises OSError."""
    name = part_name(number)
    (folder / PARTS).mkdir(exist_ok=True)
    return {name: write_parquet(folder / name, [_loose(points)], PART_SCHEMA, provenance())}


def _loose(points: Iterable[dict[str, Any]]) -> pa.Table:
    """The solutions of points of the job table that are in no part yet."""
    tables = [(point["id"], from_stream(point["rows"])) for point in points if point["rows"] is not None]
    ids = [name for name, table in tables for _ in range(len(table))]
    rows = pa.concat_tables([SOLUTION_SCHEMA.empty_table(), *(table for _, table in tables)])
    return rows.add_column(0, PART_SCHEMA.field(0), pa.array(ids, pa.string())).cast(PART_SCHEMA)


def write_parquet(path: Path, tables: Iterable[pa.Table], schema: pa.Schema, about: dict[str, Any]) -> str:
    """Write tables, one after the other, as one whole file, with page checksums and `about` in its metadata.

    Returns its SHA-256. Raises OSError."""
    noted = schema.with_metadata({"ringwright": json.dumps(about, sort_keys=True)})
    with (
        replacing(path) as stream,
        pq.ParquetWriter(stream, noted, write_page_checksum=True, compression="zstd") as writer,
    ):
        for table in tables:
            writer.write_table(table.cast(noted), row_group_size=GROUP_ROWS)
    pa.default_memory_pool().release_unused()
    return sha256_of(path)


def damaged(folder: Path, files: dict[str, str]) -> dict[str, str]:
    """Which of these files (name: SHA-256) are not what was written, and what is wrong with each."""
    wrong = {}
    for name, recorded in files.items():
        try:
            if sha256_of(folder / name) != recorded:
                wrong[name] = "its content is not what was written"
        except FileNotFoundError:
            wrong[name] = "is missing"
        except OSError as fault:
            wrong[name] = f"cannot be read: {fault.strerror}"
    return wrong


def read_parquet(path: Path, schema: pa.Schema, columns: list[str] | None = None) -> pa.Table:
    """Read a Parquet file of that schema, page checksums verified. Raises StoreError that names it."""
    try:
        found = pq.read_schema(path)
        if not any(map(found.equals, _readable(schema))):
            raise ValueError("its columns are not those of this version")
        there = columns if columns is None else [name for name in columns if name in found.names]
        table = pq.read_table(path, columns=there, page_checksum_verification=True)
        table = table.cast(pa.schema([schema.field(name) for name in table.schema.names]))
        for name in schema.names if columns is None else columns:
            if name not in table.schema.names:
                table = table.append_column(schema.field(name), pa.nulls(len(table), schema.field(name).type))
        return table
    except (pa.ArrowException, ValueError, OSError) as fault:
        raise StoreError(f"{path}: cannot be read: {' '.join(str(fault).split())}") from None


COUNTED = (*CHOICES, "best_new_gears")  # columns that came together


def _readable(schema: pa.Schema) -> Iterator[pa.Schema]:
    """The schema, and as it was before orders of links and gears to be made were counted and places arranged, before
    there were second proofs, and while bounds of the first rank key were whole numbers."""
    index = schema.get_field_index("least_first_key")
    every = [schema]
    for names in (COUNTED, ("proofs",)):
        if not set(names).isdisjoint(schema.names):
            every.append(pa.schema([field for field in every[-1] if field.name not in names]))
    for one in every:
        yield one
        if index >= 0:
            yield one.set(index, one.field(index).with_type(pa.int64()))


# -- at the end --------------------------------------------------------------------------------------------------------


def all_solutions(folder: Path, points: Sequence[dict[str, Any]]) -> Iterator[pa.Table]:
    """The solutions of these points of the job table, in order, a table for some of the points at a time: from sound
    parts, and from what is in none yet."""
    kept: dict[int, pa.Table] = {}
    for first in range(0, len(points), CHUNK_POINTS):
        chunk = points[first : first + CHUNK_POINTS]
        home = {point["id"]: point["part"] for point in chunk if point["part"] is not None}
        kept = {
            part: kept[part] if part in kept else read_parquet(folder / part_name(part), PART_SCHEMA)
            for part in sorted(set(home.values()))
        }
        tables = [PART_SCHEMA.empty_table()]
        for part, table in kept.items():
            here = pa.array([point for point, number in home.items() if number == part], pa.string())
            tables.append(table.filter(pc.is_in(table["point_id"], here)))
        table = pa.concat_tables([*tables, _loose(chunk)])
        ids = pa.array([point["id"] for point in chunk], pa.string())
        order = pa.table({"point": pc.index_in(table["point_id"], ids), "rank": table["rank"]})
        yield table.take(pc.sort_indices(order, [("point", "ascending"), ("rank", "ascending")]))


def best_of(solutions: pa.Table) -> dict[str, dict[str, Any]]:
    """The figures of the first solution of each point."""
    first = solutions.filter(pc.equal(solutions["rank"], 1)).select(["point_id", *KEYS]).to_pylist()
    return {row["point_id"]: row for row in first}


def point_table(points: Iterable[dict[str, Any]], best: Mapping[str, dict[str, Any]]) -> pa.Table:
    """`points.parquet` of these points of the job table; best: the figures of the first solution of each."""
    rows = []
    for ordinal, point in enumerate(points):
        record = json.loads(point["record"]) if point["record"] else {}
        found = best.get(point["id"], {})
        rows.append(
            {
                "point_id": point["id"],
                "ordinal": ordinal,
                **{
                    name: point[name]
                    for name in ("settings", "title", "config_sha256", "answer_version", "design", "state", "reason")
                },
                **{name: record.get(name) for name in _RECORDED},
                **{f"best_{key}": found.get(key) for key in KEYS},
                "proofs": json.dumps(record["proofs"]) if record.get("proofs") else None,
            }
        )
    return pa.Table.from_pylist(rows, schema=POINT_SCHEMA)


def report_table(points: Iterable[dict[str, Any]]) -> pa.Table:
    """`report.parquet` of these points of the job table."""
    rows = []
    for point in points:
        report = json.loads(point["report"]) if point["report"] else {}
        told = {name: report.pop(name, None) for name in ("seconds", "ended", "worker", "from_run")}
        rows.append(
            {"point_id": point["id"], "tries": point["tries"], "strikes": point["strikes"], **told,
             "report": json.dumps(report)}
        )  # fmt: skip
    return pa.Table.from_pylist(rows, schema=REPORT_SCHEMA)


def compact(folder: Path, points: list[dict[str, Any]], about: dict[str, Any]) -> dict[str, str]:
    """Write the three files of a run whose points are all finished; returns names and SHA-256. Raises OSError and
    StoreError."""
    told = {"versions": versions(), **about}  # what the same answer has again; the rest is in the report
    best: dict[str, dict[str, Any]] = {}

    def solutions() -> Iterator[pa.Table]:
        for table in all_solutions(folder, points):
            best.update(best_of(table))
            yield table

    return {
        SOLUTIONS: write_parquet(folder / SOLUTIONS, solutions(), PART_SCHEMA, told),
        POINTS: write_parquet(folder / POINTS, [point_table(points, best)], POINT_SCHEMA, told),
        REPORT: write_parquet(folder / REPORT, [report_table(points)], REPORT_SCHEMA, {**provenance(), **about}),
    }
