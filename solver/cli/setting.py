"""The command `setting`: where each body of a solution stands at a date, and how its model is brought there."""

from __future__ import annotations

import sys

from solver.cli.drift_tables import print_drift
from solver.cli.exits import EXIT_OK
from solver.cli.line import tell
from solver.cli.setting_asked import asked_of
from solver.cli.setting_tables import print_meetings, print_setting
from solver.cli.source import PointChoice, solved
from solver.cli.tables import Paper
from solver.cli.words import SettingWords
from solver.sky.bodies import sky_of
from solver.sky.drift import drift
from solver.sky.meeting_rows import meeting_rows
from solver.sky.yeartable import year_table

_INTERRUPTED = "interrupted: nothing was set"
_MEETINGS = 10


def run_setting(words: SettingWords) -> int:
    """Print where the bodies stand, how the gears are brought there, and what else is asked for; the exit code. Raises
    SkyError, StoreError, DesignError, OSError and Usage."""
    asked = asked_of(words)
    if words.sheet is not None:
        from solver.cli.setting_sheet import refuse_sheet

        refuse_sheet(words)
    found = solved(words.source, PointChoice(words.point or (), words.best), _INTERRUPTED, asked.refuse)
    if not found.solutions:
        return found.code
    design, solution = found.design, found.solution(words.rank)
    sky = sky_of(design)
    if asked.dates is not None:
        sys.stdout.writelines(year_table(design, solution, sky, asked.dates))
        sys.stdout.flush()
        return EXIT_OK
    tell("working out drift and setting")
    told, setting = drift(design, solution, sky), asked.setting(design, solution, sky)
    document = asked.document(design, solution, setting, told)
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
        tell("drawing the setting sheet")
        from solver.cli.setting_sheet import write_sheet

        write_sheet(words, design, solution, sky, asked, setting, told)
    return EXIT_OK
