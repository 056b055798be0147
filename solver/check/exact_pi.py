"""Pi between two Fractions, found by the judge on its own."""

from __future__ import annotations

from fractions import Fraction


def _arctan_inverse(n: int, terms: int) -> Fraction:
    return sum((Fraction((-1) ** k, (2 * k + 1) * n ** (2 * k + 1)) for k in range(terms)), Fraction(0))


def _fenced_pi() -> tuple[Fraction, Fraction]:
    """Two Fractions, 3e-40 apart, with pi between them: Machin's formula 16 atan(1/5) - 4 atan(1/239)."""
    value = 16 * _arctan_inverse(5, 34) - 4 * _arctan_inverse(239, 12)
    scaled = value.numerator * 10**40 // value.denominator
    return Fraction(scaled - 1, 10**40), Fraction(scaled + 2, 10**40)


PI_LOW, PI_HIGH = _fenced_pi()
