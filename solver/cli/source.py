"""What a command is given to work on: the solutions of a stored run, or of a design file that is solved first."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from solver.answer.document import SolutionAnswer, Status, proven_twice
from solver.cli import signals
from solver.cli.exits import EXIT_INFEASIBLE, EXIT_LIMIT, EXIT_OK
from solver.cli.run import progress_line
from solver.design.design import Design
from solver.design.errors import DesignError
from solver.files.load import parse_design
from solver.sheets.errors import SheetsError
from solver.words.shown import pasted


class Solved(NamedTuple):
    """A design and its solutions; without any, code says how the command ends. again: all that is proven of it was
    proven a second time."""

    design: Design
    solutions: list[SolutionAnswer]
    code: int
    status: str
    again: bool


def solved(source: Path, made: str, interrupted: str, refuse: Callable[[Design], None]) -> Solved:
    """The solutions of a stored run or of a file. made: what the command makes of one design; interrupted: what is
    said where a signal ends the search, which gives nothing then: half a search is no ground to build on; refuse:
    raises DesignError before anything is done. Raises SheetsError, StoreError, DesignError and OSError."""

    def refused(design: Design) -> None:
        try:
            refuse(design)
        except DesignError as fault:
            raise fault.in_file(str(source)) from None

    return _stored(source, made, refused) if source.is_dir() else _of_file(source, interrupted, refused)


def _stored(folder: Path, made: str, refuse: Callable[[Design], None]) -> Solved:
    from solver.batch.as_stored import as_stored
    from solver.batch.sweep.run import is_sweep

    if is_sweep(folder):
        raise SheetsError(f"{folder}: the run of a sweep; {made} of one design, solved on its own")
    design, run = as_stored(folder)
    refuse(design)
    if not run.solutions:
        raise SheetsError(f"{folder}: has no solution ({run.record['status']})")
    again = proven_twice(one["outcome"] for one in run.record.get("proofs", ()))
    return Solved(design, run.solutions, EXIT_OK, run.record["status"], again)


def _of_file(file: Path, interrupted: str, refuse: Callable[[Design], None]) -> Solved:
    from solver.answer.solve import solve
    from solver.files.text import read_text

    design = parse_design(read_text(file), str(file))
    refuse(design)
    with signals.ending(interrupted), progress_line() as progress:
        answer = solve(design, progress=progress)
    if not answer.solutions:
        if answer.status is Status.INFEASIBLE:
            print(f"{file}: proven that nothing fits; ringwright explain {pasted(file)} says why", file=sys.stderr)
            return Solved(design, [], EXIT_INFEASIBLE, answer.status, False)
        print(f"{file}: stopped by a limit before a solution was found", file=sys.stderr)
        return Solved(design, [], EXIT_LIMIT, answer.status, False)
    if not answer.proven:
        print("note: a limit stopped the search; these may not be the best solutions", file=sys.stderr)
    again = proven_twice(one.outcome for one in answer.proofs or ())
    return Solved(design, answer.solutions, EXIT_OK, answer.status, again)
