"""From a file to a Design: everything that can be wrong with a file is found and said on this way."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from solver.design.design import (
    MOST_STRUCTURES,
    Arbors,
    Design,
    Drive,
    Fit,
    Rings,
    Wire,
)
from solver.design.errors import DesignError, show, single
from solver.design.geometry import mm_in
from solver.design.once import Calls, each_time
from solver.design.ranges import MOST_BODIES
from solver.design.toothing import BETTER, settled
from solver.files.bodies import bodies_of
from solver.files.body_weights import weights_of
from solver.files.complaints import from_pydantic
from solver.files.hardware_table import bench_of, hardware_of, refuse_misfits
from solver.files.loads_table import loads_of
from solver.files.made_table import made_of
from solver.files.schema import DesignFile, WireTable
from solver.files.sky_table import hang_of, starts_of, unit_of
from solver.files.supports_table import supports_of
from solver.files.tables import arbors_of, drive_of, fit_of, limits_of, rings_of
from solver.files.text import data_of, read_text
from solver.files.wire_table import of_plate, wire_of
from solver.files.wish_table import with_wishes

File = TypeVar("File", bound=BaseModel)

_NO_WIRE = WireTable()


def load_design(path: str | Path) -> Design:
    """Read a design file. Raises DesignError (what is wrong, a line for each fault) and OSError (missing, unreadable, a
    folder)."""
    return parse_design(read_text(Path(path)), str(path))


def parse_design(text: str, name: str = "design") -> Design:
    """Read a design from TOML text; `name` stands for the file in messages. Raises DesignError."""
    return design_from_data(data_of(text, name), name)


def design_from_data(data: dict[str, Any], name: str) -> Design:
    """Resolve a design given as plain data with the file's tables and keys. Raises DesignError."""
    file = by_schema(DesignFile, data, name)
    try:
        return resolve(file)
    except DesignError as fault:
        raise fault.in_file(name) from None


def by_schema(schema: type[File], data: dict[str, Any], name: str) -> File:
    """Plain data as the tables of a schema. Raises DesignError with every fault found."""
    _refuse_crowds(data, name)
    try:
        return schema.model_validate(data)
    except ValidationError as fault:
        raise DesignError(from_pydantic(fault, name, schema)) from None


def _refuse_crowds(data: dict[str, Any], name: str) -> None:
    """Refuse a list of bodies that is far too long before each of its entries is looked at."""
    bodies = data.get("bodies")
    entries = bodies.get("list") if isinstance(bodies, dict) else None
    if isinstance(entries, list) and len(entries) > MOST_BODIES:
        raise single("bodies.list", None, f"has {len(entries)} bodies; at most {MOST_BODIES}", name)


def resolve(file: DesignFile, once: Calls = each_time) -> Design:
    """The tables of a file as a design. once: how to call what follows from some of the tables alone.

    Raises DesignError.
    """
    bodies = once(bodies_of, file.bodies, file.search.max_drift)
    first = bodies[0]
    if file.bodies.reference == "first" and first.low != first.high:
        raise single(
            "bodies.reference",
            file.bodies.reference,
            f'{show(first.name)} has a period range; use reference = "best" or a period',
        )
    reverted, search = file.arbors.reverted, file.search
    rings = once(rings_of, file.rings, len(bodies), file.units, reverted, once)
    wire = once(wire_of, file.wire or _NO_WIRE, mm_in(file.units))
    if file.wire is not None and file.rings.rim is None and of_plate(wire.form):
        rings = once(_with_metal, rings, wire)
    fit = once(fit_of, file.fit, reverted, file.drive is not None, file.units)
    limits, spacing = once(limits_of, search, file.units, reverted), rings.level_spacing
    design = Design(
        file.title,
        file.units,
        bodies,
        file.bodies.reference,
        rings,
        once(arbors_of, file.arbors),
        once(with_wishes, fit, file.fit, len(bodies) + rings.blanks[-1] - 1),
        once(drive_of, file.drive, bodies),
        search.rank,
        search.front,
        limits,
        search.keep,
        search.time_limit_s,
        search.seed,
        wire,
        search.prove,
        file.wire is not None,
        file.fit.unevenness or Fraction(15, 100),
        once(loads_of, file.loads, file.drive, bodies, mm_in(file.units)),
        None if file.hardware is None else hardware_of(file.hardware, file.units, bodies),
        None if file.bench is None else bench_of(file.bench),
        once(supports_of, file.supports, mm_in(file.units), file.fit, file.wire is not None, reverted, spacing),
        once(weights_of, file.bodies) or None,
        hang_of(file.sky),
        once(unit_of, file.bodies),
        once(starts_of, file.bodies),
        file.bodies.set_name,
        search.distinct,
        once(made_of, file.made, bodies, rings.blanks[-1], once(arbors_of, file.arbors)),
    )
    refuse_misfits(design)
    _refuse_idle_limits(file, design)
    design = _with_thirds(design, file.wire)
    once(_refuse_impossible_lengths, rings, design.arbors, design.fit, design.drive, file.units)
    if design.structure_count() > MOST_STRUCTURES:
        raise single(
            "rings.teeth" if rings.teeth is not None else "rings.blanks",
            rings.blanks[0] if len(rings.blanks) == 1 else list(rings.blanks),
            f"makes {design.structure_count()} ring structures; at most {MOST_STRUCTURES} are searched",
        )
    return design


def _with_thirds(design: Design, table: WireTable | None) -> Design:
    """The design with the toothing of its third gears, or with both where it may be either: the file's own, else the
    better one of forms that know two."""
    if table is None or (table.third is None and not design.as_made):
        return design
    from solver.forms import FORMS

    if table.third is None:
        design = replace(design, wire=replace(design.wire, third=BETTER))
    return settled(design, FORMS[design.wire.form].thirds)


def _with_metal(rings: Rings, wire: Wire) -> Rings:
    """Rings of plate with the rim that they have unless told: roots are about half a pitch deep, and metal stays below
    them."""
    return replace(rings, rim=rings.rim + min(2 * wire.sheet, rings.rim / 2))


def _refuse_idle_limits(file: DesignFile, design: Design) -> None:
    """Refuse a limit to how gears run where nothing judges it, and gears as made whose parts do not go together."""
    if design.as_made:
        from solver.forms.form import sizes_of  # of use to designs with wire alone

        sizes_of(design)
    given = file.fit.unevenness
    if given is None or design.as_made:
        return
    if not design.wired:
        why = "needs a [wire] table: without one it is not known how gears run"
    else:
        why = "needs arbors.reverted = true: without it no gears stand anywhere"
    raise single("fit.unevenness", float(given), why)


def _refuse_impossible_lengths(rings: Rings, arbors: Arbors, fit: Fit, drive: Drive | None, units: str) -> None:
    """Where places are computed: a ring has a hole, and a post is no thicker than what it carries, nor a stand than the
    gears."""
    if fit.directions is None:
        return
    scale = mm_in(units)

    def refuse(field: str, length: Fraction, most: float, what: str) -> DesignError:
        return single(field, float(length / scale), f"must be less than {what}, {most / float(scale):.4g} {units}")

    least = Fraction(1, 10)
    pitch = rings.pitch.value * (3 if rings.pitch.is_module else 1)
    if pitch < least:
        field = "rings.module" if rings.pitch.is_module else "rings.tooth_pitch"
        what = f"makes teeth smaller than {float(least / scale):.3g} {units}, too small to place to the micrometre"
        raise single(field, float(rings.pitch.value / scale), what)
    smallest = min(rings.inner_teeth) if rings.teeth is None else min(rings.teeth[0])
    hole = rings.pitch.radius_mm(smallest)
    if rings.rim and float(rings.rim) >= hole:
        raise refuse("rings.rim", rings.rim, hole, "the pitch radius of the innermost ring")
    if fit.plate != "none" or fit.stands != "none":  # so that no post or stand reaches out farther than the gears
        gears = (*arbors.wheel_teeth, *arbors.pinion_teeth)
        if drive is not None:
            gears = (*gears, *drive.pinion_teeth)
        if arbors.third_gears or (drive is not None and drive.third_gears):
            gears = (*gears, *arbors.third_teeth)
        thinnest = rings.pitch.radius_mm(min(gears))
        if float(fit.post_radius) >= thinnest:
            raise refuse("fit.post_radius", fit.post_radius, thinnest, "the pitch radius of the smallest gear")
    if fit.plate != "none" and fit.rollers is not None and fit.post_radius >= fit.rollers.radius:
        raise refuse("fit.post_radius", fit.post_radius, float(fit.rollers.radius), "the radius of the rollers")
