"""The house: which package may import which, no circles, no class name twice, a map that is drawn from the imports."""

from __future__ import annotations

import ast
import re
from collections import Counter

import house
import pytest

PACKAGES = sorted(package for package in house.arrows() if house.modules()[package].name == "__init__.py")
ROOMS = [package for package in PACKAGES if package not in ("solver", "benchmarks", "benchmarks.ways")]


def told(package: str) -> str:
    return ast.get_docstring(house.trees()[package]) or ""


def allowed(package: str) -> set[str] | None:
    """What a package says that it may import; None for all but what is named."""
    words = re.search(r"May import: ([\w.,\s]+)\.$", told(package))
    assert words, f"{package}: its docstring ends with what it may import"
    names = re.sub(r"\s+", " ", words[1])
    if names == "nothing":
        return set()
    if names.startswith("all but "):
        return set(house.arrows()) - {f"solver.{name}" for name in names.removeprefix("all but ").split(", ")}
    return {name if name == "constraints" else f"solver.{name}" for name in names.split(", ")}


@pytest.mark.parametrize("package", ROOMS)
def test_a_package_imports_what_it_says_and_nothing_else(package):
    assert house.arrows()[package] - {"solver"} <= allowed(package)


@pytest.mark.parametrize("package", [room for room in ROOMS if room != "solver.cli"])
def test_what_it_says_is_needed(package):
    assert allowed(package) <= house.arrows()[package]


def test_no_package_and_no_module_leads_back_to_itself():
    assert house.circle(house.arrows()) == [] and house.circle(house.imports()) == []


def test_a_circle_would_be_found():
    assert set(house.circle({"a": frozenset("b"), "b": frozenset("c"), "c": frozenset("a")})) == {"a", "b", "c"}


def test_no_class_is_called_like_another():
    counts = Counter(name for name, _ in house.classes())
    assert [(name, where) for name, where in house.classes() if counts[name] > 1] == []


def test_the_map_is_drawn_from_the_imports():
    text = house.MAP.read_text(encoding="utf-8")
    assert house.drawn(text) == text, "run `make map`"
    assert all(house._short(package) in text for package in ROOMS)
