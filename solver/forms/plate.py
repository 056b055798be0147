"""What gears cut from plate have in common: a centre to drill, a bore, and the metal that is left."""

from __future__ import annotations

from collections.abc import Iterator
from math import pi

from solver.forms.form import (
    Line,
    Quantity,
    Remark,
    Sizes,
    Spec,
    ToothedGear,
    all_round,
    area_mm2,
    circle,
    too_far_out,
)
from solver.forms.plans import Hole
from solver.forms.runs import Outline, outward
from solver.forms.thick import past_level


def plate_shape(
    sizes: Sizes,
    spec: Spec,
    tip: float,
    root: float,
    tooth: Line,
    figures: tuple[Quantity, ...],
    remarks: tuple[Remark, ...],
) -> ToothedGear:
    """A gear whose teeth look like `tooth`: a ring is bored to its rim, a small gear for its arbor, to which its hub is
    soldered. Lengths in mm. remarks: what the form has to say; what all gears of plate have in common is added."""
    radius = sizes.radius_mm(spec.teeth)
    bore = bore_of(sizes, spec)
    outline = all_round(tooth, spec.teeth)
    area = area_mm2(outline) - pi * bore**2
    centre = Hole(0.0, 0.0, sizes.jig_pin_mm if spec.kind == "ring" else sizes.arbor_mm, "centre")
    return ToothedGear(
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
        (*figures, Quantity("bore", 2 * bore), Quantity("thickness", sizes.sheet_mm)),
        (*too_far_out(sizes, spec, tip), *remarks, *_metal(sizes, spec, root, bore)),
        2 * bore,
    )


def plate_outline(sizes: Sizes, spec: Spec, tip: float, root: float) -> Outline:
    """The room of a gear of plate. It cannot be made where bore, hub and roots leave too little metal."""
    radius = sizes.radius_mm(spec.teeth)
    wrong = [remark.text for remark in _weak(sizes, spec, root, bore_of(sizes, spec)) if not remark.runs]
    within = outward(sizes.rim_mm) if spec.kind == "ring" else None
    return Outline(outward(tip - radius), within, outward(sizes.sheet_mm), "; ".join(wrong))


def bore_of(sizes: Sizes, spec: Spec) -> float:
    """The radius of the hole in a gear: a ring's inner edge, or for the arbor."""
    return sizes.radius_mm(spec.teeth) - sizes.rim_mm if spec.kind == "ring" else sizes.arbor_mm / 2


def _metal(sizes: Sizes, spec: Spec, root: float, bore: float) -> Iterator[Remark]:
    """What is weak, and where the plate meets the next level."""
    yield from _weak(sizes, spec, root, bore)
    yield from past_level(sizes, spec.name, f"plate of {sizes.told(sizes.sheet_mm)}", sizes.sheet_mm, False)


def _weak(sizes: Sizes, spec: Spec, root: float, bore: float) -> Iterator[Remark]:
    """Where the bore leaves less metal than the plate is thick, which is weak, or less than half of that, which breaks
    (common practice, no source); where the hub covers teeth."""
    roots = f"the roots, Ø {sizes.told(2 * max(root, 0.0))}"
    left = root - bore
    if left < sizes.sheet_mm - 1e-9:
        field = "rings.rim" if spec.kind == "ring" else "wire.arbor_diameter"
        what = f"only {sizes.told(left)} of metal is" if left > 1e-9 else "no metal is"
        told = f"{what} left between {roots}, and the bore, Ø {sizes.told(2 * bore)} by {field}"
        if left > 1e-9:
            told += f"; less than the plate is thick, {sizes.told(sizes.sheet_mm)}, is weak"
        yield Remark(spec.name, told, left >= sizes.sheet_mm / 2)
    if spec.kind == "gear" and sizes.hub_mm / 2 > root + 1e-9:
        told = f"the hub, Ø {sizes.told(sizes.hub_mm)}, is wider than {roots}, and covers the teeth"
        yield Remark(spec.name, f"{told}; take a smaller wire.hub_diameter, or more teeth", False)
