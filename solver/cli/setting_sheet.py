"""The setting sheet of `setting --sheet`: a folder with instructions, the dial and the drift."""

from __future__ import annotations

import sys
from pathlib import Path

from solver.answer.document import SolutionAnswer
from solver.cli import signals
from solver.cli.drift_tables import drift_svg
from solver.cli.exits import Usage
from solver.cli.setting_asked import SettingAsked
from solver.design.design import Design
from solver.design.errors import suggestion
from solver.sheets.book.folder import refuse_folder, write_folder
from solver.sheets.book.pack import need_extra
from solver.sheets.setting.sheet import SheetDates, setting_files
from solver.sky.bodies import sky_of
from solver.sky.drift import Drift
from solver.words.papers import PAPERS

_OPTION = "--sheet"


def refuse_sheet(out: Path, paper: str, force: bool) -> None:
    """Refuse what cannot be written, before anything is solved. Raises Usage and SheetsError."""
    if paper not in PAPERS:
        raise Usage(f"--paper {paper}{suggestion(paper, PAPERS) or ': choose ' + ', '.join(PAPERS)}")
    need_extra()
    refuse_folder(out, force, _OPTION)


def write_sheet(
    out: Path, paper: str, force: bool, design: Design, solution: SolutionAnswer, asked: SettingAsked, told: Drift
) -> None:
    """Write the sheet of one date. Raises SheetsError and SkyError."""
    dated = SheetDates(sky_of(design), asked.moment, asked.since, asked.true)
    files = setting_files(
        design, solution, dated, paper, clamped=asked.clamped, notes=asked.noted, first_exact=asked.first_exact
    )
    files["drift.svg"] = drift_svg(told, design.title).encode()
    with signals.stoppable():
        write_folder(out, files, force, _OPTION)
    print(f"wrote {len(files)} files to {out}; begin with {out / 'setting.html'}", file=sys.stderr)
