"""The jigs: one for each kind and tooth count, with the holes of every toothing that is made on it."""

from __future__ import annotations

from collections.abc import Mapping

from solver.forms.form import Line, Spec, ToothedGear
from solver.forms.plans import Hole, JigPlan
from solver.sheets.gears.gears import GearInTrain


def jigs_of(
    specs: Mapping[Spec, tuple[GearInTrain, ...]], shapes: Mapping[Spec, ToothedGear], hub_mm: float
) -> tuple[JigPlan, ...]:
    """The jigs of these gears, rings first, by teeth. A jig that serves two toothings has the holes of both. hub_mm:
    outside diameter of every small gear's hub."""
    groups: dict[tuple[str, int], list[Spec]] = {}
    for spec in specs:
        groups.setdefault((spec.kind, spec.teeth), []).append(spec)
    return tuple(
        _jig([shapes[spec] for spec in some], [specs[spec] for spec in some], hub_mm) for some in groups.values()
    )


def _jig(shapes: list[ToothedGear], gears: list[tuple[GearInTrain, ...]], hub_mm: float) -> JigPlan:
    holes: dict[Hole, None] = {}
    outline: dict[Line, None] = {}
    for shape in shapes:
        holes |= dict.fromkeys(shape.holes)
        outline |= dict.fromkeys(shape.outline)
    first = shapes[0]
    return JigPlan(
        name=f"jig {first.spec.name}",
        kind=first.spec.kind,
        teeth=first.spec.teeth,
        pitch_radius_mm=first.pitch_radius_mm,
        tip_radius_mm=max(shape.tip_radius_mm for shape in shapes),
        root_radius_mm=min(shape.root_radius_mm for shape in shapes),
        holes=tuple(holes),
        outline=tuple(outline),
        uses=tuple(made.gear.use for some in gears for made in some),
        hub_mm=hub_mm if first.spec.kind == "gear" else 0.0,
        bore_mm=first.bore_mm,
        plate_mm=first.thick_mm if first.bore_mm else 0.0,
    )
