"""The body sets that ship: one TOML file each under `sets/`, with its source and its unit of time."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import Any

from solver.design.exact import parse_exact
from solver.files.longitudes import Longitude, longitudes_of


@dataclass(frozen=True)
class BodySet:
    """Bodies of one system, innermost first; periods in `unit`, and in `printed` as the source prints them.
    longitudes: where each body stands."""

    name: str
    title: str
    unit: str
    source: str
    periods: tuple[tuple[str, Fraction], ...]
    printed: tuple[str, ...]
    longitudes: Mapping[str, Longitude]


@cache
def body_sets() -> dict[str, BodySet]:
    """All sets by name, in alphabetical order."""
    told = {}
    for entry in sorted(files("solver.files").joinpath("sets").iterdir(), key=lambda item: item.name):
        if entry.name.endswith(".toml"):
            told[entry.name.removesuffix(".toml")] = tomllib.loads(entry.read_text(encoding="utf-8"))
    return {name: _body_set(name, data, told) for name, data in told.items()}


def _body_set(name: str, data: Mapping[str, Any], told: Mapping[str, Mapping[str, Any]]) -> BodySet:
    periods = tuple((body, parse_exact(period)) for body, period in data["periods"].items())
    longitudes = longitudes_of(data["longitudes"])
    if "also" in data["longitudes"]:
        longitudes |= longitudes_of(told[data["longitudes"]["also"]]["longitudes"])
    printed = tuple(data["periods"].values())
    return BodySet(name, data["title"], data["unit"], data["source"], periods, printed, longitudes)
