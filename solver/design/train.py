"""A train: the rings, where the bodies ride, the gears of every link, and where all of it stands. Plain data.

A spot is (x, y) in whole micrometres from the main axis, seen from the front: x to the right, y upwards. Directions
are degrees from the right, counterclockwise.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

Spot = tuple[int, int]


@dataclass(frozen=True)
class Link:
    """One link: its kind's name, teeth of wheel and pinion, and of the third gears, wheel's side first."""

    kind: str
    wheel: int
    pinion: int
    thirds: tuple[int, ...] = ()


@dataclass(frozen=True)
class LinkPlace:
    """Where a link stands: its arbor's direction and distance from the main axis [teeth of pitch radius], the arbor's
    spot and those of its third gears, wheel's side first."""

    direction: Fraction
    radius: int
    arbor: Spot
    thirds: tuple[Spot, ...] = ()


@dataclass(frozen=True)
class RollerPlace:
    """A roller inside a ring: the direction of its middle, and its spot."""

    direction: Fraction
    spot: Spot


@dataclass(frozen=True)
class DrivePlace:
    """The motor: the ring it works with, its speed [rev/min], its pinion and third gears (none or one), and where its
    shaft and the third gear stand, as for a link."""

    ring: int
    rpm: Fraction
    pinion: int
    thirds: tuple[int, ...]
    at: LinkPlace


@dataclass(frozen=True)
class Placement:
    """Where everything stands: a place for each link, the rollers of each ring, and the drive."""

    links: tuple[LinkPlace, ...]
    rollers: tuple[tuple[RollerPlace, ...], ...] = ()
    drive: DrivePlace | None = None


@dataclass(frozen=True)
class Train:
    """Ring teeth from the inside out, the ring of each body, and the links between neighbouring rings.

    placement: where it stands; None where no places are computed.
    """

    rings: tuple[int, ...]
    seats: tuple[int, ...]
    links: tuple[Link, ...]
    placement: Placement | None = None

    def identity(self) -> tuple[object, ...]:
        """What makes two solutions the same: rings, bodies' seats, kinds, wheels and pinions."""
        return (self.rings, self.seats, tuple((link.kind, link.wheel, link.pinion) for link in self.links))

    def gears(self) -> tuple[object, ...]:
        """Likewise where the order of the links between two bodies does not matter."""
        links = [(link.kind, link.wheel, link.pinion) for link in self.links]
        return (self.rings, self.seats, tuple(tuple(sorted(links[begin:end])) for begin, end in pairwise(self.seats)))
