"""What a placed train has beside its gears: hubs, sleeves, posts, rollers, rods of bodies, screws; in mm and g."""

from __future__ import annotations

from dataclasses import dataclass

from solver.sheets.gears.feet import StandFoot
from solver.sheets.gears.fittings import Seat


@dataclass(frozen=True)
class Hub:
    """The hub of a small gear: whose it is, its length, and its bore, 0 where it is solid: that of a motor pinion, to
    be bored for the motor's shaft. A third gear's is bored for its bearing. seat: of a bearing of the arbor."""

    use: str
    length_mm: float
    bore_mm: float
    grams: float
    seat: Seat | None = None


@dataclass(frozen=True)
class Arbor:
    """The sleeve of a link, from the outer face of its wheel's hub to that of its pinion's, and its bearings; shorter
    by those that sit in the hubs."""

    link: int
    bottom: int
    top: int
    length_mm: float
    bearings: int
    grams: float


@dataclass(frozen=True)
class PostRod:
    """A post: what turns on it, its first and last level, its length from the plate (without what goes through the
    plate), or without a plate of the stub that the frame or an arm holds."""

    carries: str
    bottom: int
    top: int
    length_mm: float
    grams: float


@dataclass(frozen=True)
class RingRoller:
    """A roller of a ring, with one bearing; how far its middle is from the main axis."""

    ring: int
    number: int
    at_mm: float
    grams: float


@dataclass(frozen=True)
class BodyStand:
    """The rod on which a body stands, from its ring's level to the outer face of the last level on its side, and its
    foot."""

    body: str
    ring: int
    length_mm: float
    grams: float
    foot: StandFoot


@dataclass(frozen=True)
class Screws:
    """The screws of a level: of posts that begin there, of its rollers, and of gears that are fixed to a shaft."""

    level: int
    posts: int
    rollers: int
    sets: int

    @property
    def total(self) -> int:
        return self.posts + self.rollers + self.sets
