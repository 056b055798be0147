"""What the judge says of a train: its figures, and every rule that it breaks."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class Violation:
    """A broken rule: its name, where (field or link), and by how much. short_mm: the room that is missing, where the
    rule is one of distance."""

    rule: str
    where: str
    text: str
    short_mm: float | None = None

    def __str__(self) -> str:
        return f"{self.rule}: {self.where}: {self.text}"


@dataclass(frozen=True)
class RingFigures:
    """One ring: period over the reference body's ring, sense, and for a body its target and error.

    target: (low, high) period ratio to the reference body, None for a blank; error and period_error are
    fractions (1/100 for 1 %), exact where the first body is, else to 50 digits; period_error positive where the ring
    turns too slowly.
    """

    ratio: Fraction
    reverse: bool
    body: int | None
    target: tuple[Fraction, Fraction] | None
    error: Fraction | None
    period_error: Fraction | None


@dataclass(frozen=True)
class LinkFigures:
    """Radii [mm] of a link's arbor and third gears (wheel's side first); None without places."""

    ratio: Fraction
    arbor_mm: float | None
    thirds_mm: tuple[float, ...]


@dataclass(frozen=True)
class DriveFigures:
    """The drive: seconds for a revolution of each ring, and for the named body the error against the wished time as a
    fraction, None where no time is wished."""

    seconds: tuple[Fraction, ...]
    error: Fraction | None


@dataclass(frozen=True)
class Verdict:
    """What the judge found. error_square: (1 + worst error)**2, exact; worst_error a fraction;
    new_gears: to be made, none of which is in the drawer."""

    violations: tuple[Violation, ...]
    error_square: Fraction | None
    worst_error: float | None
    parts: int
    jigs: int
    teeth: int
    largest: int
    envelope_mm: float | None
    rings: tuple[RingFigures, ...]
    links: tuple[LinkFigures, ...]
    drive: DriveFigures | None = None
    new_gears: int = 0

    @property
    def sound(self) -> bool:
        return not self.violations
