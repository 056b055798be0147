"""Whole parts of scaled logarithms of rational numbers, exact: no floats, integers alone.

ln x = k ln 2 + ln y with 2/3 <= y <= 4/3, ln y = 2 atanh z with z = (y - 1)/(y + 1), and atanh z is the sum of
z**(2j + 1)/(2j + 1). For 0 < z <= 1/3 all terms are positive: with each rounded down the sum is a lower bound; and what
is left out is at most 9/8 of the first term left out, as each is at most a ninth of the one before.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache


def _atanh2(n: int, d: int, one: int) -> tuple[int, int]:
    """(low, high) with low <= one * 2 atanh(n/d) <= high, for 0 < n/d <= 1/3."""
    power, total, j = 2 * one * n // d, 0, 0
    while power:
        total += power // (2 * j + 1)
        power, j = power * n * n // (d * d), j + 1
    # A term is too small by less than 3: its power by less than 2 (1 for rounding, and a ninth of what came before),
    # its quotient by 1 more. The first power left out is below 2 then, and all after it below 9/8 of that.
    return total, total + 3 * j + 3


def _bounds(x: Fraction, one: int) -> tuple[int, int]:
    """(low, high) with low <= one * ln(x) <= high."""
    n, d, k = x.numerator, x.denominator, 0
    k = n.bit_length() - d.bit_length()
    n, d = (n, d << k) if k >= 0 else (n << -k, d)
    if 3 * n > 4 * d:
        d, k = 2 * d, k + 1
    elif 3 * n < 2 * d:
        n, k = 2 * n, k - 1
    low, high = (0, 0)
    if n > d:
        low, high = _atanh2(n - d, n + d, one)
    elif n < d:
        high, low = (-end for end in _atanh2(d - n, d + n, one))
    two = _atanh2(1, 3, one)
    return low + k * two[k < 0], high + k * two[k >= 0]


@lru_cache(maxsize=1 << 16)
def floor_log(x: Fraction, scale: int) -> int:
    """The greatest whole number that is not above scale * ln(x). x: above 0."""
    if x <= 0:
        raise ValueError(f"{x}: has no logarithm")
    if x == 1:
        return 0
    bits = 64
    while True:  # ends: scale * ln(x) is never whole, as ln of a rational number other than 1 is not rational
        low, high = (scale * end >> bits for end in _bounds(x, 1 << bits))
        if low == high:
            return low
        bits *= 2


def ceil_log(x: Fraction, scale: int) -> int:
    """The least whole number that is not below scale * ln(x)."""
    return -floor_log(1 / x, scale)
