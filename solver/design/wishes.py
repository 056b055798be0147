"""What a maker may wish of places beyond that they fit: where single links stand, what is kept free, what is preferred."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

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


@dataclass(frozen=True)
class LinkSpan:
    """Where the arbor of one link, by number, stands: in which part of the circle."""

    link: int
    sector: Sector
