"""The library table of Jupiter's moons with the rings of its best solution alone, so that it is solved at once."""

from __future__ import annotations

from functools import cache

from commands import CONFIGS

from solver import Design, parse_design, solve
from solver.answer.document import Answer

_RINGS = {
    "inner_teeth = {min = 24, max = 30}": "inner_teeth = 30",
    "tooth_step = {min = 5, max = 6}": "tooth_step = 6",
    "blanks = {min = 0, max = 1}": "blanks = 0",
    "keep = 10": "keep = 3",
}


@cache
def cranked() -> tuple[Design, Answer]:
    """The design and its answer, solved once in a process."""
    text = (CONFIGS / "jupiter-table.toml").read_text(encoding="utf-8")
    for wide, one in _RINGS.items():
        assert text.count(wide) == 1
        text = text.replace(wide, one)
    design = parse_design(text)
    return design, solve(design)
