"""Stored solutions on the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from solver.answer.standing import LISTS
from solver.batch.store.identity import SHORT
from solver.batch.store.runs import solution_from_row
from solver.cli.screen import Lines
from solver.cli.tables import Paper, link_lines, print_legend, ranked_table
from solver.words.settings import settings_text

Row = dict[str, Any]


def print_stored(paper: Paper, rows: list[Row], units: Sequence[str]) -> None:
    """Stored solutions, a row each; the runs and points are lettered and named below. units: of each row's lengths."""
    origins = {_origin(row): row for row in rows}
    marks = {origin: _letters(index) for index, origin in enumerate(origins)}
    caption = Lines(*(f"{marks[origin]}: {_named(row)}" for origin, row in origins.items()))
    solutions = [(str(row["rank"]), marks[_origin(row)], solution_from_row(row)) for row in rows]
    paper.print(ranked_table(solutions, "Stored solutions", units, paper.narrow, caption))
    if paper.narrow:
        paper.print(link_lines(((f"{run}{rank}", one) for rank, run, one in solutions), rings=True))
    print_legend(paper, [solution for _, _, solution in solutions])


def _origin(row: Row) -> tuple[str, str]:
    return row["run"], row["point_id"]


def _named(row: Row) -> str:
    """A run, or a point of a sweep with what is varied in it."""
    if not row["point_id"]:
        return f"{row['title']} ({LISTS[row['status']]}), {row['run']}"
    told = settings_text(row["settings"]) or row["title"]
    return f"{told} ({LISTS[row['status']]}), {row['run']} {row['point_id'][:SHORT]}"


def _letters(index: int) -> str:
    """A, B, ... Z, AA, AB, ..."""
    word = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        word = chr(ord("A") + rest) + word
    return word
