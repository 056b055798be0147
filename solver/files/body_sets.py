"""The body sets that ship: one TOML file each under `sets/`, with its source and its unit of time."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib.resources import files

from solver.design.exact import parse_exact


@dataclass(frozen=True)
class BodySet:
    """Bodies of one system, innermost first; periods in `unit`, and in `printed` as the source prints them."""

    name: str
    title: str
    unit: str
    source: str
    periods: tuple[tuple[str, Fraction], ...]
    printed: tuple[str, ...]


@cache
def body_sets() -> dict[str, BodySet]:
    """All sets by name, in alphabetical order."""
    found = {}
    for entry in sorted(files("solver.files").joinpath("sets").iterdir(), key=lambda item: item.name):
        if entry.name.endswith(".toml"):
            name = entry.name.removesuffix(".toml")
            data = tomllib.loads(entry.read_text(encoding="utf-8"))
            periods = tuple((body, parse_exact(period)) for body, period in data["periods"].items())
            printed = tuple(data["periods"].values())
            found[name] = BodySet(name, data["title"], data["unit"], data["source"], periods, printed)
    return found
