"""Random designs whose fit matters, as the tests draw them: how many are decided in time, and which take longest.

`python -m benchmarks.placed [N] [FIRST]` solves N of them (1000), from the seed FIRST on (0), each for LIMIT_S at most.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from solver import parse_design, solve

LIMIT_S, SLOWEST = 10.0, 10


@dataclass(frozen=True)
class Solved:
    """One design: how long it took [s], and what is known of it."""

    seconds: float
    seed: int
    status: str
    proven: bool


def measure(seeds: Iterable[int]) -> Iterator[Solved]:
    """Each of these designs solved."""
    tests = str(Path(__file__).resolve().parents[1] / "tests")
    if tests not in sys.path:
        sys.path.append(tests)
    from random_designs import random_placed_design

    for seed in seeds:
        design = replace(parse_design(random_placed_design(seed)), time_limit_s=LIMIT_S)
        began = time.perf_counter()
        answer = solve(design)
        yield Solved(time.perf_counter() - began, seed, answer.status.value, answer.proven)


def report(found: list[Solved]) -> str:
    """How many are decided, then the slowest."""
    decided = sum(one.proven for one in found)
    lines = [
        f"{decided} of {len(found)} decided within {LIMIT_S:g} s each, {sum(one.seconds for one in found):.1f} s in all"
    ]
    slowest = sorted(found, key=lambda one: (one.proven, -one.seconds))[:SLOWEST]
    lines += [f"seed {one.seed}: {one.seconds:.2f} s, {one.status}" for one in slowest]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    many, first = ([int(word) for word in sys.argv[1:]] + [1000, 0][len(sys.argv) - 1 :])[:2]
    print(report(list(measure(range(first, first + many)))), end="")
