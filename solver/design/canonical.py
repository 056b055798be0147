"""The canonical form of a design as JSON: what names it in answers and stored runs is the hash of this."""

from __future__ import annotations

import json
from dataclasses import fields, is_dataclass
from fractions import Fraction
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
    told = (f for f in fields(value) if USUAL not in f.metadata or f.metadata[USUAL] != getattr(value, f.name))
    return sorted(f.name for f in told)
