"""Plain data as the text of a TOML file that reads well: short tables in one line, others under a heading, what a sweep
varies under dotted keys."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from typing import Any

_DOTTED = ("vary", "point")
_BARE = re.compile(r"[A-Za-z0-9_-]+")


def toml_text(data: Mapping[str, Any]) -> str:
    """The text of a file that means this: values first, then tables in their order, then lists of tables, each table in
    such a list under a heading of its own. Tables within tables stand in one line."""
    lines = [f"{_key(key)} = {_value(value)}" for key, value in data.items() if not _headed(value)]
    for key, value in data.items():
        if isinstance(value, dict):
            lines += ["", *_table(_key(key), value)]
        elif _headed(value):
            lines += _entries(_key(key), value)
    return "\n".join(lines).lstrip("\n") + "\n"


def _headed(value: Any) -> bool:
    """Whether it stands under a heading."""
    return isinstance(value, dict) or _list_of_tables(value)


def _list_of_tables(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(one, dict) for one in value)


def _table(name: str, table: Mapping[str, Any]) -> Iterator[str]:
    yield f"[{name}]"
    for key, value in table.items():
        if not _list_of_tables(value):
            yield from _lines(key, value, name in _DOTTED)
    for key, value in table.items():
        if _list_of_tables(value):
            yield from _entries(f"{name}.{_key(key)}", value)


def _entries(name: str, tables: list[Mapping[str, Any]]) -> Iterator[str]:
    for one in tables:
        yield from ("", f"[[{name}]]")
        for key, value in one.items():
            yield from _lines(key, value, name in _DOTTED)


def _lines(key: str, value: Any, dotted: bool, above: str = "") -> Iterator[str]:
    """A key and its value. dotted: a table as keys with dots, other than a span or an empty one."""
    told = f"{above}{_key(key)}"
    if dotted and isinstance(value, dict) and value and "min" not in value:
        for below, one in value.items():
            yield from _lines(below, one, True, f"{told}.")
    else:
        yield f"{told} = {_value(value)}"


def _key(key: str) -> str:
    return key if _BARE.fullmatch(key) else _value(key)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, list):
        return f"[{', '.join(map(_value, value))}]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_key(key)} = {_value(one)}" for key, one in value.items()) + "}"
    return str(value).lower() if str(value).lower() in ("nan", "inf", "-inf") else str(value)
