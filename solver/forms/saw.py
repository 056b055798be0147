"""Saw teeth bent from wire, soldered on a loop, and pin gears (lantern pinions) that work with them.

The tooth wire goes in a zigzag around the pins of its jig, outside those at the tips and inside those at the roots, and
lies on the loop at every root. Its straight edges are the common inner tangents of two neighbouring jig pins (plane
geometry). A pin gear has its pins on its pitch circle, soldered on the outside of two loops. Pins do not work with
pins, and saw teeth as high as a ring's jam with it, so gears take turns: a ring has teeth, what works with it has pins,
the gear behind a third gear teeth again. Or else the third gear has short teeth, which run with the ring and with the
pins of the gear behind. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import asin, atan2, cos, degrees, hypot, pi, sin, sqrt
from typing import TYPE_CHECKING

from solver.design.errors import DesignError
from solver.forms.form import (
    Line,
    Quantity,
    Roles,
    Sizes,
    Spec,
    ToothedGear,
    only,
)
from solver.forms.pinned import PinForm
from solver.forms.pins import PINS, SHORT, addendum_of, depth_of, toothed_gear
from solver.forms.plans import Hole
from solver.forms.wire import bend_allowance

if TYPE_CHECKING:
    from solver.forms.gaps import Gaps, SawGaps

_STEPS = 12  # chords in which half a bend is drawn
SAW = "saw teeth"


@dataclass(frozen=True)
class Zigzag:
    """A tooth wire [mm]: distances of the jig pins at tips and roots from the centre, the straight edge between two
    bends, half the angle [rad] by which it is bent at a tip and at a root, and half a tooth's centre line from the
    middle of the tip, on the right, to that of the root."""

    tip_pin: float
    root_pin: float
    edge: float
    tip_turn: float
    root_turn: float
    half: Line

    @property
    def tip_angle(self) -> float:
        """Between the two edges of a tooth [degrees]."""
        return 180 - 2 * degrees(self.tip_turn)


def _jig_pins(sizes: Sizes, spec: Spec) -> tuple[float, float, float]:
    """Distances of the jig pins at tips and at roots from the centre, and how much farther than two bends' radii they
    are apart [mm]."""
    radius, wire, pin = sizes.radius_mm(spec.teeth), sizes.tooth_mm, sizes.jig_pin_mm
    tip = radius + addendum_of(sizes, spec) - wire - pin / 2
    root = radius - depth_of(sizes, spec) + (sizes.loop_mm + max(sizes.loop_mm, wire) + pin) / 2
    step = pi / spec.teeth
    return tip, root, hypot(root * cos(step) - tip, root * sin(step)) - pin - wire


def zigzag(sizes: Sizes, spec: Spec) -> Zigzag:
    """The tooth wire of a gear. Raises DesignError where its bends or its teeth have no room."""
    bend, step = (sizes.jig_pin_mm + sizes.tooth_mm) / 2, pi / spec.teeth
    if depth_of(sizes, spec) <= 0:
        most = 2 * (sizes.radius_mm(spec.teeth) - sizes.pin_mm)
        told = f"leaves {spec.name} no room for teeth: must be less than {sizes.told(most)}"
        raise sizes.refuse("wire.hub_diameter", sizes.hub_mm, told)
    tip, root, room = _jig_pins(sizes, spec)
    if room <= 0:
        raise _no_room(sizes, spec)
    dx, dy, apart = root * cos(step) - tip, root * sin(step), room + 2 * bend
    # The inner tangent stands at this angle to the line between the pins; its normal points outwards.
    normal = atan2(dy, dx) - pi / 2 + asin(2 * bend / apart)
    if normal <= step:
        raise sizes.refuse(
            "wire.tooth",
            sizes.tooth_mm,
            f"leaves {spec.name} no teeth between rings.rim and rings.addendum; use thinner wire",
        )
    arcs = [(tip, 0.0, normal * index / _STEPS) for index in range(_STEPS + 1)]
    back = [(root, step, normal + pi + (step - normal) * index / _STEPS) for index in range(_STEPS + 1)]
    half = tuple((at * cos(a) + bend * cos(t), at * sin(a) + bend * sin(t)) for at, a, t in arcs + back)
    return Zigzag(tip, root, sqrt(apart**2 - 4 * bend**2), normal, normal - step, half)


def _no_room(sizes: Sizes, spec: Spec) -> DesignError:
    """Says which jig pins would do, to a twentieth of a millimetre; where none do, that the wire is too thick."""
    tried = (number / 20 for number in range(int(sizes.jig_pin_mm * 20), 1, -1))
    fits = next((pin for pin in tried if _jig_pins(replace(sizes, jig_pin_mm=pin), spec)[2] > 0), None)
    if fits is None:
        told = f"is too thick to be bent to the teeth of {spec.name}, {sizes.told(sizes.pitch_mm)} from tooth to tooth"
        return sizes.refuse("wire.tooth", sizes.tooth_mm, told)
    told = f"leaves no room between the bends of {spec.name}; {sizes.told(fits)} would"
    return sizes.refuse("wire.jig_pin", sizes.jig_pin_mm, told)


def tooth_length(sizes: Sizes, wave: Zigzag) -> float:
    """Length [mm] of wire that one tooth takes: two edges, and both bends along the neutral fibre."""
    turn = degrees(wave.tip_turn + wave.root_turn)
    return 2 * (wave.edge + bend_allowance(turn, sizes.jig_pin_mm / 2, sizes.tooth_mm, sizes.neutral))


def bends_mm(sizes: Sizes) -> float:
    """How much more wire a tooth takes at most where it is bent along a fibre outside of its middle: its bends turn by
    no more than a full turn together."""
    return 2 * pi * max(0.0, sizes.neutral - 0.5) * sizes.tooth_mm


def saw_gaps(sizes: Sizes, specs: Sequence[Spec], reach_mm: float) -> SawGaps:
    """The gaps of these toothed gears, for pins or tips whose middles come so near to the wire's centre line. Raises
    DesignError, as `zigzag` does."""
    import numpy as np  # which reading a file does not need

    from solver.forms.gaps import SawGaps

    waves = [zigzag(sizes, spec) for spec in specs]
    ones = np.ones(len(specs))
    return SawGaps(
        teeth=np.array([float(spec.teeth) for spec in specs]),
        radius_mm=np.array([sizes.radius_mm(spec.teeth) for spec in specs]),
        tip_mm=np.array([wave.tip_pin for wave in waves]),
        root_mm=np.array([wave.root_pin for wave in waves]),
        normal=np.array([wave.tip_turn for wave in waves]),
        bend_mm=ones * (sizes.jig_pin_mm + sizes.tooth_mm) / 2,
        reach_mm=ones * reach_mm,
    )


class Saw(PinForm):
    """Bent-wire saw teeth on a loop, with pin gears."""

    name = "saw"
    title = "saw teeth of bent wire with pin gears"
    source = "common practice, no source; running worked out from the shapes themselves"
    teeth = SAW
    thirds: tuple[str, ...] = ("pins", "teeth")

    def roles(self, third: str) -> Roles:
        if third == "teeth":
            return Roles(SAW, PINS, SHORT, PINS)
        return only(third, self.thirds, Roles(SAW, PINS, PINS, SAW))

    def toothed(self, sizes: Sizes, spec: Spec) -> ToothedGear:
        return _toothed(sizes, spec)

    def reach_mm(self, sizes: Sizes, spec: Spec) -> float:
        zigzag(sizes, spec)
        return addendum_of(sizes, spec)

    def tooth_wire_mm(self, sizes: Sizes, deep_mm: float) -> float:
        """Two straight edges from the tip circle to the loop's inside, half a pitch apart, and a full turn's gain or
        loss of the bends where the neutral fibre is not in the middle."""
        return 2 * hypot(sizes.pitch_mm / 2, deep_mm) + bends_mm(sizes)

    def gaps(self, sizes: Sizes, specs: Sequence[Spec]) -> Gaps:
        return saw_gaps(sizes, specs, (sizes.pin_mm + sizes.tooth_mm) / 2)

    def tips(self, sizes: Sizes, pairs: Sequence[tuple[Spec, Spec]]) -> Gaps:
        from solver.forms.tips import TipGaps

        reach = (
            sizes.jig_pin_mm / 2 + 1.5 * sizes.tooth_mm
        )  # the wire about a tip's jig pin, and half that of the flank
        own, mates = (saw_gaps(sizes, some, reach) for some in zip(*pairs, strict=True))
        return TipGaps(own, mates, sizes.tooth_mm)


def _toothed(sizes: Sizes, spec: Spec) -> ToothedGear:
    wave = zigzag(sizes, spec)
    length = tooth_length(sizes, wave)
    step, pin = 360 / spec.teeth, sizes.jig_pin_mm
    holes = [Hole(wave.tip_pin, step * index, pin, "tip") for index in range(spec.teeth)]
    holes += [Hole(wave.root_pin, step * (index + 0.5), pin, "root") for index in range(spec.teeth)]
    figures = (
        Quantity("straight edge", wave.edge),
        Quantity("angle between edges at a tip", wave.tip_angle, "°"),
        Quantity("tooth wire for a tooth", length),
        Quantity("inside radius of bends", pin / 2),
    )
    tip, root = sizes.radius_mm(spec.teeth) + addendum_of(sizes, spec), wave.root_pin - pin / 2 - sizes.tooth_mm
    return toothed_gear(sizes, spec, wave.half, length, tip, root, holes, figures)
