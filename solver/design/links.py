"""The registry of link kinds: what stands between a ring and the next larger one.

A kind is described by its topology alone: how many third gears stand between ring and wheel, and how many
between pinion and ring. Meshes, sense, parts and the arbor's place follow from that, so a new kind is one more
entry here and touches neither the search, the check nor the sheets.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class LinkKind:
    """A link's topology.

    wheel_thirds, pinion_thirds: third gears (0 or 1) on the wheel's and on the pinion's side.
    """

    name: str
    wheel_thirds: int
    pinion_thirds: int

    def __post_init__(self) -> None:
        if not (0 <= self.wheel_thirds <= 1 and 0 <= self.pinion_thirds <= 1):
            raise ValueError(f"{self.name}: a side has no third gear or one")

    @property
    def thirds(self) -> int:
        """Third gears in this link."""
        return self.wheel_thirds + self.pinion_thirds

    @property
    def reverses(self) -> bool:
        """Whether the outer ring turns against the inner one: each external mesh reverses, and the arbor
        carries the sense across (counting meshes; common practice, no source)."""
        return (2 + self.thirds) % 2 == 1

    @property
    def parts(self) -> int:
        """Arbor gears and arbors: 3 for a plain link, two more for each third gear."""
        return 3 + 2 * self.thirds


KINDS: tuple[LinkKind, ...] = (
    LinkKind("plain", 0, 0),
    LinkKind("third-wheel", 1, 0),
    LinkKind("third-pinion", 0, 1),
    LinkKind("third-both", 1, 1),
)

KIND_BY_NAME = {kind.name: kind for kind in KINDS}


def link_word(kind: str, wheel: int, pinion: int, thirds: Sequence[int]) -> str:
    """A link as it is written, wheel/pinion and its third gears with their sides: "18/12w5"; kind: its name."""
    sides = "w" * KIND_BY_NAME[kind].wheel_thirds + "p" * KIND_BY_NAME[kind].pinion_thirds
    return f"{wheel}/{pinion}" + "".join(f"{side}{c}" for side, c in zip(sides, thirds, strict=True))
