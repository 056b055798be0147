"""What gears weigh: as they are drawn, for the lists; and as the rule `sag` reckons them, by their teeth alone.

A gear that is made for its mates weighs a little more or less with other mates. So the rule reckons each from the safe
side: of wire, every tooth takes as much as its form takes at most (`Form.tooth_wire_mm`); of plate, a gear is a disc,
or a ring from its bore, out to a quarter of a module beyond its pitch circle: its tips add less than that beyond what
its roots take away.
"""

from __future__ import annotations

from math import pi

from solver.forms.form import Form, Sizes, Spec, ToothedGear
from solver.forms.pins import PINS, addendum_of, depth_of, inside_mm, loop_piece
from solver.forms.plate import bore_of
from solver.forms.wire import tube_grams, wire_grams


def drawn_grams(sizes: Sizes, shape: ToothedGear) -> float:
    """Weight [g] of a gear's wire or plate, without a small gear's hub."""
    diameters = {"loop": sizes.loop_mm, "tooth": sizes.tooth_mm, "pin": sizes.pin_mm}
    wire = sum(
        piece.count * wire_grams(piece.length_mm, diameters[piece.wire], sizes.density) for piece in shape.pieces
    )
    return wire + shape.solid_mm3 / 1000 * sizes.density


def hub_grams(sizes: Sizes, thick_mm: float, bore_mm: float) -> float:
    """Weight [g] of a small gear's hub, as long as the gear is thick, at least as its arbor."""
    return tube_grams(hub_mm(sizes, thick_mm), sizes.hub_mm, bore_mm, sizes.density)


def hub_mm(sizes: Sizes, thick_mm: float) -> float:
    """The length of the hub of a small gear so thick."""
    return max(thick_mm, sizes.arbor_mm)


def thick_mm(form: Form, sizes: Sizes, toothing: str) -> float:
    """How thick a gear is along its axis."""
    if form.plate:
        return sizes.sheet_mm
    return sizes.pin_length_mm if toothing == PINS else sizes.loop_mm + sizes.tooth_mm


def reckoned_grams(form: Form, sizes: Sizes, kind: str, teeth: int, toothing: str) -> float:
    """Weight [g] of a gear ("ring" or "gear") by its teeth alone, without hub; not less than it is drawn with, whatever
    its mates are."""
    spec = Spec(kind, teeth, toothing, ())
    if form.plate:
        outside = sizes.radius_mm(teeth) + sizes.module_mm / 4
        area = pi * (outside**2 - bore_of(sizes, spec) ** 2)
        return area * sizes.sheet_mm / 1000 * sizes.density
    inside = inside_mm(sizes, spec)
    pinned = toothing == PINS
    loops = 2 if pinned else 1
    loop = loop_piece(sizes, inside, loops)
    grams = wire_grams(loops * loop.length_mm, sizes.loop_mm, sizes.density)
    if pinned:
        grams += wire_grams(teeth * sizes.pin_length_mm, sizes.pin_mm, sizes.density)
    else:
        deep = addendum_of(sizes, spec) + depth_of(sizes, spec)
        grams += wire_grams(teeth * form.tooth_wire_mm(sizes, deep), sizes.tooth_mm, sizes.density)
    if kind == "gear":
        spokes = loops * sizes.spokes * (inside - sizes.hub_mm / 2)
        grams += wire_grams(spokes, sizes.pin_mm, sizes.density)
    return grams
