"""CSV for spreadsheets and programs. Text that a spreadsheet would take for a formula is marked as text.

A spreadsheet runs what begins with = + - @ (or their wide forms), also behind a tab or a line break, and some split a
line at semicolons. An apostrophe before it makes it text (common practice, as the OWASP page "CSV Injection" advises).
Numbers are left as they are, also negative ones.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache

_NUMBER = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]+)?")
# What a spreadsheet passes over before a formula: space of every kind, control characters, marks without width.
_PASSED = r"[\s\x00-\x1f\x7f\u00ad\u200b-\u200f\u2060\ufeff]*"
_FORMULA = re.compile(rf"(?:^|(?<=[;\t\r\n]))(?={_PASSED}[=+\-@\uff1d\uff0b\uff0d\uff20])|^(?=[\t\r\n])")


def as_text(cell: object) -> object:
    """A cell as it is written: text that could run gets an apostrophe where it would begin to; all else as it is."""
    return _marked(cell) if isinstance(cell, str) else cell


@lru_cache(maxsize=1024)  # most cells of a table stand in it many times
def _marked(cell: str) -> str:
    return cell if _NUMBER.fullmatch(cell) else _FORMULA.sub("'", cell)


def csv_lines(rows: Iterable[Sequence[object]]) -> Iterator[str]:
    """Rows as lines of CSV (RFC 4180 quoting, lines ended by a line feed), one at a time."""
    line = io.StringIO()
    writer = csv.writer(line, lineterminator="\n")
    for row in rows:
        writer.writerow([as_text(cell) for cell in row])
        yield line.getvalue()
        line.seek(0)
        line.truncate()


def csv_text(rows: Iterable[Sequence[object]]) -> str:
    """Rows as CSV, the first of them the headings."""
    return "".join(csv_lines(rows))
