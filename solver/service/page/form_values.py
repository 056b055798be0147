"""What is typed in a field of the form, as a value of the design file, and such a value as it would be typed.

Whatever is typed either means one value, or is refused with a hint; so a value of a file goes into a field only where
what would be read from there again is the same value.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal
from typing import Any

from solver.design.exact import NotExact, parse_exact

TEXT, NUMBER, NUMBERS, SPAN, GAUGE, FLAG, KEYS = "text", "number", "numbers", "span", "gauge", "flag", "keys"
SECTORS, DRAWER = "sectors", "drawer"  # parts of the circle; gears in the drawer, so many of each tooth count
SPANS = "a number, a list “18, 24”, or a span “18 to 60 step 6”"
_WHOLE = re.compile(r"[+-]?\d{1,15}")
_DECIMAL = re.compile(r"[+-]?\d{1,15}\.\d{1,15}")
_COMMA = re.compile(r"([+-]?\d{1,15}),(\d{1,15})")
_SPAN = re.compile(r"(\d{1,9})\s*(?:to|-|–|\.\.)\s*(\d{1,9})(?:\s*step\s*(\d{1,9}))?")
_SECTOR = re.compile(r"([+-]?\d[\d.,/]*?)\s*(?:to|-|–|\.\.)\s*([+-]?\d[\d.,/]*)")
_GEARS = re.compile(r"(?:(\d{1,9})\s*of\s*)?(\d{1,9})")
_PARTED = re.compile(r";|,(?!\d)|,(?=\d+\s*of)")  # between entries: a comma within a number parts nothing


class Unread(ValueError):
    """What is typed has no meaning, or two; the message says what to type instead."""


def read(kind: str, text: str) -> Any:
    """The value that is meant, None where nothing is typed. What is no number stays text, for the reader of files to
    refuse in its own words. Raises Unread."""
    bare = text.strip()
    if not bare:
        return None
    if kind == NUMBER:
        return _number(bare)
    if kind == GAUGE:
        return bare if re.search("[A-Za-z#]", bare) else _number(bare)
    if kind == NUMBERS:
        return _numbers(bare)
    if kind == SPAN:
        return _span(bare)
    if kind in (SECTORS, DRAWER):
        return [_READ[kind](part.strip()) for part in _PARTED.split(bare) if part.strip()] or bare
    if kind == FLAG:
        return {"true": True, "false": False}.get(bare, bare)
    if kind == KEYS:
        return [key.strip() for key in bare.split(",")]
    return bare


def said(kind: str, value: Any) -> str | None:
    """A value of a file as it would be typed in a field of that kind; None where that field cannot say it."""
    text = _said(kind, value)
    if text is None:
        return None
    try:
        return text if _same(read(kind, text), value) else None
    except Unread:
        return None


def _said(kind: str, value: Any) -> str | None:
    if isinstance(value, bool) or kind == FLAG:
        return str(value).lower() if isinstance(value, bool) and kind == FLAG else None
    if isinstance(value, int | Decimal):
        return f"{value:f}" if isinstance(value, Decimal) else str(value)
    if isinstance(value, str):
        return value
    if isinstance(value, dict) and kind == SPAN and {"min", "max"} <= value.keys() <= {"min", "max", "step"}:
        step = f" step {value['step']}" if "step" in value else ""
        return f"{value['min']} to {value['max']}{step}"
    if isinstance(value, list) and kind in (SECTORS, DRAWER):
        entries = [_SAY[kind](one) for one in value]
        return None if None in entries or not entries else "; ".join(one for one in entries if one is not None)
    if isinstance(value, list) and kind in (SPAN, NUMBERS, KEYS):
        if kind == KEYS:
            return ", ".join(value) if all(isinstance(one, str) for one in value) else None
        told = [_said(NUMBER, one) for one in value]
        return None if None in told or not told else ", ".join(one for one in told if one is not None)
    return None


def _same(one: Any, other: Any) -> bool:
    """Whether two values mean the same in a file: numbers are read exactly, also as text; a list of one is that one."""
    if isinstance(one, bool) or isinstance(other, bool):
        return one is other
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(_same(one[key], other[key]) for key in one)
    if isinstance(one, list) or isinstance(other, list):
        some, more = (value if isinstance(value, list) else [value] for value in (one, other))
        return len(some) == len(more) and all(map(_same, some, more))
    if isinstance(one, dict) or isinstance(other, dict):
        return False
    if one == other:
        return True
    try:
        return parse_exact(one) == parse_exact(other)
    except NotExact:
        return False


def _number(bare: str) -> int | Decimal | str:
    """Of a number with a comma its comma is the decimal one, but where it might as well part thousands."""
    comma = _COMMA.fullmatch(bare)
    if comma:
        whole, part = comma.groups()
        if len(part) == 3 and whole.lstrip("+-") != "0":
            raise Unread(f"may be {whole}.{part} or {whole}{part}; write one of them")
        return Decimal(f"{whole}.{part}")
    if _WHOLE.fullmatch(bare):
        return int(bare)
    return Decimal(bare) if _DECIMAL.fullmatch(bare) else bare


def _numbers(bare: str) -> Any:
    """One number, or several behind commas with a space, or behind semicolons."""
    if ";" in bare:
        return [_number(part.strip()) for part in bare.split(";") if part.strip()]
    comma = _COMMA.fullmatch(bare)
    if comma:
        raise Unread(f"may be one number or two; write {comma[1]}.{comma[2]}, or “{comma[1]}; {comma[2]}”")
    if "," in bare:
        return [_number(part.strip()) for part in bare.split(",") if part.strip()]
    return _number(bare)


def _span(bare: str) -> Any:
    found = _SPAN.fullmatch(bare)
    if found:
        low, high, step = (None if part is None else int(part) for part in found.groups())
        return {"min": low, "max": high} | ({} if step is None else {"step": step})
    parts = [part.strip() for part in re.split("[,;]", bare) if part.strip()]
    if not parts:
        return bare
    told = [int(part) if _WHOLE.fullmatch(part) else part for part in parts]
    wrong = next((part for part in told if isinstance(part, str)), None)
    if wrong is not None:
        raise Unread(f"“{wrong[:40]}” is no whole number; write {SPANS}")
    return told if len(told) > 1 or re.search("[,;]", bare) else told[0]


def _sector(bare: str) -> list[int | Decimal | str]:
    found = _SECTOR.fullmatch(bare)
    if not found:
        raise Unread(f"“{bare[:40]}” is no part of the circle; write “250 to 290”, or several: “250 to 290; 10 to 30”")
    return [_number(end) for end in found.groups()]


def _gears(bare: str) -> dict[str, int]:
    found = _GEARS.fullmatch(bare)
    if not found:
        raise Unread(f"“{bare[:40]}” says no gears; write “3 of 12; 16”: three gears of 12 teeth, one of 16")
    count, teeth = found.groups()
    return {"teeth": int(teeth)} | ({} if count is None else {"count": int(count)})


def _say_sector(value: Any) -> str | None:
    ends = [_said(NUMBER, one) for one in value] if isinstance(value, list) and len(value) == 2 else [None]
    return None if None in ends else f"{ends[0]} to {ends[1]}"


def _say_gears(value: Any) -> str | None:
    if not isinstance(value, dict) or not {"teeth"} <= value.keys() <= {"teeth", "count"}:
        return None
    return f"{value['count']} of {value['teeth']}" if "count" in value else f"{value['teeth']}"


_READ: dict[str, Callable[[str], Any]] = {SECTORS: _sector, DRAWER: _gears}
_SAY: dict[str, Callable[[Any], str | None]] = {SECTORS: _say_sector, DRAWER: _say_gears}
