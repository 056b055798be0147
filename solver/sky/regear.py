"""Which arbors are lifted, and by how many teeth they are turned on, to move one ring by so much: the fewest moves.

Each arbor has as many different places as its wheel has teeth, less those in which the pinion stands as before. The
last ring is turned on by whole teeth beside; blanks are not, as that does no more than teeth of the next wheel does
(`chain`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import lcm

from solver.design.train import Link
from solver.sky.chain import Stretch, common, wheel_moves


@dataclass(frozen=True)
class Regear:
    """wheels: for each link of a stretch, teeth of its wheel that the outer ring is carried on by (positive:
    counterclockwise). ring: whole teeth that the last ring is turned on beside."""

    wheels: tuple[int, ...]
    ring: int

    @property
    def order(self) -> tuple[int, int, tuple[int, ...]]:
        """What comes first: fewest arbors lifted, then fewest teeth counted, then by the numbers themselves."""
        *others, last = self.wheels
        lifted = sum(one != 0 for one in others) + (last != 0 or self.ring != 0)
        return lifted, sum(map(abs, self.wheels)) + abs(self.ring), (*self.wheels, self.ring)


def fewest(links: Sequence[Link], stretch: Stretch, teeth: Fraction) -> Regear:
    """What moves the last ring of a stretch by so many of its teeth (positive: counterclockwise) beyond where it
    follows; links: of the stretch. Raises ValueError where its teeth do not allow that."""
    under = lcm(teeth.denominator, *(share.denominator for share in stretch.shares))
    shares = [int(share * under) for share in stretch.shares]
    places = [wheel_moves(link) for link in links]
    # What all links from each on can do together, and whole teeth of the ring.
    steps = [int(common((*stretch.shares[index:], Fraction(1))) * under) for index in range(len(shares))] + [under]
    solving = _Solving(shares, places, steps)
    need = int(teeth * under)
    if need % steps[0]:
        raise ValueError(f"ring {stretch.end} moves by multiples of {Fraction(steps[0], under)} teeth, not by {teeth}")
    for lifted in range(len(links) + 1):
        found = [Regear(wheels, left // under) for wheels, left in solving.ways(0, need, lifted)]
        if found:
            return min(found, key=lambda one: one.order)
    raise AssertionError("with every arbor lifted, every multiple of the step is reached")


@dataclass(frozen=True)
class _Solving:
    """Lengths in parts of a tooth; steps: what the links from each on can do, the last: a tooth."""

    shares: Sequence[int]
    places: Sequence[int]
    steps: Sequence[int]

    def ways(self, link: int, need: int, lifted: int) -> Iterator[tuple[tuple[int, ...], int]]:
        """Every choice of teeth for the links from this one on that moves by `need` but for whole teeth, with at most
        so many lifted; and what is left for these."""
        if link == len(self.shares):
            yield (), need
            return
        places, last = self.places[link], link == len(self.shares) - 1
        for teeth in range(-((places - 1) // 2), places // 2 + 1):
            left = need - teeth * self.shares[link]
            moved = teeth != 0 or (last and left != 0)
            if left % self.steps[link + 1] == 0 and moved <= lifted:
                for more, rest in self.ways(link + 1, left, lifted - moved):
                    yield (teeth, *more), rest
