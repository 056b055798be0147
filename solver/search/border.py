"""The border: exact ratios of two bodies whose scaled logarithm is too near a limit for the window to judge.

Where very many trains share one worst error, that error must be known exactly. Every train at it has a pair of
bodies whose rates lie in a strip a few units wide; walking only the paths that end in the strip, with Fractions,
gives every value that the error can take there.
"""

from __future__ import annotations

from fractions import Fraction

from solver.design.kinematics import Pair
from solver.search.tally import set_cells
from solver.search.window import Chain, Sets, State

MOST_STATES = 200_000

Walk = dict[tuple[State, int], set[Fraction]]


class TooMany(Exception):
    """More paths lead into the strip than are worth walking."""


def border_squares(chain: Chain, pairs: tuple[Pair, ...], low: float, high: float) -> set[Fraction]:
    """Every value of (1 + error)**2 that a pair of bodies can take with an error from `low` to `high` units.

    A superset: other bodies may forbid some. Raises TooMany.
    """
    found: set[Fraction] = set()
    by_bodies = {(pair.above, pair.below): pair for pair in pairs}
    for pair in pairs:
        if pair.above < pair.below:
            continue  # walked with its mirror image, from the inner body to the outer one
        mirror = by_bodies[(pair.below, pair.above)]
        for ratio in strip_ratios(chain, pair.below, pair.above, low, high):
            for one, value in ((pair, ratio), (mirror, 1 / ratio)):
                square = one.square(value)
                if square is not None and square > 1:
                    found.add(square)
    return found


def strip_ratios(chain: Chain, inner: int, outer: int, low: float, high: float) -> set[Fraction]:
    """Exact T[outer]/T[inner] of the bodies with these indices, for all paths that end in the strip."""
    start, last = chain.structure.places[inner], chain.structure.places[outer]
    sets = chain.forward(high + 2 * chain.slack, start, last, relative=True)
    if sets is None:
        return set()
    goal = _outside(chain, sets, chain.windows_from(start, max(low - 2 * chain.slack, 0))[last])
    if not any(goal.values()):
        return set()
    narrowed = Sets(sets.first, sets.low, sets.width, [*sets.bits[:-1], goal])
    alive = chain.backward(narrowed)
    walk: Walk = {
        ((teeth, thirds, turn), cell): {Fraction(1, teeth)}
        for (teeth, thirds, turn), bits in alive.bits[0].items()
        for cell in set_cells(bits)
    }
    for at in range(len(alive.bits) - 1):
        walk = _walk_on(chain, alive, at, walk)
    return {ratio * teeth for ((teeth, _, _), _), ratios in walk.items() for ratio in ratios}


def _outside(chain: Chain, sets: Sets, inside: tuple[float, float]) -> dict[State, int]:
    """The last ring's values that are not safely within `inside`."""
    goal = {}
    for (teeth, thirds, turn), bits in sets.bits[-1].items():
        a, b = chain.cells(inside, teeth)
        a, b = a - sets.low[-1] + chain.slack, b - sets.low[-1] - chain.slack
        if b >= a and b >= 0:
            a = max(a, 0)
            bits &= ~(((1 << (b - a + 1)) - 1) << a)
        if bits:
            goal[(teeth, thirds, turn)] = bits
    return goal


def _walk_on(chain: Chain, alive: Sets, at: int, walk: Walk) -> Walk:
    chain.tick()
    link, base = alive.first + at, alive.low[at] - alive.low[at + 1]
    found: Walk = {}
    size = 0
    for ((inner, thirds, turn), cell), ratios in walk.items():
        for outer in chain.outer_teeth(link, inner):
            for step in chain.steps(inner, outer):
                state = (outer, thirds + step.thirds, turn ^ step.turn)
                goal = alive.bits[at + 1].get(state, 0)
                for shift, options in step.shifts if goal else ():
                    reached = cell + base + shift
                    if reached < 0 or not goal >> reached & 1:
                        continue
                    known = found.setdefault((state, reached), set())
                    before = len(known)
                    for factor in {Fraction(wheel, pinion) for _, wheel, pinion in options}:
                        known.update(ratio * factor for ratio in ratios)
                    size += len(known) - before
                    if size > MOST_STATES:
                        raise TooMany
    return found
