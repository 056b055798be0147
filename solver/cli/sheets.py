"""The command `sheets`: a solution of a stored run, or of a design file that is solved first, as a folder of sheets."""

from __future__ import annotations

import sys
from pathlib import Path

from solver.answer.standing import not_judged, standing
from solver.batch.store.certificates import certified, kept_certificate
from solver.cli import signals
from solver.cli.exits import EXIT_OK, Usage
from solver.cli.line import words_line
from solver.cli.source import PointChoice, solved
from solver.design.errors import DesignError, suggestion
from solver.sheets.book.folder import refuse_folder, write_folder
from solver.sheets.book.pack import make_pack, need_extra
from solver.sheets.gears.inventory import refuse_without_places
from solver.words.lengths import Lengths
from solver.words.papers import PAPERS

_INTERRUPTED = "interrupted: no sheets were written"


def refuse_sheets(out: Path, paper: str, force: bool, option: str = "--out") -> None:
    """Refuse sheets that cannot be made or written, before anything is solved. option: by which the folder was told.
    Raises Usage, MissingExtra, SheetsError and OutputError."""
    if paper not in PAPERS:
        raise Usage(f"--paper {paper}{suggestion(paper, PAPERS) or ': choose ' + ', '.join(PAPERS)}")
    need_extra()
    refuse_folder(out, force, option)


def run_sheets(
    source: Path, chosen: PointChoice, rank: int, out: Path, paper: str, both_units: bool, force: bool = False
) -> int:
    """Write the sheets and return the exit code. force: sheets in `out` are replaced. Raises SheetsError,
    StoreError, DesignError, Usage and OSError, before anything is written."""
    refuse_sheets(out, paper, force)
    found = solved(source, chosen, _INTERRUPTED, refuse_without_places)
    if not found.solutions:
        return found.code
    design, solution = found.design, found.solution(rank)
    try:
        lengths = Lengths(design.units, both_units)
        kept = certified(kept_certificate(source, design.sha256(), found.point), design)
        told = standing(found.status, rank, found.again, design.keep, kept)
        with signals.ending(_INTERRUPTED), words_line("making the sheets") as tell:
            pack = make_pack(design, solution, paper, lengths, told, tell)
        with signals.stoppable():
            write_folder(out, pack.files, force)
    except DesignError as fault:
        raise fault.in_file(found.name) from None
    except signals.Signalled as stop:
        print(_INTERRUPTED, file=sys.stderr)
        return 128 + stop.signum
    for line in (*filter(None, [not_judged(design)]), *pack.notices):
        print(f"note: {line}", file=sys.stderr)
    print(f"wrote {len(pack.files)} files to {out}; begin with {out / 'index.html'}", file=sys.stderr)
    return EXIT_OK
