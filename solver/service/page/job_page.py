"""The page of a job: what its address asks for, the table of solutions, the plot."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from solver.batch.sweep.table import is_interrupted
from solver.design.ranges import RANK_KEYS
from solver.service.jobs.job import JobView
from solver.service.jobs.jobs import Jobs
from solver.service.kept.explanations import kept_origin
from solver.service.kept.query import whole
from solver.service.kept.results import RankQuery
from solver.service.page import wording
from solver.service.page.plot import Plot, Shown, plot
from solver.service.page.rendering import rendered

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
    compare: "point.rank" of the solutions that were chosen, of other jobs "job.point.rank"."""

    by: str
    falling: bool
    most: dict[str, str]
    wrong: tuple[str, ...]
    text: str
    compare: tuple[str, ...]
    page: int

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
    return rendered(
        "job.html",
        locked=locked,
        job=view,
        asked=asked,
        listed=listed,
        columns=COLUMNS if _counts_new(listed) else COLUMNS[:-1],
        counts_new=_counts_new(listed),
        orders=any(row["solution"]["orders"] != 1 for row in listed.rows),
        origin=kept_origin(jobs.folder(view.id)),
        plot=_plotted(jobs, view.id, asked) if listed.drawn is None else plot(listed.drawn),
        limits=NUMBERS,
        twice=jobs.twice(view.id),
        points=_barren(jobs, view),
    )


COLUMNS = (  # rank key, heading, what it is
    ("error", "Error, %", "worst error"),
    ("parts", "Parts", "rings, arbor gears and arbors"),
    ("jigs", "Jigs", "different gears"),
    ("teeth", "Teeth", "all teeth"),
    ("largest", "Largest", "teeth of the largest arbor gear"),
    ("envelope", "Envelope, mm", "radius of the circle around everything, drive included"),
    ("new_gears", "New gears", "gears still to be made"),  # where that is asked for
)


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


def _counts_new(listed: Listed) -> bool:
    """Whether it is told of some solution how many gears are still to be made."""
    return any(row["solution"].get("new_gears") is not None for row in listed.rows)


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
