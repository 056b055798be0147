"""Resolves the table [sky], the unit of the periods and where own bodies stood. Each function raises DesignError."""

from __future__ import annotations

from solver.design.errors import single
from solver.design.hang import Hang, Start
from solver.files.body_sets import body_sets
from solver.files.schema import BodiesTable, SkyTable


def hang_of(table: SkyTable | None) -> Hang | None:
    """How the model hangs; None where the file is silent."""
    return None if table is None else Hang(table.zero_deg % 360, table.seen_from)


def unit_of(table: BodiesTable) -> str | None:
    """The unit of the periods, where the file says it."""
    if table.unit is not None and table.set_name is not None:
        theirs = body_sets()[table.set_name].unit
        if table.unit != theirs:
            raise single("bodies.unit", table.unit, f'the periods of the set "{table.set_name}" are in {theirs}')
    return table.unit


def starts_of(table: BodiesTable) -> tuple[Start, ...] | None:
    """Where own bodies stood, in the file's order; None where it says of none."""
    found = []
    for index, entry in enumerate(table.own):
        path = f"bodies.list[{index}]"
        if entry.longitude is None and entry.epoch is None:
            continue
        if entry.longitude is None or entry.epoch is None:
            have, need = ("epoch", "longitude") if entry.longitude is None else ("longitude", "epoch")
            value = entry.epoch if entry.longitude is None else float(entry.longitude)
            raise single(f"{path}.{have}", value, f"needs {need}: where the body stood, and when")
        if entry.period_range is not None:
            raise single(f"{path}.longitude", float(entry.longitude), "needs a period: a range says no one rate")
        if entry.period is None:
            told = "does not belong here: the set says where its bodies stand"
            raise single(f"{path}.longitude", float(entry.longitude), told)
        if table.unit is None and table.set_name is None:
            told = 'needs bodies.unit = "days", "hours" or "years": else it is not known how long a period is'
            raise single(f"{path}.longitude", float(entry.longitude), told)
        found.append(Start(entry.name, entry.longitude % 360, entry.epoch))
    return tuple(found) or None
