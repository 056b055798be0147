"""Third gears, each with the ring and the gear between which it stands, for all that judges them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from solver.design.links import KIND_BY_NAME
from solver.design.train import Train


@dataclass(frozen=True)
class Third:
    """A third gear of so many teeth. side: the name of the gear that it works with; level: of the ring; ring, gear:
    their teeth."""

    side: str
    level: int
    ring: int
    gear: int
    teeth: int


def thirds_of(train: Train, index: int) -> tuple[Third, ...]:
    """The third gears of link `index`, wheel's side first."""
    link = train.links[index]
    kind = KIND_BY_NAME[link.kind]
    sides = [("wheel", index, link.wheel)] * kind.wheel_thirds
    sides += [("pinion", index + 1, link.pinion)] * kind.pinion_thirds
    return tuple(
        Third(side, level, train.rings[level], gear, teeth)
        for (side, level, gear), teeth in zip(sides, link.thirds, strict=True)
    )


def drive_thirds(train: Train, level: int, pinion: int, thirds: Sequence[int]) -> tuple[Third, ...]:
    """The third gears between the ring of a level and the motor's pinion."""
    return tuple(Third("motor pinion", level, train.rings[level], pinion, teeth) for teeth in thirds)
