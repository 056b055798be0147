"""Walks through the lattice: every train that is inside, each once; no path is begun that does not end."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise, product
from typing import NamedTuple

from solver.search.bits import set_cells
from solver.search.options.candidates import Option
from solver.search.reach.counting import Beyond, arc_teeth, fewest_teeth
from solver.search.reach.lattice import Lattice
from solver.search.reach.nodes import Node, Reached
from solver.search.reach.sums import Combo
from solver.search.replayed import Replayed


class Path(NamedTuple):
    """A train without its third gears' teeth: the rings' teeth, the rings that seat the bodies, an option a link."""

    rings: tuple[int, ...]
    seats: tuple[int, ...]
    options: tuple[Option, ...]


def paths(lattice: Lattice, units: float) -> Iterator[Path]:
    """Every train that is inside at that worst error, each once."""
    alive = lattice.alive(units)
    if alive is not None:
        for node, bits in alive.nodes[0].items():
            yield from _Walk(lattice, alive, None).onward(node, bits, math.inf)


def paths_within(lattice: Lattice, units: float, most_teeth: int) -> Iterator[Path]:
    """Likewise only on ways on which the smallest third gears leave at most so many teeth; a train on such a way may
    have more, where one sum can be had in several ways."""
    alive = lattice.alive(units)
    if alive is not None:
        beyond = fewest_teeth(lattice, alive)
        for node, bits in alive.nodes[0].items():
            yield from _Walk(lattice, alive, beyond).onward(node, bits, most_teeth - node.teeth)


class _Walk:
    """Depth first through what is alive, all values of a node at once. beyond: the fewest teeth beyond each node, None
    where teeth do not matter."""

    def __init__(self, lattice: Lattice, alive: Reached, beyond: Beyond | None) -> None:
        self.lattice, self.alive, self.beyond = lattice, alive, beyond
        self.nodes: list[Node] = []  # from the first body to where the walk stands
        self.combos: list[Replayed[Combo]] = []  # likewise the ways through each segment

    def onward(self, node: Node, bits: int, left: float) -> Iterator[Path]:
        """The trains that go on from these values of a node of the next body with at most `left` teeth more."""
        body = len(self.nodes)
        if self.beyond is not None and self.beyond[body][node][set_cells(bits)].min() > left:
            return
        self.nodes.append(node)
        if body == self.lattice.last:
            if left >= 0:
                yield from spelt(self.lattice, self.nodes, self.combos)
        else:
            low, high = self.alive.cells[body][node.teeth]
            for arc in self.lattice.onward(self.alive, body, node):
                for jump in set_cells(arc.jumps):
                    there = ((bits << jump) >> (high - low)) & arc.alive
                    if there:
                        self.lattice.tick()
                        spent = 0 if self.beyond is None else arc_teeth(self.lattice, node, arc, arc.base + jump)
                        self.combos.append(arc.segment.combos(arc.thirds, arc.base + jump))
                        yield from self.onward(arc.node, there, left - spent)
                        self.combos.pop()
        self.nodes.pop()


def spelt(lattice: Lattice, nodes: Sequence[Node], combos: Sequence[Iterable[Combo]]) -> Iterator[Path]:
    """The trains of one way through these nodes, the segment between each two of them gone through by these ways."""
    seats = tuple(node.ring for node in nodes)
    if lattice.candidates.reverted:
        for chosen in _chosen(combos):
            train, links = [nodes[0].teeth], list[Option]()
            for index, (blanks, some) in enumerate(chosen):
                links += some
                if blanks:
                    first = nodes[index].teeth
                    train += [first + offset for offset in blanks]
                train.append(nodes[index + 1].teeth)
            yield Path(tuple(train), seats, tuple(links))
        return
    teeth: list[tuple[int, ...]] = [(nodes[0].teeth,)]
    for inner, outer in pairwise(nodes):  # rings do not decide what a link can be, so all have the same sums
        teeth += [*lattice.rings[inner.ring + 1 : outer.ring], (outer.teeth,)]
    for chosen in _chosen(combos):
        options = tuple(option for combo in chosen for option in combo.options)
        for rings in product(*teeth):
            yield Path(rings, seats, options)


def _chosen(combos: Sequence[Iterable[Combo]]) -> Iterator[tuple[Combo, ...]]:
    """Every choice of one from each, none fetched before it is needed."""
    if len(combos) < 2:
        for last in combos:
            for one in last:
                yield (one,)
        return
    for first in combos[0]:
        for rest in _chosen(combos[1:]):
            yield (first, *rest)
