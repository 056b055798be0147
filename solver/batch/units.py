"""In which unit the lengths of stored solutions are told: that of each design. What is stored is in millimetres."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from typing import Any

from solver.words.lengths import MM_PER_INCH

_INCH = float(MM_PER_INCH)


class UnclearUnit(ValueError):
    """A limit on a length without a unit, where some designs are in millimetres and some in inches."""


def units_of(designs: Mapping[str, str], settings: Mapping[str, Mapping[str, Any]]) -> dict[str, str]:
    """The unit of each point of a run, "mm" or "in". designs: their files; settings: what is varied in each; all points
    are of one base design, so that one of them is read, and those that vary the unit."""
    own = {point: str(some["units"]) for point, some in settings.items() if "units" in some}
    plain = next((text for point, text in designs.items() if point not in own), "")
    base = str(tomllib.loads(plain).get("units", "mm"))
    return {point: own.get(point, base) for point in designs}


def limit_in_mm(limit: float, unit: str | None, units: Iterable[str]) -> float:
    """A limit on a length [mm]. unit: as it was told, None where it was not: then that of all designs. units: of the
    designs. Raises UnclearUnit."""
    if unit is None:
        found = sorted(set(units)) or ["mm"]
        if len(found) > 1:
            raise UnclearUnit(f"{limit:g}: in which unit? some designs are in inches: write {limit:g}in or {limit:g}mm")
        (unit,) = found
    return limit * _INCH if unit == "in" else limit
