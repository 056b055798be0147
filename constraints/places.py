"""The CP-SAT variables of a train's places: one literal for each place of each thing, and what stands there.

Spots are whole micrometres from the main axis, so that squares of distances are whole numbers; what is needed comes
with the rules, as squares too.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from ortools.sat.python import cp_model

Spot = tuple[int, int]


@dataclass(frozen=True)
class GearSpot:
    """A gear on a level."""

    level: int
    teeth: int
    spot: Spot


@dataclass(frozen=True)
class PostSpot:
    """A post that passes levels."""

    passes: range
    spot: Spot


@dataclass(frozen=True)
class MeshSpot:
    """A mesh that pushes on the ring of a level, and its direction [degrees]."""

    level: int
    direction: float


@dataclass(frozen=True)
class Place:
    """One place of a link or the drive: chosen or not, and what stands where then."""

    chosen: cp_model.IntVar
    gears: tuple[GearSpot, ...]
    posts: tuple[PostSpot, ...] = ()
    meshes: tuple[MeshSpot, ...] = ()


@dataclass(frozen=True)
class RollerVars:
    """One direction [degrees] in which a ring may have a roller: chosen or not, its spot, and the levels that its post
    passes."""

    chosen: cp_model.IntVar
    level: int
    direction: float
    spot: Spot
    passes: range = range(0)


@dataclass
class PlaceVars:
    """Places under construction. items: for each link, and the drive, its places, of which exactly one is chosen;
    rollers: for each ring the directions in which it may have one."""

    model: cp_model.CpModel = field(default_factory=cp_model.CpModel)
    items: list[list[Place]] = field(default_factory=list)
    rollers: list[list[RollerVars]] = field(default_factory=list)

    def item(self, places: Iterable[tuple[Sequence[GearSpot], Sequence[PostSpot], Sequence[MeshSpot]]]) -> None:
        """One more link or the drive, with what stands where at each of its places."""
        number = len(self.items)
        found = [
            Place(self.model.new_bool_var(f"place{number}.{index}"), tuple(gears), tuple(posts), tuple(meshes))
            for index, (gears, posts, meshes) in enumerate(places)
        ]
        self.model.add_exactly_one(place.chosen for place in found)
        self.items.append(found)

    def ring(self, rollers: Iterable[tuple[float, Spot]], passes: range = range(0)) -> None:
        """One more ring, with the directions and spots that its rollers may have."""
        level = len(self.rollers)
        self.rollers.append(
            [
                RollerVars(self.model.new_bool_var(f"roller{level}.{index}"), level, direction, spot, passes)
                for index, (direction, spot) in enumerate(rollers)
            ]
        )

    def forbid(self, place: Place | RollerVars, other: Place | RollerVars | None = None) -> None:
        """The place cannot be had, or not together with the other."""
        self.model.add_bool_or([~one.chosen for one in (place, other) if one is not None])

    def pairs(self) -> Iterable[tuple[Place, Place]]:
        """Every two places of different things."""
        for number, places in enumerate(self.items):
            for others in self.items[:number]:
                for place in places:
                    for other in others:
                        yield other, place

    def all_places(self) -> Iterable[Place]:
        """Every place of every thing."""
        return (place for places in self.items for place in places)

    def all_rollers(self) -> Iterable[RollerVars]:
        """Every direction of every ring's rollers."""
        return (roller for rollers in self.rollers for roller in rollers)


def overlap(one: range, other: range) -> bool:
    """Whether two spans of levels have one in common."""
    return max(one.start, other.start) < min(one.stop, other.stop)


def square(one: Spot, other: Spot = (0, 0)) -> int:
    """Square of the distance of two spots."""
    return (one[0] - other[0]) ** 2 + (one[1] - other[1]) ** 2
