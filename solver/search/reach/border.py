"""The border: exact ratios of two bodies whose scaled logarithm is too near a limit for the lattice to judge.

Where very many trains share one worst error, that error must be known exactly. Every train at it has a pair of
bodies whose rates lie in a strip a few units wide; walking only the paths that end in the strip, with Fractions,
gives every value that the error can take there.
"""

from __future__ import annotations

from fractions import Fraction

from solver.design.kinematics import Pair
from solver.search.bits import mask, set_cells
from solver.search.reach.lattice import Lattice
from solver.search.reach.nodes import Node, Nodes, Reached
from solver.search.reach.sums import TooManyRatios

MOST_STATES = 200_000

Ratios = dict[tuple[Node, int], set[Fraction]]  # of each cell of a node: T[body]/T[first body], over its teeth


def border_squares(lattice: Lattice, pairs: tuple[Pair, ...], low: float, high: float) -> set[Fraction]:
    """Every value of (1 + error)**2 that a pair of bodies can take with an error from `low` to `high` units.

    A superset: other bodies may forbid some. Raises TooManyRatios.
    """
    found: set[Fraction] = set()
    by_bodies = {(pair.above, pair.below): pair for pair in pairs}
    for pair in pairs:
        if pair.above < pair.below:
            continue  # walked with its mirror image, from the inner body to the outer one
        mirror = by_bodies[(pair.below, pair.above)]
        for ratio in strip_ratios(lattice, pair.below, pair.above, low, high):
            for one, value in ((pair, ratio), (mirror, 1 / ratio)):
                square = one.square(value)
                if square is not None and square > 1:
                    found.add(square)
    return found


def strip_ratios(lattice: Lattice, inner: int, outer: int, low: float, high: float) -> set[Fraction]:
    """Exact T[outer]/T[inner] of the bodies with these indices, for all paths that end in the strip."""
    sets = lattice.forward_from(inner, outer, lattice.rounding.beside(high))
    if sets is None:
        return set()
    goal = _outside(lattice, sets, lattice.window_from(inner, outer, max(lattice.rounding.short_of(low), 0)))
    if not goal:
        return set()
    alive = lattice.backward(Reached(sets.first, sets.cells, [*sets.nodes[:-1], goal]))
    walk: Ratios = {
        (node, cell): {Fraction(1, node.teeth)} for node, bits in alive.nodes[0].items() for cell in set_cells(bits)
    }
    for at in range(len(alive.nodes) - 1):
        walk = _walk_on(lattice, alive, at, walk)
    return {ratio * teeth for ((_, teeth, _), _), ratios in walk.items() for ratio in ratios}


def _outside(lattice: Lattice, sets: Reached, inside: tuple[float, float]) -> Nodes:
    """The last body's values that are not safely within `inside`."""
    within = lattice.cells_of(sets.first + len(sets.nodes) - 1, inside)
    goal = {}
    for node, bits in sets.nodes[-1].items():
        base = sets.cells[-1][node.teeth][0]
        a, b = (cell - base for cell in lattice.rounding.surely(*within[node.teeth]))
        if b >= a and b >= 0:
            a = max(a, 0)
            bits &= ~(mask(b - a + 1) << a)
        if bits:
            goal[node] = bits
    return goal


def _walk_on(lattice: Lattice, alive: Reached, at: int, walk: Ratios) -> Ratios:
    lattice.tick()
    found: Ratios = {}
    size = 0
    for (node, cell), ratios in walk.items():
        low, high = alive.cells[at][node.teeth]
        for arc in lattice.onward(alive, at, node):
            for jump in set_cells(arc.jumps):
                reached = cell + jump - (high - low)
                if reached < 0 or not arc.alive >> reached & 1:
                    continue
                lattice.tick()
                known = found.setdefault((arc.node, reached), set())
                before = len(known)
                for factor in arc.segment.ratios(arc.thirds, arc.base + jump):
                    known.update(ratio * factor for ratio in ratios)
                size += len(known) - before
                if size > MOST_STATES:
                    raise TooManyRatios
    return found
