"""The points of a sweep as a table, the best first, and the page of one of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from solver.batch.sweep.table import is_interrupted
from solver.service.jobs.job import JobView
from solver.service.jobs.jobs import Jobs
from solver.service.kept.results import RankQuery, Results
from solver.service.page import wording
from solver.service.page.fronts import ShownFront, front_of_design
from solver.service.page.rendering import rendered
from solver.service.page.rows import columns_of, figure, row_of
from solver.service.page.varied import varied_words

POINTS_SHOWN = 25
BEST_TOLD = ("error", "parts", "jigs", "envelope")  # of the best solution of a point
SOLUTIONS_SHOWN = 100


@dataclass(frozen=True)
class OnePoint:
    """A point. number: in the order of the file, from 1; varied: what sets it apart; kind: how its state is drawn;
    figures: of its best solution, none where it has none."""

    name: str
    number: int
    title: str
    varied: str
    kind: str
    state: str
    reason: str
    figures: tuple[str, ...]
    solutions: int
    bound: float | None


@dataclass(frozen=True)
class PointsPage:
    """A page of the table, of so many."""

    rows: tuple[OnePoint, ...]
    total: int
    page: int
    pages: int
    first: int


def points_page(results: Results, page: int) -> PointsPage:
    """Points by their best error, the least first; those without a solution follow in the file's order."""
    every = list(enumerate(results.points, start=1))
    every.sort(key=lambda pair: (pair[1]["best"] is None, pair[1]["best"]["worst_error_pct"] if pair[1]["best"] else 0))
    pages = max(-(-len(every) // POINTS_SHOWN), 1)
    page = min(page, pages)
    first = (page - 1) * POINTS_SHOWN
    rows = tuple(one_point(results, number, point) for number, point in every[first : first + POINTS_SHOWN])
    return PointsPage(rows, len(every), page, pages, first)


def one_point(results: Results, number: int, point: Mapping[str, Any]) -> OnePoint:
    kind, state = state_words(point)
    best = point["best"]
    return OnePoint(
        name=point["point"],
        number=number,
        title=point["title"],
        varied=varied_words(point["settings"]) or "as the file says",
        kind=kind,
        state=state,
        reason="" if is_interrupted(point) else point["reason"] or "",
        figures=() if best is None else tuple(figure(key, best, results.units) for key in BEST_TOLD),
        solutions=point["solutions"] or 0,
        bound=point["bound_worst_error_pct"],
    )


def state_words(point: Mapping[str, Any]) -> tuple[str, str]:
    """How the state of a point is drawn, and the state in words."""
    state, found = point["state"], point["solutions"]
    if is_interrupted(point):
        return "stopped", "interrupted, goes on later"
    if state == "solved":
        return ("proven", "best is proven") if found else ("none", "no solution, proven")
    if state == "stopped":
        return "open", "ended by a limit, not proven" if found else "ended by a limit, nothing found"
    return {"waiting": "waiting", "solving": "solving", "failed": "failed"}[state], wording.POINT_STATES[state]


def point_page(jobs: Jobs, view: JobView, named: str, locked: bool) -> bytes:
    """The page of a point, as UTF-8. Raises NoSuchSolution and StoreError."""

    def made(results: Results) -> bytes:
        found = results.point(named)
        name = found["point"]
        point = one_point(results, results.points.index(found) + 1, found)
        ranked = results.ranked(RankQuery((), point=name, limit=SOLUTIONS_SHOWN))
        columns = columns_of(row["solution"] for row in ranked.rows)
        keys = [key for key, _, _ in columns]
        front: ShownFront | None = front_of_design(view.id, name, found["status"], found["front"] or [], results)
        return rendered(
            "point.html", locked=locked, job=view, point=point, front=front, units=results.units, columns=columns,
            rows=[row_of(view.id, one, results, keys) for one in ranked.rows], total=ranked.total,
        )  # fmt: skip

    return jobs.told(view.id, made)
