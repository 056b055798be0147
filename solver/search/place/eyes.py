"""How far the eyes, in which arms end, must be from what is in their gap: the rule `arm` looks at them as at arms.

An eye is a loop of the arm's own wire about what it holds: a post or stub, or a bush about what turns. It is longer
by its slot, which goes half an addendum each way at the most; an eye is taken to reach so far to all sides. It keeps
the clearance from the sleeve of the arbor in its gap and from what the stands of bodies sweep; two eyes of a gap, which
stand still, may touch each other, and no more.
"""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np

from solver.design.design import Design
from solver.search.place.arm_ways import ARBOR, MOTOR, ROLLER, THIRD, UM, WALL

BUSH = Fraction(1)  # mm, the wall of a bush about what turns in an eye (common practice, no source)
_PI = Fraction(22, 7)  # a little more than pi
_MOST = 2**63 - 1  # of whole numbers in arrays


class Eyes:
    """The eyes of one design. What they hold is an ARBOR, a THIRD gear (a motor's too), a MOTOR or a ROLLER."""

    def __init__(self, design: Design) -> None:
        fit, supports, sleeve = design.fit, design.supports, design.wire.arbor_diameter
        assert supports is not None
        around = supports.arm_mm + slot_mm(design)  # from what its wire is bent about
        turning = fit.post_radius + WALL / 2 if sleeve is None else sleeve / 2
        self.reach = {
            ARBOR: turning + BUSH + around,
            MOTOR: fit.post_radius + BUSH + around,
            THIRD: fit.post_radius + around,
            ROLLER: fit.post_radius + around,
        }
        """How far an eye reaches from what it holds [mm]."""
        self._sleeve, self._half = turning + fit.clearance, supports.arm_mm / 2

    def need(self, one: str, other: str) -> int:
        """Least square of the distance [square micrometres] of what two eyes of a gap hold. Beside an arbor its sleeve
        counts too, from which an eye keeps the clearance."""
        sleeves = [self.reach[by] + self._sleeve for arbor, by in ((one, other), (other, one)) if arbor == ARBOR]
        between = max([self.reach[one] + self.reach[other], *sleeves])
        return math.ceil((between * UM) ** 2)

    def clear_of(self, disc: Fraction | None, held: str, xs: np.ndarray, ys: np.ndarray) -> np.ndarray:
        """Which of these spots hold an eye outside of what stands sweep. disc: how far arms must stay from the main
        axis [micrometres] (`ArmWays.disc`); None: nothing is swept."""
        if disc is None:
            return np.ones(len(xs), bool)
        need = math.ceil((disc + (self.reach[held] - self._half) * UM) ** 2)
        exact = xs.dtype == object or ys.dtype == object
        found: np.ndarray = xs * xs + ys * ys >= (need if exact else min(need, _MOST))
        return found.astype(bool)


def slot_mm(design: Design) -> Fraction:
    """How far a slot goes each way at the most [mm]: half the addendum that gears are made with."""
    rings = design.rings
    if rings.addendum:
        return rings.addendum / 2
    return rings.pitch.value * (_PI if rings.pitch.is_module else 1) / 6
