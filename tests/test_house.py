"""The house: which package may import which, no circles, no class name twice, a map that is drawn from the imports."""

from __future__ import annotations

import re
from collections import Counter

import house


def rooms() -> list[str]:
    """Packages that say what they import: all but those that hold the others."""
    packages = sorted(package for package in house.arrows() if house.modules()[package].name == "__init__.py")
    return [package for package in packages if package not in ("solver", "benchmarks", "benchmarks.ways")]


def allowed(package: str) -> set[str] | None:
    """What a package says that it may import; None for all but what is named."""
    words = re.search(r"May import: ([\w.,\s]+)\.$", house.facts()[package].told)
    assert words, f"{package}: its docstring ends with what it may import"
    names = re.sub(r"\s+", " ", words[1])
    if names == "nothing":
        return set()
    if names.startswith("all but "):
        return set(house.arrows()) - {f"solver.{name}" for name in names.removeprefix("all but ").split(", ")}
    return {name if name == "constraints" else f"solver.{name}" for name in names.split(", ")}


def test_a_package_imports_what_it_says_and_nothing_else():
    assert {room: more for room in rooms() if (more := house.arrows()[room] - {"solver"} - allowed(room))} == {}


def test_what_it_says_is_needed():
    others = (room for room in rooms() if room != "solver.cli")
    assert {room: more for room in others if (more := allowed(room) - house.arrows()[room])} == {}


def test_no_package_and_no_module_leads_back_to_itself():
    assert house.circle(house.arrows()) == [] and house.circle(house.named()) == []


def test_a_circle_would_be_found():
    assert set(house.circle({"a": frozenset("b"), "b": frozenset("c"), "c": frozenset("a")})) == {"a", "b", "c"}


def test_no_class_is_called_like_another():
    counts = Counter(name for name, _ in house.classes())
    assert [(name, where) for name, where in house.classes() if counts[name] > 1] == []


def test_the_map_is_drawn_from_the_imports():
    text = house.MAP.read_text(encoding="utf-8")
    assert house.drawn(text) == text, "run `make map`"
    assert all(house._short(package) in text for package in rooms())
