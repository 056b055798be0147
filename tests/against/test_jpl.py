"""JPL: Planetary Satellite Mean Elements; Standish, Keplerian elements for approximate positions of the planets."""

from __future__ import annotations

from fractions import Fraction

import pytest

from solver.files.body_sets import body_sets

# Days, as printed.
SATELLITES = {
    "jupiter": {"Io": "1.769137786", "Europa": "3.551181041", "Ganymede": "7.15455296", "Callisto": "16.6890184"},
    "uranus": {
        "Miranda": "1.413479",
        "Ariel": "2.520379",
        "Umbriel": "4.144177",
        "Titania": "8.705872",
        "Oberon": "13.463239",
    },
    "saturn": {
        "Mimas": "0.942422",
        "Enceladus": "1.370218",
        "Tethys": "1.887802",
        "Dione": "2.736915",
        "Titan": "15.945421",
        "Iapetus": "79.330183",
    },
}
OTHERS = {"saturn": {"Rhea"}}  # see test_tass17.py


@pytest.mark.parametrize("name", SATELLITES)
def test_moons_have_the_periods_that_are_printed(name):
    periods = dict(body_sets()[name].periods)
    printed = SATELLITES[name]
    assert {body: periods[body] for body in printed} == {body: Fraction(days) for body, days in printed.items()}
    assert set(periods) - set(printed) == OTHERS.get(name, set())


def test_pluto_has_the_period_of_its_mean_motion():
    # 145.20780515 degrees a century, 1800 to 2050.
    period = round(36525 * 360 / Fraction("145.20780515"), 2)
    assert dict(body_sets()["planets-pluto"].periods)["Pluto"] == period
