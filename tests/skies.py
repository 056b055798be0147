"""Bodies of the sets that ship, and outside positions of planets, for the tests of the sky."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from math import atan2, cos, degrees, radians, sin
from pathlib import Path

import skyfield_data
from jplephem.spk import SPK

from solver import parse_design
from solver.sky.bodies import SkyBody, sky_of
from solver.sky.moments import Moment, parse_moment

PLANETS = ("Mercury", "Venus", "Earth", "Mars", "Jupiter", "Saturn", "Uranus", "Neptune", "Pluto")
SETS = ("planets", "planets-ceres", "planets-pluto", "jupiter", "saturn", "uranus", "moon-months", "trappist-1")

# In Saturn's equator: TASS 1.7, Vienne and Duriez 1995, long-period terms in, [degrees] at 2000-01-01 0h
# and 2026-01-01 0h TT, 9497 days later.
SATURN = {
    "Mimas": (356.807, 8.280),
    "Enceladus": (51.069, 55.743),
    "Tethys": (91.738, 353.151),
    "Dione": (111.156, 98.414),
    "Rhea": (12.339, 108.723),
    "Titan": (356.271, 209.829),
    "Iapetus": (87.624, 344.549),
}
# Moons whose model is solved at once.
HALL = """
title = "Hall"
[bodies]
set = "jupiter"
[rings]
inner_teeth = 33
tooth_step = 4
blanks = 1
[fit]
directions = "none"
[search]
keep = 2
"""


def bodies(name: str) -> dict[str, SkyBody]:
    """The bodies of a set in the sky, by name."""
    return {body.name: body for body in sky_of(parse_design(f'[bodies]\nset = "{name}"\n'))}


def tt(text: str) -> Moment:
    """A date in TT."""
    return parse_moment(text, "tt")


def apart(one: float, other: float) -> float:
    """How far two angles are apart [degrees]."""
    return abs((one - other + 180) % 360 - 180)


def ecliptic(equatorial: tuple[float, float, float]) -> float:
    """Longitude on the ecliptic of J2000 [degrees]: obliquity 84381.448 arc seconds, IAU 1976."""
    x, y, z = equatorial
    tilt = radians(84381.448 / 3600)
    return degrees(atan2(y * cos(tilt) + z * sin(tilt), x)) % 360


def in_plane(vector: tuple[float, float, float], right_ascension: float, declination: float) -> float:
    """The angle [degrees] of a vector along the equator of J2000 about a pole, from that plane's ascending node on the
    equator: by the products of vectors."""
    pole_a, pole_d = radians(right_ascension), radians(declination)
    pole = (cos(pole_d) * cos(pole_a), cos(pole_d) * sin(pole_a), sin(pole_d))
    node = (-sin(pole_a), cos(pole_a), 0.0)
    third = (
        pole[1] * node[2] - pole[2] * node[1],
        pole[2] * node[0] - pole[0] * node[2],
        pole[0] * node[1] - pole[1] * node[0],
    )
    return degrees(atan2(sum(map(float.__mul__, vector, third)), sum(map(float.__mul__, vector, node)))) % 360


class De421:
    """DE421 of JPL, 1899 to 2053, by jplephem."""

    def __init__(self, kernel: SPK) -> None:
        self._kernel = kernel

    def longitude(self, planet: str, moment: Moment) -> float:
        """Heliocentric longitude on the ecliptic of J2000 [degrees], geometric."""
        found = self._at(0, PLANETS.index(planet) + 1, moment) - self._at(0, 10, moment)
        if planet == "Earth":
            found = found + self._at(3, 399, moment)
        return ecliptic(tuple(found.tolist()))

    def moon(self, moment: Moment) -> float:
        """The Moon's geocentric longitude on the ecliptic of J2000 [degrees], geometric."""
        return ecliptic(tuple((self._at(3, 301, moment) - self._at(3, 399, moment)).tolist()))

    def _at(self, center: int, target: int, moment: Moment):  # type: ignore[no-untyped-def]
        return self._kernel[center, target].compute(moment.jd)


@contextmanager
def de421() -> Iterator[De421]:
    """DE421 from the package skyfield-data."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ResourceWarning)  # jplephem leaves its file to the collector
        kernel = SPK.open(str(Path(skyfield_data.__file__).parent / "data" / "de421.bsp"))
        yield De421(kernel)
        kernel.close()
