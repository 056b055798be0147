"""ERFA: mean motions of the planets (plan94, Simon et al. 1994) and the Moon's arguments (IERS 2003)."""

from __future__ import annotations

from fractions import Fraction

import pytest

from solver.files.body_sets import body_sets

# Seconds of arc in 1000 Julian years (365250 days): Simon et al. 1994, as in ERFA plan94.
PLANETS = {
    "Mercury": "5381016286.88982",
    "Venus": "2106641364.33548",
    "Earth": "1295977422.83429",
    "Mars": "689050774.93988",
    "Jupiter": "109256603.77991",
    "Saturn": "43996098.55732",
    "Uranus": "15424811.93933",
    "Neptune": "7865503.20744",
}
# Days: the Moon's arguments of IERS 2003.
MONTHS = {
    "Draconic month": "27.212220821",
    "Sidereal month": "27.321661551",
    "Anomalistic month": "27.554549882",
    "Synodic month": "29.530588858",
}


@pytest.mark.parametrize("name", ["planets", "planets-ceres", "planets-pluto"])
def test_planets_have_the_periods_of_their_mean_motions(name):
    periods = dict(body_sets()[name].periods)
    for body, motion in PLANETS.items():
        assert round(Fraction(360 * 3600 * 365250) / Fraction(motion), 6) == periods.pop(body), body
    # Ceres: a fit to its longitudes of 1810 to 2390, worked out by the project. Pluto: see test_jpl.py.
    assert periods.pop("Ceres", None) == (Fraction("1681.5725") if name == "planets-ceres" else None)
    assert list(periods) == (["Pluto"] if name == "planets-pluto" else [])


def test_the_months_are_those_of_the_moons_arguments():
    assert dict(body_sets()["moon-months"].periods) == {month: Fraction(days) for month, days in MONTHS.items()}


def test_the_moons_phase_returns_after_26_years():
    """Its elongation from the Sun at 2000-01-01 12h and 2026-01-01 0h TT: ERFA, IERS 2003."""
    month = dict(body_sets()["moon-months"].periods)["Synodic month"]
    turned = float(360 * Fraction(18993, 2) / month % 360)
    assert abs((297.85020 + turned - 147.29905 + 180) % 360 - 180) < 0.01
