"""The judge of eyes: whether the loops in which arms end are clear of what turns in their gap, and of each other.

An eye is bent of its arm about a post, or about a bush of 1 mm round a sleeve or a motor's shaft, and drawn out to a
slot of half an addendum each way at the most. It is taken to reach as far to every side, whichever way its slot runs.
What is too thick for its gap is not asked again: no arm comes from under it, so that the train is refused anyway.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import hypot, sqrt

from solver.check.arm import Held, gap_told, held_of
from solver.check.room import Check, Room
from solver.design.design import Design
from solver.design.train import Spot

_BUSH = Fraction(1)  # mm (common practice, no source)
_PI_OVER = Fraction(22, 7)


def eye_checks(room: Room) -> Iterator[Check]:
    """A check for every two eyes of a gap, for each eye beside the arbor there, and beside each stand that passes."""
    if not room.design.armed:
        return
    every = list(held_of(room))
    for number, held in enumerate(every):
        reach = eye_reach(room.design, held)
        gap, told = held.gap, f"the eye of the arm to {_named(held)} {gap_told(held.gap, room.count)}"

        def check(against: str, square: Fraction, need: Fraction, held: Held = held, told: str = told) -> Check:
            """The middles of both are so far apart, and need so much [mm]."""
            margin = sqrt(square) - float(need)
            kept = square >= need * need
            return Check("arm", held.owner, f"{told} meets {against}", kept, abs(margin) if kept else -abs(margin))

        for other in every[:number]:
            if other.gap == gap:
                apart = _square(held.spot, other.spot)
                yield check(f"that to {_named(other)}", apart, reach + eye_reach(room.design, other))
        if 0 <= gap < len(room.placement.links) and (held.owner, held.what) != (f"link {gap}", "arbor"):
            apart = _square(held.spot, room.placement.links[gap].arbor)
            yield check(f"the arbor of link {gap}", apart, reach + _sleeve(room.design) + room.fit.clearance)
        for ring in room.train.seats:
            if {"outer": gap >= ring, "inner": gap < ring}.get(room.fit.stands, False):
                circle, around = room.stand(ring), room.fit.post_radius + room.fit.clearance + reach
                far, near = _square(held.spot, (0, 0)), circle.low - around
                if near >= 0 and far <= near * near:
                    yield Check(
                        "arm",
                        held.owner,
                        f"{told} meets the stand on ring {ring}",
                        True,
                        float(near) - hypot(*held.spot) / 1000,
                    )
                else:
                    yield check(f"the stand on ring {ring}", far, circle.high + around)


def eye_reach(design: Design, held: Held) -> Fraction:
    """How far an eye reaches from what it holds, with the longest slot that it may have [mm]."""
    assert design.supports is not None
    rings, inside = design.rings, design.fit.post_radius
    if held.what == "arbor":
        inside = _sleeve(design) + _BUSH
    elif held.what == "motor":
        inside += _BUSH
    addendum = rings.addendum  # where it is left out, a third of the pitch
    if not addendum:
        addendum = rings.pitch.value * (_PI_OVER if rings.pitch.is_module else 1) / 3
    return inside + design.supports.arm_mm + addendum / 2


def _sleeve(design: Design) -> Fraction:
    """Half the thickness of the sleeve of an arbor [mm]."""
    told = design.wire.arbor_diameter
    return design.fit.post_radius + 1 if told is None else told / 2


def _named(held: Held) -> str:
    return "the motor" if held.what == "motor" else f"the {held.what} {held.name}"


def _square(one: Spot, other: Spot) -> Fraction:
    return Fraction((one[0] - other[0]) ** 2 + (one[1] - other[1]) ** 2, 10**6)
