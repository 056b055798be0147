"""How a gear with teeth of bent wire and one with pins run, by the judge's own turning.

The two are turned together in small steps; at each the pins leave the toothed gear a range of turns beside even
turning. What they leave in common is the play, and how far an end of it wanders is how far one gear strays while the
other turns evenly. Steps can only miss what is worst, so what is refused here does not run. Plane geometry; lengths in
mm, angles in radians.
"""

from __future__ import annotations

from functools import lru_cache
from math import acos, atan2, ceil, cos, hypot, inf, pi, sin
from typing import Protocol

from solver.check.gear_lengths import SLACK, GearLengths, MadeGear, TurnedPair
from solver.check.running_curved import CurvedTeeth
from solver.check.running_saw import SawTeeth

STEPS = 60  # to a pin's pitch


class WireTeeth(Protocol):
    """A gear with teeth of wire. radius: of the pitch circle; step: half a pitch; mouth: half a gap where it begins;
    outermost: from where outwards nothing holds the middle of a pin. unmade: why it cannot be made; else all the others
    are known."""

    radius: float
    step: float
    mouth: float
    outermost: float
    unmade: str

    def half_gap(self, far: float) -> float:
        """Half the arc about the middle of a gap that the middle of a pin has, so far from the centre, within
        `outermost`; below 0 where it has no room."""
        ...


@lru_cache(maxsize=1 << 14)
def turned_pins(made: GearLengths, teeth: int, ring: bool, served: int, pins: int) -> TurnedPair:
    """How a gear whose teeth are made for `served` pins runs with one of so many pins."""
    gear = _teeth(made, teeth, ring, served)
    circle = made.module * pins / 2
    why = f"the gear of {teeth} teeth {gear.unmade}" if gear.unmade else ""
    if circle - made.pin / 2 - made.loop <= made.hub / 2:
        why = f"the gear of {pins} pins leaves no room for spokes"
    if why:
        return TurnedPair(unmade=why)
    into = gear.outermost - made.pin / 2 + made.hub / 2 - gear.radius - circle
    centres, pitch = gear.radius + circle, 2 * pi / pins
    within = (centres**2 + circle**2 - gear.outermost**2) / (2 * centres * circle)
    end = acos(max(-1.0, min(1.0, within)))  # a pin is among the teeth up to here from the line of centres

    def beside(past: float) -> tuple[float, float]:
        """The turn of the toothed gear beside even turning that puts the middle of its gap to a pin so far past the
        line of centres, and half the gap there."""
        x, y = centres - circle * cos(past), circle * sin(past)
        return atan2(y, x) - past * pins / teeth, gear.half_gap(hypot(x, y))

    def left(past: float, first: float) -> tuple[float, float]:
        """The turns that all pins leave, `past` and whole pitches apart, from `first` on."""
        low, high = -inf, inf
        at = past + pitch * ceil((first - past) / pitch - 1e-12)
        while at < end:
            off, half = beside(at)
            low, high = max(low, off - half), min(high, off + half)
            at += pitch
        return low, high

    ranges = [left(pitch * index / STEPS, -end + 1e-12) for index in range(STEPS)]
    ranges += [left(turn, -end + 1e-12) for turn in (-end + 1e-9, end - 1e-9)]
    held = [(low, high) for low, high in ranges if low > -inf]
    # A pin that comes in must come into its own gap, whatever the others leave: else a tip meets it, or comes past it.
    low, high = left(-end + pitch, -end + pitch / 2)
    own, spare = beside(-end + 1e-12)[0], gear.mouth + SLACK / gear.radius
    slips = (
        "" if len(held) == len(ranges) and own - spare <= low and high <= own + spare else "a tip can come past a pin"
    )
    if not held:
        return TurnedPair(slips=slips)
    lows, highs = zip(*held, strict=True)
    strays = max(max(lows) - min(lows), max(highs) - min(highs))
    play = min(high - low for low, high in held)
    return TurnedPair(play * gear.radius, strays / (2 * gear.step), slips, into, "the hub of the pins")


@lru_cache(maxsize=1 << 12)
def _teeth(made: GearLengths, teeth: int, ring: bool, served: int) -> WireTeeth:
    return CurvedTeeth(made, teeth, ring, served) if made.form == "curved" else SawTeeth(made, teeth, ring)


def wire_pair(made: GearLengths, one: MadeGear, other: MadeGear) -> TurnedPair:
    """How two gears of wire run, of which the first has teeth and the other pins. Curved teeth are made for the fewest
    pins that they work with; saw teeth are the same for all."""
    served = min((*one.mates, other.teeth)) if made.form == "curved" else 0
    return turned_pins(made, one.teeth, one.ring, served, other.teeth)
