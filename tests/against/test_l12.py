"""L1.2: the moons of Jupiter. Lainey, Duriez and Vienne 2004, as in astronomy-engine."""

from __future__ import annotations

from solver.files.body_sets import body_sets

# Mean longitudes [degrees] at 2000-01-01 0h and 2026-01-01 0h TT, 9497 days later.
LONGITUDES = {
    "Io": (278.1895, 332.8115),
    "Europa": (163.8072, 279.5605),
    "Ganymede": (196.6165, 342.9355),
    "Callisto": (70.1779, 90.6507),
}


def test_moons_stand_where_they_should_after_26_years():
    periods = dict(body_sets()["jupiter"].periods)
    for body, (first, last) in LONGITUDES.items():
        turned = float(360 * 9497 / periods[body] % 360)
        assert abs((turned - (last - first) + 180) % 360 - 180) < 0.75, body
