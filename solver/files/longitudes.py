"""Where the bodies of a set stand in the mean, as its file says it beside the periods."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from solver.design.exact import parse_exact

J2000_JD = Fraction(2451545)  # 2000-01-01 12:00 TT
# What a rate may be told in, as degrees a day for one of it; periods are the other way up.
_RATES = {
    "degrees a day": Fraction(1),
    "degrees in 100 Julian years": Fraction(1, 36525),
    "arc seconds in 100 Julian years": Fraction(1, 3600 * 36525),
    "arc seconds in 1000 Julian years": Fraction(1, 3600 * 365250),
}
_PERIOD = "days a turn"


@dataclass(frozen=True)
class Swing:
    """How far a body is ahead of its line: degrees * sin(phase + rate * Julian years from a Julian day [TT]), phase and
    rate in radians. ring: how far [degrees] a ring that turns evenly strays from the body by that within 50 years."""

    degrees: float
    phase: float
    rate: float
    from_jd: Fraction
    ring: float


@dataclass(frozen=True)
class Longitude:
    """The mean longitude of a body: `at` [degrees] at the Julian day `from_jd` [TT], `rate` [degrees a day], both as in
    the source, and `square` [degrees for a square day].

    plane, zero: in which plane it is counted and from where; clockwise: whether it runs so, seen from the ecliptic's
    north. covers: civil dates between which the source is good. greatest: how far [degrees] the true longitude strays
    from the mean one, None where that is not known. argument: "F", "L", "l" or "D" for the Moon's, else "".
    theory: by what the true longitude is known, or "", and then no_truth says why there is none.
    """

    at: Fraction
    rate: Fraction
    square: Fraction
    from_jd: Fraction
    swing: Swing | None
    source: str
    plane: str
    zero: str
    clockwise: bool
    covers: tuple[str, str]
    greatest: float | None
    argument: str
    theory: str
    no_truth: str


def longitudes_of(table: Mapping[str, Any]) -> dict[str, Longitude]:
    """The table [longitudes] of a set's file, by body; what stands in `also`, the name of another set, not yet."""
    return {name: _longitude({**table, **entry}) for name, entry in table["bodies"].items()}


def _longitude(told: Mapping[str, Any]) -> Longitude:
    number, unit = parse_exact(told["rate"]), told["rate_in"]
    swing = told.get("swing")
    return Longitude(
        parse_exact(told["at"]),
        360 / number if unit == _PERIOD else number * _RATES[unit],
        parse_exact(told.get("square", 0)) / (3600 * 365250**2),  # arc seconds in (1000 Julian years)**2
        parse_exact(told["from_jd"]) if "from_jd" in told else J2000_JD,
        None if swing is None else _swing(swing),
        told["source"],
        told["plane"],
        told["zero"],
        told.get("clockwise", False),
        (told["covers"][0], told["covers"][1]),
        float(told["greatest"]) if "greatest" in told else None,
        told.get("argument", ""),
        told.get("theory", ""),
        told.get("no_truth", ""),
    )


def _swing(told: Mapping[str, str]) -> Swing:
    size, phase, rate, ring = (float(told[key]) for key in ("degrees", "phase", "rate", "ring"))
    return Swing(size, phase, rate, parse_exact(told["from_jd"]), ring)
