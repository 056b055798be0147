"""From a file's bytes to plain data: nothing that is read takes long, and every number is exact."""

from __future__ import annotations

import re
import tomllib
from decimal import Decimal
from pathlib import Path
from typing import Any

from solver.design.errors import show, single
from solver.words.misread import hint_of_line
from solver.words.shown import shown

MOST_BYTES = 1_000_000
MOST_KEY_PARTS = 100
MOST_MARKS = 200_000  # characters that begin keys, values and lines; each costs time to read
MOST_KEYS, MOST_KEY_CHARACTERS = 1000, 100  # of a table, and of a key
MOST_BITS = 14_000  # of an integer; Python writes out no more than 4300 digits
_MOST_HINTED = 300  # characters of a line that is looked at for a hint
_PLACE = re.compile(r"at line (?P<line>\d+), column (?P<column>\d+)")
_TOO_LONG = "not usable TOML: a number has too many digits"
_KEY_PART = r"""(?:[\w-]++|"(?:[^"\\\n]|\\.)*+"|'[^'\n]*+')"""
# A key of more parts than there may be; or what is passed over: texts and comments, for what is in them, and a key's
# part. A text that does not end is passed over as a whole, or it would be read again from every quote in it; one of
# several lines may end with two quotes more, which are its own.
_LONG_KEYS = re.compile(
    r"""(?s:"{3}(?:[^"\\]|\\.|"{1,2}(?!"))*+(?:"{3,5}|\\?\Z))|\#[^\n]*+"""
    r"""|(?s:'{3}(?:[^']|'{1,2}(?!'))*+(?:'{3,5}|\Z))"""
    rf"""|(?P<long>(?>(?:{_KEY_PART}[ \t]*+\.[ \t]*+){{{MOST_KEY_PARTS}}}))"""
    r"""|[\w-]++|"(?:[^"\\\n]|\\.)*+"?|'[^'\n]*+'?"""
)


def read_bytes(path: Path, most: int) -> bytes:
    """The first bytes of a file. Raises OSError, which names the file also where reading fails, not opening."""
    try:
        with path.open("rb") as stream:
            return stream.read(most)
    except OSError as fault:
        raise OSError(fault.errno, fault.strerror, str(path)) from None


def read_text(path: Path) -> str:
    """The file's text: UTF-8, at most a million bytes. Raises DesignError and OSError."""
    data = read_bytes(path, MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise single(
            "", None, f"the file is larger than {MOST_BYTES} bytes; a design file is a few kilobytes", str(path)
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = data.count(b"\n", 0, fault.start) + 1
        allowed = f"not UTF-8 text: byte 0x{data[fault.start]:02x} in line {line}; save the file as UTF-8"
        raise single("", None, allowed, str(path)) from None


def data_of(text: str, name: str) -> dict[str, Any]:
    """TOML text as plain data, numbers read exactly. Raises DesignError."""
    _refuse_long_keys(text, name)
    refuse_crowded(text, name)
    try:
        data = tomllib.loads(text.replace("\r\n", "\n"), parse_float=exact_float)
    except tomllib.TOMLDecodeError as fault:
        raise single("", None, f"not valid TOML: {_located(str(fault), text)}", name) from None
    except ValueError:
        raise single("", None, _TOO_LONG, name) from None
    except RecursionError:
        raise single("", None, "not usable TOML: lists or tables are nested too deeply", name) from None
    refuse_unsayable(data, name)
    return data


def refuse_crowded(text: str, name: str, marks: str = "\n=,[{.") -> None:
    """Refuse text that is all keys and values, far more than any design has, before it is read: counting is cheap.
    marks: the characters that are counted. Raises DesignError."""
    count = sum(map(text.count, marks))
    if count > MOST_MARKS:
        raise single("", None, f"more than {MOST_MARKS} keys, values and lines: {count} were counted", name)


def _refuse_long_keys(text: str, name: str) -> None:
    """Refuse what takes hours to read: the time for a dotted key grows with the square of its parts."""
    if all(line.count(".") < MOST_KEY_PARTS for line in text.split("\n")):
        return
    for found in _LONG_KEYS.finditer(text):
        if found["long"]:
            line = text.count("\n", 0, found.start()) + 1
            raise single("", None, f"not usable TOML: a key of more than {MOST_KEY_PARTS} parts in line {line}", name)


def refuse_unsayable(data: dict[str, Any], name: str) -> None:
    """Refuse integers that Python does not write out in decimal, in another base it reads them all the same; keys that
    are too long to be shown, and tables with far more keys than any has. Raises DesignError."""
    left: list[Any] = [data]
    while left:
        value = left.pop()
        if isinstance(value, int):
            if value.bit_length() > MOST_BITS:
                raise single("", None, _TOO_LONG, name)
        elif isinstance(value, dict):
            if len(value) > MOST_KEYS:
                raise single("", None, f"a table with {len(value)} keys; at most {MOST_KEYS}", name)
            for key in value:
                if len(key) > MOST_KEY_CHARACTERS:
                    raise single(
                        "", None, f"the key {show(key)} has {len(key)} characters; at most {MOST_KEY_CHARACTERS}", name
                    )
            left.extend(value.values())
        elif isinstance(value, list):
            left.extend(value)


def _located(message: str, text: str) -> str:
    """The parser's message on one line, its "end of document" replaced by that line and column."""
    lines = text.rstrip("\n").split("\n")
    end = f"at line {len(lines)}, column {len(lines[-1]) + 1}"
    told = " ".join(message.split()).replace("at end of document", end)
    place = _PLACE.search(told)
    if place is None or not 1 <= int(place["line"]) <= len(lines) or len(lines[int(place["line"]) - 1]) > _MOST_HINTED:
        return told
    hint = hint_of_line(lines[int(place["line"]) - 1], int(place["column"]))
    return f"{told}; {shown(hint)}" if hint else told


def exact_float(text: str) -> Decimal:
    """A TOML float as the Decimal it was written as; what Decimal cannot hold becomes NaN and is refused."""
    try:
        return Decimal(text)
    except ArithmeticError:
        return Decimal("NaN")
