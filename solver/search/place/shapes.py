"""What is to be placed: an arbor with its gears, among the rings of a train; in teeth, without a direction yet."""

from __future__ import annotations

from dataclasses import dataclass

from solver.design.links import KIND_BY_NAME
from solver.design.train import Link
from solver.search.roller_gaps import FREE, RollerGaps


@dataclass(frozen=True)
class Side:
    """One side of an arbor: the ring (its level and teeth), the gear on the arbor, the third gear between or None."""

    level: int
    ring: int
    gear: int
    third: int | None


@dataclass(frozen=True)
class ArborShape:
    """What is to be placed: the sides of an arbor at `radius` teeth from the main axis; a link has two, a drive one."""

    sides: tuple[Side, ...]
    radius: int


def link_shape(level: int, inner: int, outer: int, link: Link, radius: int) -> ArborShape:
    """The shape of the link between the rings of levels `level` and `level + 1`."""
    kind = KIND_BY_NAME[link.kind]
    wheel_third = link.thirds[0] if kind.wheel_thirds else None
    pinion_third = link.thirds[-1] if kind.pinion_thirds else None
    return ArborShape(
        (Side(level, inner, link.wheel, wheel_third), Side(level + 1, outer, link.pinion, pinion_third)), radius
    )


def share(one: range, other: range) -> bool:
    """Whether two spans of levels have one in common."""
    return max(one.start, other.start) < min(one.stop, other.stop)


@dataclass(frozen=True)
class RingStack:
    """The rings of one train, level by level: their teeth, and which of them carry bodies whose stands matter; gaps:
    how the rollers of each may stand where it must not bend too far, none where that does not matter."""

    rings: tuple[int, ...]
    riders: tuple[int, ...]
    gaps: tuple[RollerGaps, ...] = ()

    def gaps_at(self, level: int) -> RollerGaps:
        """How the rollers of a ring may stand."""
        return self.gaps[level] if self.gaps else FREE
