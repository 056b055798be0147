"""How two clock gears run, for the judge: teeth of BS 978-2 (widths, arcs and dedenda from memory).

A tooth is bounded by an arc above its pitch circle, radial below. While one gear turns evenly, in small steps, each of
its teeth keeps the other's tooth beside it from turning on: where an arc or a tip meets a radial flank, in closed form,
and where points of an arc meet the other tooth. The nearest of these is the edge of the play; mirrored it is the other
edge. Steps can only miss what is worst. Lengths in modules, angles in radians.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import acos, asin, atan2, ceil, cos, hypot, inf, pi, sin, sqrt

from solver.check.gear_lengths import SLACK, GearLengths, MadeGear, TurnedPair
from solver.check.plate_metal import too_little_metal

STEPS = 60  # to a pitch; an even number
_POINTS = 14  # of an arc
LEAST = 6  # leaves (BS 978-2)
# Leaves up to which a pinion has this tooth width, addendum and radius of its arcs.
_LEAVES = {7: (1.05, 0.855, 1.05), 9: (1.05, 0.67, 0.7), 10: (1.05, 0.525, 0.525), 10**9: (1.25, 0.625, 0.625)}


@dataclass(frozen=True)
class ClockTooth:
    """A tooth: how many there are, how far it stands out and how deep its roots are, its width along the pitch circle,
    the radius of its arcs."""

    teeth: int
    out: float
    deep: float
    width: float
    arc: float


def clock_pair(made: GearLengths, one: MadeGear, other: MadeGear) -> TurnedPair:
    """How two clock gears run."""
    teeth = [clock_tooth(gear.teeth, gear.mates) for gear in (one, other)]
    for gear, tooth in zip((one, other), teeth, strict=True):
        if why := too_little_metal(made, gear.teeth, gear.ring, made.module * (gear.teeth / 2 - tooth.deep)):
            return TurnedPair(unmade=why)
    if min(one.teeth, other.teeth) < LEAST:
        return TurnedPair(slips=f"the clock form has at least {LEAST} leaves")
    play, strays, held = turned_clock(*teeth)
    into, rooted = max((mine.out - his.deep, his.teeth) for mine, his in (teeth, teeth[::-1]))
    slips = "" if held else "at times no tooth holds another"
    where = f"the roots of {rooted} teeth"
    return TurnedPair(play * made.module, strays / pi, slips, into * made.module, where)


def clock_tooth(teeth: int, mates: tuple[int, ...]) -> ClockTooth:
    """The tooth of a gear with these mates: a wheel's if one of them has no more teeth, of which it serves the least;
    else a pinion's, whose roots clear the tips of the largest."""
    driven = [mate for mate in mates if mate <= teeth]
    if driven:
        out = min(_height(teeth, mate) for mate in driven)
        return ClockTooth(teeth, out, pi / 2, pi / 2, 1.4 * out)
    width, out, arc = _LEAVES[min(most for most in _LEAVES if teeth <= most)]
    return ClockTooth(teeth, out, max(_height(mate, teeth) for mate in mates) + 0.4, width, arc)


@lru_cache(maxsize=1 << 14)
def _height(wheel: int, pinion: int) -> float:
    """The addendum of a wheel: 0.95 of the height at which two epicycloids meet, of a circle half as large as the
    pinion's that rolls on the wheel's, which begin half a pitch apart."""
    large, small = wheel / 2, pinion / 4

    def off(turn: float) -> tuple[float, float]:
        """How far from the beginning it has come after it rolled so far, as an angle, and from the wheel's centre."""
        x = large + small - small * cos(turn)
        return turn * small / large - atan2(small * sin(turn), x), hypot(x, small * sin(turn))

    low, high = 0.0, pi
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if off(middle)[0] < pi / wheel / 2 else (low, middle)
    return 0.95 * (off(low)[1] - large)


class _Side:
    """One side of a tooth. pitch, tip: radii; half: half its width as an angle; cx, cy: middle of its arc from the
    gear's centre, the middle of the tip on the right, the side above; far, at: the same as distance and angle."""

    def __init__(self, tooth: ClockTooth) -> None:
        self.pitch, self.tip, self.root = tooth.teeth / 2, tooth.teeth / 2 + tooth.out, tooth.teeth / 2 - tooth.deep
        self.half, self.step = tooth.width / tooth.teeth, pi / tooth.teeth
        x, y = self.pitch * cos(self.half), self.pitch * sin(self.half)
        chord = hypot(x - self.tip, y)
        self.arc = max(tooth.arc, chord / 2)
        inward = sqrt(self.arc**2 - chord**2 / 4)
        self.cx = (x + self.tip) / 2 - inward * y / chord
        self.cy = y / 2 - inward * (self.tip - x) / chord
        self.far, self.at = hypot(self.cx, self.cy), atan2(self.cy, self.cx)
        self.from_tip = atan2(-self.cy, self.tip - self.cx)
        self.to_flank = atan2(y - self.cy, x - self.cx)
        points = []
        for index in range(_POINTS + 1):
            turn = self.from_tip + (self.to_flank - self.from_tip) * index / _POINTS
            points.append((self.cx + self.arc * cos(turn), self.cy + self.arc * sin(turn)))
        self.points = [(hypot(*point), max(atan2(*point[::-1]), 0.0)) for point in points]

    def wide(self, far: float) -> float:
        """Half the tooth as an angle, so far from the centre, within the tip."""
        if far <= self.pitch:
            return self.half
        cosine = (far * far + self.far**2 - self.arc**2) / (2 * far * self.far)
        return max(self.at + acos(max(-1.0, min(1.0, cosine))), 0.0)


@lru_cache(maxsize=1 << 14)
def turned_clock(one: ClockTooth, other: ClockTooth) -> tuple[float, float, bool]:
    """The least play and the straying of the first gear, at its pitch circle, while the other turns evenly; and whether
    there is always contact."""
    mine, his = _Side(one), _Side(other)
    centres, pitch = mine.pitch + his.pitch, 2 * his.step
    meets = (centres**2 + his.tip**2 - mine.tip**2) / (2 * centres * his.tip)
    end = acos(max(-1.0, min(1.0, meets))) + his.half
    highs = []
    for index in range(STEPS):
        at, high = pitch * index / STEPS, inf
        at += pitch * ceil((-end - at) / pitch)
        while at <= end:
            high = min(high, _stops(mine, his, centres, at) + mine.step - at * other.teeth / one.teeth)
            at += pitch
        highs.append(high)
    if inf in highs:
        return 0.0, 0.0, False
    play = min(highs[index] + highs[-index % STEPS] for index in range(STEPS))
    return play * mine.pitch, (max(highs) - min(highs)) * mine.pitch, True


def _stops(mine: _Side, his: _Side, centres: float, past: float) -> float:
    """How far the tooth below may turn at most, its middle from the line of centres, where the other gear's tooth has
    its middle so far past it. The other's flank is a line through its centre, `low` past the line of centres."""
    low = past - his.half
    foot = centres * sin(low)  # of the line, from my centre
    found = inf

    def beside(distance: float, far: float, own: float) -> float:
        """The turn at which what is at (far, own) of my tooth is so far from my centre across that line."""
        return asin(distance / far) - low - own if abs(distance) < far else inf

    def along(far: float, turn: float) -> float:
        """How far from the other centre, along the line, a point of mine is."""
        return (centres - far * cos(turn)) * cos(low) + far * sin(turn) * sin(low)

    for far, own in ((mine.tip, 0.0), (mine.pitch, mine.half)):
        turn = beside(foot, far, own)
        if turn < inf and his.root <= along(far, turn + own) <= his.pitch:
            found = min(found, turn)
    turn = beside(foot - mine.arc, mine.far, mine.at)
    touches = pi / 2 - low - turn  # across the line from the arc's middle, as it is seen on my tooth
    on_flank = turn < inf and his.root <= along(mine.far, turn + mine.at) <= his.pitch
    if on_flank and mine.from_tip <= touches <= mine.to_flank:
        found = min(found, turn)
    for far, wide in his.points:
        x, y = centres - far * cos(past - wide), far * sin(past - wide)
        away = hypot(x, y)
        if away < mine.tip:
            found = min(found, atan2(y, x) - mine.wide(away))
    return min(found, _tip_on_arc(mine, his, centres, past))


def _tip_on_arc(mine: _Side, his: _Side, centres: float, past: float) -> float:
    """Likewise, where my tip meets his arc; infinite where it does not."""
    x, y = centres - his.far * cos(past - his.at), his.far * sin(past - his.at)
    away = hypot(x, y)
    cosine = (mine.tip**2 + away**2 - his.arc**2) / (2 * mine.tip * away)
    if abs(cosine) > 1:
        return inf
    turn = atan2(y, x) - acos(cosine)
    from_his = hypot(centres - mine.tip * cos(turn), mine.tip * sin(turn))
    # The circle goes on below the flank and past the tip; only what bounds the tooth counts.
    seen = past - atan2(mine.tip * sin(turn), centres - mine.tip * cos(turn))
    return turn if his.pitch <= from_his <= his.tip and -SLACK <= seen <= his.half + SLACK else inf
