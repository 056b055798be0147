"""What the rules of fit cost: the same rings with teeth alone, with frame and neighbours, and with every rule.

`python -m benchmarks.fit` writes FIT.md. Each point is one solve, answer and judging included, in this process; what is
told is the ratio to the first of its row as much as the seconds.
"""

from __future__ import annotations

import re
import sys
import time
from dataclasses import dataclass, replace
from pathlib import Path

from benchmarks.cases import DISCS
from solver import Design, parse_design, solve

HERE = Path(__file__).resolve().parent
WAYS = ("teeth alone", "frame and neighbours", "every rule")
RANGE = {
    "inner_teeth = 30": "inner_teeth = {min = 18, max = 36}",
    "tooth_step = 4": "tooth_step = {min = 2, max = 8}",
    "blanks = 3": "blanks = {min = 0, max = 3}",
    'set = "saturn"': 'set = "saturn"\nsense = "either"',
}
SMALL = {"inner_teeth = {min = 18, max = 36}": "inner_teeth = 30", "{min = 2, max = 8}": "4", "{min = 0, max = 3}": "3"}


@dataclass(frozen=True)
class Point:
    """One solve: seconds, whether it was proven, and the worst error [percent], None where nothing fits."""

    seconds: float
    proven: bool
    error_pct: float | None


def rows(smoke: bool) -> dict[str, str]:
    """What is solved, by name: the demo, and its moons over the full range of rings with and without third gears."""
    hall = DISCS.read_text(encoding="utf-8")
    wide = hall
    for now, then in RANGE.items():
        wide = wide.replace(now, then)
    for now, then in SMALL.items() if smoke else ():
        wide = wide.replace(now, then)
    two = wide.replace("third_gears = 0", "third_gears = 2")
    found = {"demo, 56 structures": hall, "11,172 structures": wide, "11,172 structures, two third gears": two}
    return {name: found[name] for name in list(found)[: 2 if smoke else None]}


def design(text: str, way: str) -> Design:
    """The design of a row under one choice of rules."""
    if way == "frame and neighbours":
        text = re.sub(r"^(plate|stands|rollers) = .*\n", "", text, flags=re.MULTILINE)
        text = text[: text.index("[drive]")] + text[text.index("[search]") :]
    found = replace(parse_design(text), time_limit_s=600.0)
    return found.without_places() if way == "teeth alone" else found


def measure(smoke: bool = False) -> dict[str, dict[str, Point]]:
    """Every row under every choice of rules."""
    found: dict[str, dict[str, Point]] = {}
    for name, text in rows(smoke).items():
        for way in WAYS:
            task = design(text, way)
            began = time.perf_counter()
            answer = solve(task)
            seconds = time.perf_counter() - began
            error = answer.solutions[0].worst_error_pct if answer.solutions else None
            found.setdefault(name, {})[way] = Point(seconds, answer.proven, error)
            print(name, way, found[name][way], flush=True)
    return found


def report(found: dict[str, dict[str, Point]]) -> str:
    """The table as Markdown."""
    lines = [
        "# What the rules of fit cost",
        "",
        "Saturn's seven moons with the lengths of `benchmarks/designs/hall-of-discs.toml`, gears as plain discs.",
        "Ten ranked solutions, judged; seconds of one run, and how many times those of teeth alone; worst error of the",
        "best that fits.",
        "",
        "| rings | " + " | ".join(WAYS) + " |",
        "|---" * (len(WAYS) + 1) + "|",
    ]
    for name, points in found.items():
        first = points[WAYS[0]].seconds
        words = []
        for point in points.values():
            error = "nothing fits" if point.error_pct is None else f"{point.error_pct:.4f} %"
            proof = "" if point.proven else ", not proven"
            words.append(f"{point.seconds:.2f} s ({point.seconds / first:.1f} times), {error}{proof}")
        lines.append(f"| {name} | " + " | ".join(words) + " |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    text = report(measure("--smoke" in sys.argv))
    if "--smoke" not in sys.argv:
        (HERE / "FIT.md").write_text(text, encoding="utf-8")
    print(text)
