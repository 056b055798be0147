"""What the design file of a point says of how its answers are to be read."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from solver.design.design import Design
from solver.design.errors import DesignError
from solver.files.load import parse_design

_KEPT = 512  # points whose words are kept: more than a page shows, of some jobs


@dataclass(frozen=True)
class Said:
    """units: "mm" or "in"; keep: how many solutions are listed in order, what follows stands on the front alone; front:
    the rank keys of the front that was asked for; places: whether arbors have places; cranked: a hand crank drives it;
    wished_s: how long a turn of the body is to take of which a time is wished [seconds]."""

    units: str = "mm"
    keep: int = 1000
    front: tuple[str, ...] = ()
    places: bool = False
    cranked: bool = False
    wished_s: float | None = None


@lru_cache(_KEPT)
def said_in(text: str) -> Said:
    """What a design file says. Of one that this version cannot read: nothing. Kept, since of a job that goes on the
    results are read anew every second, with the same design files."""
    try:
        design = parse_design(text, "")
    except DesignError:
        return Said()
    places = design.fit.directions is not None
    return Said(design.units, design.keep, design.front, places, design.cranked, wished_seconds(design))


def wished_seconds(design: Design) -> float | None:
    """How long a turn of the body is to take of which a time is wished [seconds]; None where none is."""
    return None if design.drive is None or design.drive.turn is None else float(design.drive.turn[1])
