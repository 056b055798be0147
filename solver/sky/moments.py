"""Moments: dates as they are written, in TT.

TT is the time of almanacs: 32.184 s ahead of TAI. UTC is behind TAI by whole leap seconds since 1972 and by a running
number from 1960; ERFA has both. Leap seconds not yet announced are none. Before 1960 civil time is UT1, behind TT by
Delta T (`deltat.py`).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime
from fractions import Fraction
from typing import Literal

import erfa

from solver.design.dates import NoDate, Written, read_date
from solver.sky.deltat import delta_t
from solver.sky.errors import SkyError
from solver.words.shown import shown

Scale = Literal["utc", "tt"]
UNZONED = "the date has no zone: it is read as UTC"
_DAY = 86400
_J2000 = date(2000, 1, 1).toordinal()  # its noon is J2000.0
_TT_TAI = Fraction(32184, 1000)
_UTC_FROM = date(1960, 1, 1).toordinal()


@dataclass(frozen=True, order=True)
class Moment:
    """days: TT days since J2000.0, JD 2451545.0 TT; exact as the date was written."""

    days: Fraction

    @property
    def jd(self) -> float:
        """The Julian day, TT."""
        return 2451545.0 + float(self.days)

    @property
    def years(self) -> float:
        """Julian years since J2000.0."""
        return float(self.days / Fraction(36525, 100))


def parse_moment(text: str, scale: str = "utc") -> Moment:
    """The moment of a date as written; without a zone it is in UTC, or in TT with scale "tt". Raises SkyError."""
    if scale not in ("utc", "tt"):
        raise SkyError(f"scale {shown(scale)}: choose utc or tt")
    told = shown(text if len(text) <= 60 else text[:57] + "...")
    try:
        written = read_date(text)
        return _in_tt(written) if scale == "tt" else _in_utc(written)
    except NoDate as fault:
        raise SkyError(f"date {told}: {fault}") from None


def has_zone(text: str) -> bool:
    """Whether a date, as written, says its zone. Raises SkyError."""
    try:
        return read_date(text).zone is not None
    except NoDate as fault:
        raise SkyError(f"date {shown(text)}: {fault}") from None


def _in_tt(written: Written) -> Moment:
    if written.zone is not None:
        raise NoDate("has a zone, and TT has none; leave it out, or use scale utc")
    if written.leap:
        raise NoDate("no such second: TT has no leap seconds")
    return _of(_ordinal(written), written.seconds)


def _in_utc(written: Written) -> Moment:
    day, seconds = _ordinal(written), written.seconds
    if written.leap:
        seconds -= 1  # the second before it, which every day has
    shift, seconds = divmod(seconds - 60 * (written.zone or 0), _DAY)
    day += int(shift)
    if written.leap:
        seconds += 1
    if not 1 <= day <= date.max.toordinal():
        raise NoDate("must be from 0001-01-01 to 9999-12-31 in UTC")
    if written.leap and not _has_leap(day):
        raise NoDate("no such second: no leap second was added to that day")
    return _of(day, seconds + tt_less_utc(day, min(seconds, Fraction(_DAY - 1))))


def _ordinal(written: Written) -> int:
    return date(written.year, written.month, written.day).toordinal()


def _of(day: int, seconds: Fraction) -> Moment:
    return Moment(day - _J2000 - Fraction(1, 2) + seconds / _DAY)


def tt_less_utc(day: int, seconds: Fraction) -> Fraction:
    """TT less UTC [s], to the microsecond; less UT1 before 1960. day: by `date.toordinal`; seconds: of it."""
    if day < _UTC_FROM:
        return Fraction(round(1000 * delta_t(2000 + (day - _J2000 + float(seconds) / _DAY) / 365.2425)), 1000)
    return _TT_TAI + _tai_less_utc(day, float(seconds) / _DAY)


def _tai_less_utc(day: int, part: float) -> Fraction:
    told = date.fromordinal(day)
    found, _ = erfa.ufunc.dat(told.year, told.month, told.day, min(max(part, 0.0), 1.0))  # the status: a far year
    return Fraction(round(float(found) * 10**6), 10**6)


def _has_leap(day: int) -> bool:
    if day < date(1972, 1, 1).toordinal() or day >= date.max.toordinal():
        return False
    return _tai_less_utc(day + 1, 0.0) > _tai_less_utc(day, 0.0)


def now() -> Moment:
    """This moment, to the second."""
    return parse_moment(datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"))


def delta(moment: Moment) -> Fraction:
    """TT less UTC [s] at a moment; before 1960 TT less UT1."""
    return _utc(moment)[2]


def _utc(moment: Moment) -> tuple[int, Fraction, Fraction]:
    """The day, its seconds in UTC, and TT less UTC [s]."""
    whole = moment.days + Fraction(1, 2)
    less = Fraction(0)
    for _ in range(4):  # it changes by seconds in a year, so that three would do
        day, part = divmod(whole - less / _DAY, 1)
        ordinal = min(max(_J2000 + int(day), 1), date.max.toordinal())
        less = tt_less_utc(ordinal, part * _DAY)
    day, part = divmod(whole - less / _DAY, 1)
    return _J2000 + int(day), part * _DAY, less


def civil(moment: Moment, offset_minutes: int = 0) -> str:
    """The date and time to the nearest second, as "2026-12-24T17:00:00Z", or so many minutes east of Greenwich.

    A leap second is written as 23:59:60 UTC. Raises SkyError beyond the years 1 to 9999.
    """
    day, seconds, _ = _utc(moment)
    leap = 0
    if (before := _leap_before(moment, day, seconds)) is not None:
        day, seconds, leap = before, Fraction(_DAY - 1), 1
    whole = round(seconds) if not leap else _DAY - 1
    local = day * _DAY + whole + 60 * offset_minutes
    ordinal, second = divmod(local, _DAY)
    zone = _zone_text(offset_minutes)
    return f"{_date_text(ordinal)}T{_clock(second, leap)}{zone}"


def _leap_before(moment: Moment, day: int, seconds: Fraction) -> int | None:
    """The day at whose end the moment is a leap second."""
    for ordinal in (day - 1, day):
        if _has_leap(ordinal):
            begins = _of(ordinal, _DAY + tt_less_utc(ordinal, Fraction(_DAY - 1)))
            if Fraction(-1, 2) <= (moment.days - begins.days) * _DAY < Fraction(1, 2):
                return ordinal
    return None


def _date_text(ordinal: int) -> str:
    if not 1 <= ordinal <= date.max.toordinal():
        raise SkyError("date: must be from 0001-01-01 to 9999-12-31")
    return date.fromordinal(ordinal).isoformat()


def _clock(second: int, leap: int) -> str:
    hour, rest = divmod(second, 3600)
    return f"{hour:02}:{rest // 60:02}:{rest % 60 + leap:02}"


def _zone_text(offset: int) -> str:
    if offset == 0:
        return "Z"
    return f"{'-' if offset < 0 else '+'}{abs(offset) // 60:02}:{abs(offset) % 60:02}"


def tt_text(moment: Moment) -> str:
    """The date and time in TT, to a thousandth of a second, as "2026-12-24T17:01:09.184"."""
    day, part = divmod(moment.days + Fraction(1, 2), 1)
    thousandths = round(part * _DAY * 1000)
    ordinal, thousandths = _J2000 + int(day) + thousandths // (_DAY * 1000), thousandths % (_DAY * 1000)
    return f"{_date_text(ordinal)}T{_clock(thousandths // 1000, 0)}.{thousandths % 1000:03}"
