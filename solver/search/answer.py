"""The answer: what leaves the program. Every solution in it has been judged; its figures are the judge's."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from enum import StrEnum
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from solver.check.judge import Verdict, judge
from solver.design.design import Design
from solver.design.exact import fraction_text
from solver.design.geometry import envelope_mm
from solver.design.links import KINDS
from solver.design.train import Link, Train
from solver.search.engine import Progress
from solver.search.levels import SearchResult, search
from solver.search.rank import Figures, key_order, sort_key
from solver.search.stop import Deadline, FirstOf, NoStop, StopRule

SCHEMA: Literal["ringwright.solutions/1"] = "ringwright.solutions/1"


class Status(StrEnum):
    """What is known about the problem; why the search ended is the termination, what it cost the report."""

    OPTIMAL = "optimal"
    FEASIBLE = "feasible"
    INFEASIBLE = "infeasible"
    UNKNOWN = "unknown"


class Unsound(RuntimeError):
    """The search returned a train that the judge refuses: a fault inside, never shown as an answer."""


class Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class RingAnswer(Part):
    """A ring. ratio: period over the reference body's, in lowest terms; errors in percent, null for a blank."""

    name: str
    blank: bool
    teeth: int
    ratio: tuple[int, int]
    target: str | None
    error_pct: float | None
    period_error_pct: float | None
    sense: Literal["same", "reverse"]


class PlaceAnswer(Part):
    """Where an axis stands: direction from the front [degrees], null until places are computed, and radius [mm]."""

    direction_deg: float | None
    radius_mm: float


class LinkAnswer(Part):
    """A link; thirds and third_at wheel's side first. arbor is null where ratios alone were asked for."""

    kind: Annotated[str, Field(json_schema_extra={"enum": [kind.name for kind in KINDS]})]
    wheel: int
    pinion: int
    thirds: list[int]
    ratio: tuple[int, int]
    arbor: PlaceAnswer | None
    third_at: list[PlaceAnswer]


class SolutionAnswer(Part):
    """One complete train."""

    rank: int
    worst_error_pct: float
    parts: int
    jigs: int
    teeth: int
    largest: int
    envelope_mm: float | None
    rings: list[RingAnswer]
    links: list[LinkAnswer]


_WHERE_ASKED = ("least_first_key", "front", "front_ties")  # left out of the document where they say nothing


class Answer(Part):
    """The document of `solve --json`. report: what differs from run to run; all else is the same bytes each time.

    bound_worst_error_pct: no solution has a smaller worst error. least_first_key: likewise for the first rank key,
    where that is not the error. solutions: the ranked ones, then those that stand on the front alone. front: ranks of
    the solutions on the Pareto front, null where none was asked for; front_ties: how many different solutions have
    the values of each, null for more than were counted.
    status: what is known; termination: why the search ended ("proved", "time", "interrupt", "crowded": more
    solutions share the best error than could be ordered, "thirds": more third gears than could be tried out).
    """

    model_config = ConfigDict(
        frozen=True, extra="forbid", title="Ringwright answer", validate_by_name=True, validate_by_alias=True
    )

    schema_name: Literal["ringwright.solutions/1"] = Field(alias="schema")
    title: str
    config_sha256: str
    status: Status
    termination: str
    proven: bool
    bound_worst_error_pct: float | None
    least_first_key: int | None = None
    solutions: list[SolutionAnswer]
    front: list[int] | None = None
    front_ties: list[int | None] | None = None
    report: dict[str, Any]

    def to_json(self) -> str:
        """One JSON document with a line feed at the end."""
        data = self.model_dump(mode="json", by_alias=True)
        asked = {key: value for key, value in data.items() if value is not None or key not in _WHERE_ASKED}
        return json.dumps(asked, indent=1, ensure_ascii=False) + "\n"

    def trains(self) -> list[Train]:
        """The solutions as trains, best first."""
        return [train_of(solution) for solution in self.solutions]


def train_of(solution: SolutionAnswer) -> Train:
    """The train that a solution of an answer describes."""
    return Train(
        tuple(ring.teeth for ring in solution.rings),
        tuple(index for index, ring in enumerate(solution.rings) if not ring.blank),
        tuple(Link(link.kind, link.wheel, link.pinion, tuple(link.thirds)) for link in solution.links),
    )


def solve(design: Design, stop: StopRule | None = None, progress: Callable[[Progress], None] | None = None) -> Answer:
    """Find the best gearings of a design, have each judged, and say what is proven.

    stop: an additional stop rule; the design's time limit always holds. progress: called now and then.
    Raises Unsound if the judge refuses what the search found.
    """
    began = time.monotonic()
    result = search(design, FirstOf(stop or NoStop(), Deadline(design.time_limit_s)), progress)
    return answer_of(design, result, time.monotonic() - began)


def answer_of(design: Design, result: SearchResult, seconds: float = 0.0) -> Answer:
    """Judge the result of a search that took so many seconds, and put it in words. Raises Unsound."""
    solutions = []
    listed = list(result.found)
    trains = {found.train for found in listed}
    keys = key_order(design.rank)
    beyond = [point.found for point in result.front if point.found.train not in trains]
    listed += sorted(beyond, key=lambda found: sort_key(found.figures, found.train, keys))
    for rank, found in enumerate(listed, start=1):
        verdict = judge(design, found.train)
        _agree(design, verdict, found.figures)
        solutions.append(solution_answer(design, found.train, verdict, rank))
    places = {found.train: rank for rank, found in enumerate(listed, start=1)}
    if result.complete:
        status = Status.OPTIMAL if solutions else Status.INFEASIBLE
    else:
        status = Status.FEASIBLE if solutions else Status.UNKNOWN
    bound: float | None = result.bound_error * 100
    if solutions and result.complete and design.rank[0] == "error":
        bound = solutions[0].worst_error_pct
    elif status is Status.INFEASIBLE:
        bound = None
    return Answer(
        schema=SCHEMA,
        title=design.title,
        config_sha256=design.sha256(),
        status=status,
        termination=result.termination,
        proven=result.complete,
        bound_worst_error_pct=bound,
        least_first_key=result.least,
        solutions=solutions,
        front=[places[point.found.train] for point in result.front] if design.front else None,
        front_ties=[point.ties for point in result.front] if design.front else None,
        report={
            "seconds": round(seconds, 3),
            "structures": result.structures,
            "structures_bounded_away": result.structures - len(result.tally.listed),
            "structures_listed": len(result.tally.listed),
            "structures_modelled": len(result.tally.modelled),
            "models_solved": result.solves.work.models,
            "branches": result.solves.work.branches,
            "conflicts": result.solves.work.conflicts,
            "deterministic_time": result.solves.work.deterministic_time,
        },
    )


def _agree(design: Design, verdict: Verdict, figures: Figures) -> None:
    if not verdict.sound:
        raise Unsound("the judge refuses a train that the search found: " + "; ".join(map(str, verdict.violations)))
    reach = envelope_mm(design.rings.pitch, design.rings.addendum, figures.envelope_teeth)
    ranked_by = (figures.error_square, figures.parts, figures.jigs, figures.teeth, figures.largest)
    judged = (verdict.error_square, verdict.parts, verdict.jigs, verdict.teeth, verdict.largest)
    if judged != ranked_by or (verdict.envelope_mm is not None and verdict.envelope_mm != reach):
        raise Unsound("the judge's figures differ from those that the search ranked by")


def solution_answer(design: Design, train: Train, verdict: Verdict, rank: int) -> SolutionAnswer:
    """A judged train as it stands in the answer."""
    assert verdict.worst_error is not None
    rings, blanks = [], 0
    for teeth, ring in zip(train.rings, verdict.rings, strict=True):
        blanks += ring.body is None
        rings.append(
            RingAnswer(
                name=f"blank {blanks}" if ring.body is None else design.bodies[ring.body].name,
                blank=ring.body is None,
                teeth=teeth,
                ratio=(ring.ratio.numerator, ring.ratio.denominator),
                target=None if ring.target is None else _target(*ring.target),
                error_pct=None if ring.error is None else ring.error * 100,
                period_error_pct=None if ring.period_error is None else ring.period_error * 100,
                sense="reverse" if ring.reverse else "same",
            )
        )
    links = [
        LinkAnswer(
            kind=link.kind,
            wheel=link.wheel,
            pinion=link.pinion,
            thirds=list(link.thirds),
            ratio=(figures.ratio.numerator, figures.ratio.denominator),
            arbor=None if figures.arbor_mm is None else _place(figures.arbor_mm),
            third_at=[_place(radius) for radius in figures.thirds_mm],
        )
        for link, figures in zip(train.links, verdict.links, strict=True)
    ]
    return SolutionAnswer(
        rank=rank,
        worst_error_pct=verdict.worst_error * 100,
        parts=verdict.parts,
        jigs=verdict.jigs,
        teeth=verdict.teeth,
        largest=verdict.largest,
        envelope_mm=verdict.envelope_mm,
        rings=rings,
        links=links,
    )


def _place(radius_mm: float) -> PlaceAnswer:
    return PlaceAnswer(direction_deg=None, radius_mm=round(radius_mm, 3))


def _target(low: Fraction, high: Fraction) -> str:
    return fraction_text(low) if low == high else f"{fraction_text(low)}..{fraction_text(high)}"
