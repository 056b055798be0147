"""Stored solutions on the terminal, as CSV and as JSON; of many, a few at a time."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache
from typing import Any

import pyarrow as pa

from solver.batch.store.identity import SHORT
from solver.batch.store.runs import solution_from_row
from solver.cli.screen import Lines
from solver.cli.tables import Paper, link_lines, link_word, print_legend, ranked_table
from solver.words.spreadsheet import csv_lines

Row = dict[str, Any]
RANKING_SCHEMA = "ringwright.ranking/1"


def print_stored(paper: Paper, rows: list[Row]) -> None:
    """Stored solutions, a row each; the runs and points are lettered and named below."""
    origins = {_origin(row): row for row in rows}
    marks = {origin: _letters(index) for index, origin in enumerate(origins)}
    caption = Lines(*(f"{marks[origin]}: {_named(row)}" for origin, row in origins.items()))
    solutions = [(str(row["rank"]), marks[_origin(row)], solution_from_row(row)) for row in rows]
    paper.print(ranked_table(solutions, "Stored solutions", "mm", paper.narrow, caption))
    if paper.narrow:
        paper.print(link_lines(((f"{run}{rank}", one) for rank, run, one in solutions), rings=True))
    print_legend(paper, [solution for _, _, solution in solutions])


def _origin(row: Row) -> tuple[str, str]:
    return row["run"], row["point_id"]


def _named(row: Row) -> str:
    """A run, or a point of a sweep with what is varied in it."""
    if not row["point_id"]:
        return f"{row['title']} ({row['status']}), {row['run']}"
    told = settings_text(row["settings"]) or row["title"]
    return f"{told} ({row['status']}), {row['run']} {row['point_id'][:SHORT]}"


def settings_text(settings: str) -> str:
    """The settings of a point, as JSON in the store, for a reader: "rings.tooth_step = 4, bodies.set = saturn"."""
    return settings_words(json.loads(settings))


def settings_words(settings: Mapping[str, Any]) -> str:
    """The same of settings that have been read."""
    return ", ".join(f"{path} = {plain_value(value)}" for path, value in settings.items())


def plain_value(value: Any) -> str:
    """A value of a design file for a reader, lists as words with spaces."""
    if isinstance(value, list):
        return " ".join(plain_value(item) for item in value)
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)


def _letters(index: int) -> str:
    """A, B, ... Z, AA, AB, ..."""
    word = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        word = chr(ord("A") + rest) + word
    return word


_PLAIN = ("run", "title", "status", "rank", "worst_error_pct", "parts", "jigs", "teeth", "largest", "envelope_mm")
_LINKS = ("link_kind", "link_wheel", "link_pinion", "link_thirds")
# The columns of a stored solution that stand in its line of CSV.
CSV_COLUMNS = (*_PLAIN, "ring_teeth", "ring_blank", "ring_sense", *_LINKS, "point_id", "settings")
_ROWS = 1000  # that are plain data at one time


def csv_of(tables: Iterable[pa.Table]) -> Iterator[str]:
    """Stored solutions as CSV, line by line: lists as words with spaces, links as in the tables.

    tables: of them, one after the other, with CSV_COLUMNS at least."""
    return csv_lines(_csv_rows(tables))


def _csv_rows(tables: Iterable[pa.Table]) -> Iterator[list[Any]]:
    told = lru_cache(settings_text)  # one point has many solutions
    yield [*_PLAIN, "ring_teeth", "blank_rings", "reverse_rings", "links", "point", "settings"]
    for row in _rows(table.select(CSV_COLUMNS) for table in tables):
        links = zip(*(row[name] for name in _LINKS), strict=True)
        yield [
            *(row[name] for name in _PLAIN),
            " ".join(map(str, row["ring_teeth"])),
            " ".join(str(i) for i, blank in enumerate(row["ring_blank"]) if blank),
            " ".join(str(i) for i, sense in enumerate(row["ring_sense"]) if sense == "reverse"),
            " ".join(link_word(*link) for link in links),
            row["point_id"],
            told(row["settings"]),
        ]


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
