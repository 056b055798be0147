"""What exists already: jigs, gears in the drawer, finished rings, and the part of a train that is built and stays."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from solver.design.train import Link


@dataclass(frozen=True)
class FixedRing:
    """A ring that stands where it is: its teeth, and who rides on it: a body by its index, or nobody (`blank`). None:
    open."""

    ring: int
    teeth: int | None
    body: int | None
    blank: bool = False

    def open_to(self, body: int) -> bool:
        """Whether this body may ride on it."""
        return not self.blank and self.body in (None, body)


@dataclass(frozen=True)
class FixedLink:
    """A link that is built and stays. thirds: teeth of its third gears, wheel's side first; None: open."""

    link: int
    kind: str
    wheel: int
    pinion: int
    thirds: tuple[int, ...] | None

    def allows(self, other: Link) -> bool:
        """Whether a link is this one."""
        same = (other.kind, other.wheel, other.pinion) == (self.kind, self.wheel, self.pinion)
        return same and self.thirds in (None, other.thirds)


@dataclass(frozen=True)
class OnBench:
    """What is on the bench. ring_jigs, gear_jigs: tooth counts with a jig; gears: (teeth, how many) in the drawer;
    rings: tooth counts of finished rings that may stand anywhere; held, links: what stands where it is, by ring and by
    link.

    What exists needs no jig: a tooth count of which there is a ring or a gear counts as one with a jig.
    """

    ring_jigs: tuple[int, ...] = ()
    gear_jigs: tuple[int, ...] = ()
    gears: tuple[tuple[int, int], ...] = ()
    rings: tuple[int, ...] = ()
    held: tuple[FixedRing, ...] = ()
    links: tuple[FixedLink, ...] = ()

    @cached_property
    def ring_counts(self) -> frozenset[int]:
        """Tooth counts of rings that need no new jig."""
        held = (one.teeth for one in self.held if one.teeth is not None)
        return frozenset((*self.ring_jigs, *self.rings, *held))

    @cached_property
    def gear_counts(self) -> frozenset[int]:
        """Tooth counts of gears that need no new jig."""
        return frozenset((*self.gear_jigs, *self.drawer))

    @cached_property
    def drawer(self) -> dict[int, int]:
        """How many gears there are of each tooth count: in the drawer, and in the links that stay."""
        found = Counter(dict(self.gears))
        for link in self.links:
            found.update((link.wheel, link.pinion, *(link.thirds or ())))
        return dict(found)

    @cached_property
    def by_link(self) -> dict[int, FixedLink]:
        """The links that stay, by their number."""
        return {link.link: link for link in self.links}

    @property
    def least_rings(self) -> int:
        """How many rings there are at least."""
        return max([0, *(one.ring + 1 for one in self.held), *(link.link + 2 for link in self.links)])

    def new_jigs(self, rings: Iterable[int], gears: Iterable[int]) -> int:
        """How many jigs are still to be made for rings and gears of these tooth counts."""
        return len(set(rings) - self.ring_counts) + len(set(gears) - self.gear_counts)

    def new_gears(self, gears: Iterable[int]) -> int:
        """How many of these gears are still to be made."""
        return sum(max(0, many - self.drawer.get(teeth, 0)) for teeth, many in Counter(gears).items())

    def ring_teeth(self, choices: tuple[tuple[int, ...], ...]) -> tuple[tuple[int, ...], ...]:
        """The teeth that each ring may have, of these."""
        held = {one.ring: one.teeth for one in self.held if one.teeth is not None}
        return tuple(
            choice if ring not in held else tuple(teeth for teeth in choice if teeth == held[ring])
            for ring, choice in enumerate(choices)
        )

    def seats_of(self, body: int, seats: Iterable[int]) -> tuple[int, ...]:
        """The rings on which a body may ride, of these."""
        own = [one.ring for one in self.held if one.body == body]
        shut = {one.ring for one in self.held if not one.open_to(body)}
        return tuple(ring for ring in seats if ring not in shut and (not own or ring in own))


NOTHING = OnBench()
