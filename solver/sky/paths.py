"""Mean longitudes: lines with what the source adds to them, and the Moon's arguments."""

from __future__ import annotations

from fractions import Fraction
from math import degrees, pi, sin

import erfa

from solver.files.longitudes import J2000_JD, Longitude
from solver.sky.moments import Moment

_TURN = 2 * pi
_PRECESSION = 5028.796195 / 3600  # degrees in 100 Julian years, of the equinox along the ecliptic: IERS 2003


def mean_longitude(data: Longitude, moment: Moment) -> float:
    """Degrees, 0 to 360: the line exactly, then what is not a line in floats."""
    if data.argument:
        return moons_argument(data.argument, moment)
    days = moment.days + J2000_JD - data.from_jd
    line = (data.at + data.rate * days + data.square * days * days) % 360
    swing = 0.0
    if data.swing is not None:
        years = float(moment.days + J2000_JD - data.swing.from_jd) / 365.25
        swing = data.swing.degrees * sin(data.swing.phase + data.swing.rate * years)
    return within_turn(float(line) + swing)


def moons_argument(argument: str, moment: Moment) -> float:
    """F, l or D of IERS 2003 [degrees, 0 to 360], or L = F + Om less the precession since J2000."""
    centuries = float(moment.days) / 36525
    if argument == "F":
        angle = erfa.faf03(centuries)
    elif argument == "l":
        angle = erfa.fal03(centuries)
    elif argument == "D":
        angle = erfa.fad03(centuries)
    else:
        angle = erfa.faf03(centuries) + erfa.faom03(centuries) - _PRECESSION * centuries * pi / 180
    return within_turn(degrees(float(angle) % _TURN))


def within_turn(angle: float) -> float:
    """The angle [degrees], from 0 to less than 360; also -1e-20, whose remainder rounds to 360."""
    rest = angle % 360.0
    return 0.0 if rest >= 360.0 else rest


def signed(angle: float) -> float:
    """The angle [degrees], from -180 to less than 180."""
    return (angle + 180.0) % 360.0 - 180.0


def rounded_turn(angle: float, decimals: int) -> float:
    """The angle [degrees], so rounded that it stays below 360."""
    return round(within_turn(angle), decimals) % 360.0


def unit_days(unit: str) -> Fraction:
    """The days in a unit of periods; years are Julian years of 365.25 days."""
    return {"days": Fraction(1), "hours": Fraction(1, 24), "years": Fraction(1461, 4)}[unit]
