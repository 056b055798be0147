"""Solutions as rows of a table: their figures, their gears, what is known of them, and where they lead."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from solver.answer.standing import orders_text, standing
from solver.batch.store.identity import SHORT
from solver.service.kept.results import Results
from solver.service.page import wording
from solver.service.page.driven import drive_words
from solver.service.page.varied import varied_words

COLUMNS = (  # rank key, heading, what it is
    ("error", "Error, %", "worst error"),
    ("parts", "Parts", "rings, arbor gears and arbors"),
    ("jigs", "Jigs", "different gears"),
    ("teeth", "Teeth", "all teeth"),
    ("largest", "Largest", "teeth of the largest arbor gear"),
    ("envelope", "Radius", "radius of the circle around everything, drive included"),
    ("new_gears", "New gears", "gears that are still to be made"),
)


_ALWAYS = ("error", "parts", "jigs", "teeth", "largest", "envelope")
_FIELD = {"error": "worst_error_pct", "envelope": "envelope_mm"}


@dataclass(frozen=True)
class OneBody:
    """A ring as a reader asks for it. error: of its period in percent, positive where it is too long, None for a blank;
    worst: whether none is further off."""

    name: str
    teeth: int
    blank: bool
    error: float | None
    worst: bool
    reverse: bool


@dataclass(frozen=True)
class Row:
    """A solution. name: "point.rank"; anchor: of its row; address: of its model; api: below which picture and sheets
    are; orders: in how many its links can stand, "" where in one alone; drive: what turns it, "" where nothing
    does; proof: what is known of it; varied: what sets its point apart."""

    name: str
    point: str
    rank: int
    anchor: str
    address: str
    api: str
    proof: str
    proven: bool
    figures: tuple[str, ...]
    rings: str
    links: str
    orders: str
    drive: str
    bodies: tuple[OneBody, ...]
    varied: str
    places: bool

    @property
    def reverses(self) -> bool:
        """Whether any of its rings turns the other way."""
        return any(body.reverse for body in self.bodies)


def row_of(job: str, told: Mapping[str, Any], results: Results, keys: Iterable[str] = ()) -> Row:
    """A row from a solution as `Ranked.rows` has it. keys: of its figures, in the order of the columns."""
    point, rank, solution = told["point"], told["rank"], told["solution"]
    said = results.said(point)
    return Row(
        name=f"{point}.{rank}",
        point=point,
        rank=rank,
        anchor=anchor(point, rank),
        address=f"/jobs/{job}/{point}/{rank}",
        api=f"/api/jobs/{job}/solutions/{point}/{rank}",
        proof=standing(told["status"], rank, point in results.twice, said.keep),
        proven=told["status"] == "optimal",
        figures=tuple(figure(key, solution, results.units) for key in keys),
        rings=wording.ring_words(solution["rings"]),
        links=wording.links_words(solution["links"]),
        orders=_orders(solution),
        drive=drive_words(solution.get("drive"), said.cranked, said.wished_s),
        bodies=_bodies(solution),
        varied=varied_words(told["settings"]),
        places=said.places,
    )


def anchor(point: str, rank: int) -> str:
    """The id of a solution's row on a page."""
    return f"s-{point[:SHORT]}-{rank}"


def value_of(key: str, told: Mapping[str, Any]) -> float | None:
    """The value of a rank key of a solution, or of the best of a point; None where it has none."""
    value: float | None = told.get(_FIELD.get(key, key))
    return value


def figure(key: str, told: Mapping[str, Any], units: str) -> str:
    """The same as a reader has it. units: of lengths, "mm" or "in"."""
    value = value_of(key, told)
    if key == "error":
        return wording.percent(value)
    return wording.length(value, units) if key == "envelope" else "–" if value is None else str(value)


def columns_of(solutions: Iterable[Mapping[str, Any]]) -> tuple[tuple[str, str, str], ...]:
    """The columns of a table of these solutions: those that are told of all, and others that are told of some."""
    told = list(solutions)
    return tuple(
        one for one in COLUMNS
        if one[0] in _ALWAYS or any(value_of(one[0], solution) is not None for solution in told)
    )  # fmt: skip


def _orders(solution: Mapping[str, Any]) -> str:
    orders = solution.get("orders", 1)
    return "" if orders == 1 else orders_text(orders, solution["orders_settled"])


def _bodies(solution: Mapping[str, Any]) -> tuple[OneBody, ...]:
    errors = [ring["error_pct"] or 0.0 for ring in solution["rings"]]
    worst = max(errors) * (1 - 1e-12)
    return tuple(
        OneBody(
            ring["name"], ring["teeth"], ring["blank"], ring["period_error_pct"], 0 < error >= worst,
            ring["sense"] == "reverse",
        )
        for ring, error in zip(solution["rings"], errors, strict=True)
    )  # fmt: skip
