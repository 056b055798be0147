"""What lies beyond a node, for each value: how many trains, or with how few teeth; folded from the last body back."""

from __future__ import annotations

import numpy as np

from solver.search.bits import set_cells
from solver.search.reach.folds import NO_TEETH
from solver.search.reach.lattice import Lattice
from solver.search.reach.nodes import Node, Reached, SegmentArc

Beyond = list[dict[Node, np.ndarray]]  # for each body and node a value for each cell


def count(lattice: Lattice, units: float) -> float:
    """How many trains are inside at that worst error, where the first body is exact (else each may be counted
    more than once) and rings have one tooth count each (else blanks' are not counted)."""
    alive = lattice.alive(units)
    if alive is None:
        return 0.0
    beyond: dict[Node, np.ndarray] = {}
    for node in alive.nodes[-1]:
        low, high = alive.cells[-1][node.teeth]
        beyond[node] = np.ones(high - low + 1)
    for body in range(lattice.last - 1, -1, -1):
        here: dict[Node, np.ndarray] = {}
        for node, bits in alive.nodes[body].items():
            ring, teeth, used = node
            low, high = alive.cells[body][teeth]
            counts, cells = np.zeros(high - low + 1), np.array(set_cells(bits))
            for outer_ring, outer, segment in lattice.targets(body, ring, teeth):
                goal_low, goal_high = alive.cells[body + 1][outer]
                for thirds in segment.sums:
                    onward = beyond.get(Node(outer_ring, outer, used + thirds))
                    if onward is not None:
                        jumps = segment.count_between(thirds, goal_low - high, goal_high - low)
                        for jump in np.flatnonzero(jumps).tolist():
                            lattice.tick()
                            there = cells + (jump - (high - low))
                            inside = (there >= 0) & (there < len(onward))
                            counts[cells[inside]] += jumps[jump] * onward[there[inside]]
            here[node] = counts
        beyond = here
    return float(sum(counts.sum() for counts in beyond.values()))


def counting_cost(lattice: Lattice) -> int:
    """How many steps it takes to count, but for what was counted before."""
    segments = {
        id(segment): segment
        for body in range(lattice.last)
        for ring in lattice.seats[body]
        for teeth in lattice.rings[ring]
        for _, _, segment in lattice.targets(body, ring, teeth)
    }
    return sum(segment.counting_cost() for segment in segments.values())


def arc_teeth(lattice: Lattice, node: Node, arc: SegmentArc, value: int) -> int:
    """The fewest teeth that an arc takes for a sum, those of the ring it leads to counted in."""
    gears = int(arc.segment.teeth_between(arc.thirds, value, value)[0])
    return gears + lattice.blank_teeth(node.ring, node.teeth, arc.node.ring) + arc.node.teeth


def fewest_teeth(lattice: Lattice, alive: Reached) -> Beyond:
    """For each node and cell a lower bound of the teeth beyond it: exact but for jigs that third gears share."""
    rest: Beyond = [{} for _ in alive.nodes]
    for node in alive.nodes[-1]:
        low, high = alive.cells[-1][node.teeth]
        rest[-1][node] = np.zeros(high - low + 1, np.int32)
    for body in range(lattice.last - 1, -1, -1):
        for node in alive.nodes[body]:
            ring, teeth, used = node
            low, high = alive.cells[body][teeth]
            fewest = rest[body][node] = np.full(high - low + 1, NO_TEETH, np.int32)
            for outer_ring, outer, segment in lattice.targets(body, ring, teeth):
                goal_low, goal_high = alive.cells[body + 1][outer]
                fixed = lattice.blank_teeth(ring, teeth, outer_ring) + outer
                for thirds in segment.sums:
                    onward = rest[body + 1].get(Node(outer_ring, outer, used + thirds))
                    if onward is not None:
                        jumps = segment.teeth_between(thirds, goal_low - high, goal_high - low)
                        _lower(lattice, fewest, onward, jumps + fixed)
    return rest


def _lower(lattice: Lattice, fewest: np.ndarray, onward: np.ndarray, jumps: np.ndarray) -> None:
    """Take the way over each jump where it needs fewer teeth. jumps: the teeth that each takes."""
    for jump in np.flatnonzero(jumps < NO_TEETH).tolist():
        lattice.tick()
        move = jump - (len(fewest) - 1)
        start, end = max(0, -move), min(len(fewest), len(onward) - move)
        if start < end:
            part = fewest[start:end]
            np.minimum(part, onward[start + move : end + move] + int(jumps[jump]), out=part)
