"""Arms that hold what stands in a gap between two levels: lines from a target's middle to the bars of the frame.

An arm is straight, to a side or a corner of the frame, or bent once, its two legs parallel to the sides. In a round
frame a side is where the line meets the circle, and the corners are halfway between the sides.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from math import hypot, sqrt

Coordinate = Fraction | None  # a share of the frame's half width or height; None: the target's own
Corner = tuple[Coordinate, Coordinate]  # to the right, and up
Arm = tuple[Corner, ...]  # where it bends, if anywhere, and where it ends
Point = tuple[float, float]
Line = tuple[Point, ...]

_ONE, _QUARTERS = Fraction(1), [Fraction(k, 4) for k in range(-3, 4)]

FAMILY: tuple[Arm, ...] = (
    ((_ONE, None),),
    ((-_ONE, None),),
    ((None, _ONE),),
    ((None, -_ONE),),
    *(((across, up),) for across in (_ONE, -_ONE) for up in (_ONE, -_ONE)),
    *(((share, None), (share, side)) for share in _QUARTERS for side in (_ONE, -_ONE)),
    *(((None, share), (side, share)) for share in _QUARTERS for side in (_ONE, -_ONE)),
)
"""All arms that a target may have, in the order in which they are preferred where they are as long."""


def lines(x: float, y: float, half_width: float, half_height: float, *, round_frame: bool = False) -> list[Line | None]:
    """The arms of a target at (x, y) in the order of FAMILY, from the target to the frame; all in one unit of length.
    None: one that would bend outside of a round frame, whose radius is half_width. The main axis is at (0, 0)."""
    found: list[Line | None] = []
    for arm in FAMILY:
        line = [(x, y)]
        for across, up in arm:
            line.append((x if across is None else across * half_width, y if up is None else up * half_height))
        if round_frame:
            if len(arm) == 2 and hypot(*line[1]) > half_width:
                found.append(None)
                continue
            line[-1] = _on_circle(arm[-1], line[-1], half_width)
        found.append(tuple((float(across), float(up)) for across, up in line))
    return found


def length_of(line: Line) -> float:
    """Developed length of an arm."""
    return sum(hypot(x - before_x, y - before_y) for (before_x, before_y), (x, y) in pairwise(line))


def _on_circle(end: Corner, at: Point, radius: float) -> Point:
    """Where an arm that would end on a square's side, or in its corner, meets the circle within."""
    (across, up), (x, y) = end, at
    if across is not None and up is not None and abs(across) == abs(up) == 1:
        return across * radius * sqrt(0.5), up * radius * sqrt(0.5)
    if across is not None and abs(across) == 1:
        return across * sqrt(max(0.0, radius * radius - y * y)), y
    assert up is not None
    return x, up * sqrt(max(0.0, radius * radius - x * x))


def gap_of_ring(ring: int, stands: str) -> int:
    """The gap in which a ring's rollers, and a motor that works with it, are held: gap g lies between the levels g and
    g + 1. Where bodies stand out beyond the largest ring, the ring's own would sweep across the gap behind it."""
    return ring - 1 if stands == "outer" else ring


def swept(ring: int, gap: int, stands: str) -> bool:
    """Whether the stand of a body on a ring passes a gap."""
    return {"outer": gap >= ring, "inner": gap < ring}.get(stands, False)
