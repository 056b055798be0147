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

import json
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal, localcontext
from itertools import product
from math import prod
from pathlib import Path
from typing import Annotated, Any

from pydantic import ConfigDict, Field, StrictInt, StrictStr

from solver.batch.store.identity import SHORT, named
from solver.batch.sweep.uncollected import uncollected
from solver.design.errors import Complaint, DesignError, show, single, so_many
from solver.design.exact import MAX_DIGITS, MAX_EXPONENT, NotExact, parse_exact
from solver.files.fields import Seconds
from solver.files.hardware_schema import BenchTable, HardwareTable
from solver.files.load import by_schema, parse_design
from solver.files.made_schema import MadeTable
from solver.files.many import Designs, Oversized, Setting
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
from solver.files.text import data_of, read_text

MOST_POINTS = 10_000
MOST_COMPLAINTS, MOST_FAULTS = 20, 200
MOST_SHOWN = 20  # settings of a point that has a fault
MOST_TOLD = 10**12
MOST_CHARACTERS = 15_000  # of a design, as it is written and as it is hashed, where there are many
_SPAN = "must be {min = , max = , step = } with numbers, min up to max, step above 0"
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
    wire: WireTable | None = None
    loads: LoadsTable | None = None
    hardware: HardwareTable | None = None
    bench: BenchTable | None = None
    supports: SupportsTable | None = None
    sky: SkyTable | None = None
    made: MadeTable | None = None


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
    base_text = _base_text(path, base) if isinstance(base, str) else None
    return sweep_of(text, str(path), path.stem, base_text)


def _base_text(path: Path, base: str) -> str:
    """The design file that a sweep file names. Raises DesignError."""
    if not base or "\0" in base:
        raise single("base", base, "must be the name of a design file", str(path))
    try:
        if (path.parent / base).is_fifo():  # which would be waited for, without a word
            raise single("base", base, "cannot be read: is a pipe", str(path))
        return read_text(path.parent / base)
    except OSError as fault:
        raise single("base", base, f"cannot be read: {fault.strerror}", str(path)) from None
    except DesignError as fault:
        raise single("base", base, fault.complaints[0].allowed, str(path)) from None


def sweep_of(text: str, file: str, name: str, base_text: str | None = None, most_points: int | None = None) -> Sweep:
    """Resolve the text of a sweep file. file: stands for it in messages; base_text: the content of its `base`;
    most_points: more are refused, whatever the file says.

    Raises DesignError.
    """
    return sweep_from_data(data_of(text, file), text, file, name, base_text, most_points)


def sweep_from_data(
    data: dict[str, Any],
    text: str,
    file: str,
    name: str,
    base_text: str | None = None,
    most_points: int | None = None,
) -> Sweep:
    """The same of a text that has been read. Raises DesignError."""
    read = by_schema(SweepFile, data, file)
    design = _design_data(read, data, file, base_text)
    axes = [_axis(path, value, file) for path, value in _varied(data.get("vary", {}))]
    if not axes and not read.point:
        raise single("vary", None, "nothing is varied; give [vary] or [[point]]", file)
    _refuse_many(prod(axis.count for axis in axes) * bool(axes) + len(read.point), read.limits, most_points, file)
    grid: dict[str, list[Any]] = {}
    for axis in axes:
        if axis.path in grid:
            raise single(f"vary.{axis.path}", None, "is varied twice, once under its path in quotes; write one", file)
        grid[axis.path] = axis.values(file)
    most = MOST_CHARACTERS * max(MOST_POINTS, min(read.limits.points, most_points or read.limits.points))
    with uncollected():
        points, alike = _points(Designs(design, most), _settings(grid, data), file)
    title = read.title or str(design.get("title") or name)
    meant = {"base": design, "vary": grid, "point": data.get("point", [])}
    return Sweep(name, title, text, read.base, base_text, meant, points, alike, read.limits)


def _refuse_many(count: int, limits: SweepLimits, most_points: int | None, file: str) -> None:
    """Refuse too many points before any of them is looked at."""
    told = str(count) if count <= MOST_TOLD else f"more than {MOST_TOLD}"
    if count > limits.points:
        raise single("limits.points", limits.points, f"the file makes {told} points; allow them or vary less", file)
    if most_points is not None and count > most_points:
        raise single("vary", None, f"makes {told} points; at most {most_points} are taken here", file)


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
    try:
        found = data_of(base_text, read.base)
    except DesignError as fault:
        one = fault.complaints[0]
        raise single("base", read.base, str(Complaint(one.field, one.value, one.allowed, "")), file) from None
    others = [key for key in found if key not in DesignFile.model_fields]
    if others or "bodies" not in found:
        told = f'it says "{others[0]}"' if others else "it has no table [bodies]"
        raise single("base", read.base, f"is no design file: {told}", file)
    return found


def _varied(table: dict[str, Any], above: str = "") -> Iterator[tuple[str, Any]]:
    """Dotted fields and what is written for them; `a.b = ` and `"a.b" = ` mean the same."""
    for key, value in table.items():
        path = f"{above}.{key}" if above else key
        if isinstance(value, dict) and not {"min", "max"} <= value.keys():
            yield from _varied(value, path)
        else:
            yield path, value


@dataclass(frozen=True)
class _Axis:
    """A field that is varied. listed: its values, or of a span the least one and the step."""

    path: str
    count: int
    listed: list[Any] | tuple[Any, Any]

    def values(self, file: str) -> list[Any]:
        """Its values, all of them different. Raises DesignError."""
        if isinstance(self.listed, tuple):
            low, step = self.listed
            with localcontext(prec=_SPAN_DIGITS):
                return [low + index * step for index in range(self.count)]
        seen: set[Any] = set()
        for value in self.listed:
            same = _hashable(value)
            if same in seen:
                raise single(f"vary.{self.path}", self.listed, f"names {show(value)} twice", file)
            seen.add(same)
        return self.listed


def _hashable(value: Any) -> Any:
    """Something that can be looked up, and is equal where the values are."""
    if isinstance(value, dict):
        return dict, frozenset((key, _hashable(item)) for key, item in value.items())
    return (list, tuple(map(_hashable, value))) if isinstance(value, list) else value


def _axis(path: str, value: Any, file: str) -> _Axis:
    """One varied field; its values are not looked at yet."""
    field = f"vary.{path}"
    if "[" in path:
        raise single(field, None, "entries of a list cannot be varied; vary the whole list", file)
    if isinstance(value, dict):
        return _span(path, value, field, file)
    if not isinstance(value, list) or not value:
        raise single(field, value, "must be a list of values, or {min = , max = , step = }", file)
    return _Axis(path, len(value), value)


def _span(path: str, value: dict[str, Any], field: str, file: str) -> _Axis:
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
    return _Axis(path, count, (low, step))


def _settings(grid: dict[str, list[Any]], data: dict[str, Any]) -> Iterator[tuple[Setting, ...]]:
    if grid:
        yield from product(*(
            [Setting(path, value, index) for index, value in enumerate(values)] for path, values in grid.items()
        ))  # fmt: skip
    for single_point in data.get("point", []):
        yield tuple(Setting(path, value, repr(value)) for path, value in _fields(single_point))


def _fields(table: dict[str, Any], above: str = "") -> Iterator[tuple[str, Any]]:
    """Dotted fields and values of a single point. A table under a quoted dotted name is a value, and replaces the
    base's; a span is one too; others are gone into."""
    for key, value in table.items():
        path = f"{above}.{key}" if above else key
        if isinstance(value, dict) and value and "." not in key and not {"min", "max"} <= value.keys():
            yield from _fields(value, path)
        else:
            yield path, value


def _points(designs: Designs, every: Iterator[tuple[Setting, ...]], file: str) -> tuple[tuple[Point, ...], int]:
    """Every point, the first of those that mean the same; faults are gathered before any is raised."""
    points: dict[str, Point] = {}
    alike = number = 0
    faults: dict[str, _Fault] = {}
    for number, settings in enumerate(every, 1):
        try:
            made = designs.made(settings)
        except DesignError as fault:
            for one in fault.complaints:
                faults.setdefault(f"{one.field} {one.value} {one.allowed}", _Fault(number, settings, one)).points += 1
            if len(faults) > MOST_FAULTS:
                break
            continue
        except Oversized as fault:
            raise single("vary", None, f"{fault}; vary less, or what is smaller", file) from None
        if not points and parse_design(made.text) != made.design:
            raise AssertionError(f"a design does not survive being written: {made.text}")
        name = named(made.sha256)
        alike += name in points
        told = {path: value for path, value, _ in settings}
        point = Point(name, told, made.text, made.design.title, made.sha256, made.design.time_limit_s)
        points.setdefault(name, point)
    if faults:
        raise DesignError(_told(list(faults.values()), number, file))
    return tuple(points.values()), alike


@dataclass
class _Fault:
    """A fault, the first point it is in, and in how many it is."""

    number: int
    settings: tuple[Setting, ...]
    complaint: Complaint
    points: int = 0

    @property
    def where(self) -> str:
        shown = [f"{path} = {show(value)}" for path, value, _ in self.settings[:MOST_SHOWN]]
        return f"point {self.number} ({', '.join(shown)}{', ...' if len(self.settings) > MOST_SHOWN else ''})"


def _told(faults: list[_Fault], looked_at: int, file: str) -> Iterator[Complaint]:
    """The faults, each once: the first point it is in, and how many more."""
    for fault in faults[:MOST_COMPLAINTS]:
        one = fault.complaint
        more = f" (and in {so_many(fault.points - 1, 'more point')})" if fault.points > 1 else ""
        yield Complaint(one.field, one.value, one.allowed + more, f"{file}: {fault.where}")
    if len(faults) > MOST_FAULTS:
        yield Complaint("", "", f"and more faults; no point behind point {looked_at} was looked at", file)
    elif len(faults) > MOST_COMPLAINTS:
        yield Complaint("", "", f"and {so_many(len(faults) - MOST_COMPLAINTS, 'more fault')}", file)


def _flat(data: Any, above: str = "") -> Iterator[tuple[str, Any]]:
    if isinstance(data, dict) and data:
        for key, value in data.items():
            yield from _flat(value, f"{above}.{key}" if above else key)
    else:
        yield above, data


def short(name: str) -> str:
    """A point's name as it is shown."""
    return name[:SHORT]
