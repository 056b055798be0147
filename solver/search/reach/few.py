"""Walks by few sizes: the trains that are inside and for which few jigs, or few gears, are to be made, by the sets of
gears that each sum can be had with.

Depth first as `walks`, but what is told apart on the way is not each train but each set of gears: a way is left as soon
as its rings and gears are too many. Only the sets that are left at the end are spelt out as trains.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from solver.search.bits import set_cells
from solver.search.reach.counting import Beyond, arc_teeth, fewest_teeth
from solver.search.reach.gears import Count, GearsToMake, JigsOfGears, SegmentGears
from solver.search.reach.lattice import Lattice
from solver.search.reach.nodes import Node, Reached, SegmentArc
from solver.search.reach.walks import Path, spelt

MOST_DEAD = 300_000  # dead ends that are remembered: some 60 MB
_NONE: frozenset[int] = frozenset()


def paths_of_few(lattice: Lattice, units: float, most_jigs: int, most_teeth: float = math.inf) -> Iterator[Path]:
    """Every train that is inside at that worst error for whose rings, wheels and pinions at most `most_jigs` are to be
    made, each once; third gears are not counted. most_teeth: as of `walks.paths_within`."""
    made = lattice.design.on_bench
    return _paths(lattice, units, JigsOfGears(made), most_jigs, most_teeth, rings=True)


def paths_of_new(lattice: Lattice, units: float, most_gears: int, most_teeth: float = math.inf) -> Iterator[Path]:
    """Likewise of whose wheels and pinions at most `most_gears` are to be made."""
    return _paths(lattice, units, GearsToMake(lattice.design.on_bench), most_gears, most_teeth, rings=False)


def _paths(
    lattice: Lattice, units: float, count: Count, most: int, most_teeth: float, *, rings: bool
) -> Iterator[Path]:
    """rings: whether they count."""
    alive = lattice.alive(units)
    if alive is not None:
        beyond = None if most_teeth == math.inf else fewest_teeth(lattice, alive)
        walk = _FewWalk(lattice, alive, count, most, beyond, rings)
        for node, bits in alive.nodes[0].items():
            yield from walk.onward(node, bits, most_teeth - node.teeth, 0, frozenset())


class _Jumps:
    """How an arc is gone: by how many cells each of its jumps moves, and the sets of gears that it can be had with.
    room: a set has no more gears."""

    def __init__(self, arc: SegmentArc, gears: SegmentGears, room: int) -> None:
        self.arc, self.gears, self.room = arc, gears, room
        self.cells = set_cells(arc.jumps) if room >= gears.count.least else []
        self._sets: dict[int, list[int]] = {}

    def sets(self, cells: int) -> list[int]:
        """Worked out where a jump leads on."""
        found = self._sets.get(cells)
        if found is None:
            found = self._sets[cells] = self.gears.sets(self.arc.thirds, self.arc.base + cells, self.room)
        return found


class _FewWalk:
    """beyond: the fewest teeth beyond each node, None where teeth do not matter; rings: whether they count."""

    def __init__(
        self, lattice: Lattice, alive: Reached, count: Count, most: int, beyond: Beyond | None, rings: bool
    ) -> None:
        self.lattice, self.alive, self.count, self.most, self.beyond = lattice, alive, count, most, beyond
        self.growing, self.rings = lattice.candidates.growing or not rings, rings
        self.there = lattice.design.on_bench.ring_counts if rings else frozenset[int]()
        # Whether how many rings are to be made is alike for all ways to a node, so that what is dead is so for all.
        self.alike = not self.there or all(len(choice) == 1 for choice in lattice.rings)
        surely = [self.there.isdisjoint(choice) for choice in lattice.rings]
        self.surely = [sum(surely[:number]) for number in range(len(surely) + 1)]  # of the first rings, to be made
        self.nodes: list[Node] = []  # from the first body to where the walk stands
        self.ways: list[tuple[SegmentArc, int, int]] = []  # likewise the segments, their sums and gears
        self._arcs: dict[tuple[int, Node], list[_Jumps]] = {}
        self._dead: set[tuple[int, Node, int, int, frozenset[int]]] = set()  # what no train goes on from

    def onward(self, node: Node, bits: int, left: float, gears: int, rings: frozenset[int]) -> Iterator[Path]:
        """The trains that go on from these values of a node of the next body, with these gears and rings so far."""
        body = len(self.nodes)
        if self.beyond is not None and self.beyond[body][node][set_cells(bits)].min() > left:
            return
        rings = frozenset() if self.growing else rings | {node.teeth} - self.there
        here = (body, node, bits, gears, rings)
        if here in self._dead:
            return
        self.nodes.append(node)
        found = False
        ways = self._spelt() if body == self.lattice.last else self._further(body, node, bits, left, gears, rings)
        for path in ways:
            found = True
            yield path
        self.nodes.pop()
        if not found and self.alike and self.beyond is None and len(self._dead) < MOST_DEAD:
            self._dead.add(here)

    def _further(
        self, body: int, node: Node, bits: int, left: float, gears: int, rings: frozenset[int]
    ) -> Iterator[Path]:
        width = self.alive.cells[body][node.teeth][1] - self.alive.cells[body][node.teeth][0]
        for jumps in self._onward(body, node):
            arc = jumps.arc
            room = self.most - self._rings(body + 1, arc.node, rings)
            if self.count.many(gears) > room:
                continue
            self.lattice.tick()
            for cells in jumps.cells:
                there = ((bits << cells) >> width) & arc.alive
                if there:
                    value = arc.base + cells
                    spent = 0.0 if self.beyond is None else arc_teeth(self.lattice, node, arc, value)
                    for some, both in self.count.joined(gears, jumps.sets(cells), room):
                        self.ways.append((arc, value, some))
                        yield from self.onward(arc.node, there, left - spent, both, rings)
                        self.ways.pop()

    def _onward(self, body: int, node: Node) -> list[_Jumps]:
        """The arcs from a node, with the jumps that each can make."""
        found = self._arcs.get((body, node))
        if found is None:
            found = self._arcs[(body, node)] = []
            for arc in self.lattice.onward(self.alive, body, node):
                room = self.most - self._rings(body + 1, arc.node, _NONE)
                found.append(_Jumps(arc, self.lattice.segments.gears(arc.segment, self.count), room))
        return found

    def _rings(self, body: int, node: Node, rings: frozenset[int]) -> int:
        """A lower bound of the different rings to be made of the trains through a node."""
        if not self.rings:
            return 0
        if not self.growing:  # blanks may be like the bodies' rings
            return len(rings | {node.teeth} - self.there)
        return self.surely[1 + max(self.lattice.seats[-1][0], node.ring + self.lattice.last - body)]

    def _spelt(self) -> Iterator[Path]:
        gears = 0
        for _, _, some in self.ways:
            gears = self.count.both(gears, some)
        room = self.most - self.count.many(gears)
        combos = [
            tuple(self.lattice.segments.gears(arc.segment, self.count).combos(arc.thirds, value, some))
            for arc, value, some in self.ways
        ]
        for path in spelt(self.lattice, self.nodes, combos):
            if not self.rings or len(set(path.rings) - self.there) <= room:
                yield path
