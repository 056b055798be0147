"""Whether what a train is made of stays within its levels: the judge's own thicknesses along the axis.

A level is one level spacing deep, and half the clearance at either edge is left free. A toothed gear of wire is as
thick as its loop and its tooth wire, which lies on it; a pin gear as its pins are long, and a toothed gear turns
between its loops; a gear of plate as its plate. A roller is three times as wide as the loop that runs in its groove, or
the plate; the hub of a small gear as long as its arbor is thick.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from solver.check.gear_lengths import GearLengths, lengths_of
from solver.check.verdict import Violation
from solver.design.design import Design
from solver.design.links import KIND_BY_NAME
from solver.design.train import Train

ROLLER = 3  # so many times as wide as what runs in its groove (common practice, no source)
LEAST_PLAY = 1.0  # mm beside a ring between the loops of a pin gear, where the file names no length of pins
SLACK = Fraction(1, 1000)  # mm


@dataclass(frozen=True)
class Thicknesses:
    """How thick parts are along the axis [mm]: toothed gears and rings, pin gears, rollers, and hubs, whose length is
    that of the gear, at least this."""

    teeth: Fraction
    pins: Fraction
    roller: Fraction
    hub: Fraction


def thicknesses_of(design: Design) -> Thicknesses:
    """The thicknesses of a design's parts as they are made."""
    made = lengths_of(design)
    return Thicknesses(
        Fraction(made.sheet if made.plate else made.loop + made.tooth),
        Fraction(made.sheet if made.plate else pin_length(design, made)),
        Fraction(ROLLER * (made.sheet if made.plate else made.loop)),
        Fraction(made.arbor),
    )


def levels(design: Design, train: Train) -> Iterator[Violation]:
    """What is too thick for its level, or for what turns within it; nothing where gears are not judged as made."""
    if not design.as_made:
        return
    parts = dict(_parts(design, train))
    for (where, what), (deep, room) in parts.items():
        if deep > room + SLACK:
            text = f"{what} of {told(design, deep)}, levels leave {told(design, room)}; a rings.level_spacing of "
            text += f"{told(design, deep + design.fit.clearance, up=True)} would do"
            yield Violation("level", where, text, float(deep - room))
    made = lengths_of(design)
    if not made.plate:
        free, need = pin_length(design, made) - 2 * made.loop, made.loop + made.tooth
        if free < need - float(SLACK):
            text = f"between the loops of pin gears are {told(design, Fraction(free))}; "
            text += f"{told(design, Fraction(need))} have to turn there"
            yield Violation("level", "train", text, need - free)


def told(design: Design, mm: Fraction, up: bool = False) -> str:
    """A length in the file's unit. up: rounded up, to a thousandth of a mm or a ten-thousandth of an inch."""
    unit, steps = (Fraction(254, 10), 10_000) if design.units == "in" else (Fraction(1), 1000)
    value = ceil(mm / unit * steps) / steps if up else round(float(mm / unit), 4)
    return f"{value:g} {design.units}"


def pin_length(design: Design, made: GearLengths) -> float:
    """Length of the pins of a pin gear [mm]."""
    if design.wire.pin_length is not None:
        return float(design.wire.pin_length)
    return 3 * made.loop + made.tooth + 2 * max(float(design.fit.clearance), LEAST_PLAY)


def _parts(design: Design, train: Train) -> Iterator[tuple[tuple[str, str], tuple[Fraction, Fraction]]]:
    """(where, what): how thick it is, and what its level leaves [mm]."""
    made, room = lengths_of(design), design.rings.level_spacing - design.fit.clearance
    thick = thicknesses_of(design)
    teeth, pins = thick.teeth, thick.pins
    yield ("rings", "plate" if made.plate else "teeth on a loop"), (teeth, room)
    if design.fit.rollers is not None:
        yield ("rollers", "a roller"), (thick.roller, room)
    thirds = design.wire.third == "teeth"

    def gears(where: str, between: bool) -> Iterator[tuple[tuple[str, str], tuple[Fraction, Fraction]]]:
        pinned = [True] if not between else [not thirds, thirds]
        for has in pinned:
            what = "plate" if made.plate else "pins" if has else "teeth on a loop"
            yield (where, what), (pins if has else teeth, room)
        yield (where, "a hub"), (thick.hub, room)

    for index, link in enumerate(train.links):
        kind = KIND_BY_NAME[link.kind]
        yield from gears(f"link {index}", kind.wheel_thirds > 0)
        yield from gears(f"link {index}", kind.pinion_thirds > 0)
    if train.placement is not None and train.placement.drive is not None:
        yield from gears("drive", bool(train.placement.drive.thirds))
