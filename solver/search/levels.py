"""Which parts stay within their level: how thick the gears of a design are along their axis, and its rollers.

A level is one level spacing deep. What turns on it is in its middle, and keeps half the clearance from either edge, so
that what stands on neighbouring levels does not touch. Rings turn between the loops of pin gears.

Where arms hold what stands between two levels, one lies along the edge of a level, and what it holds must leave it room
and the clearance: no gear and no roller may be thicker, whichever of them the arm passes, since each stands beside the
gap of the arm that it is held by. A ring is never thicker than the gears that work with it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from solver.design.design import Design
from solver.design.links import LinkKind
from solver.search.reaches import BEHIND, GEAR, THIRD

ROLLER_WIDTH = 3  # so many times as wide as the loop or plate in its groove (common practice, no source)


@dataclass(frozen=True)
class Levels:
    """Whether parts stay within their level: gears by role, and rings with what carries them. need_mm: the level
    spacing with which all would, as far as spacing is what is wrong; None: the loops of pin gears are too near, and
    pins must be pins_mm long. armed_mm: the level spacing with which arms would have room beside them too; None: there
    are no arms."""

    fits: frozenset[str]
    rings: bool
    need_mm: Fraction | None
    pins_mm: Fraction | None = None
    armed_mm: Fraction | None = None

    def side(self, third: bool) -> bool:
        """Whether the gears on one side of an arbor do, with a third gear or without."""
        return self.rings and ({BEHIND, THIRD} if third else {GEAR}) <= self.fits

    def link(self, kind: LinkKind) -> bool:
        """Whether the gears of a link of that kind do."""
        return self.side(kind.wheel_thirds > 0) and self.side(kind.pinion_thirds > 0)


def levels_of(design: Design) -> Levels | None:
    """What stays within its level; None where gears are not judged as made."""
    return _levels(design) if design.as_made else None


@lru_cache(maxsize=256)
def _levels(design: Design) -> Levels:
    from solver.forms import FORMS
    from solver.forms.form import Spec, sizes_of
    from solver.forms.pins import PINS

    form, sizes, fit = FORMS[design.wire.form], sizes_of(design), design.fit
    armed = None if design.supports is None or not design.armed else fit.clearance + design.supports.arm_mm
    roles, spacing = form.roles(design.wire.third), design.rings.level_spacing

    def thick(kind: str, toothing: str) -> Fraction:
        return form.outline(sizes, Spec(kind, 60, toothing, (60,))).thick_mm

    ring = thick("ring", roles.ring)
    carried = ring
    if fit.rollers is not None:
        held = design.wire.sheet if form.plate else Fraction(round(sizes.loop_mm * 1000), 1000)
        carried = max(ring, ROLLER_WIDTH * held)
    toothing = {GEAR: roles.gear, THIRD: roles.third, BEHIND: roles.behind}
    hub = Fraction(round(sizes.arbor_mm * 1000), 1000)  # at least as long as its arbor is thick
    deep = {role: max(thick("gear", made), hub) for role, made in toothing.items()}
    free = sizes.pin_length_mm - 2 * sizes.loop_mm
    close = free < sizes.loop_mm + sizes.tooth_mm - 1e-9
    narrow = {role for role, made in toothing.items() if close and made == PINS}
    room = fit.clearance + (armed or 0)
    fits = frozenset(role for role, mm in deep.items() if role not in narrow and mm + room <= spacing)
    thickest = max(carried, *deep.values())
    pins = Fraction(math.ceil((3 * sizes.loop_mm + sizes.tooth_mm) * 1000), 1000) if narrow else None
    return Levels(
        fits,
        carried + room <= spacing,
        None if narrow else thickest + fit.clearance,
        pins,
        None if narrow or armed is None else thickest + fit.clearance + armed,
    )
