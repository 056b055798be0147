"""How far the gears of a train stand beyond their pitch circles: the judge's own way to tell, part by part.

Without a table [wire] every gear is a disc of one addendum. With one, teeth of wire reach an addendum, the short ones
of third gears half of it, and pins half their thickness; of plate, teeth of the ISO 53 rack reach one module, and those
of clocks as far as their form has it (BS 978-2).
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from math import acos, ceil, cos, hypot, pi, sin

from solver.design.design import Design

# Addendum of clock pinions by their leaves, in modules (BS 978-2, from memory).
_LEAVES = ((7, 0.855), (9, 0.67), (10, 0.525))
_MORE_LEAVES = 0.625


def rim_of(design: Design) -> Fraction:
    """How far a ring reaches inwards from its pitch circle [mm]."""
    if not design.as_made:
        return design.rings.rim
    return _outwards(design.rings.rim or _module(design) * pi / 2)


def reach_of(design: Design, role: str, teeth: int) -> Fraction:
    """How far a gear stands beyond its pitch circle [mm]. role: "ring", "gear" (it works with a ring), "third gear" or
    "behind" (it works with a third gear). Clock teeth stand out by what they work with: as far as any mate that the
    design allows would have them."""
    if not design.as_made:
        return design.rings.addendum
    if design.wire.form == "involute":
        return _outwards(_module(design))
    if design.wire.form == "cycloidal":  # of rings as far as any does
        every = _counts(design)["ring"] if role == "ring" else (teeth,)
        return max(_clock_reach(design, role, one) for one in every)
    toothed = {"ring", "third gear"} if design.wire.third == "teeth" else {"ring", "behind"}
    if role not in toothed:
        return _outwards(design.wire.pin.mm / 2)
    addendum = design.rings.addendum or _module(design) * pi / 3
    return _outwards(addendum / 2 if role == "third gear" else addendum)  # a third gear's teeth are short ones


@lru_cache(maxsize=1 << 14)
def _clock_reach(design: Design, role: str, teeth: int) -> Fraction:
    counts = _counts(design)
    mates = {
        "ring": ("gear", "third gear"),
        "gear": ("ring",),
        "third gear": ("ring", "gear"),
        "behind": ("third gear",),
    }[role]
    every = (mate for name in mates for mate in counts[name])
    return _outwards(_module(design) * max((_clock(teeth, mate) for mate in every), default=1.0))


@lru_cache(maxsize=64)
def _counts(design: Design) -> dict[str, frozenset[int]]:
    """The teeth that gears of each role may have; none behind third gears where there are none."""
    arbors, drive = design.arbors, design.drive
    gears = {*arbors.wheel_teeth, *arbors.pinion_teeth, *(drive.pinion_teeth if drive is not None else ())}
    some = arbors.third_gears or (drive is not None and drive.third_gears)
    thirds = frozenset(arbors.third_teeth if some else ())
    rings = {teeth for family in design.families() for choice in family.rings for teeth in choice}
    behind = frozenset(gears) if thirds else frozenset()
    return {"ring": frozenset(rings or {60}), "gear": frozenset(gears), "third gear": thirds, "behind": behind}


@lru_cache(maxsize=64)
def most_of(design: Design) -> Fraction:
    """How far the gear that stands out farthest does [mm], of all that the design allows."""
    if not design.as_made:
        return design.rings.addendum
    every = ((role, teeth) for role, some in _counts(design).items() for teeth in some)
    return max(reach_of(design, role, teeth) for role, teeth in every)


@lru_cache(maxsize=64)
def between_of(design: Design) -> Fraction:
    """How far a ring and the gear behind its third gear stand beyond their pitch circles at most, together [mm]."""
    counts = _counts(design)
    if not design.as_made or not counts["behind"]:
        return 2 * design.rings.addendum
    return max(reach_of(design, "ring", teeth) for teeth in counts["ring"]) + max(
        reach_of(design, "behind", teeth) for teeth in counts["behind"]
    )


def _module(design: Design) -> float:
    return float(design.rings.pitch.value) / (1 if design.rings.pitch.is_module else pi)


def _outwards(mm: float | Fraction) -> Fraction:
    """Rounded up to whole micrometres; what floats add, below a nanometre, does not count."""
    return Fraction(ceil(Fraction(round(mm * 10**6), 1000)), 1000)


def _clock(teeth: int, mate: int) -> float:
    """Addendum in modules of a clock gear beside one of `mate` teeth: the larger is the wheel, whose tooth ends where
    the epicycloids of both its sides meet, less a twentieth of that height."""
    if teeth < mate:
        return next((addendum for leaves, addendum in _LEAVES if teeth <= leaves), _MORE_LEAVES)
    # Both are drawn by a circle half as large as the pinion's pitch circle: from the pitch circle, at a quarter of a
    # tooth's pitch off the middle of the tooth, to where it stands on that middle.
    wheel, rolled = teeth / 2, mate / 4

    def off(turn: float) -> float:
        """How far past the middle the point is, when the circle has rolled so far about its own centre."""
        x = (wheel + rolled) - rolled * cos(turn)
        y = rolled * sin(turn)
        angle = acos(x / hypot(x, y))
        return rolled / wheel * turn - angle - pi / 2 / teeth

    low, high = 0.0, pi
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if off(middle) < 0 else (low, middle)
    return 0.95 * (hypot(wheel + rolled - rolled * cos(low), rolled * sin(low)) - wheel)
