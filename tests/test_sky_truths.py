"""True longitudes against DE421 of JPL, read by another library, and against the theories' own positions."""

from __future__ import annotations

import random

import pytest
from skies import PLANETS, SETS, apart, bodies, de421, tt

from solver.sky.moments import parse_moment

DATES = ("1900-01-17T03:00", "1931-05-02", "1969-07-20T20:17:40", "2013-11-28T18:45", "2049-12-30T23:59")


@pytest.mark.parametrize("date", DATES)
def test_planets_and_the_moon_stand_where_de421_has_them(date):
    moment = tt(date)
    moon = bodies("moon-months")
    with de421() as jpl:
        for name, body in bodies("planets-pluto").items():
            assert apart(body.true(moment), jpl.longitude(name, moment)) < 0.01, name
        assert apart(moon["Sidereal month"].true(moment), jpl.moon(moment)) < 0.005
        sun = jpl.longitude("Earth", moment) + 180
        assert apart(moon["Synodic month"].true(moment), jpl.moon(moment) - sun) < 0.006


def test_what_is_stated_of_a_planet_holds_at_many_dates():
    rng = random.Random(5)
    planets = bodies("planets-pluto")
    with de421() as jpl:
        for _ in range(40):
            moment = tt(f"{rng.randint(1900, 2050)}-{rng.randint(1, 12):02}-{rng.randint(1, 28):02}")
            for name in PLANETS:
                body = planets[name]
                assert apart(body.true(moment), jpl.longitude(name, moment)) < body.true_within, (name, moment)


# Where mean longitudes and true ones of two planets meet: DE421, heliocentric, geometric, J2000 ecliptic, TT; and the
# mean longitudes of Simon et al. 1994.
MEETINGS = [
    ("Jupiter", "Saturn", "1981-04-16T20:52", "1981-01-03T21:37"),
    ("Jupiter", "Saturn", "2020-11-02T18:31", "2020-09-22T19:21"),
    ("Earth", "Mars", "2020-10-13T23:19", "2020-09-24T07:22"),
    ("Earth", "Mars", "2022-12-08T05:35", "2022-11-13T05:50"),
    ("Venus", "Earth", "2012-06-06T01:04", "2012-06-05T15:44"),
    ("Mercury", "Earth", "2019-11-11T15:16", "2019-11-08T22:11"),
]


@pytest.mark.parametrize(("inner", "outer", "true", "mean"), MEETINGS)
def test_two_planets_meet_when_they_do(inner, outer, true, mean):
    """The true ones within an hour, the mean ones within three: by how far the inner one gains in that time."""
    planets = bodies("planets")
    fast, slow = planets[inner], planets[outer]
    mean_gain = float(fast.rate - slow.rate) / 24  # degrees an hour
    assert apart(fast.mean(tt(mean)), slow.mean(tt(mean))) < 3 * mean_gain
    one, other = tt(true), parse_moment("2000-01-01")
    later = type(other)(one.days + 1)
    gain = apart(fast.true(later), fast.true(one)) - apart(slow.true(later), slow.true(one))
    assert apart(fast.true(one), slow.true(one)) < gain / 24


# Jupiter's moons: L1.2, at 2000-01-01 and 2026-01-01, 0h TT.
GALILEAN = {
    "Io": (277.8239, 333.2759),
    "Europa": (162.7638, 278.7673),
    "Ganymede": (196.4735, 342.9874),
    "Callisto": (70.9856, 91.4450),
}


@pytest.mark.parametrize("moon", GALILEAN)
def test_jupiters_moons_stand_where_l12_has_them(moon):
    body = bodies("jupiter")[moon]
    for date, longitude in zip(("2000-01-01", "2026-01-01"), GALILEAN[moon]):
        assert apart(body.true(tt(date)), longitude) < 0.001


@pytest.mark.parametrize("name", SETS)
def test_no_body_strays_farther_from_its_mean_longitude_than_is_told(name):
    rng = random.Random(7)
    for body in bodies(name).values():
        if body.true_within is None:
            assert body.true(tt("2026-01-01")) is None and body.no_truth
            continue
        for _ in range(200):
            moment = tt(
                f"{rng.randint(1900, 2050)}-{rng.randint(1, 12):02}-{rng.randint(1, 28):02}T{rng.randint(0, 23):02}:00"
            )
            assert apart(body.true(moment), body.mean(moment)) <= body.greatest, (body.name, moment)


def test_mercury_strays_by_its_equation_of_centre():
    """2e + 11/48 e^3 ... gives 23.7 degrees for e = 0.2056 (textbooks); the tilt of its orbit adds up to 0.2."""
    mercury = bodies("planets")["Mercury"]
    days = [tt(f"2026-{month:02}-{day:02}") for month in range(1, 13) for day in range(1, 29)]
    most = max(apart(mercury.true(day), mercury.mean(day)) for day in days)
    assert 23.4 < most <= mercury.greatest == 23.9
