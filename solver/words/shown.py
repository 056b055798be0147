"""Text that others wrote, as it may be shown: on one line, with nothing in it that is not seen.

A title can hold what moves a terminal's cursor, turns the text around it about, breaks the line or is not seen at all.
Such characters are shown as they are written in a string of TOML or JSON: \\n, \\u202e.
"""

from __future__ import annotations

import os
import re
import unicodedata
from pathlib import Path
from shlex import quote

# Letters and marks that are not seen (DerivedCoreProperties.txt of Unicode, Default_Ignorable_Code_Point).
_UNSEEN = "\u034f\u115f\u1160\u17b4\u17b5\u180b-\u180f\u3164\ufe00-\ufe0f\uffa0\U000e0100-\U000e01ef"
_CONTROLS = "\u0000-\u0009\u000b-\u001f\u007f-\u009f"
# The categories Cf, Cs, Zl and Zp, and what is no character.
_FORMATS = (
    "\u00ad\u0600-\u0605\u061c\u06dd\u070f\u0890\u0891\u08e2\u200b-\u200f\u2028-\u202e\u2060-\u206f\ud800-\udfff\ufeff"
    "\ufff0-\ufffb\ufffe\uffff\U000110bd\U000110cd\U00013430-\U0001343f\U0001bca0-\U0001bca3\U0001d173-\U0001d17a"
    "\U000e0000-\U000e00ff"
)
_UNSHOWN = re.compile(f"[{_CONTROLS}{_FORMATS}{_UNSEEN}]")
_BLANK = "\u2800"  # a Braille pattern without dots
_SHORT = {"\n": "\\n", "\r": "\\r", "\t": "\\t"}


def escaped(char: str) -> str:
    """A character as it is written in a string of JSON."""
    if char in _SHORT:
        return _SHORT[char]
    point = ord(char)
    if point < 0x10000:
        return f"\\u{point:04x}"
    point -= 0x10000
    return f"\\u{0xD800 + (point >> 10):04x}\\u{0xDC00 + (point & 0x3FF):04x}"


def shown_lines(text: str) -> str:
    """Text with every character that is not seen written out; lines stay lines."""
    if text.isascii() and text.replace("\n", "").isprintable():
        return text
    return _UNSHOWN.sub(lambda found: escaped(found[0]), text)


def shown(text: str) -> str:
    """The same on one line: line feeds are written out too."""
    return shown_lines(text).replace("\n", "\\n")


def pasted(path: Path) -> str:
    """A file's name as a word of a command line; what is not seen in it is written out as bash, ksh and zsh read it."""
    name = str(path) if not str(path).startswith("-") else f"./{path}"
    if shown(name) == name:
        return quote(name)
    plain = name.replace("\\", "\\\\").replace("'", "\\'")
    return "$'" + "".join(char if shown(char) == char else _bytes(char) for char in plain) + "'"


def _bytes(char: str) -> str:
    return "".join(f"\\x{byte:02x}" for byte in os.fsencode(char))


def seen(name: str) -> str:
    """What a reader sees of a name: names that differ in nothing else differ only in space, in how their letters are
    put together (Unicode normalisation form KC) or in characters that are not seen."""
    name = _UNSHOWN.sub(_in_place, unicodedata.normalize("NFKC", name)).replace(_BLANK, " ")
    return " ".join(unicodedata.normalize("NFKC", name).split())


def _in_place(found: re.Match[str]) -> str:
    return " " if found[0].isspace() else ""
