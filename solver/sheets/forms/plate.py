"""What gears cut from plate have in common: a centre to drill, a bore, and the metal that is left."""

from __future__ import annotations

from dataclasses import replace
from math import pi

from solver.sheets.forms.form import Figure, Line, Remark, Shape, Sizes, Spec, all_round, area_mm2, circle
from solver.sheets.plans import Hole


def plate_shape(
    sizes: Sizes,
    spec: Spec,
    tip: float,
    root: float,
    tooth: Line,
    figures: tuple[Figure, ...],
    remarks: tuple[Remark, ...],
) -> Shape:
    """A gear whose teeth look like `tooth`: a ring is bored to its rim, a small gear for its arbor, to which its hub is
    soldered. Lengths in mm."""
    radius = sizes.radius_mm(spec.teeth)
    bore = radius - sizes.rim_mm if spec.kind == "ring" else sizes.arbor_mm / 2
    if root <= bore:
        field = "rings.rim" if spec.kind == "ring" else "wire.arbor_diameter"
        told = f"no metal is left: roots at radius {sizes.told(root)}, {field} bores it to {sizes.told(bore)}"
        remarks = (*remarks, Remark(spec.name, told, False))
    most = sizes.level_spacing_mm - sizes.clearance_mm
    if sizes.sheet_mm > most + 1e-9:
        told = f"plate of {sizes.told(sizes.sheet_mm)} meets the next level; levels leave {sizes.told(most)}"
        remarks = (*remarks, Remark(spec.name, told, False))
    outline = all_round(tooth, spec.teeth)
    area = area_mm2(outline) - pi * bore**2
    centre = Hole(0.0, 0.0, sizes.jig_pin_mm if spec.kind == "ring" else sizes.arbor_mm, "centre")
    shape = Shape(
        spec,
        radius,
        tip,
        root,
        sizes.sheet_mm,
        (centre,),
        (outline, circle(bore)),
        (),
        1 if spec.kind == "gear" else 0,
        max(area, 0.0) * sizes.sheet_mm,
        (*figures, Figure("bore", 2 * bore)),
    )
    return replace(shape, remarks=remarks)
