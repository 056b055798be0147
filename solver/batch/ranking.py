"""Ranking over stored runs, solved designs and sweeps alike: filters, orders, fronts.

Only the columns that decide are read of every solution, and of those that are shown the rest.
"""

from __future__ import annotations

import json
import math
import tomllib
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from solver.answer.document import Answer, proven_twice
from solver.batch.store import parts
from solver.batch.store.errors import StoreError
from solver.batch.store.runs import PICTURE, SOLUTION_SCHEMA, SOLUTIONS, column, load_run, solution_row
from solver.batch.sweep.run import is_sweep, load_sweep, table_files
from solver.batch.units import units_of
from solver.design.errors import DesignError

if TYPE_CHECKING:
    import pandas as pd

COLUMN = {
    "error": "worst_error_pct",
    "parts": "parts",
    "jigs": "jigs",
    "teeth": "teeth",
    "largest": "largest",
    "envelope": "envelope_mm",
    "new_gears": "new_gears",
}
_DECIDING = ["rank", "title", *COLUMN.values()]


@dataclass(frozen=True)
class Shelved:
    """The solutions of one run. deciding: rank, title, point and the figures of each; whole: all columns, read already,
    or the Parquet file to read them from; designs: the design files by point, "" for a run of one design; twice: points
    of which all that is proven was proven a second time; barren: how many points have no solution, by what is known of
    them: the status of an answer, or "failed"."""

    run: str
    deciding: pa.Table
    whole: pa.Table | Path
    settings: Mapping[str, dict[str, Any]]
    designs: Mapping[str, str]
    twice: frozenset[str] = frozenset()
    barren: Mapping[str, int] = field(default_factory=dict)


def shelved(folder: Path) -> Shelved:
    """The solutions of a run. Raises StoreError where the folder is no sound run."""
    name = folder.resolve().name
    if not is_sweep(folder):
        run = load_run(folder)
        for file in run.damaged:
            if file != PICTURE:
                raise StoreError(f"{folder / file}: its content is not what was recorded when the run was stored")
        whole = pa.Table.from_pylist(run.rows, schema=SOLUTION_SCHEMA)
        named = whole.add_column(0, parts.PART_SCHEMA.field(0), pa.array([""] * len(whole), pa.string()))
        barren = {} if len(named) else {str(run.record["status"]): 1}
        deciding = named.select(["point_id", *_DECIDING])
        return Shelved(name, deciding, named, {"": {}}, {"": run.design_text}, barren=barren)
    if table_files(folder) is None:
        sweep = load_sweep(folder)
        points, whole = sweep.points, sweep.solutions
        deciding = whole.select(["point_id", *_DECIDING])
    else:
        path = folder / SOLUTIONS
        deciding, whole = parts.read_parquet(path, parts.PART_SCHEMA, ["point_id", *_DECIDING]), path
        columns = ["point_id", "settings", "design", "proofs", "state", "status"]
        points = parts.read_parquet(folder / parts.POINTS, parts.POINT_SCHEMA, columns).to_pylist()
    settings = {point["point_id"]: json.loads(point["settings"]) for point in points}
    twice = frozenset(
        point["point_id"]
        for point in points
        if point["proofs"] and proven_twice(one["outcome"] for one in json.loads(point["proofs"]))
    )
    designs = {point["point_id"]: point["design"] for point in points}
    found = set(deciding["point_id"].to_pylist())
    barren = Counter(point["status"] or point["state"] for point in points if point["point_id"] not in found)
    return Shelved(name, deciding, whole, settings, designs, twice, barren)


def answered(name: str, text: str, answer: Answer) -> Shelved:
    """The solutions of a design file that was just solved. name: of the file; text: what is in it."""
    rows = [{"point_id": "", **solution_row(answer, solution)} for solution in answer.solutions]
    whole = pa.Table.from_pylist(rows, schema=parts.PART_SCHEMA)
    return Shelved(name, whole.select(["point_id", *_DECIDING]), whole, {"": {}}, {"": text})


def sound(paths: Iterable[Path], read: Callable[[Path], Shelved] = shelved) -> tuple[list[Shelved], list[str]]:
    """The runs in these folders that are sound; and of every other folder, in a line, what is wrong with it. read: how
    one is read."""
    runs, wrong = [], []
    for folder in paths:
        try:
            runs.append(read(folder))
        except DesignError as fault:
            wrong.append(str(fault.complaints[0]))
        except StoreError as fault:
            wrong.append(str(fault))
        except OSError as fault:
            wrong.append(f"{folder}: cannot be read: {fault.strerror or fault}")
    return runs, wrong


class Shelf:
    """The solutions of several runs, a row each, counted through from 0."""

    def __init__(self, runs: Iterable[Shelved]) -> None:
        self.runs = sorted(runs, key=lambda run: run.run)
        self._first = np.cumsum([0, *(len(run.deciding) for run in self.runs)])
        self._figures: dict[str, np.ndarray] = {}

    def __len__(self) -> int:
        return int(self._first[-1])

    def figure(self, key: str) -> np.ndarray:
        """The values of a rank key, a float for each row; infinite where a solution has none. Raises KeyError."""
        if key not in self._figures:
            found = [run.deciding[COLUMN[key]].to_numpy() for run in self.runs]
            values = np.concatenate([*found, np.empty(0)]).astype(float)
            self._figures[key] = np.where(np.isnan(values), np.inf, values)
        return self._figures[key]

    def within(
        self, most: Mapping[str, float], where: Sequence[tuple[str, str]] = (), points: Collection[str] | None = None
    ) -> np.ndarray:
        """Rows, ascending, within every limit of `most` (rank key: greatest value), whose designs say what `where` asks
        for (dotted field of the design file, value as text); points: names of those that are kept, all unless told."""
        good = np.ones(len(self), bool)
        if points is not None:
            named = [point in points for run in self.runs for point in run.deciding["point_id"].to_pylist()]
            good &= np.array(named, bool)
        for key, limit in most.items():
            good &= self.figure(key) <= limit
        if where:
            good &= self._said(where)
        return np.flatnonzero(good)

    def _said(self, where: Sequence[tuple[str, str]]) -> np.ndarray:
        masks = [np.empty(0, bool)]
        for run in self.runs:
            saying = {
                point for point, text in run.designs.items()
                if all(_says(_field(tomllib.loads(text), path), value) for path, value in where)
            }  # fmt: skip
            masks.append(np.array([point in saying for point in run.deciding["point_id"].to_pylist()], bool))
        return np.concatenate(masks)

    def unsaid(self, where: Sequence[tuple[str, str]]) -> list[str]:
        """Those of the fields that no design says."""
        designs = [tomllib.loads(text) for run in self.runs for text in run.designs.values()]
        return [path for path, _ in where if all(_field(design, path) is None for design in designs)]

    def ordered(self, rows: np.ndarray, by: Sequence[str]) -> np.ndarray:
        """These rows by the rank keys, then by run and in its order."""
        return rows[np.lexsort([rows, *(self.figure(key)[rows] for key in reversed(by))])]

    def front(self, rows: np.ndarray, keys: Sequence[str]) -> np.ndarray:
        """Those of the rows that no other one beats in all of these keys; what is alike stays."""
        left = self.ordered(rows, keys)
        values = np.stack([self.figure(key)[left] for key in keys], axis=1)
        kept = []
        while len(left):
            alike = (values == values[0]).all(axis=1)
            kept.append(left[alike])
            open_still = ~(values >= values[0]).all(axis=1)
            left, values = left[open_still], values[open_still]
        return np.concatenate([*kept, np.empty(0, int)]).astype(int)

    def units(self, rows: np.ndarray) -> list[str]:
        """The unit of each row's design, "mm" or "in"."""
        told = [units_of(run.designs, run.settings) for run in self.runs]
        if len({unit for some in told for unit in some.values()}) < 2:
            return [next((unit for some in told for unit in some.values()), "mm")] * len(rows)
        every = [
            some[point]
            for some, run in zip(told, self.runs, strict=True)
            for point in run.deciding["point_id"].to_pylist()
        ]
        return [every[row] for row in rows]

    def titles(self, rows: np.ndarray) -> list[str]:
        """The title of each row's design."""
        titles = [title for run in self.runs for title in run.deciding["title"].to_pylist()]
        return [titles[row] for row in rows]

    def table(self, rows: np.ndarray, columns: Iterable[str] = ()) -> pa.Table:
        """These rows whole and in this order: `run`, `settings`, and the columns of `solutions.parquet`; of all these
        only `columns`, where some are told."""
        asked = pa.schema([PICKED.field(name) for name in columns or PICKED.names])
        read = pa.schema([field for field in parts.PART_SCHEMA if field.name in {"point_id", *asked.names}])
        tables = [asked.empty_table()]
        order: list[int] = []
        for index, run in enumerate(self.runs):
            here = np.flatnonzero((rows >= self._first[index]) & (rows < self._first[index + 1]))
            order += here.tolist()
            picked = _picked(run.whole, rows[here] - self._first[index], read)
            points = picked["point_id"].to_pylist()
            settings = {point: json.dumps(run.settings[point], ensure_ascii=False) for point in set(points)}
            named = {"run": [run.run] * len(picked), "settings": [settings[point] for point in points]}
            for name, values in named.items():
                picked = picked.append_column(PICKED.field(name), pa.array(values, pa.string()))
            tables.append(picked.select(asked.names))
        return pa.concat_tables(tables).take(np.argsort(np.array(order, int)))

    def tables(self, rows: np.ndarray, columns: Iterable[str] = ()) -> Iterator[pa.Table]:
        """The same, one table after the other, so that memory does not grow with the number of rows."""
        for first in range(0, len(rows), TOGETHER):
            yield self.table(rows[first : first + TOGETHER], columns)


# Rows that are read together: few for memory, many since the whole file is looked through for each of them.
TOGETHER = 1 << 14
PICKED = pa.schema(
    [column("run", pa.string(), nullable=False), column("settings", pa.string(), nullable=False),
     *parts.PART_SCHEMA]
)  # fmt: skip


def _picked(whole: pa.Table | Path, rows: np.ndarray, schema: pa.Schema) -> pa.Table:
    """Rows of a table or of a Parquet file, in their order and with the columns of `schema`; of a file one row group at
    a time is read, and only those the rows are in."""
    if isinstance(whole, pa.Table):
        return whole.select(schema.names).take(rows).cast(schema)
    order = np.argsort(rows, kind="stable")
    tables = [schema.empty_table()]
    with pq.ParquetFile(whole, page_checksum_verification=True) as file:
        sizes = [file.metadata.row_group(group).num_rows for group in range(file.num_row_groups)]
        first = np.cumsum([0, *sizes])
        cuts = np.searchsorted(rows[order], first)
        for group, (begin, end) in enumerate(pairwise(cuts.tolist())):
            if begin < end:
                found = file.read_row_group(group, schema.names).select(schema.names).cast(schema)
                tables.append(found.take(rows[order[begin:end]] - first[group]))
    return pa.concat_tables(tables).take(np.argsort(order))


def most_of(word: str) -> tuple[str, float, str | None]:
    """A limit, like "error=1.5" or "envelope=5.5in": key, greatest value and the unit of a length, None where none is
    told. Raises ValueError where it has no number."""
    key, _, value = (part.strip() for part in word.partition("="))
    unit = value[-2:] if key == "envelope" and value[-2:] in ("mm", "in") else None
    value = value.removesuffix(unit or "")
    limit = float(value)
    if not math.isfinite(limit) or not value.isascii() or "_" in value:
        raise ValueError(word)
    return key, limit, unit


def where_of(word: str) -> tuple[str, str]:
    """What a design has to say, like "bodies.set=saturn": dotted field and value. Raises ValueError."""
    path, equals, value = word.partition("=")
    if not equals or not path.strip():
        raise ValueError(word)
    return path.strip(), value.strip()


def _field(data: Any, path: str) -> Any:
    for key in path.split("."):
        data = data.get(key) if isinstance(data, dict) else None
    return data


def _says(value: Any, told: str) -> bool:
    """Whether a value of a design file is what a word tells: text without its quotes, all else as JSON, however its
    numbers and spaces are written. What is not said is null."""
    if isinstance(value, str):
        return value == told
    try:
        return bool(json.loads(told) == value)
    except (ValueError, RecursionError):
        return False


def read_solutions(folders: Iterable[Path]) -> pd.DataFrame:
    """All solutions of the runs as a pandas DataFrame, a row each: `run`, `settings` (JSON), and the columns of
    `solutions.parquet`. Raises StoreError for a folder that is no sound run."""
    shelf = Shelf(map(shelved, folders))
    frame: pd.DataFrame = shelf.table(np.arange(len(shelf))).to_pandas()
    return frame
