"""True longitudes, where a library knows them: counted in the plane and from the zero of the mean ones.

Planets and Jupiter's moons: astronomy-engine (VSOP87, Pluto integrated from TOP2013; L1.2), geometric. ERFA's plan94 is
a tenth as exact: 0.02 degrees of Saturn, by which it meets Jupiter six hours early. The Moon: ERFA moon98 (Meeus 1998).
What is in neither has no true longitude here: Saturn's and Uranus' moons, Ceres.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from math import atan2, cos, degrees, radians, sin
from typing import Any

import erfa

from solver.files.longitudes import Longitude
from solver.sky.moments import Moment
from solver.sky.paths import moons_argument, signed, within_turn

Vector = tuple[float, float, float]

_OBLIQUITY = radians(84381.406 / 3600)  # of the ecliptic of J2000: IAU 2006
_JUPITERS_POLE = (268.0701, 64.4980)  # right ascension and declination, J2000, as the mean longitudes of L1.2 take it


@dataclass(frozen=True)
class Truth:
    """How a true longitude is worked out. within: to how many degrees, None where there is none; missing: why not."""

    at: Callable[[Moment], float | None]
    within: float | None
    missing: str = ""


def truth_of(name: str, data: Longitude) -> Truth:
    """How the true longitude of a body is worked out. Bodies of sets are known by the theory of their mean one."""
    if data.theory == "planet":
        return Truth(lambda moment: ecliptic_longitude(_from_sun(name, moment)), 0.05)
    if data.theory == "l12":
        return Truth(lambda moment: _galilean(name.lower(), moment), 0.05)
    if data.theory == "moon":
        return Truth(lambda moment: _moon(data.argument, moment), 0.02)
    return Truth(_unknown, None, data.no_truth)


def _unknown(_: Moment) -> None:
    return None


def _from_sun(planet: str, moment: Moment) -> Vector:
    """Heliocentric, along the equator of J2000 [au]."""
    found = _astronomy().HelioVector(getattr(_astronomy().Body, planet), _time(moment))
    return (found.x, found.y, found.z)


def _galilean(name: str, moment: Moment) -> float:
    found = getattr(_astronomy().JupiterMoons(_time(moment)), name)
    return equatorial_angle((found.x, found.y, found.z), *_JUPITERS_POLE)


def _moon(argument: str, moment: Moment) -> float:
    """The Moon's geocentric longitude less what its mean argument is counted from: the mean node or perigee, the true
    Sun, or the equinox of J2000 [degrees]."""
    found = erfa.moon98(2451545.0, float(moment.days))
    longitude = ecliptic_longitude(found["p"].tolist())
    ahead = signed(longitude - moons_argument("L", moment))
    if argument == "D":
        x, y, z = _from_sun("Earth", moment)
        return longitude - ecliptic_longitude((-x, -y, -z))
    return moons_argument(argument, moment) + ahead


def ecliptic_longitude(equatorial: Vector) -> float:
    """The longitude [degrees, 0 to 360] on the ecliptic of J2000 of a vector along the equator of J2000."""
    x, y, z = equatorial
    return within_turn(degrees(atan2(y * cos(_OBLIQUITY) + z * sin(_OBLIQUITY), x)))


def equatorial_angle(equatorial: Vector, right_ascension: float, declination: float) -> float:
    """The angle [degrees, 0 to 360] of a vector along the equator of J2000 in the plane across a pole [degrees, J2000],
    from the plane's ascending node on that equator, counted counterclockwise about the pole."""
    x, y, z = equatorial
    node, tilt = radians(right_ascension + 90), radians(90 - declination)
    along = x * cos(node) + y * sin(node)
    across = (y * cos(node) - x * sin(node)) * cos(tilt) + z * sin(tilt)
    return within_turn(degrees(atan2(across, along)))


@cache
def _astronomy() -> Any:
    import astronomy  # takes a tenth of a second, and most sets do without it

    return astronomy


def _time(moment: Moment) -> Any:
    return _astronomy().Time.FromTerrestrialTime(float(moment.days))
