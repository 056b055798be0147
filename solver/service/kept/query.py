"""What a query says of filters and orders, in the words of `ringwright rank`."""

from __future__ import annotations

from collections.abc import Sequence

from solver.batch.ranking import COLUMN, most_of, where_of
from solver.batch.units import limit_in_mm
from solver.design.errors import single, suggestion
from solver.service.kept.results import RankQuery


def rank_query(by: str, most: Sequence[str], where: Sequence[str], front: str, offset: int, limit: int) -> RankQuery:
    """by, front: rank keys with commas; most: "error=1.5"; where: "bodies.set=saturn". Raises DesignError, whose fields
    are those of the query."""
    limits = {}
    for word in most:
        try:
            key, greatest, unit = most_of(word)
        except ValueError:
            raise single("most", word, "needs a number; write it like error=1.5") from None
        if key in limits:
            raise single("most", word, f"{key} has a limit already")
        limits[_key(key, "most")] = limit_in_mm(greatest, unit or "mm", ())
    said = []
    for word in where:
        try:
            said.append(where_of(word))
        except ValueError:
            told = "needs a field of the design file and a value; write it like bodies.set=saturn"
            raise single("where", word, told) from None
    return RankQuery(_keys(by, "by") or ("error", "parts"), limits, tuple(said), _keys(front, "front"), offset, limit)


def _keys(words: str, field: str) -> tuple[str, ...]:
    """Rank keys, each once. Raises DesignError."""
    keys = tuple(_key(word.strip(), field) for word in words.split(",")) if words.strip() else ()
    if len(set(keys)) < len(keys):
        raise single(field, words, "names a rank key twice")
    return keys


def _key(word: str, field: str) -> str:
    if word not in COLUMN:
        near = suggestion(word, COLUMN) or "; the keys are " + ", ".join(COLUMN)
        raise single(field, word, f"no such rank key{near}")
    return word


def whole(text: str) -> int:
    """A whole number that stands in an address; 0 for anything else."""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else 0
