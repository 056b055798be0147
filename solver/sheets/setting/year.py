"""The days of a year on the dial: where the Earth's mean longitude stands as each begins."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from solver.sheets.setting.dial import DayMark
from solver.sky.bodies import SkyBody
from solver.sky.moments import parse_moment

EARTH = ("Earth", "Earth-Moon")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_DAYS = (1, 11, 21)


def earth_of(sky: Sequence[SkyBody]) -> SkyBody | None:
    """The Earth among the bodies; None where it is not there."""
    return next((body for body in sky if body.name in EARTH), None)


def year_marks(earth: SkyBody, year: int) -> tuple[DayMark, ...]:
    """The first, the 11th and the 21st of each month, at 0 h UTC, as far as the Earth is known."""
    first, last = earth.covers
    found = []
    for number, month in enumerate(_MONTHS, start=1):
        for day in _DAYS:
            begins = parse_moment(f"{date(year, number, day).isoformat()}T00:00Z")
            if first <= begins <= last:
                found.append(DayMark(earth.mean(begins), month if day == 1 else str(day), day == 1))
    return tuple(found)
