"""Whether anything of a train touches what stands on another level: the judge's own thicknesses along the axis.

A toothed gear of wire is as thick as its loop and its tooth wire, which lies on it; a pin gear as its pins are long,
and a toothed gear turns between its loops; a gear of plate as its plate. A roller is three times as wide as the loop
that runs in its groove, or the plate; the hub of a small gear at least as long as its arbor is thick. All stand with
their middle in the middle of their level, pins too.

Two things on different levels keep the clearance along the axis or in the plane. Wheel and pinion turn together, so
that they may touch; they must not overlap. Where it is not known where things stand, what meets wherever they do is
told: wheels and pinions, neighbouring rings, and the gears of plain links beside these.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations
from math import ceil, hypot

from solver.check.exact_pi import PI_HIGH, PI_LOW
from solver.check.gear_lengths import GearLengths, lengths_of
from solver.check.made import reach_of, rim_of
from solver.check.room import Room, tooth_mm
from solver.check.verdict import Violation
from solver.design.design import Design
from solver.design.links import KIND_BY_NAME
from solver.design.train import Spot, Train

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
    """What touches on different levels; and what has no room between the loops of pin gears. Nothing where gears are
    not judged as made."""
    if not design.as_made:
        return
    yield from _turning_together(design, train)
    yield from _anywhere(design, train) if train.placement is None else _between(design, train)
    yield from _loops(design)


# -- how thick things are ---------------------------------------------------------------------------------------------


def told(design: Design, mm: Fraction, up: bool = False) -> str:
    """A length in the file's unit. up: rounded up, to a thousandth of a mm or a ten-thousandth of an inch."""
    unit, steps = (Fraction(254, 10), 10_000) if design.units == "in" else (Fraction(1), 1000)
    value = ceil((mm - Fraction(1, 10**9)) / unit * steps) / steps if up else round(float(mm / unit), 4)
    return f"{value:g} {design.units}"


def pin_length(design: Design, made: GearLengths) -> float:
    """Length of the pins of a pin gear [mm]."""
    if design.wire.pin_length is not None:
        return float(design.wire.pin_length)
    return 3 * made.loop + made.tooth + 2 * max(float(design.fit.clearance), LEAST_PLAY)


def _toothed(made: GearLengths) -> float:
    """How thick a toothed gear is, or a ring [mm]."""
    return made.sheet if made.plate else made.loop + made.tooth


def _roller(made: GearLengths) -> float:
    return ROLLER * (made.sheet if made.plate else made.loop)


def _gear(design: Design, made: GearLengths, role: str) -> tuple[str, float]:
    """What a gear of a role ("gear", "third gear", "behind") is made with, and how thick it is without its hub."""
    if made.plate:
        return "plate", made.sheet
    pinned = {"gear": True, "third gear": design.wire.third == "pins", "behind": design.wire.third == "teeth"}[role]
    return ("pins", pin_length(design, made)) if pinned else ("teeth on a loop", _toothed(made))


def _loops(design: Design) -> Iterator[Violation]:
    """Loops of pin gears that leave a ring no room between them."""
    made = lengths_of(design)
    if not made.plate:
        free, need = pin_length(design, made) - 2 * made.loop, made.loop + made.tooth
        if free < need - float(SLACK):
            text = f"between the loops of pin gears are {told(design, Fraction(free))}; "
            text += f"{told(design, Fraction(need))} have to turn there"
            yield Violation("level", "train", text, need - free)


# -- where places are known --------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Slab:
    """A part on a level: whose it is, what it is, how thick [mm], where its middle stands, its outermost radius and, of
    a ring, the least one of its hole [mm]. arbor: on which it turns, by its owner; "" if on none."""

    owner: str
    name: str
    level: int
    thick: Fraction
    spot: Spot
    radius: Fraction
    hole: Fraction | None = None
    arbor: str = ""


def _rings(design: Design, train: Train) -> list[_Slab]:
    pitch, thick = design.rings.pitch, Fraction(_toothed(lengths_of(design)))
    low, high = (pitch.value / 2 * (1 if pitch.is_module else 1 / by) for by in (PI_HIGH, PI_LOW))
    return [
        _Slab(
            f"ring {at}", "ring", at, thick, (0, 0),
            teeth * high + reach_of(design, "ring", teeth), teeth * low - rim_of(design),
        )
        for at, teeth in enumerate(train.rings)
    ]  # fmt: skip


def _between(design: Design, train: Train) -> Iterator[Violation]:
    """Of all that stands on different levels what touches; and what reaches out of the frame's depth."""
    room, made = Room(design, train), lengths_of(design)
    hub, slabs = Fraction(made.hub) / 2, _rings(design, train)
    for gear in room.gears:
        what, mm = _gear(design, made, gear.role)
        arbor = "" if gear.role == "third gear" else gear.owner
        discs = [(f"{what} of {gear.name}", mm, gear.radius.high), (f"hub of {gear.name}", made.arbor, hub)]
        for name, thick, radius in discs if made.arbor > mm else discs[:1]:
            slabs.append(_Slab(gear.owner, name, gear.level, Fraction(thick), gear.spot, radius, None, arbor))
    wide = Fraction(_roller(made))
    slabs += [_Slab(one.owner, one.name, one.level, wide, one.spot, one.radius.high) for one in room.rollers]
    yield from _pairs(design, slabs)
    frame, count = design.fit.frame, len(train.rings)
    if frame is not None and frame.depth is not None:
        spacing, said = design.rings.level_spacing, set[tuple[str, str]]()
        for one in slabs:
            free = (frame.depth - (count - 1) * spacing) / 2 + min(one.level, count - 1 - one.level) * spacing
            short = (one.thick + design.fit.clearance) / 2 - free
            if short > SLACK and (one.owner, one.name) not in said:
                said.add((one.owner, one.name))
                text = f"{one.name} of {told(design, one.thick)} reaches out of the frame's depth"
                yield Violation("level", one.owner, text, float(short))


def _pairs(design: Design, slabs: list[_Slab]) -> Iterator[Violation]:
    spacing, clearance = design.rings.level_spacing, design.fit.clearance
    for one, other in combinations(slabs, 2):
        between = abs(one.level - other.level)
        if not between or (one.arbor and one.arbor == other.arbor):
            continue
        along = between * spacing - (one.thick + other.thick) / 2 - clearance
        if along >= -SLACK:
            continue
        kept, across = _apart(one, other, clearance)
        if not kept:
            short = min(-float(along), -across)
            spaced = told(design, ((one.thick + other.thick) / 2 + clearance) / between, up=True)
            whose = "" if other.name == "ring" else f"{other.name} of "
            text = f"{one.name} to {whose}{other.owner}, {between} level{'s' if between > 1 else ''} away"
            text += f": {told(design, -along)} too little along the axis, and not clear in the plane; "
            text += f"a rings.level_spacing of {spaced} would do"
            yield Violation("level", one.owner, text, max(short, 0.0))


def _apart(one: _Slab, other: _Slab, clearance: Fraction) -> tuple[bool, float]:
    """Whether two parts keep the clearance in the plane, surely, and the room beyond it [mm]."""
    (x, y), (to_x, to_y) = one.spot, other.spot
    far, square = hypot(x - to_x, y - to_y) / 1000, Fraction((x - to_x) ** 2 + (y - to_y) ** 2, 1_000_000)
    need = one.radius + other.radius + clearance
    ways = [(square >= need * need, far - float(need))]
    for ring, inner in ((one, other), (other, one)):
        if ring.hole is not None:
            most = ring.hole - inner.radius - clearance
            ways.append((most >= 0 and square <= most * most, float(most) - far))
    return any(kept for kept, _ in ways), max(room for _, room in ways)


# -- wherever they stand -----------------------------------------------------------------------------------------------


def _turning_together(design: Design, train: Train) -> Iterator[Violation]:
    """Wheels and pinions that overlap on their arbor."""
    made, spacing = lengths_of(design), design.rings.level_spacing
    for index, link in enumerate(train.links):
        kind = KIND_BY_NAME[link.kind]
        sides = [
            _gear(design, made, "behind" if thirds else "gear") for thirds in (kind.wheel_thirds, kind.pinion_thirds)
        ]
        whats = [what if mm >= made.arbor else "a hub" for what, mm in sides]
        wheel, pinion = (Fraction(max(mm, made.arbor)) for _, mm in sides)
        short = (wheel + pinion) / 2 - spacing
        if short > SLACK:
            text = f"{whats[0]} of {told(design, wheel)} and {whats[1]} of {told(design, pinion)} overlap on their "
            text += f"arbor; a rings.level_spacing of {told(design, spacing + short, up=True)} would do"
            yield Violation("level", f"link {index}", text, float(short))


def _anywhere(design: Design, train: Train) -> Iterator[Violation]:
    """Neighbouring rings that touch, and gears of plain links that touch the other one: so far from the axis they are
    in any direction."""
    made, rings, tooth = lengths_of(design), _rings(design, train), tooth_mm(design)
    what, thick = _gear(design, made, "gear")
    for index, link in enumerate(train.links):
        beside = rings[index : index + 2]
        yield from _pairs(design, beside)
        if link.kind == "plain":
            far = (round(1000 * tooth * (train.rings[index] + link.wheel)), 0)
            for ring, name, teeth in ((1, "wheel", link.wheel), (0, "pinion", link.pinion)):
                radius = teeth * Fraction(tooth) + reach_of(design, "gear", teeth)
                gear = _Slab(f"link {index}", f"{what} of {name}", index + 1 - ring, Fraction(thick), far, radius)
                yield from _pairs(design, [gear, beside[ring]])
