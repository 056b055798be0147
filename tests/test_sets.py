"""The periods that ship, against almanacs, theories of motion and printed tables."""

from __future__ import annotations

import math
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
# Days, as printed.
TABLES = {
    # JPL, Planetary Satellite Mean Elements
    "jupiter": {"Io": "1.769137786", "Europa": "3.551181041", "Ganymede": "7.15455296", "Callisto": "16.6890184"},
    "uranus": {
        "Miranda": "1.413479",
        "Ariel": "2.520379",
        "Umbriel": "4.144177",
        "Titania": "8.705872",
        "Oberon": "13.463239",
    },
    # JPL, Planetary Satellite Mean Elements; Rhea: TASS 1.7, Vienne and Duriez 1995
    "saturn": {
        "Mimas": "0.942422",
        "Enceladus": "1.370218",
        "Tethys": "1.887802",
        "Dione": "2.736915",
        "Rhea": "4.517502621",
        "Titan": "15.945421",
        "Iapetus": "79.330183",
    },
    # ERFA, IERS 2003
    "moon-months": {
        "Draconic month": "27.212220821",
        "Sidereal month": "27.321661551",
        "Anomalistic month": "27.554549882",
        "Synodic month": "29.530588858",
    },
    # A line through the transits of 2015 to 2023 that Agol et al., Planet. Sci. J. 2:1, 2021, forecast
    "trappist-1": {
        "b": "1.5108819",
        "c": "2.4218022",
        "d": "4.0494605",
        "e": "6.0994801",
        "f": "9.2068030",
        "g": "12.3535621",
        "h": "18.7667066",
    },
}


@pytest.mark.parametrize("name", TABLES)
def test_moons_and_exoplanets_have_the_periods_that_are_printed(name):
    assert dict(body_sets()[name].periods) == {body: Fraction(days) for body, days in TABLES[name].items()}


@pytest.mark.parametrize("name", ["planets", "planets-ceres", "planets-pluto"])
def test_planets_have_the_periods_of_their_mean_motions(name):
    periods = dict(body_sets()[name].periods)
    for body, motion in PLANETS.items():
        assert round(Fraction(360 * 3600 * 365250) / Fraction(motion), 6) == periods.pop(body), body
    # Ceres: a fit to its longitudes of 1810 to 2390, worked out by the project. Pluto: 145.20780515 degrees a century,
    # Standish, Keplerian elements for approximate positions of the major planets, 1800 to 2050.
    others = {"Ceres": Fraction("1681.5725"), "Pluto": round(36525 * 360 / Fraction("145.20780515"), 2)}
    assert periods == {body: others[body] for body in periods}


# Mean longitudes [degrees] at 2000-01-01 0h and 2026-01-01 0h TT, 9497 days later. Jupiter's: L1.2, Lainey, Duriez and
# Vienne 2004, as in astronomy-engine. Saturn's: TASS 1.7, Vienne and Duriez 1995.
LONGITUDES = {
    "jupiter": {
        "Io": (278.1895, 332.8115),
        "Europa": (163.8072, 279.5605),
        "Ganymede": (196.6165, 342.9355),
        "Callisto": (70.1779, 90.6507),
    },
    "saturn": {
        "Mimas": (356.807, 8.280),
        "Enceladus": (51.069, 55.743),
        "Tethys": (91.738, 353.151),
        "Dione": (111.156, 98.414),
        "Rhea": (12.339, 108.723),
        "Titan": (356.271, 209.829),
        "Iapetus": (87.624, 344.549),
    },
}


# Mimas and Tethys swing about their mean motion in 70.6 years: degrees times the sine of (radians plus 0.089045377 for
# each Julian year from JD 2444240.0). TASS 1.7.
SWINGS = {"Mimas": (43.3962, 0.686346), "Tethys": (2.0610, 3.827939)}


def swing(body: str, day: float) -> float:
    """How far a moon is ahead of its mean motion [degrees] at a Julian day."""
    size, phase = SWINGS.get(body, (0.0, 0.0))
    return size * math.sin(phase + 0.089045377 * (day - 2444240.0) / 365.25)


@pytest.mark.parametrize("name", LONGITUDES)
def test_moons_stand_where_they_should_after_26_years(name):
    """With 4.518212 days, which is wrong in the fourth figure, Rhea would be 119 degrees off by then."""
    periods = dict(body_sets()[name].periods)
    for body, (first, last) in LONGITUDES[name].items():
        went = last - swing(body, 2461041.5) - first + swing(body, 2451544.5)
        turned = float(360 * 9497 / periods[body] % 360)
        assert abs((turned - went + 180) % 360 - 180) < 0.75, body


def test_the_moons_phase_returns_after_26_years():
    """Its elongation from the Sun at 2000-01-01 12h and 2026-01-01 0h TT: ERFA, IERS 2003."""
    month = dict(body_sets()["moon-months"].periods)["Synodic month"]
    turned = float(360 * Fraction(18993, 2) / month % 360)
    assert abs((297.85020 + turned - 147.29905 + 180) % 360 - 180) < 0.01
