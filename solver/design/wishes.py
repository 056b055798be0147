"""What a maker may wish of places beyond that they fit: where single links stand, what is kept free, what is
preferred."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

NEAR = 1e-9  # degrees
Arrange = Literal["spread", "balanced", "first"]


@dataclass(frozen=True)
class Sector:
    """A part of the circle around the main axis, from `begin` counterclockwise to `end` [degrees, 0 to 360], both edges
    included; a single direction where they are the same."""

    begin: Fraction
    end: Fraction

    @property
    def turn(self) -> Fraction:
        """How far it is from edge to edge [degrees]."""
        return (self.end - self.begin) % 360

    def holds(self, direction: Fraction) -> bool:
        """Whether a direction [degrees] is in it."""
        return (direction - self.begin) % 360 <= self.turn

    def near(self, angle: float) -> bool:
        """Whether an angle [degrees] is in it, or so near to an edge that floats cannot tell."""
        return (angle - float(self.begin) + NEAR) % 360 <= float(self.turn) + 2 * NEAR


@dataclass(frozen=True)
class LinkSpan:
    """Where the arbor of one link, by number, stands: in which part of the circle."""

    link: int
    sector: Sector
