"""The border: exact ratios of two bodies whose scaled logarithm is too near a limit for the lattice to judge.

Where very many trains share one worst error, that error must be known exactly. Every train at it has a pair of
bodies whose rates lie in a strip a few units wide; walking only the paths that end in the strip, with Fractions,
gives every value that the error can take there.
"""

from __future__ import annotations

from fractions import Fraction

from solver.design.kinematics import Pair
from solver.search.bits import mask, set_cells
from solver.search.reach.lattice import Lattice, Node, Nodes, Sets
from solver.search.reach.segments import TooMany

MOST_STATES = 200_000

Walk = dict[tuple[Node, int], set[Fraction]]


def border_squares(lattice: Lattice, pairs: tuple[Pair, ...], low: float, high: float) -> set[Fraction]:
    """Every value of (1 + error)**2 that a pair of bodies can take with an error from `low` to `high` units.

    A superset: other bodies may forbid some. Raises TooMany.
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
    sets = lattice.forward(high + 2 * lattice.slack, inner, outer, relative=True)
    if sets is None:
        return set()
    goal = _outside(lattice, sets, lattice.window_from(inner, outer, max(low - 2 * lattice.slack, 0)))
    if not goal:
        return set()
    alive = lattice.backward(Sets(sets.first, sets.cells, [*sets.nodes[:-1], goal]))
    walk: Walk = {
        (node, cell): {Fraction(1, node[1])} for node, bits in alive.nodes[0].items() for cell in set_cells(bits)
    }
    for at in range(len(alive.nodes) - 1):
        walk = _walk_on(lattice, alive, at, walk)
    return {ratio * teeth for ((_, teeth, _), _), ratios in walk.items() for ratio in ratios}


def _outside(lattice: Lattice, sets: Sets, inside: tuple[float, float]) -> Nodes:
    """The last body's values that are not safely within `inside`."""
    within = lattice.cells_of(sets.first + len(sets.nodes) - 1, inside)
    goal = {}
    for node, bits in sets.nodes[-1].items():
        base = sets.cells[-1][node[1]][0]
        a, b = within[node[1]][0] - base + lattice.slack, within[node[1]][1] - base - lattice.slack
        if b >= a and b >= 0:
            a = max(a, 0)
            bits &= ~(mask(b - a + 1) << a)
        if bits:
            goal[node] = bits
    return goal


def _walk_on(lattice: Lattice, alive: Sets, at: int, walk: Walk) -> Walk:
    lattice.tick()
    found: Walk = {}
    size = 0
    for (node, cell), ratios in walk.items():
        low, high = alive.cells[at][node[1]]
        for there, goal, segment, thirds, base, jumps in lattice.onward(alive, at, node):
            for jump in set_cells(jumps):
                reached = cell + jump - (high - low)
                if reached < 0 or not goal >> reached & 1:
                    continue
                lattice.tick()
                known = found.setdefault((there, reached), set())
                before = len(known)
                for factor in segment.ratios(thirds, base + jump):
                    known.update(ratio * factor for ratio in ratios)
                size += len(known) - before
                if size > MOST_STATES:
                    raise TooMany
    return found
