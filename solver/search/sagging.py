"""Which posts, rings and arms bend no farther than a design with supports allows: the rule `sag`.

Hung on a wall the main axis is level, so that posts are cantilevers from their plate, one of a roller may have to carry
all of its ring, and a ring hangs on its rollers; on a table posts are pressed along their length, and a ring lies flat
on its rollers. How these may stand is a property of each ring (`roller_gaps`): evenly, where its figure for so many is
enough, or with no gap wider than its figure for the widest gap allows. How a ring without rollers is held is the
maker's, and it is not judged.
What gears weigh is reckoned by their teeth alone (`forms.weights`), so that each part is judged by itself.

Floats decide: what comes within MARGIN of what is allowed counts as too far. The judge, which works it out anew, takes
the limit as it is, and so never refuses what is taken here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import inf, pi
from typing import NamedTuple, Protocol

import numpy as np

from solver.design.design import Design
from solver.design.weights import body_grams
from solver.forms import FORMS
from solver.forms.form import Spec, sizes_of
from solver.forms.pins import inside_mm
from solver.forms.weights import hub_grams, hub_mm, reckoned_grams, thick_mm
from solver.forms.wire import tube_grams, wire_grams
from solver.mechanics.beams import loaded_at, loaded_evenly
from solver.mechanics.metals import METALS, newtons
from solver.mechanics.on_rollers import Figures, hung_evenly, hung_within, lying_evenly, lying_within
from solver.mechanics.sections import Section, round_rod, strip
from solver.search.levels import ROLLER_WIDTH
from solver.search.roller_gaps import FREE, GRID, WIDEST, RollerGaps, stood

MARGIN = 1e-6  # of the limit; what floats and cut series add is a thousandth of it
POST_END = 2.0  # mm of a post beyond what turns on it, for a collar or a screw (common practice, no source)
MOTOR_GRAMS = 150.0  # of a geared motor as long as a finger (common practice, no source)
RODS, WIRE = METALS["free-cutting brass"], METALS["brass"]  # of posts; of loops, and of plate


class Stood(Protocol):
    """One side of an arbor: its level, the teeth of its gear and of the third gear between it and its ring."""

    @property
    def level(self) -> int: ...

    @property
    def gear(self) -> int: ...

    @property
    def third(self) -> int | None: ...


class Load(NamedTuple):
    """What a post carries: how far from the plate [mm], and its weight [g]."""

    at_mm: float
    grams: float


@dataclass(frozen=True)
class RingBend:
    """A ring of so many teeth as a thin ring: radius of the middle line [mm], section as it bends in its plane and out
    of it, its weight [g], and what its body with its stand weighs [g], 0 for a blank."""

    radius_mm: float
    in_plane: Section
    across: Section
    grams: float
    body_grams: float


class Sagging:
    """How far the parts of a design's trains bend. limit_mm: as far as they may, infinite without supports; hung:
    whether the model hangs on a wall; plate: "inner", "outer", or "none"."""

    def __init__(self, design: Design) -> None:
        self.design, self.form, self.sizes = design, FORMS[design.wire.form], sizes_of(design)
        supports, sizes = design.supports, self.sizes
        self.hung = design.hung
        self.plate, self.stands = design.fit.plate, design.fit.stands
        self.limit_mm = inf if supports is None else float(supports.sag(design.rings.addendum))
        self.roles = self.form.roles(design.wire.third)
        rollers = design.fit.rollers
        self.rollers: tuple[int, ...] = () if rollers is None else rollers.count  # on which a ring may hang or lie
        self.post = round_rod(sizes.post_mm)
        self.roller_mm = ROLLER_WIDTH * (sizes.sheet_mm if self.form.plate else sizes.loop_mm)
        self._stiff: dict[tuple[int, int, int, int | None], bool] = {}
        self._gears: dict[tuple[int, str], float] = {}
        self._known: dict[tuple[tuple[Stood, ...], int], bool] = {}
        self._gaps: dict[tuple[int, float], RollerGaps] = {}

    # -- weights -----------------------------------------------------------------------------------------------------

    def gear_grams(self, teeth: int, toothing: str) -> float:
        """A small gear with its hub, as if that were not bored: some are, for a post, an arbor or a bearing."""
        key = teeth, toothing
        if key not in self._gears:
            sizes = self.sizes
            own = reckoned_grams(self.form, sizes, "gear", teeth, toothing)
            self._gears[key] = own + hub_grams(sizes, thick_mm(self.form, sizes, toothing), 0.0)
        return self._gears[key]

    def hub_mm(self, toothing: str) -> float:
        """The length of the hub of a small gear."""
        return hub_mm(self.sizes, thick_mm(self.form, self.sizes, toothing))

    def arbor_mm(self, one: str, other: str) -> float:
        """The length of an arbor between gears of these toothings."""
        ends = self.hub_mm(one) + self.hub_mm(other)
        return self.sizes.level_spacing_mm + ends / 2

    def body_grams(self, body: int | None, ring: int, count: int) -> float:
        """A body with its stand; 0 for none."""
        if body is None:
            return 0.0
        grams = float(body_grams(self.design, body))
        if self.stands != "none":
            beyond = ring if self.stands == "inner" else count - 1 - ring
            grams += wire_grams((beyond + 0.5) * self.sizes.level_spacing_mm, self.sizes.post_mm, self.sizes.density)
        return grams

    def roller_grams(self) -> float:
        """A roller; 0 where there are none."""
        rollers, sizes = self.design.fit.rollers, self.sizes
        if rollers is None:
            return 0.0
        return tube_grams(self.roller_mm, 2 * float(rollers.radius), sizes.post_mm, sizes.density)

    def ring_grams(self, teeth: int) -> float:
        """A ring without what it carries."""
        return reckoned_grams(self.form, self.sizes, "ring", teeth, self.roles.ring)

    def link_grams(self, sides: Sequence[Stood]) -> float:
        """What the arbor of a link carries, and itself."""
        toothings = [self.roles.behind_thirds(side.third is not None) for side in sides]
        gears = sum(self.gear_grams(side.gear, made) for side, made in zip(sides, toothings, strict=True))
        arbor = self.arbor_mm(toothings[0], toothings[-1])
        return gears + tube_grams(arbor, self.sizes.arbor_mm, self.sizes.post_mm, self.sizes.density)

    # -- posts -------------------------------------------------------------------------------------------------------

    def post_bend_mm(
        self, bottom: int, top: int, count: int, ends: tuple[float, float], loads: Sequence[Load]
    ) -> float:
        """How far the free end of a post goes down. bottom, top: its first and its last level; ends: how far what it
        carries reaches beyond the middle of them [mm]; its own weight is added."""
        long = self.post_mm(bottom, top, count, ends)
        stiff = RODS.modulus * self.post.moment
        own = newtons(wire_grams(long, self.sizes.post_mm, self.sizes.density))
        bent = sum(loaded_at(long, load.at_mm, newtons(load.grams), stiff) for load in loads)
        return bent + loaded_evenly(long, own, stiff)

    def post_mm(self, bottom: int, top: int, count: int, ends: tuple[float, float]) -> float:
        """The length of a post from its plate, or without one of the stub that the frame holds."""
        spacing = self.sizes.level_spacing_mm
        if self.plate == "inner":
            return (top + 0.5) * spacing + ends[1] + POST_END
        if self.plate == "outer":
            return (count - 0.5 - bottom) * spacing + ends[0] + POST_END
        return (top - bottom) * spacing + sum(ends) + 2 * POST_END

    def at_mm(self, level: float, count: int) -> float:
        """How far the middle of a level is from the plate."""
        spacing = self.sizes.level_spacing_mm
        return (level + 0.5) * spacing if self.plate == "inner" else (count - 0.5 - level) * spacing

    def arbor_bend_mm(self, sides: Sequence[Stood], count: int) -> float:
        """How far the post of a link's arbor bends: wheel and pinion pull at their levels, the arbor midway."""
        toothings = [self.roles.behind_thirds(side.third is not None) for side in sides]
        sizes = self.sizes
        loads = [
            Load(self.at_mm(side.level, count), self.gear_grams(side.gear, made))
            for side, made in zip(sides, toothings, strict=True)
        ]
        arbor = tube_grams(self.arbor_mm(*toothings), sizes.arbor_mm, sizes.post_mm, sizes.density)
        loads.append(Load(self.at_mm((sides[0].level + sides[1].level) / 2, count), arbor))
        ends = self.hub_mm(toothings[0]) / 2, self.hub_mm(toothings[1]) / 2
        return self.post_bend_mm(sides[0].level, sides[1].level, count, ends, loads)

    def third_bend_mm(self, level: int, teeth: int, count: int) -> float:
        """How far the post of a third gear bends."""
        half = self.hub_mm(self.roles.third) / 2
        load = Load(self.at_mm(level, count), self.gear_grams(teeth, self.roles.third))
        return self.post_bend_mm(level, level, count, (half, half), [load])

    def roller_bend_mm(self, level: int, teeth: int, count: int, body: int | None) -> float:
        """How far the post of a roller bends that carries all of its ring."""
        grams = self.roller_grams() + self.ring_grams(teeth) + self.body_grams(body, level, count)
        half = self.roller_mm / 2
        return self.post_bend_mm(level, level, count, (half, half), [Load(self.at_mm(level, count), grams)])

    # -- rings -------------------------------------------------------------------------------------------------------

    def ring(self, teeth: int, body_grams: float) -> RingBend:
        """A ring as it bends: of wire its loop alone, of plate what is left below the roots."""
        sizes, spec = self.sizes, Spec("ring", teeth, self.roles.ring, ())
        if self.form.plate:
            deep = sizes.rim_mm - _root_depth_mm(self.design)
            radius = sizes.radius_mm(teeth) - sizes.rim_mm + deep / 2
            sections = strip(deep, sizes.sheet_mm), strip(sizes.sheet_mm, deep)
        else:
            radius = inside_mm(sizes, spec) + sizes.loop_mm / 2
            sections = round_rod(sizes.loop_mm), round_rod(sizes.loop_mm)
        return RingBend(radius, *sections, self.ring_grams(teeth), body_grams)

    def ring_bend_mm(self, teeth: int, body_grams: float, widest: int, even: int | None) -> float:
        """How far a ring goes out of round that hangs on its rollers, down and its body where they are worst; lying,
        how far it goes down between them, its body there. widest: the widest gap between two rollers, in steps of the
        grid; even: how many they are where they stand evenly."""
        one = self.ring(teeth, body_grams)
        if one.in_plane.moment <= 0:
            return inf
        weight, force = newtons(one.grams) / (2 * pi), newtons(body_grams)
        section = one.in_plane if self.hung else one.across
        twist = one.across.twist(WIRE)
        figures: list[Figures | None] = (
            [hung_within(widest), None if even is None else hung_evenly(even)]
            if self.hung
            else [lying_within(widest, twist), None if even is None else lying_evenly(even, twist)]
        )
        least = min(own * weight + load * force for own, load in filter(None, figures))
        return least * one.radius_mm**3 / (WIRE.modulus * section.moment)

    def stood_bend_mm(self, teeth: int, body_grams: float, directions: Sequence[int]) -> float:
        """Likewise on rollers in these directions of the grid."""
        return self.ring_bend_mm(teeth, body_grams, *stood(directions))

    # -- the rule ----------------------------------------------------------------------------------------------------

    def holds(self, bend_mm: float) -> bool:
        """Whether something that bends so far is within the limit, for the search."""
        return bend_mm <= self.limit_mm * (1 - MARGIN)

    @property
    def posts_bend(self) -> bool:
        """Whether posts are judged: they are fixed to a plate, and level."""
        return self.hung and self.plate != "none"

    def posts_hold(self, sides: tuple[Stood, ...], count: int) -> bool:
        """Whether the posts of an arbor with these sides, and of its third gears, bend within the limit, in a train of
        so many rings. One side alone is that of the motor, whose shaft is its own."""
        if not self.posts_bend:
            return True
        key = sides, count
        if key not in self._known:
            bent = [self.third_bend_mm(one.level, one.third, count) for one in sides if one.third is not None]
            if len(sides) > 1:
                bent.append(self.arbor_bend_mm(sides, count))
            self._known[key] = all(map(self.holds, bent))
        return self._known[key]

    def roller_gaps(self, level: int, teeth: int, count: int, body: int | None) -> RollerGaps:
        """How the rollers of a ring may stand, so that it bends within the limit; anyhow where it has none."""
        grams = self.body_grams(body, level, count)
        key = teeth, grams
        if key not in self._gaps:
            self._gaps[key] = self._gaps_of(teeth, grams)
        return self._gaps[key]

    def _gaps_of(self, teeth: int, grams: float) -> RollerGaps:
        if not self.rollers:
            return FREE
        widest = next(
            (gap for gap in range(WIDEST, 0, -1) if self.holds(self.ring_bend_mm(teeth, grams, gap, None))), 0
        )
        even = (
            count
            for count in self.rollers
            if -(-GRID // count) > widest and self.holds(self.ring_bend_mm(teeth, grams, WIDEST, count))
        )
        return RollerGaps(widest, tuple(even))

    def ring_holds(self, level: int, teeth: int, count: int, body: int | None) -> bool:
        """Whether a ring bends within the limit on rollers that stand as is best for it, and the post of each."""
        key = level, teeth, count, body
        if key not in self._stiff:
            self._stiff[key] = self._ring_holds(*key)
        return self._stiff[key]

    def _ring_holds(self, level: int, teeth: int, count: int, body: int | None) -> bool:
        if not self.rollers:
            return True
        if self.posts_bend and not self.holds(self.roller_bend_mm(level, teeth, count, body)):
            return False
        return self.roller_gaps(level, teeth, count, body).possible(self.rollers)

    def stack_gaps(self, rings: Sequence[int], riders: dict[int, int]) -> tuple[RollerGaps, ...]:
        """How the rollers of each ring may stand; none where rings have none. riders: the body on each ring that
        carries one."""
        if not self.rollers:
            return ()
        count = len(rings)
        return tuple(self.roller_gaps(level, teeth, count, riders.get(level)) for level, teeth in enumerate(rings))

    def stack_holds(self, rings: Sequence[int], riders: dict[int, int]) -> bool:
        """Whether all rings do. riders: the body on each ring that carries one."""
        count = len(rings)
        return all(self.ring_holds(level, teeth, count, riders.get(level)) for level, teeth in enumerate(rings))

    # -- arms --------------------------------------------------------------------------------------------------------

    def arm_bend_mm(self, grams: float, long_mm: float, bent: bool) -> float:
        """How far the end of an arm so long, bends taken straight, goes down under what it carries: P L3 / (3 EI), and
        for a bent one that lies flat so much more as it twists, by no more than 1 + Poisson's ratio."""
        supports = self.design.supports
        assert supports is not None
        metal = METALS[supports.metal]
        moved = loaded_at(long_mm, long_mm, newtons(grams), metal.modulus * round_rod(float(supports.arm_mm)).moment)
        return moved * (1 + metal.poisson) if bent and not self.hung else moved

    def longest_mm(self, grams: float, bent: bool) -> float:
        """The longest arm that holds so much: bending grows with the cube of the length."""
        return float((self.limit_mm * (1 - MARGIN) / self.arm_bend_mm(grams, 1.0, bent)) ** (1 / 3))

    def roller_load_grams(self, level: int, teeth: int, count: int, body: int | None) -> float:
        """What the arm of a roller carries: the roller, and all of its ring with its body."""
        return self.roller_grams() + self.ring_grams(teeth) + self.body_grams(body, level, count)

    def longest_arms_mm(self, held: str, bent: np.ndarray) -> np.ndarray:
        """How long [mm] arms may be for the heaviest that is so held (`most_grams`), each bent or not."""
        grams = self.most_grams(held)
        most = [self.longest_mm(grams, way) if grams else inf for way in (False, True)]
        return np.where(bent, most[1], most[0])

    def most_grams(self, held: str) -> float:
        """The most that an arm carries that holds an "arbor", a "third gear", a "roller" or a "motor" in any train of
        the design: who asks for arms before it is known what is on them keeps to the safe side with it."""
        design, roles = self.design, self.roles
        arbors, drive = design.arbors, design.drive
        thirds = max((self.gear_grams(teeth, roles.third) for teeth in design.third_counts), default=0.0)
        if held == "third gear":
            return thirds
        if held == "motor":
            pinions = () if drive is None else drive.pinion_teeth
            third = drive is not None and drive.third_gears > 0
            motors = [self.motor_load_grams(teeth, way) for teeth in pinions for way in {False, third}]
            return max([*motors, thirds if third else 0.0])
        if held == "arbor":
            ways = [roles.gear, roles.behind] if arbors.third_gears else [roles.gear]
            wheel, pinion = (
                max(self.gear_grams(teeth, way) for teeth in some for way in ways)
                for some in (arbors.wheel_teeth, arbors.pinion_teeth)
            )
            arbor = max(self.arbor_mm(one, other) for one in ways for other in ways)
            return wheel + pinion + tube_grams(arbor, self.sizes.arbor_mm, self.sizes.post_mm, self.sizes.density)
        count = len(design.bodies) + design.rings.blanks[-1]
        ends = (0, count - 1)  # one of which has the longest stand
        bodies = max(self.body_grams(body, ring, count) for body in range(len(design.bodies)) for ring in ends)
        return self.roller_grams() + max(map(self.ring_grams, design.ring_counts), default=0.0) + bodies

    def motor_load_grams(self, teeth: int, third: bool) -> float:
        """What the arm of the motor carries: the motor and its pinion."""
        return MOTOR_GRAMS + self.gear_grams(teeth, self.roles.behind_thirds(third))


@lru_cache(maxsize=64)
def _root_depth_mm(design: Design) -> float:
    """How deep the roots of a ring of plate lie below its pitch circle."""
    form, sizes = FORMS[design.wire.form], sizes_of(design)
    shape = form.shape(sizes, Spec("ring", 60, form.roles(design.wire.third).ring, (12,)))
    return shape.pitch_radius_mm - shape.root_radius_mm
