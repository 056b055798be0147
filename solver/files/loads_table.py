"""Resolves the table [loads], and the crank and torques of [drive]: bodies by their index, lengths in millimetres."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from solver.design.design import Body
from solver.design.errors import single, suggestion
from solver.design.loads import BEARINGS, HandCrank, ModelLoads
from solver.files.schema import CrankTable, DriveTable, LoadsTable

_PLAIN = ("roller_friction", "bearing", "mesh_efficiency", "hand_n", "play_good_deg", "play_bad_deg")


def loads_of(
    table: LoadsTable | None, drive: DriveTable | None, bodies: tuple[Body, ...], scale: Fraction
) -> ModelLoads | None:
    """The loads with their defaults; None where a file tells none of it. scale: millimetres in one unit of the file.
    Raises DesignError."""
    values: dict[str, Any] = {}
    if table is not None:
        values |= {key: getattr(table, key) for key in _PLAIN if getattr(table, key) is not None}
        usual = BEARINGS[values.get("bearing", "ball")]
        values["bearing_friction"] = usual if table.bearing_friction is None else table.bearing_friction
        values["body_at"] = _by_index("body_at", table.body_at, bodies, scale)
    if drive is not None:
        values |= {key: getattr(drive, key) for key in ("torque_ncm", "stall_ncm") if getattr(drive, key) is not None}
        if drive.crank is not None:
            values["crank"] = crank_of(drive.crank, scale)
    if not values:
        return None
    loads = ModelLoads(**values)
    if loads.play_good_deg > loads.play_bad_deg:
        most = f"must be at most loads.play_bad_deg, {float(loads.play_bad_deg):g}"
        raise single("loads.play_good_deg", float(loads.play_good_deg), most)
    if loads.torque_ncm is not None and loads.stall_ncm is not None and loads.stall_ncm < loads.torque_ncm:
        least = f"must be at least drive.torque_ncm, {float(loads.torque_ncm):g}: a motor that is held gives most"
        raise single("drive.stall_ncm", float(loads.stall_ncm), least)
    return loads


def crank_of(table: CrankTable, scale: Fraction) -> HandCrank:
    """A crank with its defaults."""
    usual = HandCrank()
    return HandCrank(usual.radius if table.radius is None else table.radius * scale, table.rpm or usual.rpm)


def speeds_of(table: DriveTable) -> tuple[Fraction, ...]:
    """The speeds of the motors, or that of the hand at the crank [rev/min]. Raises DesignError where there is neither
    or both, and for what a crank does not have."""
    if table.crank is None:
        if table.motor_rpm is None:
            raise single("drive.motor_rpm", None, "is missing")
        return table.motor_rpm
    for key in ("motor_rpm", "torque_ncm", "stall_ncm"):
        value = getattr(table, key)
        if value is not None:
            shown = [float(one) for one in value] if isinstance(value, tuple) else [float(value)]
            raise single(
                f"drive.{key}",
                shown if len(shown) > 1 else shown[0],
                "does not belong here: drive.crank is in place of a motor",
            )
    return (crank_of(table.crank, Fraction(1)).rpm,)


def _by_index(
    field: str, given: tuple[tuple[str, Fraction], ...] | None, bodies: tuple[Body, ...], scale: Fraction
) -> tuple[tuple[int, Fraction], ...]:
    names = [body.name for body in bodies]
    for name, _ in given or ():
        if name not in names:
            near = suggestion(name, names) or "; the bodies are " + ", ".join(names)
            raise single(f"loads.{field}", name, f"no such body{near}")
    return tuple(sorted((names.index(name), value * scale) for name, value in given or ()))
