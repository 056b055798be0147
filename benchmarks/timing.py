"""Times the shipped designs: the whole search beside the window's bound alone, and beside the hand method's error.

Usage: python -m benchmarks.timing [--smoke]. Prints a table; every time is the least of several in this one run.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

from benchmarks.hand import inside_out
from solver import Design
from solver.search.candidates import Candidates
from solver.search.lattice import Lattice
from solver.search.levels import search
from solver.search.segments import Segments

CONFIGS = Path(__file__).resolve().parents[1] / "runs" / "configs"


def least_time(work: Callable[[], object], repeats: int) -> float:
    """Least wall time [s] of several runs."""
    times = []
    for _ in range(repeats):
        began = time.perf_counter()
        work()
        times.append(time.perf_counter() - began)
    return min(times)


def bound_alone(design: Design) -> int | None:
    """The least error in units over all structures, each bisected on its own: the limit for any chain."""
    candidates = Candidates(design)
    segments = Segments(candidates, 10**5)
    bounds = [Lattice(design, family, candidates, segments).least() for family in design.families()]
    return min((bound for bound in bounds if bound is not None), default=None)


def table(files: list[Path], repeats: int) -> list[tuple[str, float, float, float | None, float | None]]:
    """(design, search [s], bound [s], best error, hand error) for each file; errors as fractions."""
    rows = []
    for file in files:
        design = Design.load(file)
        whole = least_time(lambda design=design: search(design), repeats)
        bound = least_time(lambda design=design: bound_alone(design), repeats)
        result = search(design)
        best = float(result.found[0].figures.error_square) ** 0.5 - 1 if result.found else None
        by_hand = [error for structure in design.structures() if (error := inside_out(design, structure)) is not None]
        rows.append((file.stem, whole, bound, best, float(min(by_hand)) if by_hand else None))
    return rows


def main(words: list[str]) -> None:
    smoke = "--smoke" in words
    files = [CONFIGS / "saturn-hall.toml"] if smoke else sorted(CONFIGS.glob("*.toml"))
    print(f"{'design':<28}{'search ms':>10}{'bound ms':>10}{'ratio':>7}{'best %':>10}{'by hand %':>11}")
    for name, whole, bound, best, hand in table(files, 1 if smoke else 5):
        errors = [f"{value * 100:.4f}" if value is not None else "none" for value in (best, hand)]
        print(
            f"{name:<28}{whole * 1000:>10.1f}{bound * 1000:>10.1f}{whole / bound:>7.2f}{errors[0]:>10}{errors[1]:>11}"
        )


if __name__ == "__main__":
    main(sys.argv[1:])
