"""Lengths of gears: exact where they decide (whole teeth, Fractions fenced by pi), floats where they are shown.

Every gear has the same tooth pitch, so radii are proportional to tooth counts and distances between centres are
whole numbers of teeth: r(z) = z * tooth_pitch / (2 pi) (definition of the pitch circle).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from solver.design.exact import PI_LOW, ceil_times_pi, floor_times_pi
from solver.words.lengths import MM_PER_INCH


def mm_in(unit: str) -> Fraction:
    """Millimetres in one "mm" or "in"."""
    return MM_PER_INCH if unit == "in" else Fraction(1)


@dataclass(frozen=True)
class Pitch:
    """The tooth pitch along the pitch circle: `value` mm, or `value * pi` mm when it was given as a module."""

    value: Fraction
    is_module: bool

    def radius_mm(self, teeth: int | float) -> float:
        """Pitch radius of `teeth` teeth [mm]."""
        return float(self.value) * teeth / 2 if self.is_module else float(self.value) * teeth / (2 * math.pi)


def gap_teeth(pitch: Pitch, room: Fraction) -> int:
    """How many teeth of pitch radius must lie between the pitch circles of two gears that do not mesh.

    room [mm]: what both reach beyond their pitch circles, and the clearance between them: gap * tooth_pitch / (2 pi) >=
    room, rounded up to whole teeth since centre distances are whole teeth. At least 1: two pitch circles that touch
    would mesh, however little they reach.
    """
    factor = 2 * room / pitch.value
    return max(1, math.ceil(factor) if pitch.is_module else ceil_times_pi(factor))


def envelope_mm(pitch: Pitch, addendum: Fraction, envelope_teeth: int) -> float:
    """Radius [mm] of the circle around everything, rounded up to the micrometre."""
    if pitch.is_module:
        radius = pitch.value * envelope_teeth / 2 + addendum
    else:
        radius = pitch.value * envelope_teeth / (2 * PI_LOW) + addendum
    return math.ceil(radius * 1000) / 1000


def envelope_limit_teeth(pitch: Pitch, addendum: Fraction, limit: Fraction) -> int:
    """The greatest envelope in teeth of pitch radius whose tip circle stays within `limit` mm.

    The limit counts in whole micrometres, as `envelope_mm` does.
    """
    whole = Fraction(math.floor(limit * 1000), 1000)
    factor = 2 * (whole - addendum) / pitch.value
    return math.floor(factor) if pitch.is_module else floor_times_pi(factor)
