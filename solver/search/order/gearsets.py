"""Jigs couple all links: trains of few different gears, found by branching on the gears that may be used.

A node of the branching says of some gears that they are used and of some that they are not. Only candidates that
bring in no more new gears than there is room for are left to the lattice; where it lists few trains, or no room is
left, they are looked at one by one. Every train with few enough gears is met exactly once.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import islice

from solver.design.design import Family
from solver.search.options.candidates import Candidates
from solver.search.reach.segments import Allowed
from solver.search.reach.walks import Path

LEAF = 500  # trains that are looked at one by one rather than branched on

PathsOf = Callable[[Family, Allowed], Iterator[Path]]  # the trains of a family of gears that are allowed together


def few_gear_paths(family: Family, candidates: Candidates, paths_of: PathsOf, most_jigs: int) -> Iterator[Path]:
    """Every train whose distinct rings and distinct wheels and pinions are at most `most_jigs`, each once; third
    gears are not counted."""
    every = {*candidates.wheel_teeth, *candidates.pinion_teeth}
    for count in family.counts:
        part = Family(family.rings[:count], (count,), family.bodies)
        room = most_jigs - _distinct_rings(part, candidates.growing)
        if room > 0:
            for path in _Branching(part, every, paths_of, room).paths(0, 0):
                if len(set(path.rings)) + _gears(path).bit_count() <= most_jigs:
                    yield path


def _distinct_rings(family: Family, growing: bool) -> int:
    """A lower bound of the number of different rings."""
    if growing:
        return len(family.rings)
    apart: list[set[int]] = []
    for ring in family.rings:
        if all(not seen & set(ring) for seen in apart):
            apart.append(set(ring))
    return len(apart)


def _gears(path: Path) -> int:
    found = 0
    for _, wheel, pinion in path.options:
        found |= 1 << wheel | 1 << pinion
    return found


@dataclass(frozen=True)
class _Branching:
    """gears: all that there are; room: how many different ones there may be."""

    family: Family
    gears: set[int]
    paths_of: PathsOf
    room: int

    def paths(self, used: int, out: int) -> Iterator[Path]:
        """used, out: bit sets of gears that must be and must not be used."""
        left = self.room - used.bit_count()
        if left < 0:
            return

        def allowed(wheel: int, pinion: int) -> bool:
            pair = 1 << wheel | 1 << pinion
            return not pair & out and (pair & ~used).bit_count() <= left

        walk = self.paths_of(self.family, allowed)
        listed = list(islice(walk, LEAF + 1))
        decided = used | out
        free = [gear for gear in self.gears if not decided >> gear & 1]
        if left == 0 or not free or len(listed) <= LEAF:
            for source in (listed, walk):
                for path in source:
                    gears = _gears(path)
                    if gears & used == used and gears.bit_count() <= self.room:
                        yield path
            return
        counts: Counter[int] = Counter()
        for path in listed:
            counts.update({gear for _, wheel, pinion in path.options for gear in (wheel, pinion)})
        gear = max(free, key=lambda gear: (counts[gear], gear))
        yield from self.paths(used | 1 << gear, out)
        yield from self.paths(used, out | 1 << gear)
