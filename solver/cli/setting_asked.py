"""What the command `setting` is asked about, read and refused before anything is solved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from solver.answer.document import SolutionAnswer
from solver.cli.exits import Usage
from solver.cli.words import SettingWords
from solver.design.design import Design
from solver.design.errors import suggestion
from solver.sky.bodies import SkyBody, sky_of
from solver.sky.by_teeth import with_teeth
from solver.sky.document import SettingDocument
from solver.sky.drift import Drift
from solver.sky.errors import SkyError
from solver.sky.moments import UNZONED, Moment, Scale, civil, has_zone, now, parse_moment
from solver.sky.placing import setting_at
from solver.sky.setting import TeethSetting, ring_turns, set_by_teeth
from solver.sky.told import plain, turns_text
from solver.sky.yeartable import TableDates, stretch_of
from solver.words.shown import shown


@dataclass(frozen=True)
class SettingAsked:
    """What a setting is asked about. since: what the model shows now, None: as it was put together; dates: of a table;
    noted: what is to be said before all else; first_exact: ring 0 exactly in its place."""

    rank: int
    moment: Moment
    scale: Scale
    true: bool
    since: Moment | None
    clamped: tuple[str, ...]
    meet: tuple[str, str] | None
    dates: TableDates | None
    noted: tuple[str, ...]
    first_exact: bool = False

    def refuse(self, design: Design) -> None:
        """Refuse what the sky or the design does not know. Raises SkyError."""
        sky = sky_of(design)
        setting_at(design, self.rank, self.moment, self.scale, self.true)
        if self.since is not None:
            ring_turns(design, sky, self.since, self.true)
        names = [body.name for body in sky]
        for name in (*self.clamped, *(self.meet or ())):
            if name not in names:
                near = suggestion(name, names) or f"; it has {', '.join(map(shown, names))}"
                raise SkyError(f"{shown(name)} is no body of this design{near}")
        if self.meet is not None and self.meet[0] == self.meet[1]:
            raise SkyError(f"{shown(self.meet[0])} meets itself at all times: choose two bodies")

    def setting(self, design: Design, solution: SolutionAnswer, sky: Sequence[SkyBody]) -> TeethSetting:
        """How the gears of a solution are brought there. sky: the bodies of `sky_of(design)`. Raises SkyError."""
        wanted = ring_turns(design, sky, self.moment, self.true)
        standing = None if self.since is None else ring_turns(design, sky, self.since, self.true)
        return set_by_teeth(design, solution, wanted, standing, self.clamped, self.first_exact)

    def document(self, design: Design, solution: SolutionAnswer, setting: TeethSetting, told: Drift) -> SettingDocument:
        """The setting of a solution with what its gears ask for, its drift, and the turns since the date before."""
        plain_document = setting_at(design, self.rank, self.moment, self.scale, self.true, self.noted)
        document = with_teeth(plain_document, solution, setting)
        notes = list(document.notes)
        if self.since is not None:
            taken = f"the model is taken to show {civil(self.since)[:10]} exactly"
            notes.append(f"{taken}: what teeth left over when it was set to that comes on top")
            turns = turns_text(told, self.moment.days - self.since.days, "this date")
            if turns is not None:
                notes.append(f"or let it run there from {civil(self.since)[:10]}: {turns}, and it is off by its drift")
        return document.model_copy(update={"drift": plain(told), "notes": notes})


def asked_of(words: SettingWords) -> SettingAsked:
    scale = _scale(words.scale)
    moment = now() if words.date is None else parse_moment(words.date, scale)
    noted = () if words.date is None or scale == "tt" or has_zone(words.date) else (UNZONED,)
    since = None if words.since is None else parse_moment(words.since, scale)
    meet = None
    if words.meet is not None:
        names = tuple(name.strip() for name in words.meet.split(","))
        if len(names) != 2 or not all(names):
            raise Usage(f"--meet {words.meet}: give two bodies with a comma between, like Jupiter,Saturn")
        meet = (names[0], names[1])
        if words.as_json:
            raise Usage("--meet: prints a table, for which the JSON document has no place; leave --json out")
    if words.step is not None and words.table is None:
        raise Usage("--step: is that of --table; give --table too, or leave it out")
    dates = None
    if words.table is not None:
        for option, there in (("--json", words.as_json), ("--sheet", words.sheet), ("--meet", words.meet),
                              ("--drift", words.drift), ("--date", words.date), ("--from", words.since),
                              ("--true", words.true), ("--clamped", words.clamped),
                              ("--first-exact", words.first_exact)):  # fmt: skip
            if there:
                raise Usage(f"--table: prints its dates alone; leave {option} out")
        dates = stretch_of(words.table, "1d" if words.step is None else words.step, scale)
    return SettingAsked(
        words.rank, moment, scale, words.true, since, tuple(words.clamped or ()), meet, dates, noted, words.first_exact
    )  # fmt: skip


def _scale(word: str) -> Scale:
    if word == "utc":
        return "utc"
    if word == "tt":
        return "tt"
    raise Usage(f"--scale {word}: choose utc or tt")
