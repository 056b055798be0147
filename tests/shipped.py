"""Designs that ship, each solved once in a process."""

from __future__ import annotations

from functools import cache

from commands import CONFIGS

from solver import Design, load_design, solve
from solver.answer.document import Answer


@cache
def shipped(name: str) -> tuple[Design, Answer]:
    design = load_design(CONFIGS / f"{name}.toml")
    return design, solve(design)
