"""How thick the parts of a design are along their axis, and what that alone forbids, wherever they stand.

What turns on a level stands with its middle in the middle of the level, pins too: half of its thickness is on either
side. Levels are one level spacing apart. Two parts on different levels touch along the axis where half of one, half of
the other and the clearance are more than what is between their levels; that matters where they overlap in the plane
(`place.slabs`). Wheel and pinion turn together and always overlap: their halves may fill the spacing, and no more.
Where a design has no directions, nothing is known of the plane: then every part must keep to its level, half the
clearance from either edge of it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import combinations_with_replacement

from solver.design.design import Design
from solver.design.links import LinkKind
from solver.search.reaches import BEHIND, GEAR, THIRD

ROLLER_WIDTH = 3  # so many times as wide as the loop or plate in its groove (common practice, no source)


@dataclass(frozen=True)
class Levels:
    """Thicknesses [mm]: of gears by role, each with its hub, which is hub_radius_mm large; of a ring; of a roller, 0
    where there is none. narrow: gears whose loops leave a ring no room between them; pins must be pins_mm long.
    placed: whether it is known where things stand; depth: of the frame, None: any."""

    spacing: Fraction
    clearance: Fraction
    depth: Fraction | None
    placed: bool
    gears: tuple[tuple[str, Fraction], ...]
    ring: Fraction
    roller: Fraction
    hub: Fraction
    hub_radius_mm: Fraction
    narrow: frozenset[str]
    pins_mm: Fraction | None

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
    def need_mm(self) -> Fraction | None:
        """The level spacing with which every part would; None: the loops of pin gears are too near, whatever it is."""
        return None if self.narrow else self.thickest + self.clearance

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

    def side(self, third: bool) -> bool:
        """Whether the gears on one side of an arbor can be had, with a third gear or without."""
        roles = {BEHIND, THIRD} if third else {GEAR}
        if self.narrow & roles:
            return False
        most = max(self.ring, self.roller, *map(self.deep, roles))
        return self.placed or most + self.clearance <= self.spacing

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
        """The greater level spacings with which fewer of these parts touch, up to that with which none do [mm]."""
        need = self.need_mm
        if need is None:
            return []
        parts = {self.ring, self.roller, self.hub, *(mm for _, mm in self.gears)}
        found = {need}
        for one, other in combinations_with_replacement(sorted(parts), 2):
            for between in ((one + other) / 2, (one + other) / 2 + self.clearance):
                found |= {between / levels for levels in range(1, math.ceil(between / self.spacing) + 1)}
        return sorted(mm for mm in found if self.spacing < mm <= need)


def levels_of(design: Design) -> Levels | None:
    """How thick things are; None where gears are not judged as made."""
    return _levels(design) if design.as_made else None


def thick_of(design: Design) -> Levels | None:
    """Likewise where it matters where things stand; None: they keep to their levels, or have no places."""
    levels = levels_of(design)
    return None if levels is None or levels.thin or not levels.placed else levels


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
    close = sizes.pin_length_mm - 2 * sizes.loop_mm < sizes.loop_mm + sizes.tooth_mm - 1e-9
    narrow = frozenset(role for role, made in toothing.items() if close and made == PINS)
    return Levels(
        design.rings.level_spacing,
        fit.clearance,
        None if fit.frame is None else fit.frame.depth,
        fit.directions is not None,
        tuple((role, thick("gear", made)) for role, made in toothing.items()),
        thick("ring", roles.ring),
        ROLLER_WIDTH * held if fit.rollers is not None else Fraction(0),
        _rounded(sizes.arbor_mm),  # at least as long as its arbor is thick
        _rounded(sizes.hub_mm / 2),
        narrow,
        Fraction(math.ceil((3 * sizes.loop_mm + sizes.tooth_mm) * 1000), 1000) if narrow else None,
    )


def _rounded(mm: float) -> Fraction:
    return Fraction(round(mm * 1000), 1000)
