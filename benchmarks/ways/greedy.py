"""The greedy hand method (benchmarks/hand.py) on every structure, the best of them; nothing is proven."""

from __future__ import annotations

from benchmarks.hand import best_by_hand
from benchmarks.ways.common import Clock, Found, Peer, Problem
from solver.design.kinematics import error_square, pairs, ring_ratios


def solve(problem: Problem, clock: Clock) -> Found:
    """The train of least error; for jigs the same train, as long as it keeps the limit of error."""
    design = problem.design
    train = best_by_hand(design)
    if train is None or any(sense == 1 for sense in problem.senses):
        return Found(None, False, "no greedy train")
    if error_square(pairs(design), ring_ratios(train), train.seats) is None:
        return Found(None, False, "breaks the limit of error")
    return Found(train, False)


GREEDY = Peer(
    "by hand",
    "greedy from the inside outwards, plain links, best of all structures",
    ("error", "jigs"),
    lambda: None,
    solve,
)
