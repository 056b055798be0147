"""The page of a job: what its address asks for, the table of solutions, two of them side by side, the plot."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from solver.batch.sweep.table import is_interrupted
from solver.design.ranges import RANK_KEYS
from solver.service.jobs.job import JobView
from solver.service.jobs.jobs import Jobs
from solver.service.kept.certificates import certificates_in
from solver.service.kept.explanations import kept_origin
from solver.service.kept.query import whole
from solver.service.kept.results import RankQuery, Results
from solver.service.page import wording
from solver.service.page.fronts import ShownFront, front_of_design, front_of_sweep
from solver.service.page.plot import Plot, Shown, plot
from solver.service.page.points import PointsPage, points_page
from solver.service.page.rendering import rendered
from solver.service.page.rows import COLUMNS, Row, columns_of, row_of

ROWS_SHOWN = 25
BARREN_SHOWN = 50
PLOTTED = 2000  # of the best solutions, and all that no other one beats
READ_FOR_TEXT = 2000  # of the best solutions, where a text is looked for in them
MOST_TEXT = 200
_DONE = ("solved", "stopped", "failed")
NUMBERS = ("error", "parts", "jigs")  # what the table can be limited by


@dataclass(frozen=True)
class Asked:
    """What the address of a job's page asks for. most: text as typed, by rank key; wrong: those that are no numbers;
    compare: "point.rank" of the solutions that were chosen, of other jobs "job.point.rank"; page, points: which page
    of the solutions and of the points."""

    by: str
    falling: bool
    most: dict[str, str]
    wrong: tuple[str, ...]
    text: str
    compare: tuple[str, ...]
    page: int
    points: int

    @classmethod
    def of(cls, items: list[tuple[str, str]]) -> Asked:
        """The last word on each counts; anything that makes no sense is as if it were not there."""
        said = dict(items)
        by = said.get("by", "error")
        most = {key: said[key].strip() for key in NUMBERS if said.get(key, "").strip()}
        return cls(
            by=by.removeprefix("-") if by.removeprefix("-") in RANK_KEYS else "error",
            falling=by.startswith("-"),
            most=most,
            wrong=tuple(key for key, value in most.items() if _number(value) is None),
            text=said.get("text", "")[:MOST_TEXT].strip(),
            compare=tuple(dict.fromkeys(value for key, value in items if key == "compare"))[:20],
            page=max(whole(said.get("page", "1")), 1),
            points=max(whole(said.get("points", "1")), 1),
        )

    @property
    def limits(self) -> dict[str, float]:
        """The limits that make sense."""
        return {key: number for key, value in self.most.items() if (number := _number(value)) is not None}


def _number(text: str) -> float | None:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        return None
    return value if 0 <= value < 1e12 else None


@dataclass(frozen=True)
class Listed:
    """The rows of a page of the table; total: how many there are in all; partly: a text was looked for in the best of
    them alone; drawn: where a text was looked for, all with it."""

    rows: list[dict[str, Any]]
    total: int
    partly: bool
    pages: int
    drawn: tuple[Shown, ...] | None = None

    @property
    def names(self) -> frozenset[str]:
        """ "point.rank" of its rows."""
        return frozenset(f"{row['point']}.{row['rank']}" for row in self.rows)


def _listed(jobs: Jobs, job: str, asked: Asked) -> Listed:
    keys = (asked.by, *(key for key in ("error", "parts") if key != asked.by))
    if asked.text:
        found = jobs.ranked(job, RankQuery(keys, asked.limits, limit=READ_FOR_TEXT))
        words = asked.text.lower().replace(",", " ").split()
        rows = [row for row in found.rows if _has(wording.searched(row), words)]
        drawn = tuple(Shown(row["point"], row["rank"], row["solution"]["worst_error_pct"], row["solution"]["parts"])
                      for row in rows)  # fmt: skip
        if asked.falling:
            rows.reverse()
        first = (asked.page - 1) * ROWS_SHOWN
        page, partly = rows[first : first + ROWS_SHOWN], found.total > READ_FOR_TEXT
        return Listed(page, len(rows), partly, _pages(len(rows)), drawn)
    first = (asked.page - 1) * ROWS_SHOWN
    if not asked.falling:
        found = jobs.ranked(job, RankQuery(keys, asked.limits, offset=first, limit=ROWS_SHOWN))
        return Listed(found.rows, found.total, False, _pages(found.total))
    total = jobs.ranked(job, RankQuery(keys, asked.limits, limit=0)).total
    last = max(total - first, 0)
    start = max(last - ROWS_SHOWN, 0)
    rows = jobs.ranked(job, RankQuery(keys, asked.limits, offset=start, limit=last - start)).rows
    return Listed(rows[::-1], total, False, _pages(total))


def _has(text: str, words: list[str]) -> bool:
    """Whether each of the words is the beginning of one in the text."""
    return all(re.search(rf"(?<!\w){re.escape(word)}", text) for word in words)


def _pages(total: int) -> int:
    return max(-(-total // ROWS_SHOWN), 1)


def job_page(jobs: Jobs, view: JobView, asked: Asked, locked: bool) -> bytes:
    """As UTF-8. locked: whether a token is needed here."""
    listed = _listed(jobs, view.id, asked)
    now = datetime.now(UTC)
    told = jobs.told(view.id, lambda results: _told(view, asked, listed, results))
    return rendered(
        "job.html",
        locked=locked,
        job=view,
        told=told,
        now=now.isoformat(timespec="milliseconds"),
        elapsed=None if view.began is None else max((now - datetime.fromisoformat(view.began)).total_seconds(), 0.0),
        nothing=not (listed.total or asked.most or asked.text),
        resumable=view.state in ("stopped", "failed") or (view.state == "complete" and not view.proven),
        asked=asked,
        listed=listed,
        columns=told.columns,
        ranked_by=next(what for key, _, what in COLUMNS if key == asked.by),
        certificates=jobs.told(view.id, certificates_in),
        origin=kept_origin(jobs.folder(view.id)),
        plot=_plotted(jobs, view.id, asked) if listed.drawn is None else plot(listed.drawn),
        limits=NUMBERS,
        points=_barren(jobs, view),
    )


@dataclass(frozen=True)
class Told:
    """What stands on the page besides: columns and rows of the table, the front, the points of a sweep; units: "mm" or
    "in"; bound: below which there is no error, of a design that was not solved to its end [percent]."""

    columns: tuple[tuple[str, str, str], ...]
    rows: list[Row]
    front: ShownFront | None
    points: PointsPage | None
    units: str
    bound: float | None


def _told(view: JobView, asked: Asked, listed: Listed, results: Results) -> Told:
    columns = columns_of(row["solution"] for row in listed.rows)
    rows = [row_of(view.id, row, results, [key for key, _, _ in columns]) for row in listed.rows]
    if view.kind == "sweep":
        points = points_page(results, asked.points)
        return Told(columns, rows, front_of_sweep(view.id, results), points, results.units, None)
    point = results.points[0]
    front = front_of_design(view.id, point["point"], point["status"], point["front"] or [], results)
    return Told(columns, rows, front, None, results.units, None if point["proven"] else point["bound_worst_error_pct"])


@dataclass(frozen=True)
class Barren:
    """Points that are done and of which no solution was found: how many, of how many it is proven that there is none,
    and the first of them."""

    count: int
    proven: int
    first: list[dict[str, Any]]


def _barren(jobs: Jobs, view: JobView) -> Barren:
    points = jobs.points(view.id) if view.finished else []
    done = [point for point in points if point["state"] in _DONE and not is_interrupted(point)]
    found = [point for point in done if not point["solutions"]]
    return Barren(len(found), sum(point["state"] == "solved" for point in found), found[:BARREN_SHOWN])


def _plotted(jobs: Jobs, job: str, asked: Asked) -> Plot | None:
    """The best solutions within the limits, and all that no other one beats in error and parts."""
    shown = {}
    for query in (
        RankQuery(("error", "parts"), asked.limits, limit=PLOTTED),
        RankQuery(("error", "parts"), asked.limits, front=("error", "parts"), limit=PLOTTED),
    ):
        columns = ("point_id", "rank", "worst_error_pct", "parts")
        for row in jobs.figures(job, query).select(columns).to_pylist():
            name = row["point_id"], row["rank"]
            shown[name] = Shown(*name, row["worst_error_pct"], row["parts"])
    return plot(list(shown.values()))
