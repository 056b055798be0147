"""Scaled logarithms for the CP-SAT model: integers that depend on an exact ratio and not on the way to it.

log_of(z) adds up round(SCALE * ln p) over the prime factors p of z, so the logarithm of a product of tooth counts
is a function of the product alone: trains that tie exactly have the same integers. It differs from
SCALE * ln(ratio) by at most half a unit for each prime factor, which `rounding.prime_slack` bounds.
"""

from __future__ import annotations

import math
from functools import lru_cache

SCALE = 10**9


@lru_cache(maxsize=4096)
def prime_factors(number: int) -> tuple[int, ...]:
    """Prime factors of a whole number from 1 on, with repetition, ascending."""
    factors, divisor = [], 2
    while divisor * divisor <= number:
        while number % divisor == 0:
            factors.append(divisor)
            number //= divisor
        divisor += 1
    if number > 1:
        factors.append(number)
    return tuple(factors)


@lru_cache(maxsize=4096)
def log_of(teeth: int) -> int:
    """Scaled logarithm of a tooth count."""
    return sum(round(SCALE * math.log(p)) for p in prime_factors(teeth))
