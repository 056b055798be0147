"""Numbers p + q * sqrt(s), exactly: where the line of an arm ends on the circle of a round frame."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class Surd:
    """p + q * sqrt(s), s not negative; all numbers that are reckoned together have the same s, or q = 0."""

    p: Fraction
    q: Fraction = Fraction(0)
    s: Fraction = Fraction(0)

    def __add__(self, other: Surd) -> Surd:
        return Surd(self.p + other.p, self.q + other.q, self.s or other.s)

    def __sub__(self, other: Surd) -> Surd:
        return Surd(self.p - other.p, self.q - other.q, self.s or other.s)

    def __mul__(self, other: Surd) -> Surd:
        s = self.s or other.s
        return Surd(self.p * other.p + self.q * other.q * s, self.p * other.q + self.q * other.p, s)

    def sign(self) -> int:
        """-1, 0 or 1."""
        p, q = self.p, self.q if self.s else Fraction(0)
        if p * q >= 0:
            return _sign(p + q)
        # Of different signs: the greater square decides.
        return _sign(p) * _sign(p * p - q * q * self.s)


def _sign(value: Fraction) -> int:
    return (value > 0) - (value < 0)
