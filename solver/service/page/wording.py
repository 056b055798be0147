"""Figures and states as the page says them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from solver.batch.sweep.table import PointState
from solver.design.errors import so_many
from solver.design.links import link_word
from solver.service.jobs.job import JobView
from solver.service.page.varied import varied_words
from solver.words.lengths import Lengths
from solver.words.numbers import percent_at_least
from solver.words.settings import settings_words

KEYS = {
    "error": "error",
    "parts": "parts",
    "jigs": "jigs",
    "teeth": "teeth",
    "largest": "largest gear",
    "envelope": "radius",
    "new_gears": "new gears",
}
POINT_STATES = {
    "waiting": "waiting",
    "solving": "being solved",
    "solved": "proven",  # best, or that there is none
    "stopped": "stopped unproven",
    "failed": "failed",
}
STATUSES = {
    "optimal": "proven best",
    "feasible": "not proven",
    "infeasible": "proven: none exists",
    "unknown": "nothing found, nothing proven",
}


def percent(value: float | None, signed: bool = False) -> str:
    """An error in percent with the figures that count: "0", "0.01234", "1.2345", "12.35"; "–" where there is none.
    signed: whether one above 0 has its sign too."""
    if value is None:
        return "–"
    if value == 0:
        return "0"
    size = abs(value)
    text = f"{size:.2g}" if size < 0.001 else f"{size:.{_decimals(size)}f}"
    return ("−" if value < 0 else "+" if signed else "") + text


def at_least(bound: float | None) -> str:
    """A lower bound in percent, cut off, since more than the number is not proven; "–" where none is known."""
    return "–" if bound is None else percent_at_least(bound)


def _decimals(size: float) -> int:
    return 5 if size < 0.1 else 4 if size < 10 else 2


def degrees(turns: float | str | None) -> str:
    """A place on a circle [turns] in degrees to a tenth, below 360; "–" where there is none."""
    if turns is None:
        return "–"
    told = f"{float(turns) % 1.0 * 360.0:.1f}"
    return f"{'0.0' if told == '360.0' else told}°"


def length(value: float | None, units: str = "mm") -> str:
    """A length [mm] in the unit of the design, "mm" to a tenth or "in" to a hundredth, without its name; "–" where
    there is none."""
    return "–" if value is None else Lengths(units).bare(value, units, 1)


def points_words(points: Mapping[Any, int], total: int) -> str:
    """How many points are in each state, those that are empty left out: "2 proven, 1 waiting"."""
    said = [f"{points[state]} {word}" for state, word in POINT_STATES.items() if points.get(state)]
    return f"{so_many(total, 'point')}: {', '.join(said)}" if said else so_many(total, "point")


def none_words(job: JobView) -> str:
    """What is known of the solutions of a job that has none to show."""
    solved = job.points[PointState.SOLVED]
    if not job.over:
        return "No solution yet."
    if job.proven:
        return "There is no solution." if job.kind == "design" else "No point has a solution; this is proven of each."
    if solved:
        return f"No solution was found. Of {solved} of {job.total} points it is proven that there is none."
    return "No solution was found. Whether there is one is not known."


def first_large(text: str) -> str:
    """The same with a capital letter at its beginning, all else as it is."""
    return text[:1].upper() + text[1:]


def barren_words(count: int, proven: int) -> str:
    """What is known of points that are done and of which no solution was found; proven: of how many that there is
    none."""
    if proven == count:
        return "1 point has no solution" if count == 1 else f"{count} points have no solution"
    points = so_many(count, "point")
    of_some = f"; of {proven} it is proven that there is none" if proven else ""
    return f"no solution was found of {points}{of_some}"


def best_words(job: JobView) -> tuple[str, str]:
    """What is known of the best solution of a job, said before its error and after it."""
    if not job.over:
        return "best error so far", ""
    if job.state == "stopped":
        return "best error so far", ", not proven"
    return "best error", "" if job.proven else ", not proven"


def link_words(link: Mapping[str, Any]) -> str:
    """A link: wheel and pinion, and its third gears."""
    thirds = "".join(f" + {count}" for count in link["thirds"])
    kind = "" if link["kind"] == "plain" else f" ({link['kind']})"
    return f"{link['wheel']} / {link['pinion']}{thirds}{kind}"


def links_words(links: list[Mapping[str, Any]]) -> str:
    """Every link from the inside out, as the command line has them: "15/8p5, 12/9"."""
    return ", ".join(link_word(link["kind"], link["wheel"], link["pinion"], link["thirds"]) for link in links)


def ring_words(rings: list[Mapping[str, Any]]) -> str:
    """The teeth of the rings, blanks in brackets: "24, (30), 36"."""
    return ", ".join(f"({ring['teeth']})" if ring["blank"] else str(ring["teeth"]) for ring in rings)


def searched(row: Mapping[str, Any]) -> str:
    """Everything of a ranked row that a reader may look for, in one text, small letters."""
    solution = row["solution"]
    words = [row["title"], row["status"], STATUSES[row["status"]], row["point"], settings_words(row["settings"])]
    words += [f"{ring['name']} {ring['teeth']}" for ring in solution["rings"]]
    words += [ring_words(solution["rings"]), *(link_words(link) for link in solution["links"])]
    words += [links_words(solution["links"]), varied_words(row["settings"])]
    return " · ".join(words).lower()
