"""Jigs couple all links: trains of few different gears, found by branching on the gears that may be used.

A node of the branching says of some gears that they are used and of some that they are not. Only candidates that
bring in no more new gears than there is room for are left to the lattice; where it lists few trains, or no room is
left, they are looked at one by one. Every train with few enough gears is met exactly once.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from itertools import islice

from solver.design.design import Family
from solver.search.options.candidates import Candidates
from solver.search.reach.lattice import Path

LEAF = 500  # trains that are looked at one by one rather than branched on

PathsOf = Callable[[Family, Candidates], Iterator[Path]]


def few_gear_paths(family: Family, candidates: Candidates, paths_of: PathsOf, most_jigs: int) -> Iterator[Path]:
    """Every train whose distinct rings and distinct wheels and pinions are at most `most_jigs`, each once; third
    gears are not counted. paths_of: the trains of a family under narrower candidates."""
    for count in family.counts:
        part = Family(family.rings[:count], (count,), family.bodies)
        room = most_jigs - _distinct_rings(part, candidates.growing)
        if room > 0:
            for path in _branch(part, candidates, paths_of, room, 0, 0):
                if len(set(path[0])) + _gears(path).bit_count() <= most_jigs:
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
    for _, wheel, pinion in path[2]:
        found |= 1 << wheel | 1 << pinion
    return found


def _branch(
    family: Family, candidates: Candidates, paths_of: PathsOf, room: int, used: int, out: int
) -> Iterator[Path]:
    """room: how many different gears there may be; used, out: bit sets of gears that must be and must not be used."""
    left = room - used.bit_count()
    if left < 0:
        return

    def allowed(wheel: int, pinion: int) -> bool:
        pair = 1 << wheel | 1 << pinion
        return not pair & out and (pair & ~used).bit_count() <= left

    paths = paths_of(family, candidates.narrowed(allowed))
    listed = list(islice(paths, LEAF + 1))
    decided = used | out
    free = [gear for gear in {*candidates.wheel_teeth, *candidates.pinion_teeth} if not decided >> gear & 1]
    if left == 0 or not free or len(listed) <= LEAF:
        for source in (listed, paths):
            for path in source:
                gears = _gears(path)
                if gears & used == used and gears.bit_count() <= room:
                    yield path
        return
    counts: Counter[int] = Counter()
    for path in listed:
        counts.update({gear for _, wheel, pinion in path[2] for gear in (wheel, pinion)})
    gear = max(free, key=lambda gear: (counts[gear], gear))
    yield from _branch(family, candidates, paths_of, room, used | 1 << gear, out)
    yield from _branch(family, candidates, paths_of, room, used, out | 1 << gear)
