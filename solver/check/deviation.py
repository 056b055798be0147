"""How far a train's rates are from those that are wanted, in exact arithmetic; roots to 60 digits."""

from __future__ import annotations

from decimal import Context, Decimal
from fractions import Fraction

from solver.design.design import Design

_DIGITS = Context(prec=60)


def root_of(square: Fraction) -> Decimal:
    return _DIGITS.sqrt(_DIGITS.divide(Decimal(square.numerator), Decimal(square.denominator)))


def deviation(taken: Fraction, low: Fraction, high: Fraction) -> tuple[Fraction, Fraction]:
    """(error, signed period error) as fractions, where a turn takes `taken` and should take from low to high."""
    if taken > high:
        return taken / high - 1, taken / high - 1
    if taken < low:
        return low / taken - 1, taken / low - 1
    return Fraction(0), Fraction(0)


def against_the_first(design: Design, periods: list[Fraction]) -> tuple[Fraction | None, Fraction | Decimal]:
    rate = design.bodies[0].low
    worst = Fraction(0)
    for body, period in zip(design.bodies, periods, strict=True):
        taken = rate * period
        error = max(taken / body.high, body.low / taken, Fraction(1)) - 1
        if body.cap is not None and error > body.cap:
            return None, rate
        worst = max(worst, error)
    return (1 + worst) ** 2, rate


def against_the_best(design: Design, periods: list[Fraction]) -> tuple[Fraction | None, Fraction | Decimal]:
    """The least worst error over all common rates that keep each body within its own cap."""
    caps = [body.cap for body in design.bodies]
    slow = [period / body.high for body, period in zip(design.bodies, periods, strict=True)]
    fast = [period / body.low for body, period in zip(design.bodies, periods, strict=True)]
    square: Fraction | None = Fraction(1)
    for j, cap_j in enumerate(caps):
        for k, cap_k in enumerate(caps):
            spread = slow[j] / fast[k]
            if j == k or spread <= 1 or square is None:
                continue
            tight = min((cap for cap in (cap_j, cap_k) if cap is not None), default=None)
            if tight is None or spread <= (1 + tight) ** 2:
                square = max(square, spread)
                continue
            need = spread / (1 + tight) - 1
            if cap_j is not None and cap_k is not None and need > max(cap_j, cap_k):
                square = None
            else:
                square = max(square, (1 + need) ** 2)
    # The rate: the middle, on a logarithmic scale, of all rates that keep this worst error.
    one = Decimal(1)
    worst = root_of(square) - 1 if square is not None else Decimal("Infinity")
    reach = [one + (worst if cap is None else min(worst, _decimal(cap))) for cap in caps]
    if not all(value.is_finite() for value in reach):
        reach = [one] * len(reach)
    least = max(_DIGITS.divide(one, _DIGITS.multiply(_decimal(f), r)) for f, r in zip(fast, reach, strict=True))
    most = min(_DIGITS.divide(r, _decimal(s)) for s, r in zip(slow, reach, strict=True))
    return square, _DIGITS.sqrt(_DIGITS.multiply(least, most))


def _decimal(value: Fraction) -> Decimal:
    return _DIGITS.divide(Decimal(value.numerator), Decimal(value.denominator))
