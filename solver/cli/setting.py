"""The command `setting`: where each body of a solution stands at a date, and the angle of its ring."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from rich.table import Table

from solver.answer.document import SolutionAnswer
from solver.batch.store.errors import StoreError
from solver.cli.exits import EXIT_OK, Usage
from solver.cli.points import points_of
from solver.cli.source import solved
from solver.cli.tables import Paper, plain_table
from solver.cli.words import SettingWords
from solver.design.design import Design
from solver.design.errors import so_many
from solver.sky.document import SettingDocument
from solver.sky.moments import UNZONED, Scale, has_zone, now, parse_moment
from solver.sky.placing import setting_at

_INTERRUPTED = "interrupted: nothing was set"
TRUE_LESS_MEAN = "true-mean °"


def run_setting(words: SettingWords) -> int:
    """Print where the bodies stand; the exit code. Raises SkyError, StoreError, DesignError, OSError and Usage."""
    scale = _scale(words.scale)
    moment = now() if words.date is None else parse_moment(words.date, scale)
    taken = [] if words.date is None or scale == "tt" or has_zone(words.date) else [UNZONED]

    def refuse(design: Design) -> None:
        setting_at(design, words.rank, moment, scale, words.true, taken)  # before anything is solved

    design, solutions, code = _given(words.source, words.point or [], refuse)
    if not solutions:
        return code
    _solution(words.source, solutions, words.rank)
    document = setting_at(design, words.rank, moment, scale, words.true, taken)
    if words.as_json:
        sys.stdout.write(document.model_dump_json(indent=1, by_alias=True) + "\n")
    else:
        print_setting(Paper(sys.stdout), document)
    sys.stdout.flush()
    return EXIT_OK


def _scale(word: str) -> Scale:
    if word == "utc":
        return "utc"
    if word == "tt":
        return "tt"
    raise Usage(f"--scale {word}: choose utc or tt")


def _given(
    source: Path, point: Sequence[str], refuse: Callable[[Design], None]
) -> tuple[Design, Sequence[SolutionAnswer], int]:
    """The design, its solutions, and the exit code where there are none."""
    from solver.batch.sweep.run import is_sweep

    if not (source.is_dir() and is_sweep(source)):
        if point:
            raise Usage(f"--point: chooses among the points of a sweep, and {source} is none")
        design, solutions, code, _, _ = solved(source, "a setting is made", _INTERRUPTED, refuse)
        return design, solutions, code
    if len(point) != 1:
        raise Usage(f"{source}: a sweep; choose one of its points with --point ID")
    (chosen,) = points_of(source, point)
    refuse(chosen.design)
    if not chosen.solutions:
        raise StoreError(f"{source}: point {chosen.name} has no solution")
    return chosen.design, chosen.solutions, EXIT_OK


def _solution(source: Path, solutions: Sequence[SolutionAnswer], rank: int) -> SolutionAnswer:
    found = next((one for one in solutions if one.rank == rank), None)
    if found is None:
        raise Usage(f"--rank {rank}: {source} has {so_many(len(solutions), 'solution')}")
    return found


def print_setting(paper: Paper, document: SettingDocument) -> None:
    """The setting as a table, and its notes."""
    paper.heading(f"{document.title}, solution {document.rank}")
    paper.print(setting_table(document))
    side = f"longitude 0 at {document.zero_deg:g}, the system seen from its {document.seen_from}"
    paper.print(notes_grid([
        f"ring at: degrees counterclockwise from the right, seen from the front; {side}",
        f"{TRUE_LESS_MEAN}: at this date; at most: how large it gets",
        *document.notes,
    ]))  # fmt: skip


def notes_grid(notes: Iterable[str]) -> Table:
    """Notes below a table, each with its lines under one another."""
    grid = Table.grid(padding=(0, 1))
    for note in notes:
        grid.add_row("-", note)
    return grid


def setting_table(document: SettingDocument) -> Table:
    """Each body with its longitudes and the angle of its ring, all in degrees."""
    when = f"{document.date_utc.removesuffix('Z').replace('T', ' ')} {'UTC' if document.date_utc >= '1960' else 'UT1'}"
    title = f"{when}, which is {document.date.replace('T', ' ')} TT"
    columns = ("body", "mean °", "true °", TRUE_LESS_MEAN, "at most °", "ring at °")
    table = plain_table(title, columns, left=("body",))
    for body in document.bodies:
        table.add_row(
            body.name,
            f"{body.mean_longitude_deg:.2f}",
            "" if body.true_longitude_deg is None else f"{body.true_longitude_deg:.2f}",
            "" if body.equation_deg is None else f"{round(body.equation_deg, 2) + 0.0:+.2f}",
            "" if body.greatest_equation_deg is None else f"{body.greatest_equation_deg:.2f}",
            f"{body.ring_angle_deg:.2f}",
        )
    return table
