"""How thick the parts of a design are along their axis, and what that alone forbids, wherever they stand.

What turns on a level stands with its middle in the middle of the level, pins too: half of its thickness is on either
side. Levels are one level spacing apart. Two parts on different levels touch along the axis where half of one, half of
the other and the clearance are more than what is between their levels; that matters where they overlap in the plane
(`place.slabs`). Wheel and pinion turn together and always overlap: their halves may fill the spacing, and no more.
Where a design has no directions nothing is known of the plane, and only that is judged, the wheel of a plain link
beside the outer ring, and neighbouring rings.

Where arms hold what stands between two levels, one lies along the edge of a level, and what it holds must leave it room
and the clearance: no gear and no roller may be thicker, whichever of them the arm passes, since each stands beside the
gap of the arm that it is held by. A ring is never thicker than the gears that work with it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import combinations_with_replacement

from solver.design.design import Design
from solver.design.exact import PI_HIGH
from solver.design.links import LinkKind
from solver.search.reaches import BEHIND, GEAR, THIRD, Reaches

ROLLER_WIDTH = 3  # so many times as wide as the loop or plate in its groove (common practice, no source)


@dataclass(frozen=True)
class Levels:
    """Thicknesses [mm]: of gears by role, each with its hub, which is hub_radius_mm large; of a ring; of a roller, 0
    where there is none. pinned: the roles of pin gears; their pins must be least_pins long, for a ring to turn between
    their loops. thirds: whether there may be third gears; placed: whether it is known where things stand; depth: of the
    frame, None: any. arm: how thick arms are that lie between levels, None where there are none."""

    spacing: Fraction
    clearance: Fraction
    depth: Fraction | None
    placed: bool
    thirds: bool
    gears: tuple[tuple[str, Fraction], ...]
    ring: Fraction
    roller: Fraction
    hub: Fraction
    hub_radius_mm: Fraction
    pinned: frozenset[str]
    pins: Fraction
    least_pins: Fraction
    arm: Fraction | None = None

    @property
    def thickest(self) -> Fraction:
        """Of all parts that a train may have."""
        return max(self.ring, self.roller, self.hub, *(mm for _, mm in self.gears))

    @property
    def thin(self) -> bool:
        """Whether every part keeps to its level, half the clearance from either edge: then none touches any on another
        level, wherever they stand."""
        return self.thickest + self.clearance <= self.spacing

    @property
    def narrow(self) -> frozenset[str]:
        """The roles of gears whose loops leave a ring no room between them."""
        return self.pinned if self.pins < self.least_pins else frozenset()

    @property
    def armed_mm(self) -> Fraction | None:
        """The level spacing with which arms have room beside every part [mm]; None: there are no arms, or the loops of
        pin gears are too near, whatever it is."""
        return None if self.arm is None or self.narrow else self.thickest + 2 * self.clearance + self.arm

    def tall(self, thick: Fraction) -> bool:
        """Whether a part of that thickness leaves an arm beside it no room."""
        return self.arm is not None and thick + 2 * self.clearance + self.arm > self.spacing

    def thick(self, role: str) -> Fraction:
        """Of a small gear, without its hub."""
        return dict(self.gears)[role]

    def deep(self, role: str) -> Fraction:
        """Of a small gear with its hub."""
        return max(self.thick(role), self.hub)

    def touch(self, one: Fraction, other: Fraction, levels: int) -> bool:
        """Whether parts of these thicknesses, so many levels apart, touch along the axis."""
        return (one + other) / 2 + self.clearance > levels * self.spacing

    def rings_at(self, thick: Fraction, level: int, levels: int) -> list[int]:
        """Of so many levels the others whose rings a part of that thickness on a level touches along the axis."""
        return [at for at in range(levels) if at != level and self.touch(thick, self.ring, abs(at - level))]

    def within(self, thick: Fraction, level: int, levels: int) -> bool:
        """Whether a part on one of so many levels, which stand in the middle of the frame's depth, keeps half the
        clearance from its ends."""
        if self.depth is None:
            return True
        free = (self.depth - (levels - 1) * self.spacing) / 2 + min(level, levels - 1 - level) * self.spacing
        return (thick + self.clearance) / 2 <= free

    def ends(self, levels: int) -> bool:
        """Whether so many levels, with a ring on each and the thinnest gears that a link may have on the first and the
        last, are within the frame's depth."""
        sides = [self.deep(GEAR), *([max(self.deep(BEHIND), self.deep(THIRD))] if self.thirds else [])]
        return self.within(max(self.ring, min(sides)), 0, levels)

    def side(self, third: bool) -> bool:
        """Whether the gears on one side of an arbor can be had, with a third gear or without."""
        roles = {BEHIND, THIRD} if third else {GEAR}
        held = self.roller, self.ring, *map(self.deep, roles)
        return not self.narrow & roles and not any(map(self.tall, held))

    def link(self, kind: LinkKind) -> bool:
        """Whether the gears of a link of that kind can be had, wherever they stand. The wheel of a plain link always
        overlaps the outer ring: their centres are nearer than their pitch radii are large."""
        wheel, pinion = (BEHIND if thirds else GEAR for thirds in (kind.wheel_thirds, kind.pinion_thirds))
        if not (self.side(kind.wheel_thirds > 0) and self.side(kind.pinion_thirds > 0)):
            return False
        if (self.deep(wheel) + self.deep(pinion)) / 2 > self.spacing:
            return False
        return bool(kind.thirds) or not self.touch(self.thick(GEAR), self.ring, 1)

    def spacings(self) -> list[Fraction]:
        """The greater level spacings with which fewer of these parts touch, up to that with which none do [mm]; none
        where the loops of pin gears are too near, whatever it is."""
        need = self.thickest + self.clearance
        found = {need}
        for one, other in combinations_with_replacement(sorted(self._thicknesses), 2):
            for between in ((one + other) / 2, (one + other) / 2 + self.clearance):
                found |= {between / levels for levels in range(1, math.ceil(between / self.spacing) + 1)}
        return [] if self.narrow else sorted(mm for mm in found if self.spacing < mm <= need)

    def pin_lengths(self) -> list[Fraction]:
        """The shorter pins with which fewer parts touch, the longest first, as far as a ring turns between their loops
        [mm]; where none does, the one length that is just enough."""
        if self.narrow:
            return [self.least_pins]
        found, spacing = {self.spacing - self.clearance}, self.spacing
        for other in self._thicknesses - {self.pins}:
            found |= {spacing, 2 * spacing - other, 2 * (spacing - self.clearance) - other}
        touching = self.pinned and self.pins + self.clearance > spacing
        return sorted((mm for mm in found if touching and self.least_pins <= mm < self.pins), reverse=True)

    @property
    def _thicknesses(self) -> set[Fraction]:
        return {self.ring, self.roller, self.hub, *(mm for _, mm in self.gears)}


def levels_of(design: Design) -> Levels | None:
    """How thick things are; None where gears are not judged as made."""
    return _levels(design) if design.as_made else None


def thick_of(design: Design) -> Levels | None:
    """Likewise where it matters where things stand; None: they keep to their levels, or have no places."""
    levels = levels_of(design)
    return None if levels is None or levels.thin or not levels.placed else levels


def least_step(design: Design) -> int:
    """Teeth that neighbouring rings must at least differ by, so as not to touch; 0: any."""
    levels = levels_of(design)
    if levels is None or not levels.touch(levels.ring, levels.ring, 1):
        return 0
    pitch, reaches = design.rings.pitch, Reaches(design)
    tooth = pitch.value / 2 if pitch.is_module else pitch.value / (2 * PI_HIGH)
    return math.ceil((reaches.rim + reaches.ring + levels.clearance) / tooth)


@lru_cache(maxsize=256)
def _levels(design: Design) -> Levels:
    from solver.forms import FORMS
    from solver.forms.form import Spec, sizes_of
    from solver.forms.pins import PINS

    form, sizes, fit = FORMS[design.wire.form], sizes_of(design), design.fit
    roles = form.roles(design.wire.third)

    def thick(kind: str, toothing: str) -> Fraction:
        return form.outline(sizes, Spec(kind, 60, toothing, (60,))).thick_mm

    held = design.wire.sheet if form.plate else _rounded(sizes.loop_mm)
    toothing = {GEAR: roles.gear, THIRD: roles.third, BEHIND: roles.behind}
    pinned = frozenset(role for role, made in toothing.items() if made == PINS)
    return Levels(
        design.rings.level_spacing,
        fit.clearance,
        None if fit.frame is None else fit.frame.depth,
        fit.directions is not None,
        design.arbors.third_gears > 0,
        tuple((role, thick("gear", made)) for role, made in toothing.items()),
        thick("ring", roles.ring),
        ROLLER_WIDTH * held if fit.rollers is not None else Fraction(0),
        _rounded(sizes.arbor_mm),  # at least as long as its arbor is thick
        _rounded(sizes.hub_mm / 2),
        pinned,
        max((thick("gear", toothing[role]) for role in pinned), default=Fraction(0)),
        Fraction(math.ceil((3 * sizes.loop_mm + sizes.tooth_mm) * 1000 - 1e-6), 1000),
        None if design.supports is None or not design.armed else design.supports.arm_mm,
    )


def _rounded(mm: float) -> Fraction:
    return Fraction(round(mm * 1000), 1000)
