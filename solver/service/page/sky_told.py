"""What is told of a solution in the sky, as documents; loads nothing that reckons."""

from __future__ import annotations

from pydantic import ConfigDict, Field

from solver.service.page.motion import Rate
from solver.service.page.still import Part


class PlaceInSky(Part):
    """A body. ring: its ring's number; longitudes in degrees; turns: on the drawing, where its ring stands when the
    model is set to this date; true_turns: where the body truly is, null without a source; true_within_deg: how near;
    rate: of the mean place [turns a day], exact, negative clockwise; ahead_turns: how far the true place is ahead of
    the mean one, at even spaces over one turn of the body, the middle of which is this date; [] without a source."""

    ring: int
    name: str
    mean_longitude_deg: float
    true_longitude_deg: float | None
    true_within_deg: float | None
    turns: float
    true_turns: float | None
    rate: Rate
    rate_float: float
    ahead_turns: list[float]
    source: str


class SkyOfModel(Part):
    """A model's sky at a date. date: TT, date_utc: to the second; days: TT days since J2000.0, exact, as a fraction;
    set_utc: the date to which the model was set; ring_turns: where every ring stands at `date` when all were set at
    `set_utc`, rounded once; first_days: how many days one turn of ring 0 stands for, exact; forward: 1 where ring 0
    runs counterclockwise on the drawing, else -1; first_utc, last_utc: what the sources cover."""

    model_config = ConfigDict(frozen=True, extra="forbid", serialize_by_alias=True)

    schema_name: str = Field("ringwright.sky/1", alias="schema")
    date: str
    date_utc: str
    days: Rate
    days_float: float
    set_utc: str
    set_days_float: float
    ring_turns: list[float]
    first_days: Rate
    first_days_float: float
    forward: int
    first_utc: str
    last_utc: str
    bodies: list[PlaceInSky]


class MeetingTold(Part):
    """A meeting; dates in UTC, null for none. number: whole turns that one has gained on the other; model_late_days:
    how much later than the mean longitudes meet the model shows it."""

    number: int
    true_utc: str | None
    mean_utc: str | None
    model_utc: str | None
    model_late_days: float | None


class MeetingsDocument(Part):
    """The next meetings of two bodies. word: what they are called; why: why the model shows none, "" where it does."""

    model_config = ConfigDict(frozen=True, extra="forbid", serialize_by_alias=True)

    schema_name: str = Field("ringwright.meetings/1", alias="schema")
    a: str
    b: str
    word: str
    after_utc: str
    set_utc: str
    why: str
    meetings: list[MeetingTold]
