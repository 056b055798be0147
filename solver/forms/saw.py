"""Saw teeth bent from wire, soldered on a loop, and pin gears (lantern pinions) that work with them.

The tooth wire goes in a zigzag around the pins of its jig, outside those at the tips and inside those at the roots, and
lies on the loop at every root. Its straight edges are the common inner tangents of two neighbouring jig pins (plane
geometry). A pin gear has its pins on its pitch circle, soldered on the outside of two loops. Pins work with saw teeth
only, so gears take turns: a ring has teeth, what works with it has pins, and so on. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import asin, atan2, cos, degrees, hypot, pi, sin, sqrt

from solver.design.errors import DesignError
from solver.forms.form import (
    Line,
    Pairing,
    Piece,
    Quantity,
    Remark,
    Sizes,
    Spec,
    ToothedGear,
    all_round,
    circle,
    mirrored,
    too_far_out,
)
from solver.forms.plans import Hole
from solver.forms.wire import bend_allowance

_STEPS = 12  # chords in which half a bend is drawn
_UNEVEN = 0.1  # of a tooth pitch: what a body may hunt before a remark is made (common practice, no source)
SAW, PINS = "saw teeth", "pins"


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


def depth_of(sizes: Sizes, spec: Spec) -> float:
    """How far a toothed gear reaches inwards from its pitch circle [mm]: as a ring, or less about a hub."""
    if spec.kind == "ring":
        return sizes.rim_mm
    return min(sizes.rim_mm, sizes.radius_mm(spec.teeth) - sizes.hub_mm / 2 - sizes.pin_mm)


def _jig_pins(sizes: Sizes, spec: Spec) -> tuple[float, float, float]:
    """Distances of the jig pins at tips and at roots from the centre, and how much farther than two bends' radii they
    are apart [mm]."""
    radius, wire, pin = sizes.radius_mm(spec.teeth), sizes.tooth_mm, sizes.jig_pin_mm
    tip = radius + sizes.addendum_mm - wire - pin / 2
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


def saw_gaps(sizes: Sizes, specs: Sequence[Spec]) -> Gaps:
    """The gaps of these toothed gears, for the pins of the design. Raises DesignError, as `zigzag` does."""
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
        reach_mm=ones * (sizes.pin_mm + sizes.tooth_mm) / 2,
    )


class Saw:
    """Bent-wire saw teeth on a loop, with pin gears."""

    name = "saw"
    title = "saw teeth of bent wire with pin gears"
    source = "common practice, no source; running worked out from the shapes themselves"
    plate = False

    def toothing(self, meshes_from_ring: int) -> str:
        return PINS if meshes_from_ring % 2 else SAW

    def shape(self, sizes: Sizes, spec: Spec) -> ToothedGear:
        return _pin_gear(sizes, spec) if spec.toothing == PINS else _toothed(sizes, spec)

    def pair(self, sizes: Sizes, one: Spec, other: Spec) -> Pairing:
        toothed, pins = (one, other) if other.toothing == PINS else (other, one)
        where = f"{toothed.name} with {pins.name}"
        found = self.run(sizes, one, other)
        pitch = sizes.pitch_mm
        figures = (
            Quantity("backlash at the pitch circle", found.backlash),
            Quantity("unevenness at the pitch circle", found.uneven),
            Quantity("pins among the teeth, at least", found.least_pins, ""),
        )
        remarks = []
        if found.backlash < 0:
            text = f"jams: pins and teeth overlap by {sizes.told(-found.backlash)}; take thinner wire, or a wider rim"
            remarks.append(Remark(where, text, False))
        elif found.slips:
            remarks.append(Remark(where, "slips: at times no tooth holds a pin; take a larger rings.addendum", False))
        elif found.uneven > _UNEVEN * pitch:
            told = (
                f"turns unevenly: it hunts {sizes.told(found.uneven)} ({100 * found.uneven / pitch:.0f} % of a tooth)"
            )
            remarks.append(Remark(where, told + " within each tooth"))
        room = sizes.radius_mm(pins.teeth) - sizes.addendum_mm - sizes.hub_mm / 2
        if pins.kind == "gear" and room <= 0:
            remarks.append(Remark(where, f"tips reach {sizes.told(-room)} into the hub of {pins.name}", False))
        return Pairing(figures, tuple(remarks))


def _toothed(sizes: Sizes, spec: Spec) -> ToothedGear:
    wave = zigzag(sizes, spec)
    teeth, radius = spec.teeth, sizes.radius_mm(spec.teeth)
    inside = radius - depth_of(sizes, spec)
    loop = inside + sizes.loop_mm / 2
    step = 360 / teeth
    pin = sizes.jig_pin_mm
    holes = [Hole(wave.tip_pin, step * index, pin, "tip") for index in range(teeth)]
    holes += [Hole(wave.root_pin, step * (index + 0.5), pin, "root") for index in range(teeth)]
    pieces = [_loop(sizes, inside, 1), Piece("tooth wire", "tooth", 1, teeth * tooth_length(sizes, wave), teeth)]
    tooth = mirrored(wave.half)
    outline: list[Line] = [all_round(tooth, teeth), circle(loop)]
    joints = teeth
    if spec.kind == "gear":
        spokes, lines = _spokes(sizes, spec, inside, 1)
        pieces.append(spokes)
        outline += lines
        joints += 2 * spokes.count
    return ToothedGear(
        spec,
        radius,
        radius + sizes.addendum_mm,
        wave.root_pin - pin / 2 - sizes.tooth_mm,
        sizes.loop_mm + sizes.tooth_mm,
        (*holes, _centre(sizes, spec)),
        tuple(outline),
        tuple(pieces),
        joints,
        0.0,
        (
            Quantity("straight edge", wave.edge),
            Quantity("angle between edges at a tip", wave.tip_angle, "°"),
            Quantity("tooth wire for a tooth", tooth_length(sizes, wave)),
            Quantity("inside radius of bends", pin / 2),
            Quantity("diameter of the loop to its middle", 2 * loop),
        ),
        too_far_out(sizes, spec, radius + sizes.addendum_mm),
    )


def _pin_gear(sizes: Sizes, spec: Spec) -> ToothedGear:
    teeth, radius = spec.teeth, sizes.radius_mm(spec.teeth)
    outside = radius - sizes.pin_mm / 2  # of the loops, inside the circle of pins
    inside = outside - sizes.loop_mm
    step = 360 / teeth
    # A quarter of a tooth on from the tips of saw teeth, so that one jig can serve both.
    pins = [Hole(radius, step * (index + 0.25), sizes.pin_mm, "pin") for index in range(teeth)]
    spokes, lines = _spokes(sizes, spec, inside, 2)
    round_pins = (circle(sizes.pin_mm / 2, _at(hole), 24) for hole in pins)
    return ToothedGear(
        spec,
        radius,
        radius + sizes.pin_mm / 2,
        inside,
        sizes.pin_length_mm,
        (*pins, _centre(sizes, spec)),
        (circle((inside + outside) / 2), *round_pins, *lines),
        (_loop(sizes, inside, 2), Piece("pin", "pin", teeth, sizes.pin_length_mm), spokes),
        2 * teeth + 2 * spokes.count,
        0.0,
        (
            Quantity("diameter of the pin circle", 2 * radius),
            Quantity("diameter of the pins", sizes.pin_mm),
            Quantity("length of the pins", sizes.pin_length_mm),
            Quantity("free between the loops", sizes.pin_length_mm - 2 * sizes.loop_mm),
            Quantity("diameter of the loops to their middle", inside + outside),
        ),
        (*too_far_out(sizes, spec, radius + sizes.pin_mm / 2), *_too_thick(sizes, spec)),
    )


def _too_thick(sizes: Sizes, spec: Spec) -> tuple[Remark, ...]:
    """Remarks where pins are too long for the levels, or too short for a ring between the loops."""
    most = sizes.level_spacing_mm - sizes.clearance_mm
    free, need = sizes.pin_length_mm - 2 * sizes.loop_mm, sizes.loop_mm + sizes.tooth_mm
    if sizes.pin_length_mm > most + 1e-9:
        told = f"pins of {sizes.told(sizes.pin_length_mm)} meet the next level; levels leave {sizes.told(most)}"
        return (Remark(spec.name, told, False),)
    if free < need:
        told = f"between the loops are {sizes.told(free)}; a gear of {sizes.told(need)} has to turn there"
        return (Remark(spec.name, told, False),)
    return ()


def _loop(sizes: Sizes, inside: float, count: int) -> Piece:
    return Piece("loop", "loop", count, bend_allowance(360, inside, sizes.loop_mm, sizes.neutral), 0, 1)


def _spokes(sizes: Sizes, spec: Spec, inside: float, loops: int) -> tuple[Piece, list[Line]]:
    """The spokes from the hub to the inside of the loops, and hub and spokes as lines."""
    hub = sizes.hub_mm / 2
    length = inside - hub
    if length <= 0:
        most = f"leaves {spec.name} no room for spokes: must be less than {sizes.told(2 * inside)}"
        raise sizes.refuse("wire.hub_diameter", sizes.hub_mm, most)
    lines: list[Line] = [circle(hub, sides=60)]
    for index in range(sizes.spokes):
        turn = 2 * pi * index / sizes.spokes
        lines.append(tuple((r * cos(turn), r * sin(turn)) for r in (hub, inside)))
    return Piece("spoke", "pin", loops * sizes.spokes, length), lines


def _centre(sizes: Sizes, spec: Spec) -> Hole:
    return Hole(0.0, 0.0, sizes.jig_pin_mm if spec.kind == "ring" else sizes.arbor_mm, "centre")


def _at(hole: Hole) -> tuple[float, float]:
    turn = hole.angle_deg * pi / 180
    return hole.radius_mm * cos(turn), hole.radius_mm * sin(turn)
