"""Stored results of a job as they are asked for: its points, its ranked solutions, one of them. Of a job that goes on,
what is there so far."""

from __future__ import annotations

import json
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from solver.answer.document import SolutionAnswer
from solver.batch.ranking import Shelf, shelved
from solver.batch.store.errors import StoreError
from solver.batch.store.parts import KEYS
from solver.batch.store.runs import solution_from_row
from solver.batch.sweep.run import load_sweep
from solver.design.design import Design
from solver.files.load import parse_design
from solver.service.errors import NoSuchSolution, NotNow
from solver.service.kept.said import Said, said_in

_KEPT = 4
_FRESH_S = 1.0
_ANSWERS, _ANSWER_BYTES = 16, 1 << 19  # that are kept of one run; 50 solutions with all they hold have 300 kB


@dataclass(frozen=True)
class RankQuery:
    """by: rank keys in order, none: by point and rank; most: greatest value by rank key; where: dotted field of the
    design file and its value as text; front: keep only what no other solution beats in all of these keys; once: and
    only the first of what is alike in them; point: whose solutions alone, all unless told; ranks: within their points,
    of these alone, all unless told."""

    by: tuple[str, ...] = ("error", "parts")
    most: dict[str, float] = field(default_factory=dict)
    where: tuple[tuple[str, str], ...] = ()
    front: tuple[str, ...] = ()
    offset: int = 0
    limit: int = 50
    point: str = ""
    ranks: frozenset[int] = frozenset()
    once: bool = False


@dataclass(frozen=True)
class Ranked:
    """table: the columns of `ringwright.ranking`, a row for each solution that is shown; total: how many there are;
    of: the shelf that they are of; chosen: their rows there."""

    table: pa.Table
    total: int
    of: Shelf
    chosen: np.ndarray

    @cached_property
    def units(self) -> list[str]:
        """The unit of each one's design, "mm" or "in"."""
        return self.of.units(self.chosen)

    @cached_property
    def rows(self) -> list[dict[str, Any]]:
        """Each solution as `rank --json` says it, with its rank within its point beside it."""
        return [told_of(row) for row in self.table.to_pylist()]


def told_of(row: dict[str, Any]) -> dict[str, Any]:
    """A solution for a reader, from a row of `Ranked.table`."""
    return {
        **{name: row[name] for name in ("title", "status", "config_sha256")},
        "point": row["point_id"],
        "rank": row["rank"],
        "settings": json.loads(row["settings"]),
        "solution": solution_from_row(row).model_dump(mode="json"),
    }


class Results:
    """The results of one run, read once. Raises StoreError where a file is damaged."""

    def __init__(self, folder: Path) -> None:
        self._folder = self.folder = folder
        self._shelf = Shelf([shelved(folder)])
        self._lock = threading.Lock()
        self._answers: OrderedDict[str, bytes] = OrderedDict()

    @cached_property
    def points(self) -> list[dict[str, Any]]:
        """Every point, in the file's order."""
        return [_point(row) for row in load_sweep(self._folder).points]

    @property
    def twice(self) -> frozenset[str]:
        """Points of which all that is proven was proven a second time."""
        return self._shelf.runs[0].twice

    def said(self, point: str) -> Said:
        """What the design file of a point says. Raises KeyError."""
        return said_in(self.design_text(point))

    @property
    def units(self) -> str:
        """The unit of lengths, "mm" or "in", which is that of its first point."""
        return next((self.said(point).units for point in self._shelf.runs[0].designs), "mm")

    def point_named(self, name: str) -> str:
        """The point of that name, or whose name begins so. Raises NoSuchSolution."""
        names = [one for one in self._shelf.runs[0].designs if one.startswith(name)]
        if len(names) != 1:
            raise NoSuchSolution("there is no such point" if not names else "more than one point begins like that")
        return names[0]

    def point(self, name: str) -> dict[str, Any]:
        """Its row of `points`. Raises NoSuchSolution and StoreError."""
        whole = self.point_named(name)
        return next(one for one in self.points if one["point"] == whole)

    def design_text(self, point: str) -> str:
        """The design file of a point. Raises KeyError."""
        return self._shelf.runs[0].designs[point]

    def answer(self, key: str, made: Callable[[], bytes]) -> bytes:
        """What was made under that key before, or is made now: many readers ask for the same."""
        found = self.kept(key)
        if found is None:
            found = made()
            if len(found) <= _ANSWER_BYTES:
                with self._lock:
                    self._answers[key] = found
                    while len(self._answers) > _ANSWERS:
                        self._answers.popitem(last=False)
        return found

    def kept(self, key: str) -> bytes | None:
        """What was made under that key before, if it is among those that were asked for last."""
        with self._lock:
            if key in self._answers:
                self._answers.move_to_end(key)
            return self._answers.get(key)

    def ranked(self, query: RankQuery) -> Ranked:
        chosen, total = self._chosen(query)
        return Ranked(self._shelf.table(chosen), total, self._shelf, chosen)

    def figures(self, query: RankQuery) -> pa.Table:
        """Point, rank and the figures of the same solutions, of which nothing more is read."""
        return self._shelf.runs[0].deciding.take(self._chosen(query)[0])

    def _chosen(self, query: RankQuery) -> tuple[np.ndarray, int]:
        """The rows that are shown, in order, and how many there are."""
        rows = self._shelf.within(query.most, query.where, {query.point} if query.point else None)
        if query.ranks:
            every = self._shelf.runs[0].deciding["rank"].to_numpy()
            rows = rows[np.isin(every[rows], list(query.ranks))]
        if query.front:
            rows = self._shelf.front(rows, query.front)
        rows = self._shelf.ordered(rows, query.by)
        if query.front and query.once:
            values = np.stack([self._shelf.figure(key)[rows] for key in query.front], axis=1)
            rows = rows[np.sort(np.unique(values, axis=0, return_index=True)[1])]
        return rows[query.offset : query.offset + query.limit], len(rows)

    def solution(self, point: str, rank: int) -> tuple[Design, SolutionAnswer, dict[str, Any]]:
        """A point (its name or the beginning of it) and its solution of that rank: the design, the solution, and its
        row. Raises NoSuchSolution, and NotNow where the design was read otherwise when it was solved."""
        run = self._shelf.runs[0]
        name = self.point_named(point)
        deciding = run.deciding
        here = pc.and_(pc.equal(deciding["point_id"], name), pc.equal(deciding["rank"], rank))
        found = np.flatnonzero(here.to_numpy())
        if not len(found):
            raise NoSuchSolution(f"the point has no solution {rank}")
        row = self._shelf.table(found).to_pylist()[0]
        design = parse_design(run.designs[name], "")
        if design.sha256() != row["config_sha256"]:
            raise NotNow("it was solved by another version, which reads its design otherwise; submit the design again")
        return design, solution_from_row(row), row


def warm() -> None:
    """Have pyarrow load now what it loads with the first array that it makes, and not while readers wait."""
    pa.chunked_array([[0.0]]).to_numpy()


def _point(row: dict[str, Any]) -> dict[str, Any]:
    told = ("title", "state", "reason", "status", "proven", "bound_worst_error_pct", "solutions", "front")
    best = {key: row[f"best_{key}"] for key in KEYS}
    if best["new_gears"] is None:  # not asked for
        del best["new_gears"]
    return {
        "point": row["point_id"],
        "settings": json.loads(row["settings"]),
        **{name: row[name] for name in told},
        "proofs": json.loads(row["proofs"]) if row["proofs"] else None,
        "best": None if best["worst_error_pct"] is None else best,
    }


class ResultsCache:
    """The results that were asked for last. Of a job that goes on, they may be a second old.

    order: tells a job from one that was removed before, which may have had the same folder and version."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._found: OrderedDict[tuple[Path, int], tuple[int, float, Results]] = OrderedDict()
        self._reading: dict[tuple[Path, int], threading.Lock] = {}

    def of(self, folder: Path, order: int, version: int, over: bool) -> Results:
        """The results in that folder. version: changes when they do; over: they are to be those of that version.
        Raises StoreError."""
        key = folder, order
        with self._lock:
            reading = self._reading.setdefault(key, threading.Lock())
        with reading:
            kept = self.kept(folder, order, version, over)
            if kept is not None:
                return kept
            results = _read(folder)
            with self._lock:
                self._found[key] = (version, time.monotonic(), results)
                self._found.move_to_end(key)
                while len(self._found) > _KEPT:
                    old, _ = self._found.popitem(last=False)
                    self._reading.pop(old, None)
        return results

    def kept(self, folder: Path, order: int, version: int, over: bool) -> Results | None:
        """The same, where they need not be read. At once."""
        key = folder, order
        with self._lock:
            kept = self._found.get(key)
            if kept is None or (kept[0] != version and (over or time.monotonic() - kept[1] >= _FRESH_S)):
                return None
            self._found.move_to_end(key)
            return kept[2]

    def forget(self, folder: Path, order: int) -> None:
        with self._lock:
            self._found.pop((folder, order), None)
            self._reading.pop((folder, order), None)


def _read(folder: Path) -> Results:
    """A run may be at the point of becoming finished: then it is looked at once more."""
    for _ in range(3):
        try:
            return Results(folder)
        except StoreError:
            time.sleep(0.1)
    return Results(folder)
