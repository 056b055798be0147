"""Resolves [hardware] and [bench]: names looked up, lengths to mm, what does not go together refused."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from typing import Any

from solver.design.design import Body, Design
from solver.design.errors import single, suggestion
from solver.design.geometry import mm_in
from solver.design.hardware import PLAIN, PRICED, Bench, Hardware, LabelPlate, OwnBearing, RollerSizes
from solver.files.hardware_schema import BearingEntry, BenchTable, HardwareTable, RollerEntry

KM = 1000  # body_scale is the length that so many kilometres have on the model
SAME_MM = 0.02  # a bearing goes on a post whose diameter is no farther from its bore (common practice, no source)
_BENCH = {
    "joints_per_hour": "joints",
    "bends_per_hour": "bends",
    "cuts_per_hour": "cuts",
    "holes_per_hour": "holes",
    "teeth_per_hour": "teeth",
    "parts_per_hour": "parts",
    "hours_per_jig": "jig",
    "hours_per_pair": "pair",
}


def hardware_of(table: HardwareTable, units: str, bodies: tuple[Body, ...]) -> Hardware:
    """The table with its defaults. Raises DesignError."""
    scale, given = mm_in(units), dict[str, Any]()
    if table.bearing is not None:
        given["bearing"] = _bearing(table.bearing, scale)
    if table.screw is not None:
        from solver.sheets.hardware.registry import screws

        _known("hardware.screw", table.screw, screws(), "no such screw", "screws")
        given["screw"] = table.screw
    if table.head is not None:
        given["head"] = table.head
    if table.plate_thickness is not None:
        given["plate"] = table.plate_thickness * scale
    if table.spare_pct is not None:
        given["spare"] = table.spare_pct / 100
    if table.label is not None:
        given["label"] = LabelPlate(table.label.width * scale, table.label.height * scale, table.label.text)
    for name in table.prices:
        _known(f"hardware.prices.{name}", None, PRICED, "has no price here", "parts with prices", name)
    return replace(
        Hardware(),
        roller=_roller(table.roller, scale),
        currency=table.currency,
        prices=tuple(sorted(table.prices.items())),
        bodies=_bodies(table, scale, [body.name for body in bodies]),
        **given,
    )


def bench_of(table: BenchTable) -> Bench:
    """The table with its defaults."""
    given = {own: getattr(table, key) for key, own in _BENCH.items() if getattr(table, key) is not None}
    if table.rest_pct is not None:
        given["rest"] = table.rest_pct / 100
    return replace(Bench(), **given)


def _known(field: str, value: object, known: Mapping[str, Any], no: str, what: str, word: str = "") -> None:
    word = word or str(value)
    if word not in known:
        raise single(field, value, f"{no}{suggestion(word, known) or f'; the {what} are ' + ', '.join(known)}")


def _bearing(told: BearingEntry, scale: Fraction) -> str | OwnBearing:
    if told.name is not None:
        from solver.sheets.hardware.registry import bearings

        if told.bore or told.outside or told.width or told.flange:
            raise single("hardware.bearing", told.name, "give a name or own sizes, not both")
        if told.name != PLAIN:
            _known("hardware.bearing", told.name, bearings(), "no such bearing", f'bearings, beside "{PLAIN}",')
        return told.name
    if told.bore is None or told.outside is None or told.width is None:
        raise single("hardware.bearing", None, 'must be a name, "MR84ZZ" say, or have bore, outside and width')
    if told.outside <= told.bore:
        raise single("hardware.bearing.outside", float(told.outside), f"must be greater than its bore, {told.bore}")
    if told.flange is not None and told.flange <= told.outside:
        least = f"must be greater than its outside, {float(told.outside):g}"
        raise single("hardware.bearing.flange", float(told.flange), least)
    sizes = told.bore * scale, told.outside * scale, told.width * scale
    return OwnBearing(*sizes, None if told.flange is None else told.flange * scale)


def _roller(told: RollerEntry, scale: Fraction) -> RollerSizes:
    sizes = (told.groove_width, told.groove_depth, told.flange)
    return RollerSizes(*(None if one is None else one * scale for one in sizes))


def _bodies(table: HardwareTable, scale: Fraction, names: list[str]) -> tuple[tuple[str, Fraction], ...]:
    found = []
    for name, told in table.bodies.items():
        field = f"hardware.bodies.{name}"
        _known(field, None, dict.fromkeys(names), "no such body", "bodies", name)
        if (told.diameter is None) == (told.km is None):
            raise single(field, None, "must have a diameter or km, and not both")
        if told.diameter is not None:
            found.append((name, told.diameter * scale))
        elif table.body_scale is None:
            raise single(f"{field}.km", float(told.km or 0), f"needs hardware.body_scale, the length of {KM} km")
        else:
            found.append((name, (told.km or 0) * table.body_scale * scale / KM))
    if table.body_scale is not None and all(told.km is None for told in table.bodies.values()):
        told_scale = float(table.body_scale)
        raise single("hardware.body_scale", told_scale, "is of no use: no body in hardware.bodies has km")
    return tuple(sorted(found))


def refuse_misfits(design: Design) -> None:
    """Refuse hardware that does not go with the posts, and grooves too narrow or too shallow for what runs in them.
    Raises DesignError."""
    hardware, scale = design.hardware, mm_in(design.units)
    if hardware is None:
        return

    def told(mm: float) -> float:
        return float(f"{mm / float(scale):.4g}")

    if hardware.plate is not None and design.fit.plate == "none":
        why = "there is no plate: set fit.plate to the side that it is on, or leave this out"
        raise single("hardware.plate_thickness", told(float(hardware.plate)), why)
    post = 2 * float(design.fit.post_radius)
    bore, shown = _bore(hardware)
    if bore is not None and abs(bore - post) > SAME_MM:
        need = told(bore / 2)
        why = f"has a bore of {told(bore):g} {design.units}; posts are {told(post):g} thick"
        raise single("hardware.bearing", shown, f"{why}: set fit.post_radius = {need:g}")
    from solver.files.wire_table import of_plate

    held = float(design.wire.sheet) if of_plate(design.wire.form) else design.wire.loop.mm
    roller = hardware.roller
    if roller.groove_width is not None and float(roller.groove_width) < held + GROOVE_PLAY:
        least = f"must be at least {told(held + GROOVE_PLAY)}, for a ring {told(held)} thick to run in it"
        raise single("hardware.roller.groove_width", told(float(roller.groove_width)), least)
    if roller.groove_depth is not None and float(roller.groove_depth) <= held / 2:
        least = f"must be greater than {told(held / 2)}: flanges stand higher than half of what runs between them"
        raise single("hardware.roller.groove_depth", told(float(roller.groove_depth)), least)
    rim, spacing = float(design.rings.rim), float(design.rings.level_spacing)
    for name, mm, limit, field, why in (
        ("groove_width", roller.groove_width, spacing, "rings.level_spacing", "levels are no farther apart"),
        ("flange", roller.flange, spacing, "rings.level_spacing", "levels are no farther apart"),
        ("groove_depth", roller.groove_depth, rim, "rings.rim", "flanges would stand in the way of what meshes"),
    ):
        if mm is not None and limit and float(mm) >= limit:
            most = f"must be less than {field} = {told(limit):g}: {why}"
            raise single(f"hardware.roller.{name}", told(float(mm)), most)


GROOVE_PLAY = 0.1  # mm between a ring and the flanges together, at least (common practice, no source)


def _bore(hardware: Hardware) -> tuple[float | None, str]:
    """The bore of the bearing that is asked for, and how it is called."""
    if isinstance(hardware.bearing, OwnBearing):
        return float(hardware.bearing.bore), "own sizes"
    if hardware.bearing is None or hardware.bearing == PLAIN:
        return None, ""
    from solver.sheets.hardware.registry import bearings

    return bearings()[hardware.bearing].bore, hardware.bearing
