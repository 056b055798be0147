"""Mean longitudes of every set, against the theories that they are from and against other ephemerides."""

from __future__ import annotations

from fractions import Fraction

import erfa
import pytest
from skies import SATURN, SETS, apart, bodies, in_plane, tt

from solver.files.body_sets import body_sets
from solver.sky.moments import Moment, parse_moment

FIRST, LAST = "2000-01-01", "2026-01-01"  # 0h TT

# Jovicentric, in Jupiter's equator: L1.2, Lainey, Duriez and Vienne, at both dates.
JUPITER = {
    "Io": (278.1895, 332.8115),
    "Europa": (163.8072, 279.5605),
    "Ganymede": (196.6165, 342.9355),
    "Callisto": (70.1779, 90.6507),
}
# JPL, approximate elements 1800 to 2050 (Standish): degrees at J2000.0, degrees in 100 Julian years. Uranus and Neptune
# have mean longitudes of another kind there: 0.81 and 0.52 degrees off.
STANDISH = {
    "Mercury": (252.25032350, 149472.67411175),
    "Venus": (181.97909950, 58517.81538729),
    "Earth": (100.46457166, 35999.37244981),
    "Mars": (-4.55343205, 19140.30268499),
    "Jupiter": (34.39644051, 3034.74612775),
    "Saturn": (49.95424423, 1222.49362201),
    "Uranus": (313.23810451, 428.48202785),
    "Neptune": (-55.12002969, 218.45945325),
    "Pluto": (238.92903833, 145.20780515),
}
# GUST86, Laskar and Jacobson 1987: degrees at J2000.0, degrees a day.
URANUS = {
    "Miranda": (148.6817, 254.69065765),
    "Ariel": (23.1251, 142.83565787),
    "Umbriel": (71.3259, 86.86888788),
    "Titania": (101.6195, 41.35142456),
    "Oberon": (172.5976, 26.73948881),
}


@pytest.mark.parametrize("body", JUPITER)
def test_jupiters_moons_are_those_of_l12(body):
    one = bodies("jupiter")[body]
    for date, longitude in zip((FIRST, LAST), JUPITER[body]):
        assert apart(one.mean(tt(date)), longitude) < 0.001


@pytest.mark.parametrize("body", SATURN)
def test_saturns_moons_are_those_of_tass(body):
    """Enceladus and Titan have further long-period terms, and Mimas higher ones of half a degree and more."""
    one = bodies("saturn")[body]
    for date, longitude in zip((FIRST, LAST), SATURN[body]):
        assert apart(one.mean(tt(date)), longitude) < (0.7 if body == "Mimas" else 0.25)


@pytest.mark.parametrize("body", URANUS)
def test_uranus_moons_are_those_of_gust86(body):
    at, rate = URANUS[body]
    one = bodies("uranus")[body]
    assert one.clockwise
    assert apart(one.mean(tt("2000-01-01T12:00")), at) < 1e-9
    assert apart(one.mean(tt(LAST)), at + rate * 9496.5) < 1e-4


@pytest.mark.parametrize("date", ["1900-06-01", FIRST, LAST, "2050-06-01"])
def test_planets_are_within_what_two_sources_differ(date):
    """Simon et al. 1994 less Standish: 0.81 degrees for Uranus, -0.52 for Neptune; their motions of Jupiter and Saturn
    differ by 0.16 and 0.38 degrees in 100 years, and meet about 2028; else within 0.021."""
    moment = tt(date)
    off = abs(float(moment.days) / 36525 - 0.28)
    differ = {"Uranus": 0.9, "Neptune": 0.6, "Saturn": 0.03 + 0.39 * off, "Jupiter": 0.01 + 0.17 * off}
    for name, body in bodies("planets-pluto").items():
        at, rate = STANDISH[name]
        assert apart(body.mean(moment), at + rate * float(moment.days) / 36525) < differ.get(name, 0.021), name


def test_planets_are_those_of_simon_with_the_squares_of_plan94():
    """The elements that ERFA's plan94 prints, at 2026-01-01 0h TT: T = 0.0259999... thousand years."""
    thousand = 9496.5 / 365250
    told = {
        "Mercury": (252.25090552, 5381016286.88982, -1.92789),
        "Jupiter": (34.35151874, 109256603.77991, -30.60378),
        "Neptune": (304.34866548, 7865503.20744, 0.21103),
    }
    for name, (at, rate, square) in told.items():
        expected = at + (rate * thousand + square * thousand**2) / 3600
        assert apart(bodies("planets")[name].mean(tt(LAST)), expected) < 1e-6


@pytest.mark.parametrize("date", ["1850-01-01", "1999-07-01", FIRST, LAST, "2150-03-01T05:00"])
def test_laplace_keeps_three_moons_of_jupiter_together(date):
    """L(Io) - 3 L(Europa) + 2 L(Ganymede) = 180 degrees (Laplace), 180.001 by these means."""
    moons = bodies("jupiter")
    io, europa, ganymede = (moons[name].mean(tt(date)) for name in ("Io", "Europa", "Ganymede"))
    assert apart(io - 3 * europa + 2 * ganymede, 180.001) < 0.001


def test_the_moons_arguments_are_those_of_iers_2003():
    """At J2000.0 and at 2026-01-01 0h TT, as ERFA has them; L less 5028.796195 arc seconds in 100 years."""
    moon = bodies("moon-months")
    told = {"Synodic month": (297.85020, 147.29905), "Anomalistic month": (134.96340, 6.66957)}
    told |= {"Draconic month": (93.27209, 85.79639)}
    told |= {"Sidereal month": (93.27209 + 125.04456, 85.79639 + 342.16927 - 5028.796195 / 3600 * 0.26)}
    for month, (at, later) in told.items():
        assert apart(moon[month].mean(tt("2000-01-01T12:00")), at) < 1e-5
        assert apart(moon[month].mean(tt(LAST)), later) < 1e-4


def test_the_sun_was_eclipsed_where_the_moon_met_it_at_its_node():
    """Total eclipse of the Sun, 2026-08-12 17:45:47 UT (greatest eclipse): D and F by ERFA."""
    moon, moment = bodies("moon-months"), parse_moment("2026-08-12T17:45:47Z")
    assert apart(moon["Synodic month"].mean(moment), 354.869) < 0.001
    assert apart(moon["Draconic month"].mean(moment), 165.744) < 0.001
    assert apart(moon["Synodic month"].true(moment), 0) < 0.15  # in longitude, not yet across the Sun's path
    assert apart(moon["Draconic month"].true(moment), 180) < 15.4  # the greatest limit of a solar eclipse (textbooks)


@pytest.mark.parametrize(
    ("moon", "vector", "within"),
    [
        ("Mimas", (141171.060826, -116684.161401, -2077.575773), 2.9),
        ("Enceladus", (161899.814952, -173370.950279, -1184.989307), 0.8),
    ],
)
def test_saturns_moons_stand_where_vectors_of_another_theory_say(moon, vector, within):
    """IMCCE, NOE, JD 2451545.0, km along the equator of J2000. within: what the moon strays in a year [degrees]."""
    longitude = in_plane(vector, 40.589, 83.537)
    assert apart(bodies("saturn")[moon].mean(tt("2000-01-01T12:00")), longitude) < within


def test_transits_of_trappist_1_come_with_its_planets_between_their_star_and_us():
    """Times of transits [BJD less 2450000]: from the forecast of Agol et al. 2021."""
    times = {"b": 8757.85394, "c": 8757.68551, "d": 8759.46015, "e": 8758.27953, "f": 8757.78722, "g": 8752.46447}
    planets = bodies("trappist-1")
    for name, time in {**times, "h": 8769.80972}.items():
        moment = Moment(Fraction(str(time)) + 2450000 - 2451545)
        assert planets[name].mean(moment) == 0
        half = Moment(moment.days + 180 / planets[name].rate)
        assert apart(planets[name].mean(half), 180) < 1e-9


@pytest.mark.parametrize("name", SETS)
def test_periods_and_rates_of_a_set_are_one(name):
    """The set's period and the longitude's rate, each as its source prints it: by 2 in 100000 of Iapetus' 79.330183
    days (JPL) beside 79.3311669 (TASS), else less."""
    periods = dict(body_sets()[name].periods)
    for body in bodies(name).values():
        assert abs(360 / body.rate / periods[body.name] - 1) < Fraction(2, 100000), body.name


@pytest.mark.parametrize("name", SETS)
def test_a_mean_longitude_goes_on_at_its_rate(name):
    first = Moment(Fraction(4000))
    for body in bodies(name).values():
        part = 36 / body.rate
        went = body.mean(Moment(first.days + part)) - body.mean(first)
        assert apart(went, 36) < 0.05, body.name  # swings and squares


def test_no_longitude_is_told_that_a_library_would_tell_otherwise():
    """The Moon's mean longitude by ERFA's planetary argument fad03 plus that of the Earth seen from the Sun and half a
    turn: D = L - L(Sun), with the equinox of date in both."""
    moment = tt(LAST)
    centuries = float(moment.days) / 36525
    sun = bodies("planets")["Earth"].mean(moment) + 180
    elongation = float(erfa.fad03(centuries)) * 180 / 3.141592653589793
    assert apart(bodies("moon-months")["Sidereal month"].mean(moment) - sun, elongation) < 0.02
