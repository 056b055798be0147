"""Designs that ship and those of the benchmarks, each solved once in a process.

`DISCS` is the entrance hall with gears as plain discs: for tests that say themselves of what wire its gears are made.
"""

from __future__ import annotations

from functools import cache

from commands import CONFIGS, ROOT

from solver import Design, load_design, solve
from solver.answer.document import Answer

PLAIN = ROOT / "benchmarks" / "designs"  # gears as plain discs, with which others have been compared
DISCS = PLAIN / "hall-of-discs.toml"


@cache
def shipped(name: str) -> tuple[Design, Answer]:
    plain = PLAIN / f"{name}.toml"
    design = load_design(plain if plain.exists() else CONFIGS / f"{name}.toml")
    return design, solve(design)
