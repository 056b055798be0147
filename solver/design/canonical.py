"""The canonical form of a design as JSON: what names it in answers and stored runs is the hash of this."""

from __future__ import annotations

import json
from dataclasses import fields, is_dataclass
from fractions import Fraction
from functools import cache
from typing import Any

from solver.design.once import Calls

USUAL = "usual"  # metadata of a field that is told only where it has another value than this


def json_of(value: Any, once: Calls) -> str:
    """A part as JSON: its fields one by one, each of which other designs may have too."""
    if not is_dataclass(value):
        return _json(value)
    return "{" + ",".join(f'"{name}":{once(_json, getattr(value, name))}' for name in _names(value)) + "}"


def _told(value: Any) -> Any:
    """What JSON has no form for, as plain data."""
    return str(value) if isinstance(value, Fraction) else {name: getattr(value, name) for name in _names(value)}


_json = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False, default=_told).encode


def _names(value: Any) -> list[str]:
    kind: Any = type(value)
    names, usual = _fields(kind)
    left = {name for name, most in usual if getattr(value, name) == most}
    return [name for name in names if name not in left] if left else names


@cache
def _fields(kind: Any) -> tuple[list[str], list[tuple[str, Any]]]:
    """The fields of a class in alphabetical order, and of some the value with which they are not told."""
    known = fields(kind)
    return sorted(one.name for one in known), [
        (one.name, one.metadata[USUAL]) for one in known if USUAL in one.metadata
    ]  # fmt: skip
