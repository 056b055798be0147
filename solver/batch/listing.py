"""Stored solutions as CSV and as JSON, piece by piece: of many, a few are plain data at one time."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from typing import Any

import pyarrow as pa

from solver.batch.store.runs import solution_from_row
from solver.design.links import link_word
from solver.words.lengths import MM_PER_INCH
from solver.words.settings import settings_text
from solver.words.spreadsheet import csv_lines

Row = dict[str, Any]
RANKING_SCHEMA = "ringwright.ranking/1"
_PLAIN = (
    "run",
    "title",
    "status",
    "rank",
    "worst_error_pct",
    "parts",
    "jigs",
    "teeth",
    "largest",
    "envelope_mm",
    "new_gears",
)
_ORDERS = ("orders", "orders_settled")
_LINKS = ("link_kind", "link_wheel", "link_pinion", "link_thirds")
# The columns of a stored solution that stand in its line of CSV.
CSV_COLUMNS = (*_PLAIN, "ring_teeth", "ring_blank", "ring_sense", *_LINKS, "point_id", "settings", *_ORDERS)
_ROWS = 1000  # that are plain data at one time


def csv_of(tables: Iterable[pa.Table], units: Sequence[str] = ()) -> Iterator[str]:
    """Stored solutions as CSV, line by line: lists as words with spaces, links as in the tables.

    tables: of them, one after the other, with CSV_COLUMNS at least. units: of all designs that they are of; where some
    are in inches, lengths stand in these as well."""
    return csv_lines(_csv_rows(tables, "in" in units))


def _csv_rows(tables: Iterable[pa.Table], inches: bool) -> Iterator[list[Any]]:
    told = lru_cache(settings_text)  # one point has many solutions
    more = ["envelope_in"] if inches else []
    yield [*_PLAIN, *more, "ring_teeth", "blank_rings", "reverse_rings", "links", "point", "settings", *_ORDERS]
    for row in _rows(table.select(CSV_COLUMNS) for table in tables):
        links = zip(*(row[name] for name in _LINKS), strict=True)
        yield [
            *(row[name] for name in _PLAIN),
            *([_inches(row["envelope_mm"])] if inches else []),
            " ".join(map(str, row["ring_teeth"])),
            " ".join(str(i) for i, blank in enumerate(row["ring_blank"]) if blank),
            " ".join(str(i) for i, sense in enumerate(row["ring_sense"]) if sense == "reverse"),
            " ".join(link_word(*link) for link in links),
            row["point_id"],
            told(row["settings"]),
            *_orders(row),
        ]


def _orders(row: Row) -> tuple[int | None, str]:
    """In how many orders a solution stands; of a run of an earlier version each is one of its own."""
    settled = row["orders_settled"]
    return (1 if settled is None else row["orders"]), "yes" if settled in (None, True) else "no"


def _inches(mm: float | None) -> float | None:
    """To four decimals, which is as near as the micrometres that are stored."""
    return None if mm is None else round(mm / float(MM_PER_INCH), 4)


def _rows(tables: Iterable[pa.Table]) -> Iterator[Row]:
    """The rows of tables as plain data, few at a time."""
    for table in tables:
        for batch in table.to_batches(_ROWS):
            yield from batch.to_pylist()


def json_of(tables: Iterable[pa.Table]) -> Iterator[str]:
    """Stored solutions as one JSON document, in pieces: each with its run, point and settings, and as in an answer."""
    yield f'{{\n "schema": "{RANKING_SCHEMA}",\n "solutions": ['
    mark = "\n  "
    for row in _rows(tables):
        told = {
            **{name: row[name] for name in ("run", "title", "status", "config_sha256")},
            "point": row["point_id"] or None,
            "settings": json.loads(row["settings"]),
            "solution": solution_from_row(row).model_dump(mode="json"),
        }
        yield mark + json.dumps(told, indent=1, ensure_ascii=False).replace("\n", "\n  ")
        mark = ",\n  "
    yield "]\n}\n" if mark == "\n  " else "\n ]\n}\n"
