"""Where rings can stand against one another: lattices of positions that their teeth allow, exact.

The mathematics. A mesh of two gears with Z and a teeth, whose axes stand, holds as long as Z*x + a*y is whole, where x
and y are how far each was turned since it was put in mesh [turns, counterclockwise], in any order and by any hand: a
tooth of the one passes the line of centres as a tooth of the other comes, and both turn against each other. A third
gear c between them gives Z*x + c*t and c*t + a*y, so that Z*x - a*y is whole and c drops out. (Counting teeth; common
practice, no source.) A link has ring i (Z teeth, turned by x), arbor (wheel a, pinion b, turned by t) and ring i+1
(Z' teeth, turned by x'):

    Z*x + u*a*t = n   and   Z'*x' + v*b*t = n'   (n, n' whole; u, v = +1 plain, -1 with a third gear on that side)

Without t:  Z'*x' = s*(b/a)*Z*x + n' - s*(b/a)*n,  s = u*v: -1 where the link reverses. n, and with it the turn of the
arbor by whole teeth of its wheel, can be chosen as the arbor is lifted, n' as ring i+1 is turned beside it. So in teeth
y = Z*x:

    y' = s*(b/a)*y + k*b/a + m   (k, m whole)

of which k*b/a + m are all multiples of gcd(a, b)/a: ring i+1 has steps of gcd(a, b)/(a*Z') of a turn, about what the
link itself gives it where ring i stands off by e: s*e times b*Z/(a*Z').

What follows from it, and is used here:
- A whole tooth of ring i moves the lattice of ring i+1 by b/a, onto itself. So only y modulo 1 matters to what lies
  beyond, whole turns of the drive open no new positions, and whole teeth of a blank do what teeth of the next wheel do.
- Beyond a blank, all that its arbor can do counts: y' of the next body has steps of the greatest common divisor of what
  every arbor on the way moves it by for a tooth of its wheel, and of whole teeth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from math import gcd, lcm

from solver.design.links import KIND_BY_NAME
from solver.design.train import Link, Train


@dataclass(frozen=True)
class Stretch:
    """The links from ring `start`, which has its place, to ring `end`, which is to be set; blanks between.

    inner, outer: teeth of both rings. ratio: turns that ring `end` follows by for a turn of ring `start`, with its
    sign. shares: teeth that ring `end` is moved on by for a tooth of each link's wheel, from the inside out; what it
    is moved by next to itself is counterclockwise, and a link that reverses turns what is moved before it.
    """

    start: int
    end: int
    inner: int
    outer: int
    ratio: Fraction
    shares: tuple[Fraction, ...]

    @cached_property
    def step(self) -> Fraction:
        """Between neighbouring positions of ring `end`, as ring `start` stands [turns]."""
        return common((*self.shares, Fraction(1))) / self.outer


def follows(link: Link) -> Fraction:
    """Teeth by which the outer ring follows for a tooth of the inner one, negative where the link reverses."""
    return Fraction(-link.pinion if KIND_BY_NAME[link.kind].reverses else link.pinion, link.wheel)


def wheel_moves(link: Link) -> int:
    """How many places a wheel has: so many of its teeth on, the pinion stands as before, but for whole teeth."""
    return link.wheel // gcd(link.wheel, link.pinion)


def common(numbers: Sequence[Fraction]) -> Fraction:
    """The greatest number of which all of these are multiples."""
    under = lcm(*(one.denominator for one in numbers))
    return Fraction(gcd(*(one.numerator * (under // one.denominator) for one in numbers)), under)


def stretches(train: Train, rings: Sequence[int]) -> tuple[Stretch, ...]:
    """From ring 0 to each of these rings in turn, ascending; ring 0 itself is left out."""
    found, start = list[Stretch](), 0
    for end in rings:
        if end == start:
            continue
        ratio, shares = Fraction(1), list[Fraction]()
        for link in reversed(train.links[start:end]):
            shares.append(ratio * Fraction(link.pinion, link.wheel))
            ratio *= follows(link)
        inner, outer = train.rings[start], train.rings[end]
        found.append(Stretch(start, end, inner, outer, ratio * inner / outer, tuple(reversed(shares))))
        start = end
    return tuple(found)
