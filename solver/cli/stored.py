"""Stored solutions on the terminal, as CSV and as JSON."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator, Mapping
from typing import Any

from solver.batch.identity import SHORT
from solver.batch.store import solution_from_row
from solver.cli.screen import Lines
from solver.cli.tables import Paper, link_lines, links_text, print_legend, ranked_table
from solver.search.answer import SolutionAnswer

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


def csv_text(rows: list[Row]) -> str:
    """Stored solutions as CSV: one line each, lists as words with spaces, links as in the tables."""
    out = io.StringIO()
    lines = csv.writer(out, lineterminator="\n")
    lines.writerow([*_PLAIN, "ring_teeth", "blank_rings", "reverse_rings", "links", "point", "settings"])
    for row in rows:
        lines.writerow([row[name] for name in _PLAIN] + list(_drawn(solution_from_row(row))) + [
            row["point_id"], settings_text(row["settings"])
        ])  # fmt: skip
    return out.getvalue()


def _drawn(one: SolutionAnswer) -> Iterator[str]:
    yield " ".join(str(ring.teeth) for ring in one.rings)
    yield " ".join(str(i) for i, ring in enumerate(one.rings) if ring.blank)
    yield " ".join(str(i) for i, ring in enumerate(one.rings) if ring.sense == "reverse")
    yield links_text(one)


def json_text(rows: list[Row]) -> str:
    """Stored solutions as one JSON document: each with its run, point and settings, and as in an answer."""
    solutions = [
        {
            **{name: row[name] for name in ("run", "title", "status", "config_sha256")},
            "point": row["point_id"] or None,
            "settings": json.loads(row["settings"]),
            "solution": solution_from_row(row).model_dump(mode="json"),
        }
        for row in rows
    ]
    return json.dumps({"schema": RANKING_SCHEMA, "solutions": solutions}, indent=1, ensure_ascii=False) + "\n"
