"""What the parts of a train weigh, as the judge reckons them for the rule `sag`: by teeth alone, from the safe side.

Teeth of wire take two straight edges from the tip circle to the inside of the loop where they are saw teeth, and go
straight in, a pitch across and straight out again where they are curved; gears of plate are discs out to a quarter of a
module beyond their pitch circles. Grams, millimetres.
"""

from __future__ import annotations

from fractions import Fraction
from math import pi, sqrt

from solver.check.gear_lengths import GearLengths, lengths_of
from solver.check.level import ROLLER, pin_length
from solver.check.running_teeth import short_of
from solver.design.design import Design

BODY = Fraction(20)  # grams, unless told
MOTOR = 150.0  # grams of a geared motor (common practice, no source)


class Weights:
    """Of one design. A toothing is "pins", "teeth" or "short"."""

    def __init__(self, design: Design) -> None:
        self.design, self.made = design, lengths_of(design)
        self.post = 2 * float(design.fit.post_radius)
        self.spacing = float(design.rings.level_spacing)
        self.pins = pin_length(design, self.made)
        made = self.made
        self.roller_wide = ROLLER * (made.sheet if made.plate else made.loop)

    def toothing(self, role: str) -> str:
        """Of a "gear" at its ring, a "third" gear, or the one "behind" it."""
        short = self.design.wire.third == "teeth"
        return {"gear": "pins", "third": "short" if short else "pins", "behind": "pins" if short else "teeth"}[role]

    def thick(self, role: str) -> float:
        """Of a gear with its hub, which is at least as long as the arbor is thick."""
        made = self.made
        if made.plate:
            return max(made.sheet, made.arbor)
        return max(self.pins if self.toothing(role) == "pins" else made.loop + made.tooth, made.arbor)

    def gear(self, teeth: int, role: str) -> float:
        """A small gear with its hub, as if that had no bore."""
        made = self.made
        hub = self._round(made.hub, self.thick(role))
        if made.plate:
            return hub + self._round(made.module * (teeth + 0.5), made.sheet) - self._round(made.arbor, made.sheet)
        return hub + self._wire(teeth, self.toothing(role), ring=False)

    def ring(self, teeth: int) -> float:
        """A ring alone."""
        made = self.made
        if made.plate:
            outside, hole = made.module * (teeth + 0.5), made.module * teeth - 2 * made.rim
            return self._round(outside, made.sheet) - self._round(hole, made.sheet)
        return self._wire(teeth, "teeth", ring=True)

    def _wire(self, teeth: int, toothing: str, ring: bool) -> float:
        made, wire = self.made, self.design.wire
        radius, off = made.module * teeth / 2, float(wire.neutral)
        like = short_of(made) if toothing == "short" else made
        deep = made.pin / 2 + made.loop if toothing == "pins" else like.deep(radius, ring)
        loops = 2 if toothing == "pins" else 1
        grams = loops * self._round(made.loop, 2 * pi * (radius - deep + off * made.loop))
        if toothing == "pins":
            grams += self._round(made.pin, teeth * self.pins)
        else:
            grams += self._round(made.tooth, teeth * self._tooth(like.addendum + deep, off))
        if not ring:
            grams += self._round(made.pin, loops * wire.spokes * (radius - deep - made.hub / 2))
        return grams

    def _tooth(self, high: float, off: float) -> float:
        made = self.made
        straight = sqrt(made.pitch**2 + 4 * high**2) if made.form == "saw" else 2 * high + made.pitch
        return straight + 2 * pi * made.tooth * max(off - 0.5, 0.0)

    def arbor_long(self, one: str, other: str) -> float:
        """From the outer face of the wheel to that of the pinion, by their roles."""
        return self.spacing + (self.thick(one) + self.thick(other)) / 2

    def arbor(self, one: str, other: str) -> float:
        long = self.arbor_long(one, other)
        return self._round(self.made.arbor, long) - self._round(self.post, long)

    def rod(self, long: float) -> float:
        """A post or a stand."""
        return self._round(self.post, long)

    def roller(self) -> float:
        assert self.design.fit.rollers is not None
        outside = 2 * float(self.design.fit.rollers.radius)
        return self._round(outside, self.roller_wide) - self._round(self.post, self.roller_wide)

    def body(self, body: int, ring: int, count: int) -> float:
        """A body, with its stand where it has one."""
        told = [grams for name, grams in self.design.weights or () if name == self.design.bodies[body].name]
        grams = float(told[0] if told else BODY)
        levels = {"inner": ring + 0.5, "outer": count - ring - 0.5}.get(self.design.fit.stands)
        return grams if levels is None else grams + self.rod(levels * self.spacing)

    # What an arm carries besides itself.

    def on_arbor(self, wheel: int, pinion: int, behind: tuple[bool, bool]) -> float:
        """behind: whether there is a third gear on the side of the wheel, and of the pinion."""
        one, other = ("behind" if third else "gear" for third in behind)
        return self.gear(wheel, one) + self.gear(pinion, other) + self.arbor(one, other)

    def on_roller(self, teeth: int, body: int | None, ring: int, count: int) -> float:
        return self.roller() + self.ring(teeth) + (0.0 if body is None else self.body(body, ring, count))

    def on_motor(self, pinion: int, behind: bool) -> float:
        return MOTOR + self.gear(pinion, "behind" if behind else "gear")

    def most(self, held: str) -> float:
        """The most that an arm carries that holds an "arbor", a "third gear", a "roller" or a "motor" in any train."""
        design, drive = self.design, self.design.drive
        thirds = [self.gear(teeth, "third") for teeth in design.third_counts]
        if held == "third gear":
            return max(thirds, default=0.0)
        if held == "motor":
            if drive is None:
                return 0.0
            ways = (False, True) if drive.third_gears else (False,)
            motors = [self.on_motor(teeth, way) for teeth in drive.pinion_teeth for way in ways]
            return max(motors + (thirds if drive.third_gears else []))
        if held == "arbor":
            roles = ("gear", "behind") if design.arbors.third_gears else ("gear",)
            wheels = [self.gear(teeth, role) for teeth in design.arbors.wheel_teeth for role in roles]
            pinions = [self.gear(teeth, role) for teeth in design.arbors.pinion_teeth for role in roles]
            return max(wheels) + max(pinions) + max(self.arbor(role, role) for role in roles)
        count = len(design.bodies) + max(design.rings.blanks)
        bodies = [self.body(body, ring, count) for body in range(len(design.bodies)) for ring in (0, count - 1)]
        rings = [self.ring(teeth) for teeth in design.ring_counts]
        return (0.0 if design.fit.rollers is None else self.roller()) + max(rings, default=0.0) + max(bodies)

    def _round(self, diameter: float, long: float) -> float:
        return diameter**2 * pi / 4 * long * float(self.design.wire.density) / 1000


def rim_left(made: GearLengths) -> float:
    """How deep the metal of a ring of plate is below its roots: 1.25 modules deep for the ISO 53 rack, half a pitch for
    clock wheels."""
    return made.rim - (1.25 if made.form == "involute" else pi / 2) * made.module
