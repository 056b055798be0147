"""Values that are written otherwise than TOML and this program read them, and how to write them."""

from __future__ import annotations

import re
from fractions import Fraction

_UNITS = r"""mm|cm|in|inch|inches|ft|"|''|″|%|°|deg|s|rpm"""
_COMMA = re.compile(r"(?<![\w.,])[+-]?(?:\d{1,3}(?:\.\d{3})+|\d+),(?P<decimals>\d+)(?![\w,.])")
_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")
_FRACTION = re.compile(
    r"(?<![\w./])(?:(?P<whole>\d{1,9})(?:[ \t]+|-))?(?P<over>\d{1,9})[ \t]*/[ \t]*(?P<under>\d{1,9})(?![\w/])"
)
_UNIT = re.compile(rf"(?<![\w.])(?P<number>[+-]?\d+(?:\.\d+)?(?:/\d+)?)[ \t]*(?P<unit>{_UNITS})(?![\w])", re.IGNORECASE)
_POINT = re.compile(r"(?<![\w.])(?P<sign>[+-]?)(?:\.(?P<after>\d+)|(?P<before>\d+)\.)(?![\w.])")
_TRUTH = re.compile(r"(?<![\w.])(?P<word>True|TRUE|False|FALSE|yes|no|Yes|No|on|off)(?![\w.])")
_WORD = re.compile(r"(?<![\w.\"'])(?P<word>[A-Za-z][\w -]*)")
_COLON = re.compile(r"^\s*(?P<key>[\w.-]+)\s*:\s*")


def written_fraction(text: str) -> str:
    """How a fraction is written, with its decimals where these are few: '"3/32", or as 0.09375'; "" for no fraction."""
    found = _FRACTION.fullmatch(text.strip())
    if found is None or not int(found["under"]):
        return ""
    value = int(found["whole"] or 0) + Fraction(int(found["over"]), int(found["under"]))
    decimals = f"{float(value):.9g}"
    known = f", or as {decimals}" if Fraction(decimals) == value else ""
    return f'"{value}"{known}'


def point_for_comma(text: str) -> str:
    """A number with a decimal comma as it is written with a point: "12.5" for "12,5"; "" for anything else."""
    text = text.strip()
    if not _COMMA.fullmatch(text):
        return ""
    whole, _, decimals = text.partition(",")
    return f"{whole.replace('.', '')}.{decimals}"


def hint_of_number(text: str) -> str:
    """How a number that cannot be read is written; "" where that is not known. text: as it stands between quotes."""
    if point := point_for_comma(text):
        return _pointed(text.strip(), point)
    if fraction := written_fraction(text):
        return f"a fraction is written as {fraction}"
    found = _UNIT.fullmatch(text.strip())
    return f"a number stands without its unit: {found['number']}" if found else ""


def hint_of_line(line: str, column: int) -> str:
    """The same of a line of TOML that cannot be read, at a column from 1; "" where it is not known."""
    at = column - 1
    if found := _covering(_COMMA, line, at):
        return _pointed(found[0], point_for_comma(found[0]))
    if (found := _covering(_FRACTION, line, at)) and (fraction := written_fraction(found[0])):
        return f"a fraction is written as text, {fraction}"
    if found := _covering(_UNIT, line, at):
        return f"a number stands without its unit: {found['number']}"
    if found := _covering(_POINT, line, at):
        return f"a digit stands on both sides of the point: {found['sign']}{found['before'] or 0}.{found['after'] or 0}"
    if found := _covering(_TRUTH, line, at):
        return f"write {'true' if found['word'].lower() in ('true', 'yes', 'on') else 'false'}"
    if found := _COLON.match(line):
        return f"write {found['key']} = and then the value"
    if (found := _WORD.match(line, at)) and "=" in line[:at]:
        return f'text stands in quotes: "{found["word"].strip()}"'
    return ""


def _pointed(text: str, point: str) -> str:
    thousands = f"; thousands without a comma: {text.replace(',', '')}" if _THOUSANDS.fullmatch(text) else ""
    return f"decimals stand behind a point: {point}{thousands}"


def _covering(pattern: re.Pattern[str], line: str, at: int) -> re.Match[str] | None:
    """What matches where the reader stopped, or just before it."""
    return next((found for found in pattern.finditer(line) if found.start() <= at <= found.end() + 1), None)
