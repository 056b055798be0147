"""Stored solutions on the terminal and as CSV. Apart from the other tables, since pandas takes long to load."""

from __future__ import annotations

from typing import Any, cast

import pandas as pd

from solver.batch.store import solution_from_row
from solver.cli.tables import Paper, link_lines, links_text, print_legend, ranked_table


def print_stored(paper: Paper, frame: pd.DataFrame) -> None:
    """Stored solutions, a row each; the runs are lettered and named below."""
    rows = _rows(frame)
    runs = {row["run"]: (row["title"], row["status"]) for row in rows}
    marks = {run: _letters(index) for index, run in enumerate(runs)}
    caption = "\n".join(f"{marks[run]}: {title} ({status}), {run}" for run, (title, status) in runs.items())
    solutions = [(str(row["rank"]), marks[row["run"]], solution_from_row(row)) for row in rows]
    paper.print(ranked_table(solutions, "Stored solutions", "mm", paper.narrow, caption))
    if paper.narrow:
        paper.print(link_lines(((f"{run}{rank}", one) for rank, run, one in solutions), rings=True))
    print_legend(paper, [solution for _, _, solution in solutions])


def _rows(frame: pd.DataFrame) -> list[dict[str, Any]]:
    return cast(list[dict[str, Any]], frame.to_dict("records"))


def _letters(index: int) -> str:
    """A, B, ... Z, AA, AB, ..."""
    word = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        word = chr(ord("A") + rest) + word
    return word


def csv_text(frame: pd.DataFrame) -> str:
    """Stored solutions as CSV: one line each, lists as words with spaces, links as in the tables."""
    plain = frame[["run", "title", "status", "rank", "worst_error_pct", "parts", "jigs", "teeth", "largest"]].copy()
    plain["envelope_mm"] = frame["envelope_mm"]
    solutions = [solution_from_row(row) for row in _rows(frame)]
    plain["ring_teeth"] = [" ".join(str(ring.teeth) for ring in one.rings) for one in solutions]
    plain["blank_rings"] = [" ".join(str(i) for i, ring in enumerate(one.rings) if ring.blank) for one in solutions]
    plain["reverse_rings"] = [
        " ".join(str(i) for i, ring in enumerate(one.rings) if ring.sense == "reverse") for one in solutions
    ]
    plain["links"] = [links_text(one) for one in solutions]
    return plain.to_csv(index=False)
