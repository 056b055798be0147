"""Which points of a stored sweep are meant: by the beginnings of their names, or the best ones."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from math import inf
from typing import Any

from solver.batch.ranking import COLUMN
from solver.batch.store.errors import StoreError
from solver.batch.sweep.run import SweepRun
from solver.files.load import parse_design

_USUAL = ("error", "parts")


def names_begun(begun: Iterable[str], names: Iterable[str]) -> list[str]:
    """The names that begin so, one for each of `begun`. Raises StoreError where none does, or several do."""
    chosen = []
    for told in begun:
        found = sorted({name for name in names if name.startswith(told.lower())})
        if len(found) != 1:
            what = (
                "no point's name begins so" if not found else f"{len(found)} points' names begin so; write more of it"
            )
            raise StoreError(f"--point {told}: {what}")
        chosen += found
    return chosen


def named_points(run: SweepRun, begun: Sequence[str]) -> list[dict[str, Any]]:
    """The points whose names begin so, a row of `points.parquet` for each. Raises StoreError."""
    points = {point["point_id"]: point for point in run.points}
    return [points[name] for name in names_begun(begun, list(points))]


def best_points(run: SweepRun) -> list[dict[str, Any]]:
    """The points that have a solution, those with the best ones first: by the rank keys of their designs where these
    are alike, else by error and parts; then as they stand in the sweep. Raises DesignError where a design no longer
    reads."""
    found = [point for point in run.points if point["best_worst_error_pct"] is not None]
    keys = _rank_keys(found)

    def worth(point: dict[str, Any]) -> tuple[float, ...]:
        figures = [point[f"best_{COLUMN[key]}"] for key in keys]
        return *(inf if figure is None else figure for figure in figures), point["ordinal"]

    return sorted(found, key=worth)


def _rank_keys(points: Sequence[dict[str, Any]]) -> Sequence[str]:
    """Rank keys, and behind them those that `rank` orders by unless told otherwise. Points are of one base design, so
    that they have one order unless it is varied."""
    if not points or any(_varies_rank(point) for point in points):
        return _USUAL
    own = parse_design(points[0]["design"], points[0]["point_id"]).rank
    return *own, *(key for key in _USUAL if key not in own)


def _varies_rank(point: dict[str, Any]) -> bool:
    return any(path == "search" or path.startswith("search.rank") for path in json.loads(point["settings"]))
