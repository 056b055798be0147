"""How time and memory of ours grow with the number of links and of structures; each point in its own process."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from benchmarks.cases import chain, saturn
from solver import Design, solve

HERE = Path(__file__).resolve().parent
LINKS = (5, 10, 20, 40, 80)
# (inner teeth, tooth steps, blanks) of the seven moons' rings, and how many structures these make.
RANGES = {
    12: ("[18, 19]", "4", "1"),
    84: ("18", "4", "{min = 0, max = 3}"),
    1008: ("{min = 18, max = 21}", "{min = 2, max = 4}", "{min = 0, max = 3}"),
    10080: ("{min = 18, max = 37}", "{min = 2, max = 7}", "{min = 0, max = 3}"),
}


@dataclass(frozen=True)
class Growth:
    """One point. seconds: the solve alone; megabytes: the peak resident memory of its process (imports included)."""

    what: str
    size: int
    seconds: float
    megabytes: float
    status: str


def surroundings() -> dict[str, str]:
    """The environment of a process that runs a module of the benchmarks, wherever this one was begun: it may be one in
    which nothing is imported from the working folder."""
    return {**os.environ, "PYTHONPATH": str(HERE.parent)}


def designs() -> dict[tuple[str, int], Callable[[], Design]]:
    """Every point by what grows and how far: constant step, plain links, invented periods, or Saturn's moons."""
    found = {("links", links): chain(links) for links in LINKS}
    for count, (inner, step, blanks) in RANGES.items():
        found["structures", count] = saturn(f"inner_teeth = {inner}\ntooth_step = {step}\nblanks = {blanks}")
    return found


def measure(limit: float, smoke: bool) -> list[Growth]:
    """Every point, or the smallest of each where it is only to be seen to run."""
    found = []
    for what, size in designs():
        if not smoke or size in (LINKS[0], min(RANGES)):
            found.append(point(what, size, limit))
            print(f"{found[-1]}", flush=True)
    return found


def point(what: str, size: int, limit: float) -> Growth:
    """One point in a new process. Raises RuntimeError with what it wrote where it fails."""
    words = [sys.executable, "-m", "benchmarks.growth", what, str(size), str(limit)]
    done = subprocess.run(words, cwd=HERE.parent, env=surroundings(), capture_output=True, text=True, check=False)
    if done.returncode:
        raise RuntimeError(done.stderr)
    return Growth(**json.loads(done.stdout.strip().splitlines()[-1]))


def main(what: str, size: int, limit: float) -> None:
    """Inside the new process: solve one design and print the point as one line of JSON."""
    import resource

    design = replace(designs()[what, size](), time_limit_s=limit)
    began = time.perf_counter()
    answer = solve(design)
    seconds = time.perf_counter() - began
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024  # kilobytes on Linux
    print(json.dumps(asdict(Growth(what, size, seconds, peak, str(answer.status)))))


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), float(sys.argv[3]))
