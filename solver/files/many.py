"""Many designs that share most of what they say: each different value is read, checked and written once.

A file is read field by field, as no field's reading depends on another one (`schema.py`); what follows from several
tables is resolved for every design. So ten thousand designs cost little more than the values in which they differ.
"""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import tomli_w
from pydantic import BaseModel

from solver.design.design import Design
from solver.design.errors import Complaint, DesignError, show, single
from solver.design.once import Once
from solver.files.hardware_schema import BenchTable, HardwareTable
from solver.files.load import by_schema, resolve
from solver.files.schema import (
    ArborsTable,
    BodiesTable,
    DesignFile,
    DriveTable,
    FitTable,
    LoadsTable,
    RingsTable,
    SearchTable,
    SkyTable,
    SupportsTable,
    WireTable,
)
from solver.files.table import Table
from solver.files.text import exact_float

MOST_NUMBERS = 500_000  # in all values that differ, spans written out

_TABLES: dict[str, type[Table]] = {
    "bodies": BodiesTable, "rings": RingsTable, "arbors": ArborsTable, "fit": FitTable, "drive": DriveTable,
    "search": SearchTable, "wire": WireTable, "loads": LoadsTable, "hardware": HardwareTable, "bench": BenchTable,
    "supports": SupportsTable, "sky": SkyTable,
}  # fmt: skip
# What must stand in a table besides, so that another field of it can be read.
_BESIDE: dict[str, dict[str, Any]] = {"drive": {"motor_rpm": 1}}
_ATTRIBUTES = {
    name: {entry.alias or attribute: attribute for attribute, entry in table.model_fields.items()}
    for name, table in _TABLES.items()
}
_ABSENT = {name: value for name, value in DesignFile.model_validate({"bodies": {}}) if name != "bodies"}


class Oversized(ValueError):
    """Designs that are too large all together; the message says in what."""


class Setting(NamedTuple):
    """A dotted field and its value. key: alike for equal values of that field, and for no others."""

    path: str
    value: Any
    key: Hashable


@dataclass(frozen=True)
class Made:
    """One of the designs. text: its file; sha256: as of `Design.sha256`."""

    design: Design
    text: str
    sha256: str


@dataclass(frozen=True)
class _Part:
    """A field or a table: as it was read; as it is written, in lines and in blocks with a heading; or its faults."""

    value: Any = None
    lines: str = ""
    blocks: tuple[str, ...] = ()
    faults: tuple[Complaint, ...] = ()


class Designs:
    """The designs that follow from one base, plain data with the tables and keys of a design file.

    most_characters: that all of them may have together, as they are written and as they are hashed."""

    def __init__(self, base: Mapping[str, Any], most_characters: int) -> None:
        self._base = base
        self._most_characters = most_characters
        self._once = Once()
        self._tables: dict[Hashable, _Part] = {}
        self._fields: dict[Hashable, _Part] = {}
        self._numbers = self._characters = 0

    def made(self, settings: Sequence[Setting]) -> Made:
        """The base with these settings, each of which replaces what the base and those before it say.

        Raises DesignError with every fault found, and Oversized where all that were made are too large together.
        """
        by_table: dict[str, list[Setting]] = {}
        for one in settings:
            by_table.setdefault(one.path.split(".", 1)[0], []).append(one)
        parts = {name: self._table(name, by_table.get(name, [])) for name in dict.fromkeys((*self._base, *by_table))}
        faults = tuple(_faults(DesignFile, "", parts))
        if faults:
            raise DesignError(faults)
        told = {name: part.value for name, part in parts.items()}
        design = resolve(DesignFile.model_construct(**{**_ABSENT, **told}), self._once)
        text, canonical = _text("", parts.values()), design.canonical_text(self._once)
        self._characters += len(text) + len(canonical)
        if self._characters > self._most_characters:
            raise Oversized(f"the designs of its points have more than {self._most_characters} characters together")
        return Made(design, text, hashlib.sha256(canonical.encode()).hexdigest())

    def _table(self, name: str, settings: list[Setting]) -> _Part:
        """A table, or a field that stands in none, with what is set in it."""
        key = (name, *((one.path, one.key) for one in settings))
        if key not in self._tables:
            try:
                self._tables[key] = self._table_read(name, settings)
            except DesignError as fault:
                self._tables[key] = _Part(faults=fault.complaints)
        return self._tables[key]

    def _table_read(self, name: str, settings: list[Setting]) -> _Part:
        table = _with({name: self._base[name]} if name in self._base else {}, settings)[name]
        kind = _TABLES.get(name)
        if kind is None or not isinstance(table, dict):
            return self._read(name, None, table)
        whole = tuple((one.path, one.key) for one in settings if one.path == name)
        parts = {}
        for field, value in table.items():
            under = f"{name}.{field}"
            key = (
                under,
                *whole,
                *((s.path, s.key) for s in settings if s.path == under or s.path.startswith(f"{under}.")),
            )
            if key not in self._fields:
                try:
                    self._fields[key] = self._read(name, field, value)
                except DesignError as fault:
                    self._fields[key] = _Part(faults=fault.complaints)
            parts[field] = self._fields[key]
        faults = tuple(_faults(kind, name, parts))
        if faults:
            return _Part(faults=faults)
        told = {field: part.value for field, part in parts.items()}
        return _Part(kind.model_construct(**told), blocks=(_text(name, parts.values()),))

    def _read(self, name: str, field: str | None, value: Any) -> _Part:
        """One field of a table, or what stands in none. Raises DesignError and Oversized."""
        read = _alone(name, field, value)
        self._numbers += _numbers(read)
        if self._numbers > MOST_NUMBERS:
            raise Oversized(f"the values of its points hold more than {MOST_NUMBERS} numbers together")
        alone = {name: value if field is None else {field: value}}
        text = tomli_w.dumps(alone)
        if not _simple(value) and tomllib.loads(text, parse_float=exact_float) != alone:
            raise AssertionError(f"a value does not survive being written: {text}")
        head = "" if field is None else f"[{name}]\n"
        return _Part(read, text.removeprefix(head)) if text.startswith(head) else _Part(read, blocks=(text,))


def _alone(name: str, field: str | None, value: Any) -> Any:
    """One field of a table, or what stands in none, as the schema reads it. Raises DesignError."""
    beside = value if field is None else {**_BESIDE.get(name, {}), field: value}
    read: Any = getattr(by_schema(DesignFile, {"bodies": {}, name: beside}, ""), name)
    return read if field is None else getattr(read, _ATTRIBUTES[name][field])


def _faults(kind: type[BaseModel], above: str, parts: Mapping[str, _Part]) -> Iterator[Complaint]:
    """What is wrong with the entries of a table, in the order of its schema; unknown ones come last."""
    known = {entry.alias or key: entry for key, entry in kind.model_fields.items()}
    for key, entry in known.items():
        if key in parts:
            yield from parts[key].faults
        elif entry.is_required():
            yield Complaint(f"{above}.{key}" if above else key, "", "is missing")
    for key, part in parts.items():
        if key not in known:
            yield from part.faults


def _with(table: dict[str, Any], settings: Iterable[Setting]) -> dict[str, Any]:
    """A table with settings in it; what it does not share with the one given is new. Raises DesignError."""
    for one in settings:
        if "[" in one.path:
            raise single(one.path, None, "entries of a list cannot be varied; vary the whole list")
        table = _put(table, one.path.split("."), one)
    return table


def _put(table: dict[str, Any], keys: Sequence[str], setting: Setting) -> dict[str, Any]:
    first, *rest = keys
    if not rest:
        return {**table, first: setting.value}
    below = table.get(first, {})
    if not isinstance(below, dict):
        told = f"{show(first)} is no table of the base, so nothing in it can be varied"
        raise single(setting.path, setting.value, told)
    return {**table, first: _put(below, rest, setting)}


def _text(name: str, parts: Iterable[_Part]) -> str:
    """What tomli_w writes of a table: first its plain lines, then the blocks, with an empty line before each."""
    parts = list(parts)
    lines, blocks = "".join(part.lines for part in parts), [block for part in parts for block in part.blocks]
    if name and (lines or not blocks):
        lines = f"[{name}]\n{lines}"
    return "\n".join([lines, *blocks] if lines else blocks)


def _simple(value: Any) -> bool:
    """Whether there is only one way to write it."""
    if isinstance(value, dict):
        return all(_simple(key) and _simple(item) for key, item in value.items())
    if isinstance(value, list):
        return all(map(_simple, value))
    return type(value) in (int, bool) or (isinstance(value, str) and value.isprintable())


def _numbers(value: Any) -> int:
    """How many values a list, or a list of lists, holds."""
    if not isinstance(value, tuple | list):
        return 1
    return sum(len(one) if isinstance(one, tuple) else 1 for one in value)
