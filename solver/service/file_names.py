"""Names of files that a browser saves: the title of what is in them, safe for headers and for every file system."""

from __future__ import annotations

import unicodedata
from urllib.parse import quote

MOST = 80  # characters of a title
_UNNAMED = "design"


def file_name(title: str, ending: str, *more: object) -> str:
    """A title and what tells its files apart, as a file's name: letters and digits, all else as one hyphen; no more
    than MOST characters of the title."""
    words = [_plain(title)[:MOST].strip("-") or _UNNAMED, *(_plain(str(one)) for one in more)]
    return "-".join(word for word in words if word) + ending


def named(name: str, how: str = "attachment") -> dict[str, str]:
    """The header that names a file (RFC 6266): in ASCII, and where that is not all of it, whole as well (RFC 8187)."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    stem, _, ending = plain.rpartition(".")
    safe = f"{_plain(stem) or _UNNAMED}.{ending}" if stem or ending else _UNNAMED
    whole = "" if safe == name else f"; filename*=UTF-8''{quote(name, safe='')}"
    return {"content-disposition": f'{how}; filename="{safe}"{whole}'}


def _plain(text: str) -> str:
    """Letters, marks and digits of a text; apostrophes go, all else becomes one hyphen."""
    kept = [
        "" if char in "'’ʼ" else char if char == "." or unicodedata.category(char)[0] in "LMN" else "-"
        for char in unicodedata.normalize("NFC", text)
    ]
    return "-".join(part for part in "".join(kept).replace(".", "-").split("-") if part)
