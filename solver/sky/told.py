"""Drift in words and plain data: lengths of time, the rows of a table, the lines of a plot."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from solver.sky.drift import YEAR_DAYS, BodyDrift, Crossing, Drift
from solver.words.numbers import decimal
from solver.words.shown import shown

_MOST_YEARS = 1_000_000
_BEYOND = "over a million years"


def time_text(days: Fraction | None) -> str:
    """A length of time with three digits, in hours, days or years; "never" for none."""
    if days is None:
        return "never"
    if days < 1:
        return f"{_three(days * 24)} hours"
    if days < 2 * YEAR_DAYS:
        return f"{_three(days)} days"
    if days >= _MOST_YEARS * YEAR_DAYS:
        return _BEYOND
    return f"{_three(days / YEAR_DAYS)} years"


def crossing_text(when: Crossing) -> str:
    """When it is, and between which times the uncertainty of the period puts it, where three digits show that."""
    middle, early, late = time_text(when.days), time_text(when.earliest), time_text(when.latest)
    if middle == early == late:
        return middle
    if middle == _BEYOND:  # no more can be said of it than this
        return middle if early == _BEYOND else f"{early} at the soonest"
    if late == "never":
        return f"{middle} ({early} at the soonest)"
    number, unit = early.rsplit(" ", 1)
    return f"{middle} ({number if late.endswith(' ' + unit) else early} to {late})"


def turns_text(drift: Drift, days: Fraction, words: str = "today") -> str | None:
    """ "turn the crank 11.2 times for today": turns that bring the model so many days on; None without a drive."""
    if drift.drive is None:
        return None
    turns = drift.drive.turns(abs(days))
    back = " back" if days < 0 else ""
    if drift.drive.crank:
        return f"turn the crank {decimal(float(turns), 1)} times{back} for {words}"
    return f"the motor turns {decimal(float(turns), 1)} times{back} for {words}"


def sentences(drift: Drift) -> list[str]:
    """What is to be said beside the table, a line each."""
    clock = "a common rate" if drift.reference is None else f"{shown(drift.reference)} and its period in the file"
    said = [f"the clock is {clock}; positive: the ring runs ahead of its body"]
    if drift.again is None:
        said.append(f"no body is ever {decimal(float(drift.again_deg), 4)} degrees off")
    else:
        name, when = drift.again
        degrees = decimal(float(drift.again_deg), 4)
        said.append(f"set it again after {crossing_text(when)}: {shown(name)} is {degrees} degrees off then")
    for one in drift.bodies:
        if one.wrong_way:
            said.append(f"{shown(one.name)}: its ring turns the wrong way, and drifts at the sum of both rates")
        if one.librates is not None:
            swing = decimal(one.librates, 1)
            said.append(f"{shown(one.name)} librates: an even ring strays by up to {swing} degrees more in 50 years")
    if drift.left_out:
        names = ", ".join(map(shown, drift.left_out))
        said.append(f"a period range has no drift of its own: {names}")
    if drift.drive is not None:
        what = "the crank" if drift.drive.crank else "the motor"
        said.append(f"a year is {decimal(float(drift.drive.a_year), 2)} turns of {what}")
    return said


def a_year(rate: Fraction | None) -> str:
    """Degrees a day as degrees in a Julian year, signed; "" where it is not known."""
    if rate is None:
        return ""
    value = float(rate * YEAR_DAYS)
    return f"{value:+.4f}" if value == 0 or abs(value) >= 0.001 else f"{value:+.1e}"


def plain(drift: Drift) -> list[dict[str, Any]]:
    """The bodies of a drift as JSON data: rates in degrees in a Julian year, times in days, null for never."""
    return [_plain(drift, one) for one in drift.bodies]


def _plain(drift: Drift, one: BodyDrift) -> dict[str, Any]:
    def year(rate: Fraction | None) -> float | None:
        return None if rate is None else float(rate * YEAR_DAYS)

    def number(value: Fraction | None) -> float | None:
        return None if value is None else float(value)

    def turns(days: Fraction | None) -> float | None:
        return None if drift.drive is None or days is None else float(drift.drive.turns(days))

    return {
        "name": one.name,
        "gears_deg_a_year": year(one.gears),
        "period_deg_a_year": year(one.period),
        "deg_a_year": year(one.rate),
        "least_deg_a_year": year(one.least),
        "most_deg_a_year": year(one.most),
        "wrong_way": one.wrong_way,
        "off": [
            {
                "degrees": float(when.degrees),
                "days": number(when.days),
                "earliest_days": number(when.earliest),
                "latest_days": number(when.latest),
                "drive_turns": turns(when.days),
            }
            for when in one.crossings
        ],
    }


def _three(value: Fraction) -> str:
    """A number with three digits, no exponent."""
    number = float(value)
    return f"{number:,.0f}" if number >= 100 else f"{number:#.3g}".rstrip(".")
