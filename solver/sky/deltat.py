"""Delta T, TT less UT1, before there was UTC: polynomials of Espenak and Meeus (2006), Five Millennium Canon of Solar
Eclipses, values from memory (a test compares them with another library's)."""

from __future__ import annotations

# Up to which year; from which year the argument counts and in how many years; coefficients by rising powers.
_PIECES: tuple[tuple[float, float, float, tuple[float, ...]], ...] = (
    (500, 0, 100, (10583.6, -1014.41, 33.78311, -5.952053, -0.1798452, 0.022174192, 0.0090316521)),
    (1600, 1000, 100, (1574.2, -556.01, 71.23472, 0.319781, -0.8503463, -0.005050998, 0.0083572073)),
    (1700, 1600, 1, (120, -0.9808, -0.01532, 1 / 7129)),
    (1800, 1700, 1, (8.83, 0.1603, -0.0059285, 0.00013336, -1 / 1174000)),
    (1860, 1800, 1, (13.72, -0.332447, 0.0068612, 0.0041116, -0.00037436, 0.0000121272, -0.0000001699, 0.000000000875)),
    (1900, 1860, 1, (7.62, 0.5737, -0.251754, 0.01680668, -0.0004473624, 1 / 233174)),
    (1920, 1900, 1, (-2.79, 1.494119, -0.0598939, 0.0061966, -0.000197)),
    (1941, 1920, 1, (21.20, 0.84493, -0.076100, 0.0020936)),
    (1961, 1950, 1, (29.07, 0.407, -1 / 233, 1 / 2547)),
)


def delta_t(year: float) -> float:
    """TT less UT1 [s] at a year with its decimals, from 1 to 1960."""
    _, start, unit, powers = next(piece for piece in _PIECES if year < piece[0])
    argument = (year - start) / unit
    return sum(number * argument**power for power, number in enumerate(powers))
