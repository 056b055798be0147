"""How two gears with saw teeth run: the judge's own way, beside `running`.

Where two such teeth touch, one of them does with the bend at its tip, which is a disc to the flanks of the other. So
the two are turned together in small steps, and at each the tips of both must stand in gaps of the other: those of the
other leave the one a range of turns as pins do; how near to a flank its own tips may come is found by halving. Plane
geometry; lengths in mm, angles in radians.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from math import acos, atan2, ceil, cos, hypot, inf, sin
from typing import Protocol

from solver.check.gear_lengths import SLACK, GearLengths, TurnedPair
from solver.check.running_saw import SawTeeth

STEPS = 60  # to a pitch
_HALVINGS = 26  # of a pitch: to a millionth of a mm


class TurnedTeeth(Protocol):
    """A gear with saw teeth as the tips of the other see it; lengths as in `running`."""

    radius: float
    step: float
    tip: float
    outermost: float

    def half_gap(self, far: float) -> float: ...


def short_of(made: GearLengths) -> GearLengths:
    """The lengths of short teeth: half as high, on a rim twice as wide."""
    return replace(made, addendum=made.addendum / 2, rim=2 * made.rim)


@lru_cache(maxsize=1 << 14)
def short_third(made: GearLengths, ring: int, third: int) -> TurnedPair:
    """How a ring and a third gear with short teeth run."""
    gears = SawTeeth(made, ring, True, True), SawTeeth(short_of(made), third, False, True)
    for teeth, gear in zip((ring, third), gears, strict=True):
        if gear.unmade:
            return TurnedPair(unmade=f"the gear of {teeth} teeth {gear.unmade}")
    play, strays, slips = turned_together(*gears, SLACK)
    return TurnedPair(play, strays, "a tip can come past another" if slips else "")


def turned_together(one: TurnedTeeth, other: TurnedTeeth, slack: float) -> tuple[float, float, bool]:
    """Least play [mm at the pitch circle of `one`, the other held], straying [share of a pitch], and whether they slip,
    at the distance of their pitch radii. slack: in mm, of what is compared."""
    centres, tooth, pitch = one.radius + other.radius, 2 * one.step, 2 * other.step
    end = _within(centres, other.tip, one.outermost) / pitch  # in pitches, like all turns that follow
    far_end = _within(centres, one.tip, other.outermost) / tooth

    def beside(at: float) -> tuple[float, float]:
        """As for a pin, of a tip of the other that stands at `at`: off even turning, and half its gap."""
        x, y = centres - other.tip * cos(at * pitch), other.tip * sin(at * pitch)
        return atan2(y, x) - at * tooth, one.half_gap(hypot(x, y))

    def room(at: float, way: int) -> Callable[[float], float]:
        """How much room a tip of the one, whose even place is `at`, has towards one side when it is turned on."""

        def left(turn: float) -> float:
            x, y = centres - one.tip * cos(at * tooth + turn), one.tip * sin(at * tooth + turn)
            far = hypot(x, y)
            return inf if far >= other.outermost else other.half_gap(far) - way * (atan2(y, x) - at * pitch)

        return left

    def stopped(at: float, way: int) -> float:
        """The turn of the one at which such a tip meets a flank on that side; infinite where none does."""
        spare, free, held = room(at, way), -way * one.step, way * one.step
        if spare(held) >= 0:
            return way * inf
        if spare(free) < 0:
            return free
        for _ in range(_HALVINGS):
            half = (free + held) / 2
            free, held = (half, held) if spare(half) >= 0 else (free, half)
        return free

    def left(at: float, first: float) -> tuple[float, float]:
        """The turns that are left to the one with tips of the other at `at` and whole pitches apart, from `first` on,
        and with all its own."""
        low, high = -inf, inf
        tip = at + ceil(first - at - 1e-12)
        while tip < end:
            off, half = beside(tip)
            low, high = max(low, off - half), min(high, off + half)
            tip += 1
        reach = far_end + 0.5
        tip = at + 0.5 + ceil(-reach - at - 0.5)
        while tip < reach:
            low, high = max(low, stopped(tip, -1)), min(high, stopped(tip, 1))
            tip += 1
        return low, high

    ranges = [left(index / STEPS, -end + 1e-12) for index in range(STEPS)]
    ranges += [left(at, -end + 1e-12) for at in (-end + 1e-9, end - 1e-9)]
    held = [(low, high) for low, high in ranges if low > -inf and high < inf]
    low, high = left(-end, -end + 0.5)
    own, spare = beside(-end + 1e-12)[0], one.step + slack / one.radius
    slips = len(held) < len(ranges) or low < own - spare or high > own + spare
    if not held:
        return 0.0, 0.0, True
    lows, highs = zip(*held, strict=True)
    strays = max(max(lows) - min(lows), max(highs) - min(highs))
    return min(high - low for low, high in held) * one.radius, strays / tooth, slips


def _within(centres: float, circle: float, outermost: float) -> float:
    """How far past the line of centres what stands on a circle is within the other gear's outermost distance."""
    return acos(max(-1.0, min(1.0, (centres**2 + circle**2 - outermost**2) / (2 * centres * circle))))
