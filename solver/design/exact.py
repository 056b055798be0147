"""Exact numbers: what a user wrote becomes a Fraction, and pi is fenced in between two of them."""

from __future__ import annotations

import math
import re
from decimal import Decimal, InvalidOperation
from fractions import Fraction

from solver.words.misread import hint_of_number

# pi to 50 decimals, cut off and raised by one in the last place (value from memory; the tests compare it
# with math.pi and with Machin's formula in exact arithmetic).
PI_LOW = Fraction(314159265358979323846264338327950288419716939937510, 10**50)
PI_HIGH = PI_LOW + Fraction(1, 10**50)

MAX_DIGITS = 60
MAX_EXPONENT = 60

_FRACTION = re.compile(r"\s*\+?(\d+)\s*/\s*(\d+)\s*")


class NotExact(ValueError):
    """The text or value is not a finite number that can be read exactly; the message says why."""


def parse_exact(value: object) -> Fraction:
    """Read a decimal, an integer or a fraction "a/b" exactly as it was written.

    Accepts int, Decimal, Fraction and str; at most 60 digits and a decimal exponent within ±60, so that a
    hostile exponent cannot fill the memory. Raises NotExact.
    """
    if isinstance(value, bool):
        raise NotExact("true and false are not numbers")
    if isinstance(value, Fraction):
        return value
    if isinstance(value, int):
        if abs(value) >= 10**MAX_DIGITS:
            raise NotExact(f"more than {MAX_DIGITS} digits")
        return Fraction(value)
    if isinstance(value, str):
        if len(value) > 4 * MAX_DIGITS:
            raise NotExact(f"more than {MAX_DIGITS} digits")
        if not value.isascii() or "_" in value:  # Python reads the digits of every script, and 1_000
            raise NotExact("not a number in digits from 0 to 9")
        parts = _FRACTION.fullmatch(value)
        if parts:
            if max(map(len, parts.groups())) > MAX_DIGITS:
                raise NotExact(f"more than {MAX_DIGITS} digits")
            if int(parts[2]) == 0:
                raise NotExact("the denominator is zero")
            return Fraction(int(parts[1]), int(parts[2]))
        text = value
        try:
            value = Decimal(text.strip())
        except InvalidOperation:
            raise NotExact(hint_of_number(text) or "not a number") from None
    if isinstance(value, Decimal):
        if not value.is_finite():
            raise NotExact("not a finite number")
        _, digits, exponent = value.as_tuple()
        assert isinstance(exponent, int)
        if len(digits) > MAX_DIGITS:
            raise NotExact(f"more than {MAX_DIGITS} digits")
        if abs(exponent) > MAX_EXPONENT:
            raise NotExact(f"an exponent beyond ±{MAX_EXPONENT}")
        return Fraction(value)
    raise NotExact("not a number")


def ceil_times_pi(factor: Fraction) -> int:
    """Least integer not below `factor * pi`.

    For a rational factor other than 0 the product is irrational, so both bounds of pi give the same integer
    unless it lies within 1e-50 of one; then the larger, safe one is returned.
    """
    return math.ceil(factor * (PI_HIGH if factor > 0 else PI_LOW))


def floor_times_pi(factor: Fraction) -> int:
    """Greatest integer that is surely not above `factor * pi`."""
    return math.floor(factor * (PI_LOW if factor > 0 else PI_HIGH))


def log_fraction(value: Fraction) -> float:
    """Natural logarithm of a positive Fraction; the error stays below 1e-13 for the sizes that files allow."""
    return math.log(value.numerator) - math.log(value.denominator)


def float_below(value: Fraction) -> float:
    """The greatest float that is not above the value."""
    nearest = float(value)
    return nearest if nearest <= value else math.nextafter(nearest, -math.inf)


def float_above(value: Fraction) -> float:
    """The least float that is not below the value."""
    return 0.0 - float_below(-value)  # never -0.0


def error_below(square: Fraction, whole: int = 1) -> float:
    """The greatest float E with (1 + E/whole)**2 not above the square: for bounds, which round down. whole: 100 for
    percent, 1 for a fraction."""
    large = square > 2**1000  # as a float it, or its square, could be too large
    found = float(math.isqrt(int(square))) if large else float(square - 1) / (math.sqrt(square) + 1)
    found *= whole  # a few units in the last place off at most
    while (1 + Fraction(found) / whole) ** 2 > square:
        found = math.nextafter(found, -math.inf)
    while (1 + Fraction(further := math.nextafter(found, math.inf)) / whole) ** 2 <= square:
        found = further
    return found


def error_above(square: Fraction, whole: int = 1) -> float:
    """The least float E with (1 + E/whole)**2 not below the square: for errors, which round up."""
    found = error_below(square, whole)
    return found if (1 + Fraction(found) / whole) ** 2 == square else math.nextafter(found, math.inf)


def fraction_text(value: Fraction) -> str:
    """ "7/3" or "2": the exact text used in answers and hashes."""
    return str(value)
