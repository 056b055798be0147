"""The finest true longitudes at hand, for the times of meetings.

Jupiter and Saturn gain 3 minutes of arc on each other in a day: the 0.05 degrees of ERFA plan94 leave the time of
their conjunction open by many hours. astronomy-engine (VSOP87, its series cut) is within a minute of arc of DE421 for
the planets, and puts the conjunctions of 1981 and 2020 within 20 minutes (`tests/against/test_de421.py`).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from solver.sky.bodies import SkyBody
from solver.sky.moments import Moment
from solver.sky.truths import ecliptic_longitude

_PLANETS = frozenset(("Mercury", "Venus", "Earth", "Mars", "Jupiter", "Saturn", "Uranus", "Neptune"))
_SUN = "seen from the Sun"  # in words of the plane in which planets of a set are counted


def finest(body: SkyBody) -> Callable[[Moment], float | None]:
    """A body's true longitude [degrees, 0 to 360] by the finest source at hand; None where it has none."""
    if body.name in _PLANETS and body.true_within is not None and _SUN in body.plane:
        return partial(_planet, body.name)
    return body.true


def _planet(name: str, moment: Moment) -> float:
    import astronomy  # takes a tenth of a second

    at = astronomy.Time.FromTerrestrialTime(float(moment.days))
    found = astronomy.HelioVector(getattr(astronomy.Body, name), at)
    return ecliptic_longitude((found.x, found.y, found.z))
