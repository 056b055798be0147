"""Agol et al., Planet. Sci. J. 2:1, 2021: periods from a line through the transits forecast for 2015 to 2023."""

from __future__ import annotations

from fractions import Fraction

from solver.files.body_sets import body_sets

# Days.
PERIODS = {
    "b": "1.5108819",
    "c": "2.4218022",
    "d": "4.0494605",
    "e": "6.0994801",
    "f": "9.2068030",
    "g": "12.3535621",
    "h": "18.7667066",
}


def test_the_planets_of_trappist_1_have_the_periods_of_their_transits():
    assert dict(body_sets()["trappist-1"].periods) == {body: Fraction(days) for body, days in PERIODS.items()}
