"""What sets a point of a sweep apart, in words: "tooth step 6, 2 blanks"."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from typing import Any

from solver.files.body_sets import body_sets


def varied_words(settings: Mapping[str, Any]) -> str:
    """The settings of a point, fields of the design file and their values, as words; "" where none are varied. A title
    is told elsewhere."""
    settings = {path: value for path, value in settings.items() if path != "title"}
    last = [path.rpartition(".")[2] for path in settings]
    return ", ".join(
        _SAID[path](value) if path in _SAID else _plain(_named(path, last), value_words(value))
        for path, value in settings.items()
    )


def value_words(value: Any) -> str:
    """A value of a design file as words: "4 to 8" of a span, lists with commas."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(value_words(item) for item in value) or "none"
    if isinstance(value, dict) and set(value) == {"min", "max"}:
        return f"{value_words(value['min'])} to {value_words(value['max'])}"
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)


def _plain(name: str, value: str) -> str:
    stem, _, unit = name.rpartition(" ")
    return f"{stem} {value} {unit}" if unit in _UNITS and stem else f"{name} {value}"


def _named(path: str, last: list[str]) -> str:
    """A field by its last word, by its whole path where another one has the same."""
    name = path.rpartition(".")[2]
    return (name if last.count(name) == 1 else path.replace(".", " ")).replace("_", " ")


_UNITS = {"s", "mm", "rpm", "ncm"}  # that names of fields end with


def _counted(one: str, most: str = "") -> Callable[[Any], str]:
    def said(value: Any) -> str:
        if value in (0, 1) and not isinstance(value, bool):
            return f"no {one}" if value == 0 else f"{most}1 {one}"
        return f"{most if isinstance(value, int) else ''}{value_words(value)} {one}s"

    return said


def _set(value: Any) -> str:
    found = body_sets().get(value) if isinstance(value, str) else None
    return f"set {value_words(value)}" if found is None else found.title


_SAID: dict[str, Callable[[Any], str]] = {
    "bodies.set": _set,
    "rings.blanks": _counted("blank"),
    "arbors.third_gears": _counted("third gear", "up to "),
    "rings.inner_teeth": lambda value: f"inner ring of {value_words(value)} teeth",
    "rings.tooth_step": lambda value: f"tooth step {value_words(value)}",
    "fit.directions": lambda value: "no places" if value == "none" else f"{value_words(value)} directions",
}
