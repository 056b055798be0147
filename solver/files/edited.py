"""A design file with some of its values changed, and all else left as it was written: order, comments, spaces."""

from __future__ import annotations

import re
from collections.abc import Iterator
from copy import deepcopy
from decimal import Decimal
from fractions import Fraction
from typing import Any

import tomli_w

from solver.design.errors import DesignError
from solver.files.load import design_from_data
from solver.files.text import data_of
from solver.files.toml_places import Path, TomlPlaces

_RATIO = re.compile(r"-?\d+(?:\.\d+)?(?:/\d+)?")


class _Gone:
    """Stands for a value that is left out."""


class NoPlace(Exception):
    """The text has no place for a value that can be told without reading it as a whole."""


def edited(text: str, then: dict[str, Any], name: str = "") -> str:
    """The text of a design file, changed so that it says what `then` says (data as TOML gives it).

    Only what differs is written anew; where that cannot be done value by value, the whole file is, without its
    comments. Either way the result is read again, and is the same design as `then`. Raises DesignError where the text
    or `then` is no design."""
    wanted = design_from_data(then, name).sha256()
    data = data_of(text, name)
    for one in (_tidied(data, then), then):
        try:
            found = _changed(text.replace("\r\n", "\n"), data, one)
            if design_from_data(data_of(found, name), name).sha256() == wanted:
                return found
        except (DesignError, NoPlace):
            continue
    return tomli_w.dumps(then)


def _tidied(before: Any, after: Any) -> Any:
    """The same, with numbers that are told as text ("641", "25/2") as the numbers they are, where they are new and can
    be told in decimals."""
    if after == before:
        return deepcopy(after)
    if isinstance(after, dict):
        known = before if isinstance(before, dict) else {}
        return {key: _tidied(known.get(key, _Gone), value) for key, value in after.items()}
    if isinstance(after, list):
        old = before if isinstance(before, list) and len(before) <= len(after) else []
        return [_tidied(old[at] if at < len(old) else _Gone, value) for at, value in enumerate(after)]
    if isinstance(after, str) and _RATIO.fullmatch(after):
        value = Fraction(after)
        if value.denominator == 1:
            return int(value)
        told = Decimal(value.numerator) / Decimal(value.denominator)
        return told if Fraction(told) == value else after
    return after


def _changed(text: str, before: dict[str, Any], after: dict[str, Any]) -> str:
    for path, value in _differences(before, after, ()):
        text = without(text, path) if value is _Gone else _with(text, path, value)
    return text


def _differences(before: Any, after: Any, path: Path) -> Iterator[tuple[Path, Any]]:
    """Each value that is another one, new, or gone."""
    if isinstance(before, dict) and isinstance(after, dict):
        yield from (((*path, key), _Gone) for key in before if key not in after)
        for key, value in after.items():
            if key in before or (not path and isinstance(value, dict)):  # a table that is new has a header
                yield from _differences(before.get(key, {}), value, (*path, key))
            else:
                yield (*path, key), value
    elif _tables(before) and _tables(after) and 0 < len(before) <= len(after):
        for at, (one, other) in enumerate(zip(before, after, strict=False)):
            yield from _differences(one, other, (*path, at))
        yield from (((*path, at), after[at]) for at in range(len(before), len(after)))
    elif before != after:
        yield path, after


def _tables(value: Any) -> bool:
    return isinstance(value, list) and all(isinstance(one, dict) for one in value)


def told(value: Any) -> str:
    """A value as TOML, on one line."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {told(one)}" for key, one in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(told, value)) + "]"
    if isinstance(value, Decimal):
        return f"{value:f}"
    return tomli_w.dumps({"k": value}).removeprefix("k = ").rstrip("\n")


def _with(text: str, path: Path, new: Any) -> str:
    places = TomlPlaces(text)
    found = places.of(path)
    if found is not None:
        return text[: found.value] + told(new) + text[found.end :]
    table, key = path[:-1], path[-1]
    if isinstance(key, int):
        return _with_item(text, places, table, new)
    line = f"{key} = {told(new)}"
    within = places.of(table)
    if within is not None:  # in braces
        if text[within.value] != "{":
            raise NoPlace
        inside = text[within.value + 1 : within.end - 1].rstrip()
        at = within.value + 1 + len(inside)
        return f"{text[:at]}{', ' if inside.strip() else ''}{line}{text[at:]}"
    header = next((one for one in places.headers if one.path == table), None)
    beside = [one for one in places.written if one.path[:-1] == table and not one.inline]
    if header is not None:
        own = [one for one in beside if one.start > header.start]
        at = max((one.end for one in own), default=header.end)
        return _line_after(text, at, line)
    if beside and beside[-1].last > beside[-1].start:  # with dotted keys
        return _line_after(text, beside[-1].end, f"{text[beside[-1].start : beside[-1].last]}{line}")
    if not table:
        return f"{line}\n{text}"
    if any(isinstance(part, int) for part in table):
        raise NoPlace
    lead = "" if not text or text.endswith("\n") else "\n"
    return f"{text}{lead}\n[{'.'.join(map(str, table))}]\n{line}\n"


def _with_item(text: str, places: TomlPlaces, path: Path, new: dict[str, Any]) -> str:
    """A list of tables with one more at its end, whose own line it has where the one before has."""
    written = places.of(path)
    if written is None:
        return _with_table(text, places, path, new)
    last = [one for one in places.written if one.path[:-1] == path][-1]
    comma = places.comma_after(last.end)
    if comma is None:
        text, comma = f"{text[: last.end]},{text[last.end :]}", last.end
    if "\n" in text[comma : written.end]:
        return _line_after(text, comma, f"{told(new)},")
    return f"{text[: comma + 1]} {told(new)}{text[comma + 1 :]}"


def _with_table(text: str, places: TomlPlaces, path: Path, new: dict[str, Any]) -> str:
    """The same where each of the tables has a header."""
    ends = [one.end for one in places.headers if one.path[: len(path)] == path]
    ends += [one.end for one in places.written if one.path[: len(path)] == path]
    if not ends or any(isinstance(part, int) for part in path):
        raise NoPlace
    lines = [f"{key} = {told(value)}" for key, value in new.items()]
    return _line_after(text, max(ends), f"[[{'.'.join(map(str, path))}]]", *lines)


def _line_after(text: str, at: int, *lines: str) -> str:
    """New lines behind the one with that place, as far in as that one."""
    end = text.find("\n", at)
    lead = re.match(r"[ \t]*", text[text.rfind("\n", 0, at) + 1 :])
    new = "".join(f"{lead[0] if lead else ''}{line}\n" for line in lines)
    return f"{text}\n{new}" if end < 0 else text[: end + 1] + new + text[end + 1 :]


def without(text: str, path: Path) -> str:
    """The text without a value, or without a table and all that is in it, however it is written: comments that stand on
    lines of their own stay. Raises NoPlace where there is no such value."""
    places = TomlPlaces(text)
    found = places.of(path)
    if found is not None and found.inline:
        after = re.match(r"[ \t]*,[ \t]*", text[found.end :])
        if after:
            return text[: found.start] + text[found.end + after.end() :]
        before = re.search(r"[ \t]*,?[ \t]*$", text[: found.start])
        return text[: before.start() if before else found.start] + text[found.end :]
    if found is not None:
        return _without_lines(text, found.start, found.end)
    below = [one for one in places.written if one.path[: len(path)] == path and not one.inline]
    headers = [one for one in places.headers if one.path[: len(path)] == path]
    gone = [(one.start, one.end) for one in below] + [(one.start, one.end) for one in headers]
    for start, end in sorted(gone, reverse=True):
        text = _without_lines(text, start, end)
    if not below and not headers:
        raise NoPlace
    return text


def _without_lines(text: str, start: int, end: int) -> str:
    """Without what stands there, and the rest of its lines."""
    begin, stop = text.rfind("\n", 0, start) + 1, text.find("\n", end)
    return text[:begin] + (text[stop + 1 :] if stop >= 0 else "")
