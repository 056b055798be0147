"""What a design begins with: the values of the file that `new` writes and of the page's form.

Gears of these proportions can be made of the wire that the sheets take unless told (AWG 14 and 16), and run: saw teeth
and pins turn evenly where the addendum is a fifth of the tooth pitch and more, and from 0.4 of it on the tips would
reach into the hub of a gear of 5 teeth (worked out by the sheets; the tests do it for every set that ships).
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from solver.files.body_sets import BodySet

Span = tuple[int, int]


@dataclass(frozen=True)
class Beginning:
    """The rings that a set begins with, and at most how many third gears."""

    inner_teeth: Span = (24, 36)
    tooth_step: Span = (1, 6)
    blanks: Span = (0, 3)
    third_gears: int = 0


GEAR_TEETH: Span = (5, 24)
THIRD_TEETH: Span = (6, 20)
# Wire of loops, teeth and pins, as the sheets take it unless told; and how far a mesh may stray [of a pitch].
GAUGES = (("loop", "AWG 14"), ("tooth", "AWG 16"), ("pin", "AWG 14"))
UNEVENNESS = "0.15"
MAX_ERROR_PCT, KEEP, TIME_LIMIT_S = 50, 10, 60
LENGTHS = {
    "mm": {"pitch": "12", "module": "4", "addendum": "4.5", "rim": "6", "spacing": "14", "clearance": "1.5",
           "side": "640", "depth": "200", "post": "2", "roller": "3",
           "bars": "[914, 1829]", "cut": "1", "jig": "2", "sheet": "2", "accuracy": "0.5",
           "crank": "60", "at": "120", "screw": "M2", "ball": "18", "wide": "80", "high": "20", "thick": "6",
           "metre": "a metre",
           "arm": "4", "bar": "6", "sag": "1.1", "pins": "9.2", "arbor": "6", "hub": "10"},
    "in": {"pitch": "0.5", "module": "0.16", "addendum": "0.1875", "rim": "0.25", "spacing": "0.58",
           "clearance": "0.06", "side": "26", "depth": "8", "post": "0.08", "roller": "0.12",
           "bars": "[36, 72]", "cut": "0.04", "jig": "0.08", "sheet": "0.08", "accuracy": "0.02",
           "crank": "2.5", "at": "4.7", "screw": "#2-56", "ball": "0.7", "wide": "3", "high": "0.8", "thick": "0.25",
           "metre": "a foot",
           "arm": "0.16", "bar": "0.25", "sag": "0.045", "pins": "0.37", "arbor": "0.24", "hub": "0.4"},
}  # fmt: skip
# Without third gears an outer ring is always slower, by its step and more: periods that are nearer than this need some.
_NEAR, _THIRDS = Fraction(21, 20), 4
# The planets' periods are far apart: farther steps and more blanks halve their error. Those of the Moon are so near
# that only small steps are of use, and each third gear costs time. The tests solve each, proven, in about a second.
_FAR = Beginning(tooth_step=(1, 8), blanks=(0, 4))
_CLOSE = Beginning(tooth_step=(1, 2), blanks=(1, 2), third_gears=_THIRDS)


def beginning(bodies: BodySet) -> Beginning:
    """What a set begins with: it has a solution, in a frame of `side`."""
    periods = [period for _, period in bodies.periods]
    if min(outer / inner for inner, outer in pairwise(periods)) < _NEAR:
        return _CLOSE
    return _FAR if periods[-1] / periods[0] > 500 else Beginning()
