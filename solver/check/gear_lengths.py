"""The lengths that gears are made with, as the judge reads them from a design."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

from solver.design.design import PIN_FORMS, Design

SLACK = 1e-6  # mm, of what is compared


@dataclass(frozen=True)
class MadeGear:
    """A gear: its teeth (or pins), whether it is a ring, and the teeth of all that gears made like it work with."""

    teeth: int
    ring: bool
    mates: tuple[int, ...]


@dataclass(frozen=True)
class TurnedPair:
    """How two gears run: least play [mm at the pitch circle]; straying [share of a pitch]; whether, and where, a tooth
    can come past another; by how much the tips of one reach into the other [mm]; why one of them cannot be made."""

    play: float = 0.0
    strays: float = 0.0
    slips: str = ""
    into: float = 0.0
    into_what: str = ""
    unmade: str = ""


@dataclass(frozen=True)
class GearLengths:
    """Lengths of gears as made [mm], arbors, hubs and wires as diameters; form: of their teeth."""

    form: str
    module: float
    addendum: float
    rim: float
    loop: float
    tooth: float
    pin: float
    jig_pin: float
    arbor: float
    hub: float
    sheet: float

    @property
    def pitch(self) -> float:
        return pi * self.module

    @property
    def plate(self) -> bool:
        """Whether gears are cut from plate."""
        return self.form not in PIN_FORMS

    def deep(self, radius: float, ring: bool) -> float:
        """How far a toothed gear of wire reaches inwards from its pitch circle: as a ring, or less about a hub."""
        return self.rim if ring else min(self.rim, radius - self.hub / 2 - self.pin)


def lengths_of(design: Design) -> GearLengths:
    rings, wire = design.rings, design.wire
    module = float(rings.pitch.value) if rings.pitch.is_module else float(rings.pitch.value) / pi
    arbor = 2 * float(design.fit.post_radius) + 2 if wire.arbor_diameter is None else float(wire.arbor_diameter)
    return GearLengths(
        wire.form,
        module,
        float(rings.addendum) or pi * module / 3,
        float(rings.rim) or pi * module / 2,
        wire.loop.mm,
        wire.tooth.mm,
        wire.pin.mm,
        float(wire.jig_pin),
        arbor,
        arbor + 4 if wire.hub_diameter is None else float(wire.hub_diameter),
        float(wire.sheet),
    )
