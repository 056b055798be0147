"""The sweep file: a base design and what is varied in it, as points that have all been validated.

title = "Which rings for the moons?"
base = "saturn-hall.toml"           # or the tables of a design file, here

[vary]                              # every combination is a point
bodies.set = ["saturn", "uranus"]
rings.tooth_step = {min = 4, max = 8}

[[point]]                           # single points
rings.tooth_step = 10

[limits]
point_s = 60
"""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal, localcontext
from itertools import product
from math import prod
from pathlib import Path
from typing import Annotated, Any

import tomli_w
from pydantic import ConfigDict, Field, StrictInt, StrictStr

from solver.batch.identity import SHORT, named
from solver.design.design import Design
from solver.design.errors import Complaint, DesignError, show, single, so_many
from solver.design.exact import MAX_DIGITS, MAX_EXPONENT, NotExact, parse_exact
from solver.design.load import by_schema, data_of, design_from_data, read_text
from solver.design.schema import (
    ArborsTable,
    BodiesTable,
    DesignFile,
    DriveTable,
    FitTable,
    RingsTable,
    SearchTable,
    Seconds,
    Table,
)

MOST_POINTS = 10_000
MOST_COMPLAINTS = 20
_SPAN = "must be {min = , max = , step = } with numbers, min up to max"
_SPAN_DIGITS = 2 * (MAX_DIGITS + MAX_EXPONENT)  # no sum in a span has more


class SweepLimits(Table):
    """When to stop. point_s: for each point, beside the design's own limit; total_s: for one call of the whole sweep.

    points: more are refused; workers: solves at a time; memory_mb: for one solve."""

    point_s: Seconds | None = None
    total_s: Seconds | None = None
    points: Annotated[StrictInt, Field(ge=1, le=1_000_000)] = MOST_POINTS
    workers: Annotated[StrictInt, Field(ge=1, le=1024)] | None = None
    memory_mb: Annotated[StrictInt, Field(ge=256)] | None = None


class SweepFile(Table):
    """A Ringwright sweep file."""

    model_config = ConfigDict(title="Ringwright sweep file", extra="forbid", frozen=True)

    title: Annotated[StrictStr, Field(min_length=1, max_length=200)] | None = None
    base: StrictStr | None = None
    vary: dict[str, Any] = Field(default_factory=dict)
    point: list[dict[str, Any]] = Field(default_factory=list)
    limits: SweepLimits = SweepLimits()
    units: Any = None
    bodies: BodiesTable | None = None
    rings: RingsTable | None = None
    arbors: ArborsTable | None = None
    fit: FitTable | None = None
    drive: DriveTable | None = None
    search: SearchTable | None = None


@dataclass(frozen=True)
class Point:
    """One design of a sweep. settings: the dotted fields that are varied, and their values; text: its design file."""

    id: str
    settings: dict[str, Any]
    text: str
    title: str
    config_sha256: str
    time_limit_s: float

    @property
    def settings_json(self) -> str:
        return json.dumps(self.settings, default=str, ensure_ascii=False)


@dataclass(frozen=True)
class Sweep:
    """A sweep file, resolved: every point is a valid design, no two points are the same.

    name: what its run is called; text, base_name and base_text: the files as they were given; alike: how many points
    were left out since another one means the same.
    """

    name: str
    title: str
    text: str
    base_name: str | None
    base_text: str | None
    data: dict[str, Any]
    points: tuple[Point, ...]
    alike: int
    limits: SweepLimits

    def meaning(self) -> dict[str, Any]:
        """What the points follow from, as flat plain data: dotted field, value. Titles and limits are not in it."""
        return {key: json.loads(json.dumps(value, default=str)) for key, value in _flat(self.data)}


def load_sweep_file(path: Path) -> Sweep:
    """Read a sweep file and validate every point. Raises DesignError (each fault with the point it is in), OSError."""
    text = read_text(path)
    data = data_of(text, str(path))
    base = data.get("base")
    base_text = read_text(path.parent / base) if isinstance(base, str) else None
    return sweep_of(text, str(path), path.stem, base_text)


def sweep_of(text: str, file: str, name: str, base_text: str | None = None, most_points: int | None = None) -> Sweep:
    """Resolve the text of a sweep file. file: stands for it in messages; base_text: the content of its `base`;
    most_points: more are refused, whatever the file says.

    Raises DesignError.
    """
    data = data_of(text, file)
    read = by_schema(SweepFile, data, file)
    design = _design_data(read, data, file, base_text)
    grid = [_axis(path, value, file) for path, value in _varied(data.get("vary", {}))]
    count = prod(len(values) for _, values in grid) + len(read.point)
    if not grid and not read.point:
        raise single("vary", None, "nothing is varied; give [vary] or [[point]]", file)
    if count > read.limits.points:
        raise single(
            "limits.points", read.limits.points, f"the file makes {count} points; allow them or vary less", file
        )
    if most_points is not None and count > most_points:
        raise single("vary", None, f"makes {count} points; at most {most_points} are taken here", file)
    points, alike = _points(design, _settings(grid, data), file)
    title = read.title or str(design.get("title") or name)
    meant = {"base": design, "vary": dict(grid), "point": data.get("point", [])}
    return Sweep(name, title, text, read.base, base_text, meant, points, alike, read.limits)


def _design_data(read: SweepFile, data: dict[str, Any], file: str, base_text: str | None) -> dict[str, Any]:
    """The tables of the design that is varied."""
    inline = {key: value for key, value in data.items() if key in DesignFile.model_fields}
    if read.base is None:
        if "bodies" not in inline:
            raise single("base", None, "missing: give the name of a design file, or its tables here", file)
        return inline
    for key in inline:
        if key != "title":
            raise single(
                key, None, "give base or the tables of a design, not both; what differs belongs in [vary]", file
            )
    if base_text is None:
        raise single("base", read.base, "its content is not given", file)
    return data_of(base_text, read.base)


def _varied(table: dict[str, Any], above: str = "") -> Iterator[tuple[str, Any]]:
    """Dotted fields and what is written for them; `a.b = ` and `"a.b" = ` mean the same."""
    for key, value in table.items():
        path = f"{above}.{key}" if above else key
        if isinstance(value, dict) and not {"min", "max"} <= value.keys():
            yield from _varied(value, path)
        else:
            yield path, value


def _axis(path: str, value: Any, file: str) -> tuple[str, list[Any]]:
    """The values of one varied field."""
    field = f"vary.{path}"
    _refuse_brackets(path, field, file)
    if isinstance(value, dict):
        return path, _span(value, field, file)
    if not isinstance(value, list) or not value:
        raise single(field, value, "must be a list of values, or {min = , max = , step = }", file)
    for index, one in enumerate(value):
        if one in value[:index]:
            raise single(field, value, f"names {show(one)} twice", file)
    return path, value


def _refuse_brackets(path: str, field: str, file: str) -> None:
    if "[" in path:
        raise single(field, None, "entries of a list cannot be varied; vary the whole list", file)


def _span(value: dict[str, Any], field: str, file: str) -> list[Any]:
    low, high, step = value["min"], value["max"], value.get("step", 1)
    unknown = value.keys() - {"min", "max", "step"}
    bounds = {"min": low, "max": high, "step": step}
    numbers = all(isinstance(n, int | Decimal) and not isinstance(n, bool) for n in bounds.values())
    if unknown or not numbers:
        raise single(field, value, _SPAN, file)
    exact = {}
    for key, number in bounds.items():
        try:
            exact[key] = parse_exact(number)
        except NotExact as fault:
            raise single(field, value, f"{key}: {fault}", file) from None
    if exact["step"] <= 0 or exact["max"] < exact["min"]:
        raise single(field, value, _SPAN, file)
    count = (exact["max"] - exact["min"]) // exact["step"] + 1
    if count > 1_000_000:
        raise single(field, value, "makes more than a million values", file)
    with localcontext(prec=_SPAN_DIGITS):
        return [low + index * step for index in range(count)]


def _settings(grid: list[tuple[str, list[Any]]], data: dict[str, Any]) -> Iterator[dict[str, Any]]:
    if grid:
        for values in product(*(values for _, values in grid)):
            yield dict(zip((path for path, _ in grid), values, strict=True))
    for single_point in data.get("point", []):
        yield dict(_fields(single_point))


def _fields(table: dict[str, Any], above: str = "") -> Iterator[tuple[str, Any]]:
    """Dotted fields and values of a single point. A table under a quoted dotted name is a value, and replaces the
    base's; a span is one too; others are gone into."""
    for key, value in table.items():
        path = f"{above}.{key}" if above else key
        if isinstance(value, dict) and value and "." not in key and not {"min", "max"} <= value.keys():
            yield from _fields(value, path)
        else:
            yield path, value


def _points(design: dict[str, Any], every: Iterator[dict[str, Any]], file: str) -> tuple[tuple[Point, ...], int]:
    """Every point, the first of those that mean the same; all faults are gathered before any is raised."""
    points: dict[str, Point] = {}
    alike = 0
    faults: dict[str, tuple[str, Complaint, list[int]]] = {}
    for number, settings in enumerate(every, 1):
        label = f"point {number} ({', '.join(f'{path} = {show(value)}' for path, value in settings.items())})"
        try:
            point = _point(design, settings)
        except DesignError as fault:
            for one in fault.complaints:
                faults.setdefault(f"{one.field} {one.value} {one.allowed}", (label, one, []))[2].append(number)
            continue
        if point.id in points:
            alike += 1
        points.setdefault(point.id, point)
    if faults:
        raise DesignError(_told(faults, file))
    return tuple(points.values()), alike


def _told(faults: dict[str, tuple[str, Complaint, list[int]]], file: str) -> Iterator[Complaint]:
    """The faults, each once: the first point it is in, and how many more."""
    for label, one, numbers in list(faults.values())[:MOST_COMPLAINTS]:
        more = f" (and in {so_many(len(numbers) - 1, 'more point')})" if len(numbers) > 1 else ""
        yield Complaint(one.field, one.value, one.allowed + more, f"{file}: {label}")
    if len(faults) > MOST_COMPLAINTS:
        yield Complaint("", "", f"and {so_many(len(faults) - MOST_COMPLAINTS, 'more fault')}", file)


def _point(design: dict[str, Any], settings: dict[str, Any]) -> Point:
    data = copy.deepcopy(design)
    for path, value in settings.items():
        _put(data, path, value)
    resolved = design_from_data(data, "")
    text = tomli_w.dumps(data)
    if Design.parse(text) != resolved:
        raise AssertionError(f"a design does not survive being written: {text}")
    sha256 = resolved.sha256()
    return Point(named(sha256), settings, text, resolved.title, sha256, resolved.time_limit_s)


def _put(data: dict[str, Any], path: str, value: Any) -> None:
    _refuse_brackets(path, path, "")
    *tables, key = path.split(".")
    for name in tables:
        data = data.setdefault(name, {})
        if not isinstance(data, dict):
            raise single(path, value, f"{show(name)} is no table of the base, so nothing in it can be varied")
    data[key] = copy.deepcopy(value)


def _flat(data: Any, above: str = "") -> Iterator[tuple[str, Any]]:
    if isinstance(data, dict) and data:
        for key, value in data.items():
            yield from _flat(value, f"{above}.{key}" if above else key)
    else:
        yield above, data


def short(name: str) -> str:
    """A point's name as it is shown."""
    return name[:SHORT]
