"""The next meetings of two bodies as rows ready to print: truly, by their mean longitudes, and as a model shows them.

A model that is set turns evenly from then on, by its own ratios: its rings meet under the same numbers as the bodies
(`solver.sky.events`), at times that are exact from the mean longitudes of the moment at which it was set.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import islice

from solver.answer.document import SolutionAnswer
from solver.design.design import Design
from solver.sky.bodies import SkyBody, sky_of
from solver.sky.errors import SkyError
from solver.sky.events import MeetingPair
from solver.sky.moments import Moment, civil
from solver.sky.rates import body_rates
from solver.words.shown import shown

HEADINGS = ("true", "by mean longitudes", "the model shows it", "model late, days")


@dataclass(frozen=True)
class MeetingRow:
    """A meeting by its number. true: None where no source has true longitudes; mean: None beyond what the sources
    cover; model: when the set model shows it, exact; None where it never does. Of a number that is truly met three
    times there are three rows, alike but for `true`."""

    number: int
    true: Moment | None
    mean: Moment | None
    model: Moment | None

    @property
    def late_days(self) -> float | None:
        """How many days later than the mean longitudes meet the model shows it: what its gears are off."""
        if self.mean is None or self.model is None:
            return None
        return float(self.model.days - self.mean.days)


@dataclass(frozen=True)
class ModelLead:
    """How far the ring of one body is ahead of another's in a model that was set. degrees: at the moment `at`, whole
    turns counted as `MeetingPair` counts them; rate [degrees a day], exact."""

    at: Moment
    degrees: Fraction
    rate: Fraction

    def shows(self, number: int) -> Moment | None:
        """When the rings meet under that number; None where they turn alike."""
        if self.rate == 0:
            return None
        return Moment(self.at.days + (360 * number - self.degrees) / self.rate)


@dataclass(frozen=True)
class MeetingRows:
    """word: what such a meeting is called; why: why the model shows none, "" where it does."""

    a: str
    b: str
    word: str
    rows: tuple[MeetingRow, ...]
    why: str = ""


def meeting_rows(
    design: Design, solution: SolutionAnswer, names: tuple[str, str], after: Moment, count: int, set_at: Moment
) -> MeetingRows:
    """The next meetings of two bodies of a design after a moment, at most `count`: by true longitudes where both have
    some, else by mean ones. set_at: when all rings of the model were set to the mean longitudes.

    Raises SkyError, in one line.
    """
    sky = sky_of(design)
    a, b = (_named(sky, name) for name in names)
    if a is b:
        raise SkyError(f"{shown(a.name)} meets itself at all times: choose two bodies")
    pair = MeetingPair(a, b)
    rates, why = _rates(design, solution, sky), ""
    lead = ModelLead(set_at, Fraction(pair.lead_at(set_at)), rates[a.name] - rates[b.name])
    against = [one.name for one in (a, b) if rates[one.name] * one.rate < 0]
    if against:
        why = f"the model shows none: its ring of {' and of '.join(map(shown, against))} runs the other way"
    rows = (
        MeetingRow(number, true, mean, None if why else lead.shows(number))
        for number, true, mean in _met(pair, after)
    )  # fmt: skip
    return MeetingRows(a.name, b.name, event_word(a, b), tuple(islice(rows, count)), why)


def event_word(a: SkyBody, b: SkyBody) -> str:
    """What two bodies at one longitude are called, seen from the centre; with the Earth, as seen from there."""
    if "Earth" not in (a.name, b.name):
        return "conjunction"
    other, earth = (b, a) if a.name == "Earth" else (a, b)
    return "opposition" if other.rate < earth.rate else "inferior conjunction"


def told(found: MeetingRows) -> list[tuple[str, ...]]:
    """Rows of text under `HEADINGS`: dates to the minute in UTC, a dash for what is not there."""
    return [
        (*(_minute(one) for one in (row.true, row.mean, row.model)), _days(row.late_days)) for row in found.rows
    ]  # fmt: skip


def utc_or_none(moment: Moment | None) -> str | None:
    """A moment as ISO text in UTC; None for none, or beyond the years 1 to 9999."""
    if moment is None:
        return None
    try:
        return civil(moment)
    except SkyError:
        return None


def _met(pair: MeetingPair, after: Moment) -> Iterator[tuple[int, Moment | None, Moment | None]]:
    if pair.has_true:
        for one in pair.after(after, "true"):
            yield one.number, one.moment, pair.mean_of(one.number)
    else:
        for one in pair.after(after, "mean"):
            yield one.number, None, one.moment


def _named(sky: Sequence[SkyBody], name: str) -> SkyBody:
    for body in sky:
        if body.name == name:
            return body
    raise SkyError(f"{shown(name)} is no body of this design; it has {', '.join(shown(body.name) for body in sky)}")


def _rates(design: Design, solution: SolutionAnswer, sky: Sequence[SkyBody]) -> dict[str, Fraction]:
    """How fast the ring of each body turns in the way in which its longitude is counted [degrees a day]."""
    rates = body_rates(design, solution)
    return {body.name: rate if body.rate > 0 else -rate for body, rate in zip(sky, rates, strict=True)}


def _minute(moment: Moment | None) -> str:
    text = utc_or_none(moment)
    return "–" if text is None else text[:16].replace("T", " ")


def _days(days: float | None) -> str:
    return "–" if days is None else f"{round(days, 2) + 0.0:+.2f}".replace("-", "−")
