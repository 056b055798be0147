"""Stored runs: one folder each, written whole or not at all.

A run's folder holds `design.toml` (the file as it was given), `solutions.parquet` (a row for each solution),
`picture.svg` (the best solution, where places are computed) and `run.json` (status, provenance, the SHA-256 of the
others and of itself). It is written under a temporary name, every file and the folder flushed to disk, and then
renamed, so that a crash leaves either the whole run or none.
"""

from __future__ import annotations

import hashlib
import io
import json
import re
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq
from pyarrow.json import ParseOptions, ReadOptions, read_json

from solver.answer.document import Answer, DriveAnswer, LinkAnswer, PlaceAnswer, RingAnswer, SolutionAnswer
from solver.batch.store.errors import StoreError
from solver.batch.store.files import sha256_of, whole_folder
from solver.batch.store.identity import named
from solver.batch.store.provenance import code_revision, code_sha256, versions
from solver.design.links import KIND_BY_NAME

RUN_SCHEMA = "ringwright.run/2"
DESIGN, SOLUTIONS, PICTURE, RUN = "design.toml", "solutions.parquet", "picture.svg", "run.json"
# What a record says of the answer; `rerun` compares each of them.
COMPARED = (
    "title", "config_sha256", "status", "termination", "proven", "bound_worst_error_pct", "least_first_key",
    "solutions", "front", "front_ties",
)  # fmt: skip
_OWN = "run_sha256"
_INT64 = 2**63 - 1


@dataclass(frozen=True)
class StoredRun:
    """A run read back. rows: of `solutions.parquet`, as `solution_row` makes them; damaged: names of the files
    whose hash is not the recorded one; a picture that is missing is not among them."""

    folder: Path
    record: dict[str, Any]
    design_text: str
    rows: list[dict[str, Any]]
    solutions: list[SolutionAnswer]
    damaged: tuple[str, ...]


def column(name: str, kind: pa.DataType, unit: str = "", nullable: bool = True) -> pa.Field:
    """A column, its unit in its metadata."""
    return pa.field(name, kind, nullable=nullable, metadata={"unit": unit} if unit else None)


def _listed(name: str, kind: pa.DataType, unit: str = "") -> pa.Field:
    return column(name, pa.list_(kind), unit, nullable=False)


_PLACE = (("direction_deg", "degree"), ("radius_mm", "mm"), ("x_mm", "mm"), ("y_mm", "mm"))
_PLACE_STRUCT = pa.struct([column(name, pa.float64(), unit) for name, unit in _PLACE])
_DRIVE = pa.struct(
    [
        column("ring", pa.int32(), "1"),
        column("motor_rpm", pa.string(), "1/min"),
        column("pinion", pa.int32(), "1"),
        column("thirds", pa.list_(pa.int32()), "1"),
        column("motor", _PLACE_STRUCT),
        column("third_at", pa.list_(_PLACE_STRUCT)),
        column("ring_seconds", pa.list_(pa.float64()), "s"),
        column("body", pa.string()),
        column("seconds", pa.float64(), "s"),
        column("error_pct", pa.float64(), "percent"),
    ]
)
SOLUTION_SCHEMA = pa.schema(
    [
        column("config_sha256", pa.string(), nullable=False),
        column("title", pa.string(), nullable=False),
        column("status", pa.string(), nullable=False),
        column("rank", pa.int32(), nullable=False),
        column("worst_error_pct", pa.float64(), "percent", nullable=False),
        column("parts", pa.int32(), "1", nullable=False),
        column("jigs", pa.int32(), "1", nullable=False),
        column("teeth", pa.int32(), "1", nullable=False),
        column("largest", pa.int32(), "1", nullable=False),
        column("envelope_mm", pa.float64(), "mm"),
        _listed("ring_name", pa.string()),
        _listed("ring_blank", pa.bool_()),
        _listed("ring_teeth", pa.int32(), "1"),
        _listed("ring_ratio_num", pa.int64(), "1"),
        _listed("ring_ratio_den", pa.int64(), "1"),
        _listed("ring_ratio", pa.string()),
        _listed("ring_target", pa.string()),
        _listed("ring_error_pct", pa.float64(), "percent"),
        _listed("ring_period_error_pct", pa.float64(), "percent"),
        _listed("ring_sense", pa.string()),
        _listed("link_kind", pa.string()),
        _listed("link_wheel", pa.int32(), "1"),
        _listed("link_pinion", pa.int32(), "1"),
        _listed("link_thirds", pa.list_(pa.int32()), "1"),
        _listed("link_ratio_num", pa.int64(), "1"),
        _listed("link_ratio_den", pa.int64(), "1"),
        _listed("arbor_direction_deg", pa.float64(), "degree"),
        _listed("arbor_radius_mm", pa.float64(), "mm"),
        _listed("arbor_x_mm", pa.float64(), "mm"),
        _listed("arbor_y_mm", pa.float64(), "mm"),
        *(_listed(f"third_{name}", pa.list_(pa.float64()), unit) for name, unit in _PLACE),
        *(_listed(f"ring_roller_{name}", pa.list_(pa.float64()), unit) for name, unit in _PLACE),
        column("drive", _DRIVE),
        column("thirds_toothing", pa.string()),
        column("orders", pa.int64(), "1"),
        column("orders_settled", pa.bool_()),
        column("new_gears", pa.int32(), "1"),
        column("arranged", pa.string()),
    ]
)


CHOICES = ("orders", "orders_settled", "new_gears", "arranged")  # columns that came together
# Columns that runs of earlier versions do not have.
ADDED = ("thirds_toothing", *CHOICES)


def solution_row(answer: Answer, solution: SolutionAnswer) -> dict[str, Any]:
    """One row of `solutions.parquet`.

    ring_ratio holds every ratio exactly, "numerator/denominator"; ring_ratio_num and _den hold the same as
    integers, null where one of them needs more than 63 bits.
    """
    rings, links = solution.rings, solution.links
    small = [ring.ratio if max(ring.ratio) <= _INT64 else (None, None) for ring in rings]
    return {
        "config_sha256": answer.config_sha256,
        "title": answer.title,
        "status": str(answer.status),
        **{name: getattr(solution, name) for name in ("rank", "worst_error_pct", "parts", "jigs", "teeth", "largest")},
        "envelope_mm": solution.envelope_mm,
        **{f"ring_{name}": [getattr(ring, name) for ring in rings] for name in ("name", "blank", "teeth", "target")},
        "ring_ratio_num": [num for num, _ in small],
        "ring_ratio_den": [den for _, den in small],
        "ring_ratio": [f"{num}/{den}" for num, den in (ring.ratio for ring in rings)],
        **{
            f"ring_{name}": [getattr(ring, name) for ring in rings]
            for name in ("error_pct", "period_error_pct", "sense")
        },
        **{f"link_{name}": [getattr(link, name) for link in links] for name in ("kind", "wheel", "pinion", "thirds")},
        "link_ratio_num": [link.ratio[0] for link in links],
        "link_ratio_den": [link.ratio[1] for link in links],
        **{f"arbor_{key}": [getattr(link.arbor, key) if link.arbor else None for link in links] for key, _ in _PLACE},
        **{f"third_{key}": [[getattr(at, key) for at in link.third_at] for link in links] for key, _ in _PLACE},
        **{f"ring_roller_{key}": [[getattr(at, key) for at in ring.rollers] for ring in rings] for key, _ in _PLACE},
        "drive": None if solution.drive is None else solution.drive.model_dump(),
        "thirds_toothing": solution.third_toothing,
        "orders": solution.orders,
        "orders_settled": solution.orders_settled,
        "new_gears": solution.new_gears,
        "arranged": solution.arranged,
    }


def _places(row: dict[str, Any], start: str, index: int) -> list[PlaceAnswer]:
    columns = [row[f"{start}_{key}"][index] for key, _ in _PLACE]
    return [
        PlaceAnswer(direction_deg=direction, radius_mm=radius, x_mm=x, y_mm=y)
        for direction, radius, x, y in zip(*columns, strict=True)
    ]


def solution_from_row(row: dict[str, Any]) -> SolutionAnswer:
    """The solution that a row describes; the inverse of `solution_row`.

    Raises LookupError, TypeError, AttributeError or ValueError where the row is no solution.
    """
    for first, start in (
        ("ring_teeth", "ring_"),
        ("link_kind", "link_"),
        ("link_kind", "arbor_"),
        ("link_kind", "third_"),
    ):
        lengths = {len(value) for name, value in row.items() if name.startswith(start)}
        if lengths != {len(row[first])}:
            raise ValueError(f"the lists {start}... differ in length")
    rings = [
        RingAnswer(
            name=row["ring_name"][i],
            blank=row["ring_blank"][i],
            teeth=row["ring_teeth"][i],
            ratio=_two(row["ring_ratio"][i]),
            target=row["ring_target"][i],
            error_pct=row["ring_error_pct"][i],
            period_error_pct=row["ring_period_error_pct"][i],
            sense=row["ring_sense"][i],
            rollers=_places(row, "ring_roller", i),
        )
        for i in range(len(row["ring_teeth"]))
    ]
    links = [
        LinkAnswer(
            kind=KIND_BY_NAME[row["link_kind"][i]].name,
            wheel=row["link_wheel"][i],
            pinion=row["link_pinion"][i],
            thirds=row["link_thirds"][i],
            ratio=(row["link_ratio_num"][i], row["link_ratio_den"][i]),
            arbor=None
            if row["arbor_radius_mm"][i] is None
            else PlaceAnswer(**{key: row[f"arbor_{key}"][i] for key, _ in _PLACE}),
            third_at=_places(row, "third", i),
        )
        for i in range(len(row["link_kind"]))
    ]
    plain = ("rank", "worst_error_pct", "parts", "jigs", "teeth", "largest", "envelope_mm")
    drive = None if row["drive"] is None else DriveAnswer.model_validate(row["drive"])
    figures = {name: row[name] for name in (*plain, "new_gears", "arranged")}
    if row["orders_settled"] is not None:  # else a run of an earlier version
        figures |= {name: row[name] for name in ("orders", "orders_settled")}
    return SolutionAnswer(rings=rings, links=links, drive=drive, third_toothing=row["thirds_toothing"], **figures)


def _two(ratio: str) -> tuple[int, int]:
    num, den = ratio.split("/")
    return int(num), int(den)


# -- writing -------------------------------------------------------------------------------------------------------


def save_run(
    results: Path, design_text: str, answer: Answer, parameters: dict[str, Any], picture: str | None = None
) -> Path:
    """Store an answer, and a picture of it as SVG, under `results` and return the run's folder. Raises OSError where
    it cannot be written."""
    now = datetime.now(UTC)
    record = {
        "schema": RUN_SCHEMA,
        "created": now.isoformat(timespec="seconds"),
        **answer_record(answer),
        **({} if answer.proofs is None else {"proofs": proofs_of(answer)}),
        "parameters": parameters,
        "report": answer.report,
        "versions": versions(),
        "code_sha256": code_sha256(),
        "code_revision": code_revision(),
        "point_id": named(answer.config_sha256),
    }
    files = {DESIGN: design_text.encode(), SOLUTIONS: _parquet(answer, record)}
    if picture is not None:
        files[PICTURE] = picture.encode()
    record["files"] = {name: hashlib.sha256(data).hexdigest() for name, data in files.items()}
    record[_OWN] = own_sha256(record)
    files[RUN] = (json.dumps(record, indent=1, ensure_ascii=False) + "\n").encode()
    name = f"{_slug(answer.title)}-{answer.config_sha256[:8]}-{now:%Y%m%dT%H%M%S}"
    with whole_folder(results, files) as temporary:
        return _rename_free(temporary, results, name)


def proofs_of(answer: Answer) -> list[dict[str, Any]] | None:
    """What was proven a second time, as plain data; None where that was not asked for."""
    return None if answer.proofs is None else [proof.model_dump(mode="json") for proof in answer.proofs]


def answer_record(answer: Answer) -> dict[str, Any]:
    """The part of a run's record that follows from the answer alone: the fields of COMPARED."""
    document = answer.model_dump(mode="json")
    return {name: len(answer.solutions) if name == "solutions" else document[name] for name in COMPARED}


def own_sha256(record: dict[str, Any]) -> str:
    """What a record says of itself: the SHA-256 of all else in it."""
    rest = {key: value for key, value in record.items() if key != _OWN}
    return hashlib.sha256(json.dumps(rest, sort_keys=True).encode()).hexdigest()


def _parquet(answer: Answer, record: dict[str, Any]) -> bytes:
    rows = [solution_row(answer, solution) for solution in answer.solutions]
    provenance = {key: record[key] for key in ("created", "config_sha256", "versions", "code_sha256", "code_revision")}
    schema = SOLUTION_SCHEMA.with_metadata({"ringwright": json.dumps(provenance)})
    buffer = io.BytesIO()
    pq.write_table(_table(rows, schema), buffer, write_page_checksum=True)
    return buffer.getvalue()


def _table(rows: list[dict[str, Any]], schema: pa.Schema) -> pa.Table:
    """Rows as a table, by way of JSON: `Table.from_pylist` looks whether each list is one of pandas', and loads it."""
    if not rows:
        return schema.empty_table()
    lines = "\n".join(map(json.dumps, rows)).encode()
    whole = ReadOptions(use_threads=False, block_size=len(lines) + 1)
    read = read_json(io.BytesIO(lines), whole, ParseOptions(explicit_schema=schema))
    return pa.Table.from_arrays(read.columns, schema=schema)


def _slug(title: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", title.lower()).strip("-")[:40].strip("-") or "run"


def _rename_free(temporary: Path, results: Path, name: str) -> Path:
    for number in range(1, 10_000):
        target = results / (name if number == 1 else f"{name}-{number}")
        if target.exists():
            continue
        try:
            temporary.rename(target)
        except OSError:
            if target.exists():  # another process was quicker
                continue
            raise
        return target
    raise StoreError(f"{results}: no free name for {name}")


# -- reading -------------------------------------------------------------------------------------------------------


def load_run(folder: Path) -> StoredRun:
    """Read a stored run. Raises StoreError where it is no run, lacks a file or cannot be read."""
    if not (folder / RUN).is_file():
        raise StoreError(f"{folder}: not a stored run (it has no {RUN})")
    try:
        record = json.loads((folder / RUN).read_text(encoding="utf-8"))
    except (ValueError, RecursionError) as fault:
        raise StoreError(f"{folder / RUN}: damaged ({fault})") from None
    known = isinstance(record, dict) and record.get("schema") == RUN_SCHEMA and isinstance(record.get("files"), dict)
    if not known or not set(COMPARED) <= set(record) or "code_sha256" not in record:
        raise StoreError(f"{folder / RUN}: not a record of this version ({RUN_SCHEMA})")
    damaged = [] if record.get(_OWN) == own_sha256(record) else [RUN]
    for name in (DESIGN, SOLUTIONS, *([PICTURE] if PICTURE in record["files"] else [])):
        if not (folder / name).is_file():
            if name == PICTURE:  # it follows from the others
                continue
            raise StoreError(f"{folder / name}: is missing")
        if sha256_of(folder / name) != record["files"].get(name):
            damaged.append(name)
    try:
        table = pq.read_table(folder / SOLUTIONS, page_checksum_verification=True)
        for field in SOLUTION_SCHEMA:
            if field.name in ADDED and field.name not in table.column_names:  # a run of an earlier version
                table = table.append_column(field, pa.nulls(len(table), field.type))
        if not table.schema.equals(SOLUTION_SCHEMA):
            raise ValueError("its columns are not those of this version")
        rows = table.to_pylist()
        solutions = [solution_from_row(row) for row in rows]
        text = (folder / DESIGN).read_text(encoding="utf-8")
    except (pa.ArrowException, LookupError, TypeError, AttributeError, ValueError, OSError) as fault:
        raise StoreError(f"{folder}: cannot be read: {' '.join(str(fault).split())}") from None
    return StoredRun(folder, record, text, rows, solutions, tuple(damaged))
