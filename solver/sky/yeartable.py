"""A stretch of time: where each body stands, and what its ring shows when it was set at the first date."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from solver.answer.document import SolutionAnswer
from solver.design.design import Design
from solver.design.exact import NotExact, parse_exact
from solver.sky.bodies import SkyBody, ring_angle
from solver.sky.errors import SkyError
from solver.sky.moments import Moment, civil, parse_moment
from solver.sky.paths import rounded_turn, signed, unit_days
from solver.sky.rates import body_rates
from solver.words.numbers import decimal
from solver.words.shown import shown
from solver.words.spreadsheet import csv_lines

MOST_ROWS = 10_000
COLUMNS = ("mean_deg", "true_deg", "ring_deg", "off_deg")  # of each body, behind its name
_UNITS = {"d": "days", "h": "hours", "y": "years"}
_STEP = re.compile(r"([0-9./]+)\s*([dhy])")
_DECIMALS = 4


@dataclass(frozen=True)
class TableDates:
    """The dates of a table: from `first` on, a step [days] apart, up to `last` or the date before it."""

    first: Moment
    last: Moment
    step: Fraction

    @property
    def rows(self) -> int:
        return int((self.last.days - self.first.days) // self.step) + 1

    def moments(self) -> Iterator[Moment]:
        """All of them in order."""
        return (Moment(self.first.days + row * self.step) for row in range(self.rows))


def stretch_of(span: str, step: str, scale: str = "utc") -> TableDates:
    """The dates that "2027-01-01..2028-01-01" and "10d" stand for: d days, h hours, y Julian years of 365.25 days, all
    even steps of TT. Raises SkyError in one line, also where they are more than `MOST_ROWS`."""
    ends = span.split("..")
    if len(ends) != 2:
        raise SkyError(f"table {shown(span[:60])}: give two dates with two dots between, like 2027-01-01..2028-01-01")
    first, last = (parse_moment(end.strip(), scale) for end in ends)
    if not first < last:
        raise SkyError(f"table {shown(span[:60])}: the second date must be after the first")
    found = TableDates(first, last, step_days(step))
    if found.rows > MOST_ROWS:
        raise SkyError(f"step {shown(step)}: makes {found.rows:,} rows; at most {MOST_ROWS:,}: take a longer step")
    return found


def step_days(text: str) -> Fraction:
    """The days of a step, like "10d", "6h" or "0.5y". Raises SkyError."""
    parts = _STEP.fullmatch(text.strip()) if len(text) <= 60 and text.isascii() else None
    try:
        number = parse_exact(parts[1]) if parts else Fraction(0)
    except NotExact:
        number = Fraction(0)
    if parts is None or number <= 0:
        raise SkyError(f"step {shown(text[:60])}: give a number above 0 with its unit, like 10d, 6h or 1y")
    return number * unit_days(_UNITS[parts[2]])


def year_table(design: Design, solution: SolutionAnswer, sky: Sequence[SkyBody], dates: TableDates) -> Iterator[str]:
    """The table as lines of CSV, its head first: the date in UTC, and of each body the mean longitude, the true one
    (empty where no source is good enough), the angle of its ring as the model shows it, set by mean longitudes at the
    first date and turned evenly since, and how far that is ahead of the mean one, the way that its body goes, -180 to
    180 [all in degrees].

    sky: the bodies of `sky_of(design)`. Raises SkyError before the first line where a source does not cover the dates.
    """
    for body in sky:
        body.mean(dates.first)
        body.mean(Moment(dates.first.days + (dates.rows - 1) * dates.step))
    return csv_lines(_rows(design, solution, sky, dates))


def _rows(
    design: Design, solution: SolutionAnswer, sky: Sequence[SkyBody], dates: TableDates
) -> Iterator[Sequence[object]]:
    yield ["date", *(f"{body.name} {column}" for body in sky for column in COLUMNS)]
    turning = body_rates(design, solution)
    ways = [1 if body.rate > 0 else -1 for body in sky]
    began = [Fraction(body.mean(dates.first)) for body in sky]
    for moment in dates.moments():
        days = moment.days - dates.first.days
        cells: list[object] = [civil(moment)]
        for body, start, rate, way in zip(sky, began, turning, ways, strict=True):
            mean, true = body.mean(moment), body.true(moment)
            shows = float((start + way * rate * days) % 360)
            turned = (mean, true, ring_angle(design, body, shows))
            cells += ["" if value is None else decimal(rounded_turn(value, _DECIMALS), _DECIMALS) for value in turned]
            cells.append(decimal(signed(way * (shows - mean)), _DECIMALS))
        yield cells
