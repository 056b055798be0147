"""TASS 1.7: the moons of Saturn. Vienne and Duriez 1995."""

from __future__ import annotations

import math
from fractions import Fraction

from skies import SATURN

from solver.files.body_sets import body_sets

# Mimas and Tethys swing about their mean motion in 70.6 years: degrees times the sine of (radians plus 0.089045377 for
# each Julian year from JD 2444240.0).
SWINGS = {"Mimas": (43.3962, 0.686346), "Tethys": (2.0610, 3.827939)}


def swing(body: str, day: float) -> float:
    """How far a moon is ahead of its mean motion [degrees] at a Julian day."""
    size, phase = SWINGS.get(body, (0.0, 0.0))
    return size * math.sin(phase + 0.089045377 * (day - 2444240.0) / 365.25)


def test_rhea_has_the_period_of_its_mean_motion():
    assert dict(body_sets()["saturn"].periods)["Rhea"] == Fraction("4.517502621")


def test_moons_stand_where_they_should_after_26_years():
    """With 4.518212 days, which is wrong in the fourth figure, Rhea would be 119 degrees off by then."""
    periods = dict(body_sets()["saturn"].periods)
    for body, (first, last) in SATURN.items():
        went = last - swing(body, 2461041.5) - first + swing(body, 2451544.5)
        turned = float(360 * 9497 / periods[body] % 360)
        assert abs((turned - went + 180) % 360 - 180) < 0.75, body
