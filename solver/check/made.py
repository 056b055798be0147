"""How far the gears of a train stand beyond their pitch circles: the judge's own way to tell, part by part.

Without a table [wire] every gear is a disc of one addendum. With one, teeth of wire reach an addendum, the short ones
of third gears half of it, and pins half their thickness; of plate, teeth of the ISO 53 rack reach one module, and those
of clocks as far as their form has it (BS 978-2).
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from math import ceil

from solver.check.gear_lengths import lengths_of
from solver.check.running_clock import clock_tooth
from solver.check.running_teeth import short_of
from solver.design.design import Design


def rim_of(design: Design) -> Fraction:
    """How far a ring reaches inwards from its pitch circle [mm]."""
    return _outwards(lengths_of(design).rim) if design.as_made else design.rings.rim


def reach_of(design: Design, role: str, teeth: int) -> Fraction:
    """How far a gear stands beyond its pitch circle [mm]. role: "ring", "gear" (it works with a ring), "third gear" or
    "behind" (it works with a third gear). Clock teeth stand out by what they work with: as far as any mate that the
    design allows would have them."""
    if not design.as_made:
        return design.rings.addendum
    made = lengths_of(design)
    if made.form == "involute":
        return _outwards(made.module)
    if made.form == "cycloidal":  # of rings as far as any does
        every = _counts(design)["ring"] if role == "ring" else (teeth,)
        return max(_clock_reach(design, role, one) for one in every)
    toothed = {"ring", "third gear"} if design.wire.third == "teeth" else {"ring", "behind"}
    if role not in toothed:
        return _outwards(made.pin / 2)
    return _outwards((short_of(made) if role == "third gear" else made).addendum)


@lru_cache(maxsize=1 << 14)
def _clock_reach(design: Design, role: str, teeth: int) -> Fraction:
    counts = _counts(design)
    mates = {
        "ring": ("gear", "third gear"),
        "gear": ("ring",),
        "third gear": ("ring", "gear"),
        "behind": ("third gear",),
    }[role]
    every = (clock_tooth(teeth, (mate,)).out for name in mates for mate in counts[name])
    return _outwards(lengths_of(design).module * max(every, default=1.0))


def _counts(design: Design) -> dict[str, frozenset[int]]:
    """The teeth that gears of each role may have; none behind third gears where there are none."""
    gears, thirds = design.gear_counts, design.third_counts
    behind = gears if thirds else frozenset[int]()
    return {"ring": design.ring_counts or frozenset({60}), "gear": gears, "third gear": thirds, "behind": behind}


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


def _outwards(mm: float) -> Fraction:
    """Rounded up to whole micrometres; what floats add, below a nanometre, does not count."""
    return Fraction(ceil(Fraction(round(mm * 10**6), 1000)), 1000)
