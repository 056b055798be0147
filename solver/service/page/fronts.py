"""The front of a job as the choices that it is: a few solutions, each better in something than all others."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from solver.service.kept.results import RankQuery, Results
from solver.service.page import wording
from solver.service.page.rows import Row, figure, row_of, value_of

MOST = 40
SWEPT = ("error", "parts")  # the front of a sweep whose designs ask for none
HEADINGS = {"error": "Error, %", "parts": "Parts", "jigs": "Jigs", "teeth": "Teeth", "largest": "Largest gear, teeth",
            "envelope": "Radius", "new_gears": "New gears"}  # fmt: skip
BEST = {"error": "least error", "parts": "fewest parts", "jigs": "fewest jigs", "teeth": "fewest teeth",
        "largest": "smallest largest gear", "envelope": "smallest radius", "new_gears": "fewest new gears"}  # fmt: skip


@dataclass(frozen=True)
class FrontChoice:
    """A point of the front. values: by the front's keys; best: what no other one is better in, "" for those between."""

    row: Row
    values: tuple[str, ...]
    best: str


@dataclass(frozen=True)
class ShownFront:
    """keys: headings; proven: whether it is the whole front of a design, proven; more: how many are left out."""

    headings: tuple[str, ...]
    words: str
    choices: tuple[FrontChoice, ...]
    proven: bool
    more: int


def front_of_design(job: str, point: str, status: str | None, ranks: list[int], results: Results) -> ShownFront | None:
    """The front that a design asked for; None where it asked for none or has none."""
    keys = results.said(point).front
    if not keys or not ranks:
        return None
    return _shown(job, keys, RankQuery((keys[0],), point=point, ranks=frozenset(ranks)), results, status == "optimal")


def front_of_sweep(job: str, results: Results) -> ShownFront | None:
    """What no other solution found beats, of all points; None where that is no choice."""
    first = next(iter(results.points), None)
    keys = (results.said(first["point"]).front if first is not None else ()) or SWEPT
    shown = _shown(job, keys, RankQuery(keys, front=keys, once=True), results, False)
    return shown if len(shown.choices) > 1 else None


def _shown(job: str, keys: tuple[str, ...], query: RankQuery, results: Results, proven: bool) -> ShownFront:
    """The first MOST of what is asked for; of the others only the figures are read."""
    found = results.ranked(replace(query, limit=MOST))
    least = {key: _least(key, query, results) for key in keys}
    choices = []
    for told in found.rows:
        row = row_of(job, told, results)
        best = [BEST[key] for key in keys if _value(told["solution"], key) == least[key]]
        values = tuple(figure(key, told["solution"], results.units) for key in keys)
        choices.append(FrontChoice(row, values, " and ".join(best)))
    words = _joined([wording.KEYS[key] for key in keys])
    return ShownFront(tuple(HEADINGS[key] for key in keys), words, tuple(choices), proven, found.total - len(choices))


def _least(key: str, query: RankQuery, results: Results) -> float:
    """The least value of a key: that of a front is the least of all. Infinite where there is none."""
    first = results.figures(replace(query, by=(key,), front=(), limit=1)).to_pylist()
    return _value(first[0], key) if first else float("inf")


def _value(solution: Mapping[str, Any], key: str) -> float:
    value = value_of(key, solution)
    return float("inf") if value is None else float(value)


def _joined(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
