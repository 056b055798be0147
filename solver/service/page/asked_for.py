"""What design files ask for, field by field, and where several differ: what one does not say is what is usual."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from copy import deepcopy
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from solver.design.errors import DesignError, show, show_numbers
from solver.files.load import design_from_data
from solver.files.schema import DesignFile
from solver.files.text import data_of
from solver.words.settings import plain_value

FIELDS_SHOWN = 40
NOT_SAID = "not said"


@dataclass(frozen=True)
class AskedFor:
    """said: each field that the file has, with its value as text; means: every field with its value as it was read,
    often the usual one where the file has none; data: as TOML gives it."""

    said: dict[str, str]
    means: dict[str, Any]
    data: dict[str, Any]

    def is_usual(self, path: str, other: AskedFor) -> bool:
        """Whether this file, which does not say it, would be the same design if it said what the other one does."""
        *way, last = path.split(".")
        data, value = deepcopy(self.data), other.data
        table = data
        try:
            for name in way:
                table, value = table.setdefault(name, {}), value[name]
            table[last] = value[last]
            return design_from_data(data, "").sha256() == design_from_data(self.data, "").sha256()
        except (DesignError, LookupError, TypeError, AttributeError):
            return False


def asked_for(text: str) -> AskedFor:
    """What a design file asks for but for its title; nothing of one that another version wrote and this one cannot
    read."""
    try:
        data = data_of(text, "")
        read = DesignFile.model_validate(data).model_dump(by_alias=True)
    except (DesignError, ValidationError):
        return AskedFor({}, {}, {})
    said = {path: _written(value) for path, value in _fields(data, "") if path != "title"}
    return AskedFor(said, dict(_fields(read, "")), data)


def fields_that_differ(designs: Sequence[AskedFor]) -> list[tuple[str, tuple[str, ...]]]:
    """The fields that one of the files has and that do not mean the same in all, and what each says of it."""
    found = []
    for path in dict.fromkeys(path for one in designs for path in one.said):
        first = next(one for one in designs if path in one.said)
        if not all(_alike(one, first, path) for one in designs):
            found.append((path, tuple(_told(one, path) for one in designs)))
    return found[:FIELDS_SHOWN]


def _alike(one: AskedFor, other: AskedFor, path: str) -> bool:
    """Whether a file means the same as another one that says it."""
    meanings = [each.means.get(path, each.said.get(path)) for each in (one, other)]
    return meanings[0] == meanings[1] or (path not in one.said and one.is_usual(path, other))


def _told(one: AskedFor, path: str) -> str:
    if path in one.said:
        return one.said[path]
    usual = one.means.get(path)
    if isinstance(usual, tuple) and usual and all(isinstance(number, int) for number in usual):
        return show_numbers(usual)
    return NOT_SAID if usual is None or isinstance(usual, tuple | list | dict) else plain_value(str(usual))


def _fields(value: Any, path: str) -> Iterator[tuple[str, Any]]:
    """Values by dotted path; a range and a list of numbers are one value."""
    if isinstance(value, dict) and not (value and set(value) <= {"min", "max"}):
        for key, one in value.items():
            yield from _fields(one, f"{path}.{key}" if path else key)
    elif isinstance(value, list) and value and all(isinstance(one, dict) for one in value):
        for at, one in enumerate(value):
            yield from _fields(one, f"{path}[{at}]")
    else:
        yield path, value


def _written(value: Any) -> str:
    if isinstance(value, dict):
        return f"{value.get('min', 'least')} to {value.get('max', 'most')}"
    return plain_value(value) if isinstance(value, str | list | bool) else show(value)
