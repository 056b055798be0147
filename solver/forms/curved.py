"""Teeth bent to the curve that drives pins evenly: the physical limit of wire and pins.

While the pitch circles roll, the middle of a pin draws an epicycloid on the toothed gear; a flank parallel to it, half
a pin inside, touches the pin all the way, at the foot of the line from the pin's middle to the pitch point (theory of
lantern gearing). The wire's centre line is the parallel at half a pin and half a wire. Each tooth is made for one
number of pins: of a gear with several mates for the smallest, which stays in contact shortest; larger ones run on it
too, but less evenly. Below its flank a tooth has straight legs to a bend about a jig pin a little thicker than the
pins, above it a bend about one jig pin, or two where rings.addendum cuts it off.

Gears have a play of PLAY of a pitch at the nominal distance (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import atan2, degrees, hypot, pi, sin
from typing import TYPE_CHECKING

from solver.forms.form import Line, Quantity, Sizes, Spec, ToothedGear
from solver.forms.lantern import Flank, first_turn, parallel
from solver.forms.pinned import PinForm
from solver.forms.pins import depth_of, toothed_gear
from solver.forms.plans import Hole
from solver.forms.saw import bends_mm

if TYPE_CHECKING:
    from solver.forms.gaps import Gaps

PLAY = 0.05


def pins_of(spec: Spec) -> int:
    """The number of pins that a gear's teeth are made for: its smallest mate's."""
    return min(spec.mates, default=spec.teeth)


def flank(sizes: Sizes, spec: Spec) -> Flank:
    """One side of a gap. Raises DesignError where wire, rim or addendum leave no room for it."""
    radius, circle_ = sizes.radius_mm(spec.teeth), sizes.radius_mm(pins_of(spec))
    lean = PLAY * sizes.pitch_mm / 2 / radius
    reach, step = (sizes.pin_mm + sizes.tooth_mm) / 2, pi / spec.teeth
    root_bend, tip_bend = reach + PLAY * sizes.pitch_mm / 2, (sizes.jig_pin_mm + sizes.tooth_mm) / 2
    # The wire lies on the loop at every root, as saw teeth do.
    under = (sizes.loop_mm + max(sizes.loop_mm, sizes.tooth_mm) - sizes.tooth_mm) / 2
    root = radius - depth_of(sizes, spec) + under + root_bend
    thick = sizes.refuse("wire.pin", sizes.pin_mm, f"leaves {spec.name} no teeth between its pins; use thinner wire")
    if root_bend >= radius * sin(step):
        raise thick

    def wire(turn: float) -> tuple[float, float]:
        return parallel(radius, circle_, lean, turn, reach)

    # The legs are `root_bend` from the middle of the gap; the flank begins where it comes away from them.
    start = first_turn(lambda turn: wire(turn)[1] >= root_bend, 1e-6, pi)
    if start is None:
        raise thick
    if root > wire(start)[0]:
        deep = depth_of(sizes, spec) + root - wire(start)[0]
        if spec.kind == "gear" and deep > sizes.rim_mm:
            told = f"leaves {spec.name} no room for pins below its pitch circle"
            raise sizes.refuse("wire.hub_diameter", sizes.hub_mm, told)
        told = f"leaves {spec.name} no room for pins below its pitch circle: must be at least {sizes.at_least(deep)}"
        raise sizes.refuse("rings.rim", sizes.rim_mm, told)
    highest = radius + sizes.addendum_mm - sizes.tooth_mm / 2 - tip_bend

    def tip(turn: float) -> tuple[float, float]:
        x, y = parallel(radius, circle_, lean, turn, reach + tip_bend)
        return hypot(x, y), atan2(y, x)

    end = first_turn(lambda turn: tip(turn)[1] >= step or tip(turn)[0] >= highest, start, pi)
    if end is None or tip(start)[1] >= step:
        told = f"leaves {spec.name} no room for the bend at a tip; use a thinner jig pin, or thinner wire"
        raise sizes.refuse("wire.jig_pin", sizes.jig_pin_mm, told)
    if end <= start + 1e-6:
        least = sizes.at_least(tip(start)[0] + tip_bend + sizes.tooth_mm / 2 - radius)
        told = f"leaves {spec.name} no flanks above its legs: must be more than {least}"
        raise sizes.refuse("rings.addendum", sizes.addendum_mm, told)
    far, at = tip(end)
    return Flank(radius, circle_, lean, reach, root, root_bend, start, end, (far, min(at, step)), tip_bend, step)


class Curved(PinForm):
    """Bent-wire teeth of the curve that drives pins evenly, on a loop, with pin gears."""

    name = "curved"
    title = "curved teeth of bent wire with pin gears"
    source = "theory of lantern gearing; play and tips common practice, no source"
    teeth = "curved teeth"
    for_mates = True

    def toothed(self, sizes: Sizes, spec: Spec) -> ToothedGear:
        return _toothed(sizes, spec)

    def reach_mm(self, sizes: Sizes, spec: Spec) -> float:
        found = flank(sizes, spec)
        return _tip_mm(sizes, found) - found.radius

    def tooth_wire_mm(self, sizes: Sizes, deep_mm: float) -> float:
        """Straight in, a pitch across, and out again: no line that never turns back is longer; and the bends' gain."""
        return 2 * deep_mm + sizes.pitch_mm + bends_mm(sizes)

    def gaps(self, sizes: Sizes, specs: Sequence[Spec]) -> Gaps:
        from solver.forms.gaps import CurvedGaps  # with numpy, which reading a file does not need

        return CurvedGaps(tuple(spec.teeth for spec in specs), tuple(flank(sizes, spec) for spec in specs))


def _toothed(sizes: Sizes, spec: Spec) -> ToothedGear:
    side = flank(sizes, spec)
    half, step = side.half(), 360 / spec.teeth
    root_pin, length = 2 * side.root_bend - sizes.tooth_mm, 2 * wire_length(half, sizes)
    aside = degrees(side.step - side.tip[1])
    ways, pin = (aside, -aside) if aside > 1e-6 else (0.0,), sizes.jig_pin_mm
    holes = [Hole(side.tip[0], (step * index + way) % 360, pin, "tip") for index in range(spec.teeth) for way in ways]
    holes += [Hole(side.root, step * (index + 0.5), root_pin, "root") for index in range(spec.teeth)]
    figures = (
        Quantity("pins that the teeth are made for", pins_of(spec), ""),
        Quantity("tooth wire for a tooth", length),
        Quantity("inside radius of bends at tips", pin / 2),
        Quantity("diameter of the jig's pins at roots", root_pin),
    )
    root = side.root - side.root_bend - sizes.tooth_mm / 2
    return toothed_gear(sizes, spec, half, length, _tip_mm(sizes, side), root, holes, figures)


def _tip_mm(sizes: Sizes, side: Flank) -> float:
    return side.tip[0] + side.tip_bend + sizes.tooth_mm / 2


def wire_length(line: Line, sizes: Sizes) -> float:
    """Length [mm] of straight wire that a drawn centre line takes: its own, and where it is bent along another neutral
    fibre than the middle, so much more or less for each radian."""
    length = sum(hypot(x2 - x, y2 - y) for (x, y), (x2, y2) in pairwise(line))
    turns = [atan2(y2 - y, x2 - x) for (x, y), (x2, y2) in pairwise(line)]
    bent = sum(abs((after - before + pi) % (2 * pi) - pi) for before, after in pairwise(turns))
    return length + bent * (sizes.neutral - 0.5) * sizes.tooth_mm
