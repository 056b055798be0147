"""The command `sheets`: a solution of a stored run, or of a design file that is solved first, as a folder of sheets."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import NamedTuple

from solver.answer.document import SolutionAnswer, Status, proven_twice
from solver.answer.standing import not_judged, standing
from solver.cli import signals
from solver.cli.exits import EXIT_INFEASIBLE, EXIT_LIMIT, EXIT_OK
from solver.cli.run import progress_line
from solver.design.design import Design
from solver.design.errors import DesignError
from solver.files.load import parse_design
from solver.sheets.book.folder import refuse_folder, write_folder
from solver.sheets.book.pack import make_pack, need_extra
from solver.sheets.errors import SheetsError
from solver.sheets.gears.inventory import refuse_without_places
from solver.words.lengths import Lengths
from solver.words.shown import pasted

_INTERRUPTED = "interrupted: no sheets were written"


class _Source(NamedTuple):
    """What sheets are made of; again: all that is proven of it was proven a second time."""

    design: Design
    solutions: list[SolutionAnswer]
    code: int
    status: str
    again: bool


def run_sheets(source: Path, rank: int, out: Path, paper: str, both_units: bool, force: bool = False) -> int:
    """Write the sheets and return the exit code. force: sheets in `out` are replaced. Raises SheetsError,
    StoreError, DesignError and OSError, before anything is written."""
    need_extra()
    refuse_folder(out, force)
    design, solutions, code, status, again = _stored(source) if source.is_dir() else _solved(source)
    if not solutions:
        return code
    solution = next((one for one in solutions if one.rank == rank), None)
    if solution is None:
        count = len(solutions)
        raise SheetsError(f"--rank {rank}: {source} has {'1 solution' if count == 1 else f'{count} solutions'}")
    try:
        with signals.ending(_INTERRUPTED):
            pack = make_pack(design, solution, paper, Lengths(design.units, both_units), standing(status, rank, again))
        with signals.stoppable():
            write_folder(out, pack.files, force)
    except DesignError as fault:
        raise fault.in_file(str(source)) from None
    except signals.Signalled as stop:
        print(_INTERRUPTED, file=sys.stderr)
        return 128 + stop.signum
    for line in (*filter(None, [not_judged(design)]), *pack.notices):
        print(f"note: {line}", file=sys.stderr)
    print(f"wrote {len(pack.files)} files to {out}; begin with {out / 'index.html'}", file=sys.stderr)
    return code


def _stored(folder: Path) -> _Source:
    from solver.batch.as_stored import as_stored
    from solver.batch.sweep.run import is_sweep

    if is_sweep(folder):
        raise SheetsError(f"{folder}: the run of a sweep; sheets are made of one design, solved on its own")
    design, run = as_stored(folder)
    _refuse(design, folder)
    if not run.solutions:
        raise SheetsError(f"{folder}: has no solution ({run.record['status']})")
    again = proven_twice(one["outcome"] for one in run.record.get("proofs", ()))
    return _Source(design, run.solutions, EXIT_OK, run.record["status"], again)


def _solved(file: Path) -> _Source:
    """Solve a design file. A signal gives no sheets: half a search is no ground to build on."""
    from solver.answer.solve import solve
    from solver.files.text import read_text

    design = parse_design(read_text(file), str(file))
    _refuse(design, file)
    with signals.ending(_INTERRUPTED), progress_line() as progress:
        answer = solve(design, progress=progress)
    if not answer.solutions:
        if answer.status is Status.INFEASIBLE:
            print(f"{file}: proven that nothing fits; ringwright explain {pasted(file)} says why", file=sys.stderr)
            return _Source(design, [], EXIT_INFEASIBLE, answer.status, False)
        print(f"{file}: stopped by a limit before a solution was found", file=sys.stderr)
        return _Source(design, [], EXIT_LIMIT, answer.status, False)
    if not answer.proven:
        print("note: a limit stopped the search; these may not be the best solutions", file=sys.stderr)
    again = proven_twice(one.outcome for one in answer.proofs or ())
    return _Source(design, answer.solutions, EXIT_OK, answer.status, again)


def _refuse(design: Design, source: Path) -> None:
    """Refuse a design without places before anything else is done."""
    try:
        refuse_without_places(design)
    except DesignError as fault:
        raise fault.in_file(str(source)) from None
