"""A train: the rings, where the bodies ride, and the gears of every link. Plain data, nothing computed."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Link:
    """One link: its kind's name, teeth of wheel and pinion, and of the third gears, wheel's side first."""

    kind: str
    wheel: int
    pinion: int
    thirds: tuple[int, ...] = ()


@dataclass(frozen=True)
class Train:
    """Ring teeth from the inside out, the ring of each body, and the links between neighbouring rings."""

    rings: tuple[int, ...]
    places: tuple[int, ...]
    links: tuple[Link, ...]

    def identity(self) -> tuple[object, ...]:
        """What makes two solutions the same: rings, bodies' places, kinds, wheels and pinions."""
        return (self.rings, self.places, tuple((link.kind, link.wheel, link.pinion) for link in self.links))
