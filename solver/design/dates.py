"""Civil dates and times as they are written, in the Gregorian calendar, also before it was in use."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

_WRITTEN = re.compile(
    r"([0-9]{4})-([0-9]{2})-([0-9]{2})"
    r"(?:[T ]([0-9]{2}):([0-9]{2})(?::([0-9]{2}(?:\.[0-9]{1,9})?))?(Z|[+-][^ ]*|[A-Za-z/_ ].*)?)?"
)
_ZONE = re.compile(r"([+-])([0-9]{2}):?([0-9]{2})")
_EARLIEST, _LATEST = -12 * 60, 14 * 60


class NoDate(ValueError):
    """The text is no date; the message says why."""


@dataclass(frozen=True)
class Written:
    """A date and time as written. seconds: of its day; zone [minutes east of Greenwich], None where none is written;
    leap: whether it names a 61st second of a minute."""

    year: int
    month: int
    day: int
    seconds: Fraction
    zone: int | None
    leap: bool


def read_date(text: str) -> Written:
    """Read "2026-12-24", "2026-12-24T18:00", "...T18:00:30Z" or "...T18:00+01:00". Raises NoDate."""
    found = _WRITTEN.fullmatch(text.strip()) if len(text) <= 80 else None
    if found is None:
        raise NoDate("must be a date like 2026-12-24, or a date and time like 2026-12-24T18:00+01:00")
    year, month, day = (int(part) for part in found.groups()[:3])
    try:
        date(year, month, day)
    except ValueError:
        raise NoDate(_no_day(year, month, day)) from None
    hour, minute = int(found[4] or 0), int(found[5] or 0)
    second = Fraction(found[6] or 0)
    zone = None if found[7] is None else _zone(found[7])
    if hour > 23 or minute > 59 or second >= 61:
        raise NoDate("no such time of day: hours are from 00 to 23, minutes from 00 to 59, seconds from 00 to 59")
    if second >= 60 and (3600 * hour + 60 * minute - 60 * (zone or 0)) % 86400 != 86340:
        raise NoDate("no such second: a leap second is 23:59:60 UTC")
    return Written(year, month, day, 3600 * hour + 60 * minute + second, zone, second >= 60)


def _no_day(year: int, month: int, day: int) -> str:
    if year == 0:
        return "no such year: they are from 0001 to 9999"
    if not 1 <= month <= 12:
        return "no such month: they are from 01 to 12"
    return f"no such day: that month has no day {day}"


def _zone(text: str) -> int:
    """Minutes east of Greenwich."""
    if text == "Z":
        return 0
    found = _ZONE.fullmatch(text)
    told = "must end with a zone like Z or +01:00, from -12:00 to +14:00, or with none"
    if found is None or int(found[3]) > 59:
        raise NoDate(told)
    minutes = (60 * int(found[2]) + int(found[3])) * (-1 if found[1] == "-" else 1)
    if not _EARLIEST <= minutes <= _LATEST:
        raise NoDate(told)
    return minutes
