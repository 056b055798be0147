"""Whether what a train is made of stays within its levels: the judge's own thicknesses along the axis.

A level is one level spacing deep, and half the clearance at either edge is left free. A toothed gear of wire is as
thick as its loop and its tooth wire, which lies on it; a pin gear as its pins are long, and a toothed gear turns
between its loops; a gear of plate as its plate. A roller is as wide as the loop that runs in its groove, or the plate,
and two flanges.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from solver.check.verdict import Violation
from solver.design.design import Design
from solver.design.links import KIND_BY_NAME
from solver.design.train import Train

FLANGE = Fraction(1)  # mm (common practice, no source)
LEAST_PLAY = 1.0  # mm beside a ring between the loops of a pin gear, where the file names no length of pins
SLACK = Fraction(1, 1000)  # mm


def levels(design: Design, train: Train) -> Iterator[Violation]:
    """What is too thick for its level, or for what turns within it; nothing where gears are not judged as made."""
    if not design.as_made:
        return
    parts = dict(_parts(design, train))
    for (where, what), (deep, room) in parts.items():
        if deep > room + SLACK:
            over = float(deep - room)
            most = float(design.rings.level_spacing) + over
            text = f"{what} of {float(deep):.4g} mm, levels leave {float(room):.4g} mm; "
            text += f"a rings.level_spacing of {most:.4g} mm would do"
            yield Violation("level", where, text, over)
    wire = design.wire
    if wire.form in ("saw", "curved"):
        free, need = _pins(design) - 2 * wire.loop.mm, wire.loop.mm + wire.tooth.mm
        if free < need - float(SLACK):
            text = f"between the loops of pin gears are {free:.4g} mm; {need:.4g} mm have to turn there"
            yield Violation("level", "train", text, need - free)


def _pins(design: Design) -> float:
    """Length of the pins of a pin gear [mm]."""
    wire = design.wire
    if wire.pin_length is not None:
        return float(wire.pin_length)
    beside = max(float(design.fit.clearance), LEAST_PLAY)
    return 3 * wire.loop.mm + wire.tooth.mm + 2 * beside


def _parts(design: Design, train: Train) -> Iterator[tuple[tuple[str, str], tuple[Fraction, Fraction]]]:
    """(where, what): how thick it is, and what its level leaves [mm]."""
    wire, room = design.wire, design.rings.level_spacing - design.fit.clearance
    plate = wire.form not in ("saw", "curved")
    teeth = wire.sheet if plate else Fraction(wire.loop.mm + wire.tooth.mm)
    pins = wire.sheet if plate else Fraction(_pins(design))
    yield ("rings", "plate" if plate else "teeth on a loop"), (teeth, room)
    if design.fit.rollers is not None:
        yield ("rollers", "a roller"), ((wire.sheet if plate else Fraction(wire.loop.mm)) + 2 * FLANGE, room)
    thirds = wire.third == "teeth"

    def gears(where: str, between: bool) -> Iterator[tuple[tuple[str, str], tuple[Fraction, Fraction]]]:
        pinned = [True] if not between else [not thirds, thirds]
        for has in pinned:
            what = "plate" if plate else "pins" if has else "teeth on a loop"
            yield (where, what), (pins if has else teeth, room)

    for index, link in enumerate(train.links):
        kind = KIND_BY_NAME[link.kind]
        yield from gears(f"link {index}", kind.wheel_thirds > 0)
        yield from gears(f"link {index}", kind.pinion_thirds > 0)
    if train.placement is not None and train.placement.drive is not None:
        yield from gears("drive", bool(train.placement.drive.thirds))
