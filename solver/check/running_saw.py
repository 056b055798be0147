"""A gear with saw teeth, for the judge: the wire's centre line goes round a jig pin at each tip and each root, straight
between. Plane geometry; lengths in mm, angles in radians."""

from __future__ import annotations

from math import acos, atan2, cos, hypot, pi, sin

from solver.check.gear_circles import seen
from solver.check.gear_lengths import GearLengths


class SawTeeth:
    """A gear with saw teeth. bend: radius of the centre line round a jig pin; near: how near to the centre line the
    middle of a pin comes; step: half a pitch; tip, root: distances of the jig pins. unmade: why it cannot be made."""

    def __init__(self, made: GearLengths, teeth: int, ring: bool, with_teeth: bool = False) -> None:
        """with_teeth: it works with teeth like its own, whose jig pins are then what comes near."""
        self.radius, self.step = made.module * teeth / 2, pi / teeth
        self.mouth = self.step  # a tooth is bent about one pin
        self.bend, self.near = (made.jig_pin + made.tooth) / 2, (made.pin + made.tooth) / 2
        if with_teeth:  # as near as the wires about both pins allow
            self.near = self.bend + made.tooth
        deep = made.deep(self.radius, ring)
        inside = self.radius - deep
        self.tip = self.radius + made.addendum - made.tooth - made.jig_pin / 2
        # At a root the tooth wire lies on the loop: flush with its outside, or middle on middle where it is thicker.
        flush = inside + made.loop - made.tooth / 2 if made.tooth <= made.loop else inside + made.loop / 2
        self.root = flush + self.bend
        x, y = self.root * cos(self.step) - self.tip, self.root * sin(self.step)
        apart = hypot(x, y)
        self.unmade = ""
        if deep <= 0:
            self.unmade = "leaves no room for teeth beside its hub"
        elif apart <= 2 * self.bend:
            self.unmade = "leaves no room between its bends"
        elif not ring and inside <= made.hub / 2:
            self.unmade = "leaves no room for spokes"
        else:
            # The straight wire touches both bends from opposite sides: its normal stands so to the line between them.
            self.normal = atan2(y, x) - acos(2 * self.bend / apart)
            if self.normal <= self.step:
                self.unmade = "has no room for teeth between rim and addendum"
        self.outermost = self.tip + self.bend + self.near

    def half_gap(self, far: float) -> float:
        """Half the arc about the middle of a gap that the middle of a pin has, so far from the centre, within
        `outermost`; below 0 where it has no room."""
        n, out, into = self.normal, self.bend + self.near, self.bend - self.near
        if far >= hypot(self.tip + out * cos(n), out * sin(n)):  # beside the bend at the tip
            return self.step - seen(far, self.tip, out)
        beside = self.root * cos(n - self.step) - into, self.root * sin(n - self.step)
        if into > 0 and far < hypot(*beside):  # within the bend at the root
            bottom = self.root - into
            return (far - bottom) / far if far < bottom else seen(far, self.root, into)
        edge = self.tip * cos(n) + out  # beside the straight wire, which is so far from the centre
        return self.step - n + (acos(edge / far) if far >= edge else (far - edge) / far)
