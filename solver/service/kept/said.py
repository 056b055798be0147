"""What the design file of a point says of how its answers are to be read."""

from __future__ import annotations

from dataclasses import dataclass

from solver.design.errors import DesignError
from solver.files.load import parse_design


@dataclass(frozen=True)
class Said:
    """units: "mm" or "in"; keep: how many solutions are listed in order, what follows stands on the front alone; front:
    the rank keys of the front that was asked for; places: whether arbors have places."""

    units: str = "mm"
    keep: int = 1000
    front: tuple[str, ...] = ()
    places: bool = False


def said_in(text: str) -> Said:
    """What a design file says. Of one that this version cannot read: nothing."""
    try:
        design = parse_design(text, "")
    except DesignError:
        return Said()
    return Said(design.units, design.keep, design.front, design.fit.directions is not None)
