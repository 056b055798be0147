"""Where everything stands in a TOML text: each key with its value and each table's header, by position.

The text is known to be valid (tomllib has read it), so that nothing is checked here; https://toml.io/en/v1.0.0.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass

Path = tuple[str | int, ...]  # names of tables and keys, and numbers of tables in lists of tables

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_TEXTS = re.compile(
    r'"""(?:[^"\\]|\\.|"{1,2}(?!"))*"{3,5}|\'{3}(?:[^\']|\'{1,2}(?!\'))*\'{3,5}|"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'', re.S
)
_BARE_VALUE = re.compile(r"[^,\]}#\n\r]*")


@dataclass(frozen=True)
class WrittenKey:
    """A key with its value. start: of the key; value: of the value, which ends at `end`; inline: within braces;
    last: where the last part of a dotted key begins. A table in braces that is an item of a list is one too, whose key
    is its number, which is not written: it begins where its value does."""

    path: Path
    start: int
    last: int
    value: int
    end: int
    inline: bool


@dataclass(frozen=True)
class TableHeader:
    """The header of a table, and where it stands."""

    path: Path
    start: int
    end: int


class TomlPlaces:
    """What a text has, in its order."""

    def __init__(self, text: str) -> None:
        self.written: list[WrittenKey] = []
        self.headers: list[TableHeader] = []
        self._text, self._at = text, 0
        self._counts: dict[Path, int] = {}
        table: Path = ()
        while self._past_blank() < len(text):
            if text[self._at] == "[":
                table = self._header()
            else:
                self._entry(table, inline=False)

    def of(self, path: Path) -> WrittenKey | None:
        """The key of that path."""
        return next((one for one in self.written if one.path == path), None)

    def comma_after(self, at: int) -> int | None:
        """Where the comma behind an item of a list stands that ends there, if there is one."""
        found = _BLANK.match(self._text, at)
        assert found is not None
        return found.end() if self._text.startswith(",", found.end()) else None

    def _past_blank(self) -> int:
        found = _BLANK.match(self._text, self._at)
        assert found is not None
        self._at = found.end()
        return self._at

    def _header(self) -> Path:
        start = self._at
        many = self._text.startswith("[[", start)
        self._at += 2 if many else 1
        path: Path = ()
        for name, _ in self._key():
            path = (*path, name)
            if path in self._counts:
                path = (*path, self._counts[path])
        if many:
            whole = path[:-1] if path and isinstance(path[-1], int) else path
            self._counts[whole] = self._counts.get(whole, -1) + 1
            path = (*whole, self._counts[whole])
        self._past_blank()
        self._at += 2 if many else 1
        self.headers.append(TableHeader(path, start, self._at))
        return path

    def _key(self) -> list[tuple[str, int]]:
        """The parts of a dotted key, and where each begins."""
        parts = []
        while True:
            self._past_blank()
            found = _TEXTS.match(self._text, self._at) or _BARE_KEY.match(self._text, self._at)
            assert found is not None
            name = found[0] if found[0][0] not in "\"'" else str(tomllib.loads(f"k = {found[0]}")["k"])
            parts.append((name, self._at))
            self._at = found.end()
            self._past_blank()
            if not self._text.startswith(".", self._at):
                return parts
            self._at += 1

    def _entry(self, table: Path, inline: bool) -> None:
        start = self._at
        key = self._key()
        self._at += 1  # the sign =
        value = self._past_blank()
        path = (*table, *(name for name, _ in key))
        number = len(self.written)
        self._value(path)
        self.written.insert(number, WrittenKey(path, start, key[-1][1], value, self._at, inline))

    def _value(self, path: Path) -> None:
        opening = self._text[self._at]
        if opening == "[":
            self._items(path)
        elif opening == "{":
            self._at += 1
            while self._text[self._past_blank()] != "}":
                self._entry(path, inline=True)
                if self._text[self._past_blank()] == ",":
                    self._at += 1
            self._at += 1
        else:
            found = _TEXTS.match(self._text, self._at) or _BARE_VALUE.match(self._text, self._at)
            assert found is not None
            self._at += len(found[0].rstrip())

    def _items(self, path: Path) -> None:
        self._at += 1
        number = 0
        while self._text[start := self._past_blank()] != "]":
            before = len(self.written)
            self._value((*path, number))
            if self._text[start] == "{":
                self.written.insert(before, WrittenKey((*path, number), start, start, start, self._at, inline=True))
            number += 1
            if self._text[self._past_blank()] == ",":
                self._at += 1
        self._at += 1
