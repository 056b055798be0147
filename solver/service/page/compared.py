"""Up to four solutions side by side: of one job, of points of a sweep, or of different jobs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from solver.answer.document import SolutionAnswer
from solver.answer.standing import standing
from solver.design.design import Design
from solver.service.errors import NoSuchJob, NoSuchSolution, NotNow
from solver.service.jobs.job import JobView
from solver.service.jobs.jobs import Jobs
from solver.service.kept.query import whole
from solver.service.kept.results import Results, told_of
from solver.service.kept.said import wished_seconds
from solver.service.page import wording
from solver.service.page.asked_for import AskedFor, asked_for, fields_that_differ
from solver.service.page.driven import drive_words
from solver.service.page.fronts import HEADINGS
from solver.service.page.motion import motion
from solver.service.page.rows import columns_of, figure, value_of
from solver.service.page.turning import Turning, turning

MOST = 4
_NONE = "–"


@dataclass(frozen=True)
class Chosen:
    """A solution that is compared. name: "JOB.POINT.RANK"; settings: what is varied in its point; twice: all that is
    proven of its point was proven a second time; asks: what its design file asks for."""

    name: str
    job: JobView
    point: str
    rank: int
    status: str
    twice: bool
    settings: dict[str, Any]
    design: Design
    solution: SolutionAnswer
    asks: AskedFor

    @property
    def address(self) -> str:
        return f"/jobs/{self.job.id}/{self.point}/{self.rank}"

    def name_within(self, job: str) -> str:
        """Its name on the page of a job: without the job where it is that one's."""
        return self.name.removeprefix(f"{job}.")

    @property
    def proof(self) -> str:
        """What is proven of it."""
        return standing(self.status, self.rank, self.twice, self.design.keep)

    @property
    def drive(self) -> str:
        """What turns it."""
        drive = self.solution.drive
        words = drive_words(None if drive is None else drive.model_dump(mode="json"), self.design.cranked,
                            wished_seconds(self.design))  # fmt: skip
        return words or _NONE


@dataclass(frozen=True)
class ComparedLine:
    """A line of the table: a cell for each solution, and whether they differ."""

    what: str
    cells: tuple[str, ...]

    @property
    def differs(self) -> bool:
        return len(set(self.cells)) > 1


@dataclass(frozen=True)
class ComparedGroup:
    title: str
    lines: tuple[ComparedLine, ...]


@dataclass(frozen=True)
class DrawnToScale:
    """A front view, all of them at one scale. box: of the drawing, left, top, width and height."""

    drawing: Turning
    box: tuple[float, float, float, float]
    note: str


def names_of(items: Sequence[tuple[str, str]]) -> list[str]:
    """What an address names, each once."""
    return list(dict.fromkeys(value.strip() for key, value in items if key == "a" and value.strip()))


def chosen_names(job: str, items: Sequence[tuple[str, str]]) -> list[str]:
    """What the form of a job's page names: "POINT.RANK" of that job, or "JOB.POINT.RANK" of another one."""
    names = (value.strip() for key, value in items if key == "compare" and value.strip())
    return list(dict.fromkeys(name if name.count(".") > 1 else f"{job}.{name}" for name in names))


def choose(jobs: Jobs, names: Sequence[str]) -> tuple[list[Chosen], list[str]]:
    """The solutions of these names, "JOB.RANK" or "JOB.POINT.RANK", and why others are not there. Raises StoreError."""
    found: list[Chosen] = []
    missing: list[str] = []
    for name in names:
        try:
            one = _chosen(jobs, name)
        except (NoSuchJob, NoSuchSolution, NotNow) as fault:
            missing.append(f"{name[:100]}: {fault}")
            continue
        if all(one.name != other.name for other in found):
            found.append(one)
    return found, missing


def _chosen(jobs: Jobs, name: str) -> Chosen:
    job, _, rest = name.partition(".")
    point, _, rank = rest.rpartition(".")
    view = jobs.view(job)

    def told(results: Results) -> Chosen:
        design, solution, row = results.solution(point, whole(rank))
        named = row["point_id"]
        return Chosen(
            f"{job}.{named}.{solution.rank}", view, named, solution.rank, row["status"], named in results.twice,
            told_of(row)["settings"], design, solution, asked_for(results.design_text(named)),
        )  # fmt: skip

    return jobs.told(job, told)


# -- the table ---------------------------------------------------------------------------------------------------------


def groups(chosen: Sequence[Chosen]) -> tuple[ComparedGroup, ...]:
    """All that is compared, line by line."""
    return tuple(
        group for group in (
            ComparedGroup("Figures", tuple(_figures(chosen))),
            ComparedGroup("Errors by body, %", tuple(_errors(chosen))),
            ComparedGroup("Rings", tuple(_rings(chosen))),
            ComparedGroup("Links: wheel / pinion", tuple(_links(chosen))),
            ComparedGroup("What the designs ask for, where they differ", tuple(
                ComparedLine(field, cells) for field, cells in fields_that_differ([one.asks for one in chosen])
            )),
        ) if group.lines
    )  # fmt: skip


def _figures(chosen: Sequence[Chosen]) -> list[ComparedLine]:
    told = [one.solution.model_dump(mode="json") for one in chosen]
    units = "in" if all(one.design.units == "in" for one in chosen) else "mm"
    drives = tuple(one.drive for one in chosen)
    return [
        *(_figure_line(key, told, units) for key, _, _ in columns_of(told)),
        ComparedLine("Proof", tuple(one.proof for one in chosen)),
        *([ComparedLine("Drive", drives)] if set(drives) != {_NONE} else []),
    ]


def _figure_line(key: str, told: Sequence[Mapping[str, Any]], units: str) -> ComparedLine:
    """A rank key of solutions as they are told; where they differ, the least is said to be it."""
    values = [value_of(key, one) for one in told]
    known = {value for value in values if value is not None}
    least = min(known) if len(known) > 1 else None
    what = f"{HEADINGS[key]}, {units}" if key == "envelope" else HEADINGS[key]
    return ComparedLine(what, tuple(
        figure(key, one, units) + (", least" if value is not None and value == least else "")
        for one, value in zip(told, values, strict=True)
    ))  # fmt: skip


def _errors(chosen: Sequence[Chosen]) -> list[ComparedLine]:
    told = [
        {ring.name: wording.percent(ring.period_error_pct, True) for ring in one.solution.rings if not ring.blank}
        for one in chosen
    ]
    bodies = dict.fromkeys(name for one in told for name in one)
    return [ComparedLine(name, tuple(one.get(name, _NONE) for one in told)) for name in bodies]


def _rings(chosen: Sequence[Chosen]) -> list[ComparedLine]:
    most = max(len(one.solution.rings) for one in chosen)
    return [ComparedLine(f"Ring {at}", tuple(_ring(one, at) for one in chosen)) for at in range(most)]


def _ring(one: Chosen, at: int) -> str:
    if at >= len(one.solution.rings):
        return _NONE
    ring = one.solution.rings[at]
    if ring.blank:
        return f"{ring.teeth}, blank"
    return f"{ring.teeth}, {ring.name}{', reverse' if ring.sense == 'reverse' else ''}"


def _links(chosen: Sequence[Chosen]) -> list[ComparedLine]:
    most = max(len(one.solution.links) for one in chosen)
    told = [[wording.link_words(link.model_dump(mode="json")) for link in one.solution.links] for one in chosen]
    return [
        ComparedLine(f"Link {at}", tuple(links[at] if at < len(links) else _NONE for links in told))
        for at in range(most)
    ]


# -- pictures ----------------------------------------------------------------------------------------------------------


def drawn(chosen: Sequence[Chosen]) -> tuple[DrawnToScale, ...]:
    """A front view of each, so that a millimetre is as long in all of them."""
    moving = [motion(one.design, one.solution) for one in chosen]
    drawings = [turning(one) for one in moving]
    half = max(one.box[2] / 2 / one.scale for one in drawings)
    top = max(-one.box[1] / one.scale for one in drawings)
    bottom = max((one.box[1] + one.box[3]) / one.scale for one in drawings)
    found = []
    for one, drawing in zip(moving, drawings, strict=True):
        scale = drawing.scale
        box = (-half * scale, -top * scale, 2 * half * scale, (top + bottom) * scale)
        note = "" if one.placed and one.one_arbor else "The design chooses no places; the directions are made up."
        found.append(DrawnToScale(drawing, tuple(round(side, 1) for side in box), note))  # type: ignore[arg-type]
    return tuple(found)
