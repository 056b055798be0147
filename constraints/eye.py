"""Rule `arm`, of the eyes in which arms end: those of a gap do not meet each other, nor its arbor."""

from __future__ import annotations

from dataclasses import dataclass

from constraints.places import Clearances


@dataclass(frozen=True)
class EyesClear(Clearances):
    """The eyes of two things, of a thing and a ring's rollers, and of the rollers of one ring (a ring with itself)."""

    name = "arm"
