"""How two gears of involute teeth run, for the judge: textbook formulas, the basic rack of ISO 53 (from memory).

At the distance of their pitch radii they have no play and jam nowhere, as the rack cuts every root deeper than a tip
comes, and turn each other evenly; what they may lose is contact, where the rack has cut away too much of the involutes
of few teeth. Lengths in modules, angles in radians.
"""

from __future__ import annotations

from functools import lru_cache
from math import acos, atan2, cos, hypot, pi, radians, sin, sqrt, tan

from solver.check.gear_lengths import GearLengths, MadeGear, TurnedPair
from solver.check.plate_metal import too_little_metal

ANGLE = radians(20)
TIP, ROOT, ROUND = 1.0, 1.25, 0.38
_STEPS = 300
_TOUCH = 1e-7  # rad; nearer than this the curves touch


def involute_pair(made: GearLengths, one: MadeGear, other: MadeGear) -> TurnedPair:
    """How two gears of involutes run."""
    for gear in (one, other):
        if why := too_little_metal(made, gear.teeth, gear.ring, made.module * (gear.teeth / 2 - ROOT)):
            return TurnedPair(unmade=why)
    ratio = contact(one.teeth, other.teeth)
    return TurnedPair(slips="" if ratio >= 1 - 1e-6 else f"contact lasts {ratio:.3f} of a tooth")


@lru_cache(maxsize=1 << 14)
def contact(one: int, other: int) -> float:
    """Pitches for which a pair of teeth is in contact: along the line of action, before and after the pitch point, up
    to the mate's tip, or to where one's own involute begins."""
    sides = []
    for mine, his in ((one, other), (other, one)):
        reach = sqrt((his / 2 + TIP) ** 2 - (his / 2 * cos(ANGLE)) ** 2) - his / 2 * sin(ANGLE)
        begins = mine / 2 * sin(ANGLE) - sqrt(max(involute_from(mine) ** 2 - (mine / 2 * cos(ANGLE)) ** 2, 0.0))
        sides.append(min(reach, begins))
    return sum(sides) / (pi * cos(ANGLE))


@lru_cache(maxsize=1 << 10)
def involute_from(teeth: int) -> float:
    """The radius from which outwards a flank is an involute, cut by the rack.

    The middle of the rack's rounding goes past `aside` from the middle of the gap; when it is `along` from the line of
    centres the rounding cuts at the foot of the normal through the pitch point.
    """
    radius, depth = teeth / 2, ROOT - ROUND
    aside = pi / 4 - depth * tan(ANGLE) - ROUND / cos(ANGLE)
    base, last = radius * cos(ANGLE), depth / tan(ANGLE)

    def cut(along: float) -> tuple[float, float]:
        """How far out it cuts, and how far from the middle of the gap, as an angle."""
        long = 1 + ROUND / hypot(along, depth)
        x, y = radius - depth * long, along * long
        return hypot(x, y), atan2(y, x) - (along - aside) / radius

    def into_metal(along: float) -> float:
        far, angle = cut(along)
        pressure = acos(min(base / far, 1.0))
        gap = pi / 2 / teeth - (tan(ANGLE) - ANGLE) + tan(pressure) - pressure
        return angle - gap

    steps = [last * index / _STEPS for index in range(_STEPS + 1)]
    over = [along for along in steps if cut(along)[0] >= base and into_metal(along) > _TOUCH]
    if not over:
        return max(cut(last)[0], base)
    low, high = over[-1], over[-1] + last / _STEPS
    if high > last:
        return max(cut(last)[0], base)
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if into_metal(middle) > 0 else (low, middle)
    return cut(low)[0]
