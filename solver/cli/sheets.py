"""The command `sheets`: a solution of a stored run, or of a design file that is solved first, as a folder of sheets."""

from __future__ import annotations

import sys
from pathlib import Path

from solver.answer.standing import not_judged, standing
from solver.cli import signals
from solver.cli.line import words_line
from solver.cli.source import solved
from solver.design.errors import DesignError
from solver.sheets.book.folder import refuse_folder, write_folder
from solver.sheets.book.pack import make_pack, need_extra
from solver.sheets.errors import SheetsError
from solver.sheets.gears.inventory import refuse_without_places
from solver.words.lengths import Lengths

_INTERRUPTED = "interrupted: no sheets were written"


def run_sheets(source: Path, rank: int, out: Path, paper: str, both_units: bool, force: bool = False) -> int:
    """Write the sheets and return the exit code. force: sheets in `out` are replaced. Raises SheetsError,
    StoreError, DesignError and OSError, before anything is written."""
    need_extra()
    refuse_folder(out, force)
    given = solved(source, "sheets are made", _INTERRUPTED, refuse_without_places)
    design, solutions, code, status, again = given
    if not solutions:
        return code
    solution = next((one for one in solutions if one.rank == rank), None)
    if solution is None:
        count = len(solutions)
        raise SheetsError(f"--rank {rank}: {source} has {'1 solution' if count == 1 else f'{count} solutions'}")
    try:
        lengths, told = Lengths(design.units, both_units), standing(status, rank, again)
        with signals.ending(_INTERRUPTED), words_line("making the sheets") as tell:
            pack = make_pack(design, solution, paper, lengths, told, tell)
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
