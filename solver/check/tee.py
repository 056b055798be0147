"""The judge of arms that begin on others: from a third gear square on to the arm of its link's arbor.

Only where `[supports]` allows it, only where no arm from the frame does, and for one third gear of a link: an arm
carries one other. It is clear of what every arm must be clear of, its eye is clear of the arm that it begins on, and
both bend within the limit, joined as they are.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from solver.check.arm import ArmLine, ExactPoint, Held, clear_ones, family, held_of, stiff_ones
from solver.check.eye import eye_reach
from solver.check.room import Room
from solver.check.sag import joined_arms_hold


@dataclass(frozen=True)
class Tee:
    """An arm that begins on another: its line from what it holds to the middle line of `carrier`, and how far along
    that from the arbor [mm]."""

    line: ArmLine
    carrier: ArmLine
    along_mm: float


def on_arms(room: Room) -> set[tuple[str, str]]:
    """(owner, name) of every third gear that no arm from the frame reaches, but one that begins on its arbor's."""
    supports = room.design.supports
    if supports is None or not supports.on_arms or not room.design.armed:
        return set()
    lacking: dict[str, list[Held]] = {}
    for held in held_of(room):
        if held.what == "third gear" and held.owner != "drive" and not _from_frame(room, held):
            lacking.setdefault(held.owner, []).append(held)
    alone = [some[0] for some in lacking.values() if len(some) == 1]
    return {(held.owner, held.name) for held in alone if next(tees(room, held), None) is not None}


def tees(room: Room, held: Held) -> Iterator[Tee]:
    """Every way in which the arm of a link's third gear may begin on an arm of its arbor, by the carrier in the order
    of the family."""
    assert room.design.supports is not None
    (arbor,) = (one for one in held_of(room) if one.owner == held.owner and one.what == "arbor")
    holds, known = joined_arms_hold(room.design), dict[ExactPoint, bool]()
    least = eye_reach(room.design, held) + room.design.supports.arm_mm / 2
    x, y = Fraction(held.spot[0], 1000), Fraction(held.spot[1], 1000)
    for carrier in _from_frame(room, arbor):
        far = 0.0
        for start, end in pairwise(carrier.points):
            long = ArmLine((start, end), "").length_mm
            for foot in _feet((x, y), start, end):
                line = ArmLine(((x, y), foot), "arm", carrier.rounded)
                if foot not in known:
                    known[foot] = abs(foot[0] - x) + abs(foot[1] - y) >= least and bool(clear_ones(room, held, [line]))
                along = far + ArmLine((start, foot), "").length_mm
                if known[foot] and holds(carrier.length_mm, carrier.length_mm - along, line.length_mm):
                    yield Tee(line, carrier, along)
            far += long


def _from_frame(room: Room, held: Held) -> list[ArmLine]:
    """The arms that reach something from the frame."""
    return list(stiff_ones(room.design, held, clear_ones(room, held, family(room.design, held.spot))))


def _feet(at: ExactPoint, start: ExactPoint, end: ExactPoint) -> Iterator[ExactPoint]:
    """Where a line along a side of the frame ends square on a stretch that runs along another."""
    if start[1] == end[1] and min(start[0], end[0]) <= at[0] <= max(start[0], end[0]):
        yield at[0], start[1]
    if start[0] == end[0] and min(start[1], end[1]) <= at[1] <= max(start[1], end[1]):
        yield start[0], at[1]
