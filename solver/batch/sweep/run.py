"""A sweep's run read back: finished (its tables) or not (its job table and parts). Nothing damaged is trusted."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pyarrow as pa

from solver.batch.store import parts
from solver.batch.store.errors import StoreError
from solver.batch.store.files import replace_whole
from solver.batch.store.runs import SOLUTIONS
from solver.batch.sweep.table import JOBS, JobTable

MANIFEST = "manifest.json"
SWEEP_SCHEMA = "ringwright.sweep/1"
_OWN = "manifest_sha256"


@dataclass(frozen=True)
class SweepRun:
    """points: rows as in `points.parquet`; solutions: as in `solutions.parquet`; provenance: of the code that solved
    it. Of a run that is not finished, what is there so far."""

    folder: Path
    title: str
    finished: bool
    points: list[dict[str, Any]]
    solutions: pa.Table
    provenance: dict[str, Any]


def is_sweep(folder: Path) -> bool:
    """Whether a folder holds a sweep's run."""
    return (folder / MANIFEST).is_file() or (folder / JOBS).is_file()


def read_manifest(folder: Path) -> dict[str, Any] | None:
    """The manifest of a finished run, None where there is none. Raises StoreError where it is damaged."""
    path = folder / MANIFEST
    try:
        manifest = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return None
    except (ValueError, RecursionError, OSError) as fault:
        raise StoreError(f"{path}: damaged ({fault})") from None
    known = isinstance(manifest, dict) and manifest.get("schema") == SWEEP_SCHEMA
    if not known or not isinstance(manifest.get("files"), dict):
        raise StoreError(f"{path}: not a manifest of this version ({SWEEP_SCHEMA})")
    told: dict[str, Any] = manifest
    if told.get(_OWN) != _own_sha256(told):
        raise StoreError(f"{path}: its content is not what was written")
    return told


def write_manifest(folder: Path, manifest: dict[str, Any]) -> None:
    """Write the manifest, whole and with a hash of itself. Raises OSError."""
    told = {**manifest, _OWN: _own_sha256(manifest)}
    replace_whole(folder / MANIFEST, (json.dumps(told, indent=1, ensure_ascii=False) + "\n").encode())


def _own_sha256(manifest: dict[str, Any]) -> str:
    rest = {key: value for key, value in manifest.items() if key != _OWN}
    return hashlib.sha256(json.dumps(rest, sort_keys=True).encode()).hexdigest()


def _tables(manifest: dict[str, Any]) -> dict[str, str]:
    return {name: manifest["files"].get(name, "") for name in (SOLUTIONS, parts.POINTS, parts.REPORT)}


def damage(folder: Path) -> dict[str, str]:
    """Tables of a finished run that are not what was written, and what is wrong with each; none of one that goes on."""
    try:
        manifest = read_manifest(folder)
    except StoreError as fault:
        return {MANIFEST: str(fault).removeprefix(f"{folder / MANIFEST}: ")}
    return {} if manifest is None else parts.damaged(folder, _tables(manifest))


def table_files(folder: Path) -> dict[str, Any] | None:
    """The manifest of a finished run whose three tables are sound; None for an unfinished run. Raises StoreError."""
    manifest = read_manifest(folder)
    if manifest is None:
        return None
    for name, told in parts.damaged(folder, _tables(manifest)).items():
        raise StoreError(f"{folder / name}: {told}; ringwright sweep --mend makes it anew")
    return manifest


def load_sweep(folder: Path) -> SweepRun:
    """Read a sweep's run. Raises StoreError where it is none, or a file is damaged."""
    manifest = table_files(folder)
    if manifest is not None:
        points = parts.read_parquet(folder / parts.POINTS, parts.POINT_SCHEMA).to_pylist()
        solutions = parts.read_parquet(folder / SOLUTIONS, parts.PART_SCHEMA)
        return SweepRun(folder, manifest["title"], True, points, solutions, manifest)
    if not (folder / JOBS).is_file():
        raise StoreError(f"{folder}: not a stored sweep (it has neither {MANIFEST} nor {JOBS})")
    table = JobTable(folder, read_only=True)
    try:
        files, jobs, title = table.files(), table.points(), table.about("title") or folder.name
    finally:
        table.close()
    for name, told in parts.damaged(folder, files).items():
        raise StoreError(f"{folder / name}: {told}; ringwright sweep --mend puts it aside")
    solutions = pa.concat_tables([parts.PART_SCHEMA.empty_table(), *parts.all_solutions(folder, jobs)])
    points = parts.point_table(jobs, parts.best_of(solutions)).to_pylist()
    return SweepRun(folder, title, False, points, solutions, parts.provenance())
