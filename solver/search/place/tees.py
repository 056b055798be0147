"""Arms that begin on others: that of a third gear, square on the arm of its link's arbor, where `[supports]` has it so.

Such an arm is one line along a side of the frame, from the third gear to a leg of the arbor's arm that runs across. It
must be clear of what every arm is clear of, and so long that its eye is clear of the arm that it begins on, which may
carry one. Both must bend within the limit of the rule `sag`, each with what the other does to it. Everything but the
bending is reckoned in whole numbers and Fractions.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction
from itertools import pairwise

import numpy as np

from solver.design.arms import FAMILY, Coordinate
from solver.design.design import Design
from solver.design.train import Spot
from solver.search.place.arm_ways import THIRD, UM, ArmWays
from solver.search.place.eyes import Eyes
from solver.search.sagged import sagging_of

Spots = tuple[np.ndarray, np.ndarray]  # x and y of each place [micrometres]
Joined = Callable[[float, float, float], bool]
"""Whether two joined arms hold (`Sagging.joined_arms_hold`)."""
_OWN: list[tuple[Coordinate, Coordinate]] = [(None, None)]


class Tees:
    """The arms in the frame of one design that begin on others. least: how long they must be [mm]."""

    def __init__(self, arms: ArmWays, least: Fraction, holds: Joined) -> None:
        self.arms, self.least, self.holds = arms, least * UM, holds

    def reached(self, third: Spot, arbor: Spot, free: np.ndarray, disc: Fraction | None) -> bool:
        """Whether the arm of a third gear can begin on one of the arms of its link's arbor that are free, clear of that
        arbor and of a disc of that radius [micrometres] about the main axis."""
        numbers = np.flatnonzero(free).tolist()
        if not numbers:
            return False
        lengths = self.arms.lengths_mm(arbor)
        known: dict[tuple[Fraction, int], bool] = {}
        for number in numbers:
            for axis, at, before_mm in self._legs(number, third, arbor):
                key = at, axis
                if key not in known:
                    known[key] = self._clear(third, arbor, axis, at, disc)
                if known[key] and self.holds(
                    float(lengths[number]), float(lengths[number]) - before_mm, float(abs(at - third[axis])) / UM
                ):
                    return True
        return False

    def _legs(self, number: int, third: Spot, arbor: Spot) -> Iterator[tuple[int, Fraction, float]]:
        """The legs of an arbor's arm that a line from the third gear along a side of the frame ends square on: along
        which axis that line runs, how far from the main axis it ends there, and how far along the arm that is from the
        arbor [mm]."""
        corners = [*_OWN, *FAMILY[number]]
        before = 0.0
        for begin, end in pairwise(corners):
            # A leg along one axis keeps its coordinate across: both ends have the same.
            for along in (0, 1):
                across = 1 - along
                if begin[across] != end[across] or (end[along] is None):
                    continue
                start, stop, on = (
                    self._at(begin, along, arbor),
                    self._at(end, along, arbor),
                    self._at(end, across, arbor),
                )
                here = Fraction(third[along])
                last = abs(end[along] or 0) == 1
                if min(start, stop) <= here <= max(start, stop) and (not last or self._inside(here, on)):
                    yield across, on, before + float(abs(here - start)) / UM
                before += float(abs(stop - start)) / UM

    def _at(self, corner: tuple[Coordinate, Coordinate], axis: int, arbor: Spot) -> Fraction:
        share = corner[axis]
        return Fraction(arbor[axis]) if share is None else share * self.arms.half[axis]

    def _inside(self, one: Fraction, other: Fraction) -> bool:
        """Whether a spot is inside of a round frame."""
        return not self.arms.round or one * one + other * other <= self.arms.half[0] ** 2

    def _clear(self, third: Spot, arbor: Spot, axis: int, at: Fraction, disc: Fraction | None) -> bool:
        """Whether a line from the third gear, along an axis to so far from the main axis, is long enough, and clear."""
        if abs(at - third[axis]) < self.least:
            return False
        away = [(Fraction(arbor[0]), Fraction(arbor[1]), self.arms.arbor)]
        if disc is not None:
            away.append((Fraction(0), Fraction(0), disc))
        low, high = sorted((Fraction(third[axis]), at))
        for x, y, need in away:
            along, across = ((x, y)[axis], (x, y)[1 - axis])
            over = max(low - along, along - high, Fraction(0))
            if over * over + (across - third[1 - axis]) ** 2 < need * need:
                return False
        return True


def tees_of(design: Design, arms: ArmWays, eyes: Eyes) -> Tees | None:
    """Those of a design; None where arms begin at the frame alone."""
    supports, sagging = design.supports, sagging_of(design)
    if supports is None or not supports.on_arms:
        return None
    holds: Joined = (lambda long, at, tee: True) if sagging is None else sagging.joined_arms_hold
    return Tees(arms, eyes.reach[THIRD] + supports.arm_mm / 2, holds)


def links_reached(
    arms: ArmWays, tees: Tees | None, spots: list[Spots], free: list[np.ndarray], disc: Fraction | None
) -> np.ndarray:
    """At which places arms reach a link's arbor and its third gears. spots: of these in turn; free: which arms of each
    are, beside a disc of that radius about the main axis. tees: where arms may begin on arms."""
    found: np.ndarray = np.any(free[0], axis=1)
    own = [arms.past_own(*at, some, spots[0]) for at, some in zip(spots[1:], free[1:], strict=True)]
    if tees is None or not own:
        for one in own:
            found &= one
        return found
    missing: np.ndarray = np.sum([~one for one in own], axis=0)
    for index in np.flatnonzero(found & (missing == 1)).tolist():
        number = next(number for number, one in enumerate(own, start=1) if not one[index])
        third, arbor = ((int(spots[one][0][index]), int(spots[one][1][index])) for one in (number, 0))
        found[index] = tees.reached(third, arbor, free[0][index], disc)
    found &= missing < 2
    return found
