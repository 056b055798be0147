"""Pin gears (lantern pinions): pins on the pitch circle, soldered on the outside of two loops; and what all gears of
wire have in common: teeth on a loop, spokes, a hole in the middle, how deep a toothed gear is."""

from __future__ import annotations

from collections.abc import Sequence
from math import cos, pi, sin

from solver.forms.form import (
    Line,
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
from solver.forms.runs import Outline, outward
from solver.forms.thick import past_level
from solver.forms.wire import bend_allowance

PINS = "pins"
SHORT = "short teeth"  # of a third gear that works with a toothed ring: half as high, on a rim twice as wide


def addendum_of(sizes: Sizes, spec: Spec) -> float:
    """How far a toothed gear may reach beyond its pitch circle [mm]: short teeth half as far as others."""
    return sizes.addendum_mm / 2 if spec.toothing == SHORT else sizes.addendum_mm


def depth_of(sizes: Sizes, spec: Spec) -> float:
    """How far a toothed gear reaches inwards from its pitch circle [mm]: as a ring, or less about a hub; with short
    teeth twice as far where its hub allows it, so that the tips of the other gear find room."""
    if spec.kind == "ring":
        return sizes.rim_mm
    rim = 2 * sizes.rim_mm if spec.toothing == SHORT else sizes.rim_mm
    return min(rim, sizes.radius_mm(spec.teeth) - sizes.hub_mm / 2 - sizes.pin_mm)


def inside_mm(sizes: Sizes, spec: Spec) -> float:
    """The inside radius of a gear's loops."""
    radius = sizes.radius_mm(spec.teeth)
    if spec.toothing == PINS:
        return radius - sizes.pin_mm / 2 - sizes.loop_mm
    return radius - depth_of(sizes, spec)


def wired_outline(sizes: Sizes, spec: Spec, beyond_mm: float, unmade: str) -> Outline:
    """The room of a gear of wire whose teeth reach so far beyond the pitch circle, or of a pin gear."""
    if spec.toothing == PINS:
        beyond, thick = sizes.pin_mm / 2, sizes.pin_length_mm
        inside = sizes.pin_mm / 2 + sizes.loop_mm
    else:
        beyond, thick, inside = beyond_mm, sizes.loop_mm + sizes.tooth_mm, depth_of(sizes, spec)
    within = outward(inside) if spec.kind == "ring" else None
    return Outline(outward(beyond), within, outward(thick), unmade)


def pin_gear(sizes: Sizes, spec: Spec) -> ToothedGear:
    """A pin gear. Raises DesignError where its spokes have no room."""
    teeth, radius = spec.teeth, sizes.radius_mm(spec.teeth)
    outside = radius - sizes.pin_mm / 2  # of the loops, inside the circle of pins
    inside = outside - sizes.loop_mm
    step = 360 / teeth
    # A quarter of a tooth on from the tips of saw teeth, so that one jig can serve both.
    pins = [Hole(radius, step * (index + 0.25), sizes.pin_mm, "pin") for index in range(teeth)]
    spokes, lines = spokes_of(sizes, spec, inside, 2)
    round_pins = (circle(sizes.pin_mm / 2, _at(hole), 24) for hole in pins)
    return ToothedGear(
        spec,
        radius,
        radius + sizes.pin_mm / 2,
        inside,
        sizes.pin_length_mm,
        (*pins, centre_hole(sizes, spec)),
        (circle((inside + outside) / 2), *round_pins, *lines),
        (loop_piece(sizes, inside, 2), Piece("pin", "pin", teeth, sizes.pin_length_mm), spokes),
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


def toothed_gear(
    sizes: Sizes,
    spec: Spec,
    half: Line,
    tooth_wire_mm: float,
    tip_mm: float,
    root_mm: float,
    holes: Sequence[Hole],
    figures: Sequence[Quantity],
) -> ToothedGear:
    """A gear with teeth of wire on a loop, from half a tooth's centre line and the wire that a tooth takes; tip_mm,
    root_mm: how far from the middle it reaches outwards, and its tooth wire inwards; holes: of its jig, but for the one
    in the middle. Raises DesignError where its spokes have no room."""
    teeth, radius = spec.teeth, sizes.radius_mm(spec.teeth)
    inside = inside_mm(sizes, spec)
    pieces = [loop_piece(sizes, inside, 1), Piece("tooth wire", "tooth", 1, teeth * tooth_wire_mm, teeth)]
    outline: list[Line] = [all_round(mirrored(half), teeth), circle(inside + sizes.loop_mm / 2)]
    joints = teeth
    if spec.kind == "gear":
        spokes, lines = spokes_of(sizes, spec, inside, 1)
        pieces.append(spokes)
        outline += lines
        joints += 2 * spokes.count
    return ToothedGear(
        spec,
        radius,
        tip_mm,
        root_mm,
        sizes.loop_mm + sizes.tooth_mm,
        (*holes, centre_hole(sizes, spec)),
        tuple(outline),
        tuple(pieces),
        joints,
        0.0,
        (*figures, Quantity("diameter of the loop to its middle", 2 * (inside + sizes.loop_mm / 2))),
        too_far_out(sizes, spec, tip_mm),
    )


def _too_thick(sizes: Sizes, spec: Spec) -> tuple[Remark, ...]:
    """Remarks where pins are too long for the levels, or too short for a ring between the loops."""
    free, need = sizes.pin_length_mm - 2 * sizes.loop_mm, sizes.loop_mm + sizes.tooth_mm
    if free < need:
        told = f"between the loops are {sizes.told(free)}; a gear of {sizes.told(need)} has to turn there"
        return (Remark(spec.name, told, False),)
    return past_level(sizes, spec.name, f"pins of {sizes.told(sizes.pin_length_mm)}", sizes.pin_length_mm, True)


def loop_piece(sizes: Sizes, inside: float, count: int) -> Piece:
    """Loops of this inside radius [mm]."""
    return Piece("loop", "loop", count, bend_allowance(360, inside, sizes.loop_mm, sizes.neutral), 0, 1)


def spokes_of(sizes: Sizes, spec: Spec, inside: float, loops: int) -> tuple[Piece, list[Line]]:
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


def centre_hole(sizes: Sizes, spec: Spec) -> Hole:
    """The hole in the middle of a jig."""
    return Hole(0.0, 0.0, sizes.jig_pin_mm if spec.kind == "ring" else sizes.arbor_mm, "centre")


def _at(hole: Hole) -> tuple[float, float]:
    turn = hole.angle_deg * pi / 180
    return hole.radius_mm * cos(turn), hole.radius_mm * sin(turn)
