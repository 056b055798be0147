"""The command `setting`: where each body of a solution stands at a date, and how its model is brought there."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from solver.answer.document import SolutionAnswer
from solver.batch.store.errors import StoreError
from solver.cli.drift_tables import print_drift
from solver.cli.exits import EXIT_OK, Usage
from solver.cli.points import points_of
from solver.cli.setting_asked import asked_of
from solver.cli.setting_tables import print_meetings, print_setting
from solver.cli.source import solved
from solver.cli.tables import Paper
from solver.cli.words import SettingWords
from solver.design.design import Design
from solver.design.errors import so_many
from solver.sky.bodies import sky_of
from solver.sky.drift import drift
from solver.sky.meeting_rows import meeting_rows
from solver.sky.yeartable import year_table

_INTERRUPTED = "interrupted: nothing was set"
_MEETINGS = 10


def run_setting(words: SettingWords) -> int:
    """Print where the bodies stand, how the gears are brought there, and what else is asked for; the exit code. Raises
    SkyError, StoreError, SheetsError, DesignError, OSError and Usage."""
    asked = asked_of(words)
    if words.sheet is not None:
        from solver.cli.setting_sheet import refuse_sheet

        refuse_sheet(words.sheet, words.paper, words.force)
    design, solutions, code = _given(words.source, words.point or [], asked.refuse)
    if not solutions:
        return code
    solution = _solution(words.source, solutions, words.rank)
    if asked.dates is not None:
        sys.stdout.writelines(year_table(design, solution, sky_of(design), asked.dates))
        sys.stdout.flush()
        return EXIT_OK
    told = drift(design, solution, sky_of(design))
    document = asked.document(design, solution, told)
    if words.as_json:
        sys.stdout.write(document.model_dump_json(indent=1, by_alias=True) + "\n")
    else:
        paper = Paper(sys.stdout)
        print_setting(paper, document, teeth=True)
        if words.drift:
            paper.line("")
            print_drift(paper, told)
        if asked.meet is not None:
            print_meetings(paper, meeting_rows(design, solution, asked.meet, asked.moment, _MEETINGS, asked.moment))
    sys.stdout.flush()
    if words.sheet is not None:
        from solver.cli.setting_sheet import write_sheet

        write_sheet(words.sheet, words.paper, words.force, design, solution, asked, told)
    return EXIT_OK


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
