"""Designs that ship, and the hall of discs, each solved once in a process.

`DISCS` is the entrance hall with gears as plain discs: for tests that say themselves of what wire its gears are made.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from commands import CONFIGS

from solver import Design, load_design, solve
from solver.answer.document import Answer

DISCS = Path(__file__).with_name("hall_of_discs.toml")


@cache
def shipped(name: str) -> tuple[Design, Answer]:
    design = load_design(DISCS if name == DISCS.stem else CONFIGS / f"{name}.toml")
    return design, solve(design)
