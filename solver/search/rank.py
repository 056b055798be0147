"""The lexicographic order of solutions: rank keys, then jigs, envelope and the teeth themselves, so that no tie is left
open."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from solver.design.links import KIND_BY_NAME, KINDS
from solver.design.made import NOTHING, OnBench
from solver.design.train import Link, Train

TAIL = ("error", "jigs", "envelope")
COUPLED_KEYS = frozenset({"jigs", "teeth", "new_gears"})  # of which one link says nothing without the others
_KIND_ORDER = {kind.name: index for index, kind in enumerate(KINDS)}


@dataclass(frozen=True)
class Figures:
    """What counts of one train. error_square is (1 + worst error)**2; envelope_teeth is 0 without places; new_gears
    is 0 where it is not asked for."""

    error_square: Fraction
    parts: int
    jigs: int
    teeth: int
    largest: int
    envelope_teeth: int
    new_gears: int = 0

    def value(self, key: str) -> Fraction | int:
        """The figure that a rank key compares."""
        if key == "error":
            return self.error_square
        return int(getattr(self, "envelope_teeth" if key == "envelope" else key))


def key_order(rank: tuple[str, ...]) -> tuple[str, ...]:
    """All keys in the order in which they decide: the user's, then error, jigs and envelope if not among them."""
    return rank + tuple(key for key in TAIL if key not in rank)


def sort_key(figures: Figures, train: Train, keys: tuple[str, ...]) -> tuple[object, ...]:
    """Compares two solutions: the keys, then rings, seats, kinds, wheels, pinions and third gears in order."""
    return (*(figures.value(key) for key in keys), *sort_tail(train))


def sort_tail(train: Train) -> tuple[object, ...]:
    """Compares two solutions alike in all keys."""
    links = train.links
    return (
        train.rings,
        train.seats,
        tuple(_KIND_ORDER[link.kind] for link in links),
        tuple(link.wheel for link in links),
        tuple(link.pinion for link in links),
        tuple(teeth for link in links for teeth in link.thirds),
    )


def counts(train: Train, made: OnBench = NOTHING) -> tuple[int, int, int, int]:
    """parts, jigs, teeth and largest of a train, as the design's table of what counts defines them. made: what exists
    already."""
    gears = [teeth for link in train.links for teeth in (link.wheel, link.pinion, *link.thirds)]
    parts = len(train.rings) + sum(KIND_BY_NAME[link.kind].parts for link in train.links)
    jigs = made.new_jigs(train.rings, gears)
    return parts, jigs, sum(train.rings) + sum(gears), max(gears)


def new_gears(train: Train, made: OnBench) -> int:
    """How many wheels, pinions and third gears of a train are still to be made."""
    return made.new_gears(teeth for link in train.links for teeth in (link.wheel, link.pinion, *link.thirds))


def side_reach(ring: int, gear: int, thirds: int, third: int, gap: int) -> tuple[int, int]:
    """Least and greatest arbor radius [teeth] that one side of a link allows.

    Without a third gear the gear meets its ring: one value. With one, the gear must stay `gap` clear of that
    ring, and ring, third gear and gear form a triangle as long as the arbor is not too far out.
    """
    if thirds == 0:
        return ring + gear, ring + gear
    return ring + gear + gap, ring + gear + 2 * third


def arbor_radii(inner: int, outer: int, link: Link, gap: int) -> range:
    """Every radius [whole teeth] at which the arbor of a link between rings of `inner` and `outer` teeth may stand: at
    most one, but for third gears on both sides; none where it has no place."""
    kind = KIND_BY_NAME[link.kind]
    wheel_third = link.thirds[0] if kind.wheel_thirds else 0
    pinion_third = link.thirds[-1] if kind.pinion_thirds else 0
    low_a, high_a = side_reach(inner, link.wheel, kind.wheel_thirds, wheel_third, gap)
    low_b, high_b = side_reach(outer, link.pinion, kind.pinion_thirds, pinion_third, gap)
    return range(max(low_a, low_b), min(high_a, high_b) + 1)


def arbor_teeth(inner: int, outer: int, link: Link, gap: int) -> int | None:
    """Least arbor radius [teeth] of a link; None: it has no place."""
    radii = arbor_radii(inner, outer, link, gap)
    return radii[0] if radii else None


def envelope_teeth(train: Train, gap: int, radii: tuple[int, ...] | None = None) -> int | None:
    """Radius [teeth, without addendum] of the circle around everything but the drive, which is chosen with the places.

    radii: the arbors' distances from the main axis [teeth]; None: as far in as they can be. None where a link has no
    place.
    """
    reach = max(train.rings)
    for index, link in enumerate(train.links):
        inner, outer = train.rings[index], train.rings[index + 1]
        arbor = arbor_teeth(inner, outer, link, gap) if radii is None else radii[index]
        if arbor is None:
            return None
        kind = KIND_BY_NAME[link.kind]
        reach = max(reach, arbor + max(link.wheel, link.pinion))
        if kind.wheel_thirds:
            reach = max(reach, inner + 2 * link.thirds[0])
        if kind.pinion_thirds:
            reach = max(reach, outer + 2 * link.thirds[-1])
    return reach
