"""From what a client sends to what is meant: TOML or JSON text as a sweep whose points have all been validated.

A single design becomes a run with one point. Nothing that a text names is ever opened.
"""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from typing import Any, Literal

import tomli_w

from solver.batch.store.identity import named
from solver.batch.sweep.file import Point, Sweep, SweepLimits, sweep_from_data
from solver.design.design import Wire
from solver.design.errors import DesignError, show, single
from solver.files.load import design_from_data, parse_design
from solver.files.text import data_of, exact_float, refuse_crowded, refuse_unsayable
from solver.service.limits import ServiceLimits

Kind = Literal["design", "sweep"]
Form = Literal["toml", "json"]
ID_DIGITS = 16
_SWEEP_KEYS = ("vary", "point", "base", "limits")
_PLACED_BY = ("fit", "arbors")


@dataclass(frozen=True)
class Meant:
    """A submission that was understood. job: what its job is called; sha256: what that follows from; text: as TOML;
    places: whether pictures and sheets can be made of (some of) it."""

    job: str
    kind: Kind
    title: str
    sha256: str
    text: str
    places: bool
    sweep: Sweep


def meant(text: str, form: Form, kind: Kind | None, limits: ServiceLimits) -> Meant:
    """Read a design or a sweep. kind: which of them it has to be; None: what its tables say.

    Raises DesignError, with every fault found.
    """
    if form == "json":
        data = json_data(text)
        _refuse_unprintable(data)
        text = _written(data)
    data = data_of(text, "")
    _refuse_unprintable(data)
    found: Kind = kind or ("sweep" if any(key in data for key in _SWEEP_KEYS) else "design")
    return _sweep(text, data, limits) if found == "sweep" else _design(text, data, limits)


# -- JSON --------------------------------------------------------------------------------------------------------------


def json_data(text: str) -> dict[str, Any]:
    """JSON text as plain data, numbers read exactly. Raises DesignError for what a TOML file could not say either."""
    refuse_crowded(text, "", ":,[{")
    try:
        data = json.loads(text, parse_float=exact_float, parse_constant=_no_constant, object_pairs_hook=_once_each)
    except json.JSONDecodeError as fault:
        raise single("", None, f"not valid JSON: {fault.msg} at line {fault.lineno}, column {fault.colno}") from None
    except DesignError:
        raise
    except ValueError:
        raise single("", None, "not usable JSON: a number has too many digits") from None
    except RecursionError:
        raise single("", None, "not usable JSON: lists or objects are nested too deeply") from None
    if not isinstance(data, dict):
        raise single("", data, "must be an object with the tables of a design file")
    refuse_unsayable(data, "")
    return data


def _no_constant(word: str) -> None:
    raise single("", None, f"not usable JSON: {word} is no number")


def _once_each(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    table = dict(pairs)
    if len(table) < len(pairs):
        counts = Counter(key for key, _ in pairs)
        twice = next(key for key, count in counts.items() if count > 1)
        raise single("", None, f"not usable JSON: {show(twice)} stands twice in one object")
    return table


def _written(data: dict[str, Any]) -> str:
    try:
        return tomli_w.dumps(data)
    except RecursionError:
        raise single("", None, "not usable JSON: lists or objects are nested too deeply") from None
    except (TypeError, ValueError) as fault:
        raise single("", None, f"cannot be said in a design file: {fault}") from None


# -- both --------------------------------------------------------------------------------------------------------------


def _refuse_unprintable(data: dict[str, Any]) -> None:
    """Refuse null, and text with characters that no page, drawing or file could hold."""
    try:
        for path, value in _leaves(data):
            if value is None:
                raise single(path, None, "is null; leave out what is not wanted")
            if isinstance(value, str) and not _holdable(value):
                raise single(path, value, "has characters that cannot be printed")
    except RecursionError:
        raise single("", None, "lists or tables are nested too deeply") from None


def _holdable(text: str) -> bool:
    """No surrogates, no control characters but ends of lines and tabs, no code points that are no characters."""
    return text.isprintable() or not any(
        (char < " " and char not in "\n\t\r") or "\x7f" <= char < "\xa0" or "\ud800" <= char <= "\udfff"
        or ord(char) & 0xFFFE == 0xFFFE for char in text
    )  # fmt: skip


def _leaves(value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    if isinstance(value, dict):
        for key, item in value.items():
            below = f"{path}.{key}" if path else key
            if not _holdable(key):
                yield path, key
            yield from _leaves(item, below)
    elif isinstance(value, list):
        for index, item in enumerate(value):
            yield from _leaves(item, f"{path}[{index}]")
    else:
        yield path, value


def _design(text: str, data: dict[str, Any], limits: ServiceLimits) -> Meant:
    design = design_from_data(data, "")
    if "time_limit_s" in data.get("search", {}) and design.time_limit_s > limits.solve_seconds:
        raise _too_long("search.time_limit_s", design.time_limit_s, limits)
    sha256 = design.sha256()
    point = Point(named(sha256), {}, text, design.title, sha256, design.time_limit_s)
    meaning = sha256 if design.wire == Wire() else _hash([sha256, asdict(design.wire)])
    sweep = Sweep(meaning[:ID_DIGITS], design.title, text, None, None, {"design": sha256}, (point,), 0, SweepLimits())
    return Meant(sweep.name, "design", design.title, sha256, text, design.fit.directions is not None, sweep)


def _sweep(text: str, data: dict[str, Any], limits: ServiceLimits) -> Meant:
    if isinstance(data.get("base"), dict):
        raise single("base", None, "is no table; the tables of the design stand at the top, as [bodies] and [rings]")
    if "base" in data:
        raise single("base", data["base"], "names a file, and none is opened here; write the tables of the design here")
    sweep = sweep_from_data(data, text, "", "Sweep", most_points=limits.most_points)
    _refuse_long(sweep, limits)
    told = sweep.limits
    sha256 = _hash([sweep.meaning(), told.point_s, told.memory_mb])
    places = any(_has_places(point) for point in _different_places(sweep))
    return Meant(sha256[:ID_DIGITS], "sweep", sweep.title, sha256, text, places,
                 replace(sweep, name=sha256[:ID_DIGITS]))  # fmt: skip


def _refuse_long(sweep: Sweep, limits: ServiceLimits) -> None:
    """Refuse limits of time that are wished for and beyond ours; where none is, ours holds."""
    wished = sweep.limits.point_s
    if wished is not None and wished > limits.solve_seconds:
        raise _too_long("limits.point_s", wished, limits)
    if wished is None:
        base = "time_limit_s" in sweep.data["base"].get("search", {})
        for point in sweep.points:
            told = base or any(field.split(".")[0] == "search" and "time_limit_s" in f"{field} {value}"
                               for field, value in point.settings.items())  # fmt: skip
            if told and point.time_limit_s > limits.solve_seconds:
                raise _too_long("search.time_limit_s", point.time_limit_s, limits)


def _too_long(field: str, seconds: float, limits: ServiceLimits) -> DesignError:
    return single(field, seconds, f"must be at most {limits.solve_seconds:g} s here")


def _different_places(sweep: Sweep) -> tuple[Point, ...]:
    """The points that must be looked at to know whether any has places: all where that is varied, else one."""
    varied = {field.split(".")[0] for point in sweep.points for field in point.settings}
    return sweep.points if varied.intersection(_PLACED_BY) else sweep.points[:1]


def _has_places(point: Point) -> bool:
    return parse_design(point.text).fit.directions is not None


def _hash(value: Any) -> str:
    return hashlib.sha256(json.dumps(value, sort_keys=True, default=str).encode()).hexdigest()
