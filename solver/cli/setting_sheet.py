"""The setting sheet of `setting --sheet`: a folder with instructions, the dial and the drift."""

from __future__ import annotations

import sys

from solver.answer.document import SolutionAnswer
from solver.cli import signals
from solver.cli.drift_tables import drift_svg
from solver.cli.setting_asked import SettingAsked
from solver.cli.sheets import refuse_sheets
from solver.cli.words import SettingWords
from solver.design.design import Design
from solver.sheets.book.folder import write_folder
from solver.sheets.setting.sheet import SheetDates, setting_files
from solver.sky.bodies import SkyBody
from solver.sky.drift import Drift
from solver.sky.setting import TeethSetting

_OPTION = "--sheet"


def refuse_sheet(words: SettingWords) -> None:
    """Refuse a sheet that cannot be made or written, before anything is solved. Raises as `refuse_sheets`."""
    assert words.sheet is not None
    refuse_sheets(words.sheet, words.paper, words.force, _OPTION)


def write_sheet(
    words: SettingWords,
    design: Design,
    solution: SolutionAnswer,
    sky: tuple[SkyBody, ...],
    asked: SettingAsked,
    setting: TeethSetting,
    told: Drift,
) -> None:
    """Write the sheet of one date. sky: the bodies of `sky_of(design)`. Raises SheetsError and SkyError."""
    assert words.sheet is not None
    dated = SheetDates(sky, asked.moment, asked.since, asked.true)
    files = setting_files(design, solution, dated, setting, words.paper, notes=asked.noted)
    files["drift.svg"] = drift_svg(told, design.title).encode()
    with signals.stoppable():
        write_folder(words.sheet, files, words.force, _OPTION)
    print(f"wrote {len(files)} files to {words.sheet}; begin with {words.sheet / 'setting.html'}", file=sys.stderr)
