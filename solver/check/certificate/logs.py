"""Whole parts of scaled logarithms of rational numbers, exact: no floats, integers alone.

ln x = k ln 2 + ln y with 1/2 < y < 2, ln y = 2 atanh z with z = (y - 1)/(y + 1), and atanh z is the sum of
z**(2j + 1)/(2j + 1). For 0 <= z <= 1/3 no term is negative: with each rounded down the sum is a lower bound; and what
is left out is at most 9/8 of the first term left out, as each is at most a ninth of the one before.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache


def _atanh2(n: int, d: int, one: int) -> tuple[int, int]:
    """(low, high) with low <= one * 2 atanh(n/d) <= high, for 0 <= n/d <= 1/3."""
    power, total, j = 2 * one * n // d, 0, 0
    while power:
        total += power // (2 * j + 1)
        power, j = power * n * n // (d * d), j + 1
    # A term is too small by less than 3: its power by less than 2 (1 for rounding, and a ninth of what came before),
    # its quotient by 1 more. The first power left out is below 2 then, and all after it below 9/8 of that.
    return total, total + 3 * j + 3


def _bounds(x: Fraction, one: int) -> tuple[int, int]:
    """(low, high) with low <= one * ln(x) <= high."""
    k = x.numerator.bit_length() - x.denominator.bit_length()
    n, d = x.numerator << max(-k, 0), x.denominator << max(k, 0)  # as many bits, so that 1/2 < n/d < 2
    low, high = _atanh2(abs(n - d), n + d, one)
    low, high = (low, high) if n >= d else (-high, -low)
    two = _atanh2(1, 3, one)
    return low + k * two[k < 0], high + k * two[k >= 0]


@lru_cache(maxsize=1 << 16)
def floor_log(x: Fraction, scale: int) -> int:
    """The greatest whole number that is not above scale * ln(x). x: above 0."""
    assert x > 0
    bits = 64
    while x != 1:  # ends: scale * ln(x) is never whole, as ln of a rational number other than 1 is not rational
        low, high = (scale * end >> bits for end in _bounds(x, 1 << bits))
        if low == high:
            return low
        bits *= 2
    return 0


def floor_log_root(square: Fraction, scale: int) -> int:
    """The greatest whole number that is not above scale * ln(root of the square)."""
    return floor_log(square, scale) // 2


def ceil_log_root(square: Fraction, scale: int) -> int:
    """The least whole number that is not below scale * ln(root of the square)."""
    return -floor_log_root(1 / square, scale)
