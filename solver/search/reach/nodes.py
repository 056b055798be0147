"""The nodes and arcs of the lattice, and the values that each node can take."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from solver.search.reach.segment import Segment


class Node(NamedTuple):
    """A state of the dynamic programme: the body's ring, its teeth, and the third gears used so far."""

    ring: int
    teeth: int
    thirds: int


Nodes = dict[Node, int]  # the values that each node can take, as a bit set


class SegmentArc(NamedTuple):
    """A way from a node to the next body: the node reached, what of it is alive, the segment, its third gears, and the
    jumps that it can make, where bit 0 of `jumps` stands for the sum `base`."""

    node: Node
    alive: int
    segment: Segment
    thirds: int
    base: int
    jumps: int


class Target(NamedTuple):
    """A ring of the next body, its teeth, and the segment that leads there."""

    ring: int
    teeth: int
    segment: Segment


@dataclass
class Reached:
    """Values of the bodies first..last: bit n of nodes[k][node] stands for cells[k][teeth][0] + n."""

    first: int
    cells: list[dict[int, tuple[int, int]]]
    nodes: list[Nodes]
