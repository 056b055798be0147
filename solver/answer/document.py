"""The answer: what leaves the program. Every solution in it has been judged; its figures are the judge's."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from enum import StrEnum
from fractions import Fraction
from math import atan2, degrees, hypot, inf
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from solver.check.judge import judge
from solver.check.verdict import Verdict
from solver.design.design import Design
from solver.design.exact import error_above, error_below, float_above, fraction_text
from solver.design.geometry import envelope_mm
from solver.design.links import KINDS
from solver.design.train import DrivePlace, Link, LinkPlace, Placement, RollerPlace, Spot, Train
from solver.search.order.engine import Progress
from solver.search.order.levels import Levels, SearchResult, value_told
from solver.search.rank import Figures, key_order, sort_key
from solver.search.stop import Deadline, FirstOf, NoStop, StopRule, awake

JUDGE_S = 0.2
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


class PlaceAnswer(Part):
    """Where an axis stands: its distance from the main axis [mm], and where places are computed its direction (seen
    from the front, from the right, counterclockwise) [degrees] and how far it is to the right of the main axis and
    above it, to the micrometre [mm]; else null."""

    direction_deg: float | None
    radius_mm: float
    x_mm: float | None
    y_mm: float | None


class RingAnswer(Part):
    """A ring. ratio: period over the reference body's, in lowest terms; errors in percent, null for a blank. rollers:
    where they stand, none where they are not asked for."""

    name: str
    blank: bool
    teeth: int
    ratio: tuple[int, int]
    target: str | None
    error_pct: float | None
    period_error_pct: float | None
    sense: Literal["same", "reverse"]
    rollers: list[PlaceAnswer]


class LinkAnswer(Part):
    """A link; thirds and third_at wheel's side first. arbor is null where ratios alone were asked for."""

    kind: Annotated[str, Field(json_schema_extra={"enum": [kind.name for kind in KINDS]})]
    wheel: int
    pinion: int
    thirds: list[int]
    ratio: tuple[int, int]
    arbor: PlaceAnswer | None
    third_at: list[PlaceAnswer]


class DriveAnswer(Part):
    """The drive: the ring that the motor works with, its speed [rev/min] as exact text, its pinion and third gear, and
    where its shaft and the third gear stand. ring_seconds: how long each ring takes for a revolution. body, seconds
    and error_pct: likewise the body whose time was wished, and how far it is from that; null where none was."""

    ring: int
    motor_rpm: str
    pinion: int
    thirds: list[int]
    motor: PlaceAnswer
    third_at: list[PlaceAnswer]
    ring_seconds: list[float]
    body: str | None
    seconds: float | None
    error_pct: float | None


class SolutionAnswer(Part):
    """One complete train. drive: null where none is asked for."""

    rank: int
    worst_error_pct: float
    parts: int
    jigs: int
    teeth: int
    largest: int
    envelope_mm: float | None
    rings: list[RingAnswer]
    links: list[LinkAnswer]
    drive: DriveAnswer | None


_WHERE_ASKED = ("least_first_key", "front", "front_ties")  # left out of the document where they say nothing


class Answer(Part):
    """The document of `solve --json`. report: what differs from run to run; all else is the same bytes each time.

    bound_worst_error_pct: no solution has a smaller worst error; bounds are rounded down, errors up. least_first_key:
    likewise for the first rank key, where that is not the error; for the envelope in mm, in whole micrometres as
    envelope_mm. solutions: the ranked ones, then those that stand on the front alone. front: ranks of
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
    least_first_key: int | float | None = None
    solutions: list[SolutionAnswer]
    front: list[int] | None = None
    front_ties: list[int | None] | None = None
    report: dict[str, Any]

    def to_json(self) -> str:
        """One JSON document with a line feed at the end."""
        data = self.model_dump(mode="json", by_alias=True)
        asked = {key: value for key, value in data.items() if value is not None or key not in _WHERE_ASKED}
        return json.dumps(asked, indent=1, ensure_ascii=False) + "\n"

    def trains(self, design: Design) -> list[Train]:
        """The solutions as trains, best first, of the design that was solved."""
        return [train_of(design, solution) for solution in self.solutions]


def train_of(design: Design, solution: SolutionAnswer) -> Train:
    """The train that a solution of a design's answer describes."""
    return Train(
        tuple(ring.teeth for ring in solution.rings),
        tuple(index for index, ring in enumerate(solution.rings) if not ring.blank),
        tuple(Link(link.kind, link.wheel, link.pinion, tuple(link.thirds)) for link in solution.links),
        _placement_of(design, solution) if design.fit.directions is not None else None,
    )


def _placement_of(design: Design, solution: SolutionAnswer) -> Placement:
    assert design.fit.directions is not None
    directions = {float(direction): direction for direction in design.fit.directions}
    tooth = design.rings.pitch.radius_mm(1)

    def axis(place: PlaceAnswer, thirds: list[PlaceAnswer]) -> LinkPlace:
        assert place.direction_deg is not None
        return LinkPlace(
            directions[place.direction_deg], round(place.radius_mm / tooth), _spot(place), tuple(map(_spot, thirds))
        )

    drive = solution.drive
    links = [axis(link.arbor, link.third_at) for link in solution.links if link.arbor is not None]
    return Placement(
        tuple(links),
        tuple(
            tuple(RollerPlace(Fraction(roller.direction_deg or 0), _spot(roller)) for roller in ring.rollers)
            for ring in solution.rings
        )
        if design.fit.rollers is not None
        else (),
        None
        if drive is None
        else DrivePlace(
            drive.ring, Fraction(drive.motor_rpm), drive.pinion, tuple(drive.thirds), axis(drive.motor, drive.third_at)
        ),
    )


def _spot(place: PlaceAnswer) -> Spot:
    assert place.x_mm is not None and place.y_mm is not None
    return round(place.x_mm * 1000), round(place.y_mm * 1000)


def solve(design: Design, stop: StopRule | None = None, progress: Callable[[Progress], None] | None = None) -> Answer:
    """Find the best gearings of a design, have each judged, and say what is proven.

    stop: an additional stop rule; the design's time limit always holds. progress: called now and then.
    Raises Unsound if the judge refuses what the search found.
    """
    return Solving(design, progress).run(stop or NoStop())


class Solving:
    """A design that is solved in one thread, while another one may ask what is known so far."""

    def __init__(self, design: Design, progress: Callable[[Progress], None] | None = None) -> None:
        """progress: called now and then."""
        self._design, self._progress = design, progress
        self._began = awake()
        self._levels: Levels | None = None

    def run(self, stop: StopRule) -> Answer:
        """The answer, once. stop: beside the design's time limit. Raises Unsound."""
        self._levels = Levels(self._design, FirstOf(stop, Deadline(self._design.time_limit_s)), self._progress)
        return answer_of(self._design, self._levels.run(), awake() - self._began)

    def so_far(self, reason: str) -> Answer:
        """The answer as if the search ended here for that reason. Raises Unsound."""
        levels = self._levels or Levels(self._design, NoStop(), None)
        return answer_of(self._design, levels.so_far(reason), awake() - self._began)


def answer_of(design: Design, result: SearchResult, seconds: float = 0.0) -> Answer:
    """Judge the result of a search that took so many seconds, and put it in words. Of one that was interrupted only as
    many solutions are judged, and shown, as can be in JUDGE_S: someone waits for its end. Raises Unsound."""
    solutions: list[SolutionAnswer] = []
    until = awake() + JUDGE_S if result.termination == "interrupt" else inf
    listed = list(result.found)
    trains = {found.train for found in listed}
    keys = key_order(design.rank)
    beyond = [point.found for point in result.front if point.found.train not in trains]
    listed += sorted(beyond, key=lambda found: sort_key(found.figures, found.train, keys))
    for rank, found in enumerate(listed, start=1):
        if solutions and awake() > until:
            break
        verdict = judge(design, found.train)
        _agree(design, verdict, found.figures)
        solutions.append(solution_answer(design, found.train, verdict, rank))
    places = {found.train: rank for rank, found in enumerate(listed, start=1)}
    if result.complete:
        status = Status.OPTIMAL if solutions else Status.INFEASIBLE
    else:
        status = Status.FEASIBLE if solutions else Status.UNKNOWN
    bound = None if status is Status.INFEASIBLE else error_below(result.bound, 100)
    return Answer(
        schema=SCHEMA,
        title=design.title,
        config_sha256=design.sha256(),
        status=status,
        termination=result.termination,
        proven=result.complete,
        bound_worst_error_pct=bound,
        least_first_key=value_told(design, design.rank[0], result.least),
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
    assert verdict.error_square is not None
    worst = error_above(verdict.error_square, 100)
    rings, blanks = [], 0
    placement = train.placement
    for index, (teeth, ring) in enumerate(zip(train.rings, verdict.rings, strict=True)):
        blanks += ring.body is None
        rings.append(
            RingAnswer(
                name=f"blank {blanks}" if ring.body is None else design.bodies[ring.body].name,
                blank=ring.body is None,
                teeth=teeth,
                ratio=(ring.ratio.numerator, ring.ratio.denominator),
                target=None if ring.target is None else range_text(*ring.target),
                error_pct=None if ring.error is None else min(worst, float_above(100 * ring.error)),
                period_error_pct=None if ring.period_error is None else float(100 * ring.period_error),
                sense="reverse" if ring.reverse else "same",
                rollers=[
                    _place(hypot(*roller.spot) / 1000, roller.spot, roller.direction)
                    for roller in (placement.rollers[index] if placement and placement.rollers else ())
                ],
            )
        )
    links = []
    for index, (link, figures) in enumerate(zip(train.links, verdict.links, strict=True)):
        at = placement.links[index] if placement else None
        links.append(
            LinkAnswer(
                kind=link.kind,
                wheel=link.wheel,
                pinion=link.pinion,
                thirds=list(link.thirds),
                ratio=(figures.ratio.numerator, figures.ratio.denominator),
                arbor=None if figures.arbor_mm is None else _axis(figures.arbor_mm, at),
                third_at=_third_places(figures.thirds_mm, at),
            )
        )
    return SolutionAnswer(
        rank=rank,
        worst_error_pct=worst,
        parts=verdict.parts,
        jigs=verdict.jigs,
        teeth=verdict.teeth,
        largest=verdict.largest,
        envelope_mm=verdict.envelope_mm,
        rings=rings,
        links=links,
        drive=_drive_answer(design, train, verdict),
    )


def _drive_answer(design: Design, train: Train, verdict: Verdict) -> DriveAnswer | None:
    if train.placement is None or train.placement.drive is None or verdict.drive is None or design.drive is None:
        return None
    drive, figures = train.placement.drive, verdict.drive
    ring, radius_mm = train.rings[drive.ring], design.rings.pitch.radius_mm
    turn = design.drive.turn
    return DriveAnswer(
        ring=drive.ring,
        motor_rpm=fraction_text(drive.rpm),
        pinion=drive.pinion,
        thirds=list(drive.thirds),
        motor=_axis(radius_mm(drive.at.radius), drive.at),
        third_at=_third_places([radius_mm(ring + third) for third in drive.thirds], drive.at),
        ring_seconds=[float(seconds) for seconds in figures.seconds],
        body=None if turn is None else design.bodies[turn[0]].name,
        seconds=None if turn is None else float(figures.seconds[train.places[turn[0]]]),
        error_pct=None if figures.error is None else float_above(100 * figures.error),
    )


def _axis(radius_mm: float, at: LinkPlace | None) -> PlaceAnswer:
    return _place(radius_mm) if at is None else _place(radius_mm, at.arbor, at.direction)


def _third_places(radii_mm: Iterable[float], at: LinkPlace | None) -> list[PlaceAnswer]:
    if at is None:
        return [_place(radius_mm) for radius_mm in radii_mm]
    return [
        _place(radius_mm, spot, round(degrees(atan2(spot[1], spot[0])) % 360, 4))
        for radius_mm, spot in zip(radii_mm, at.thirds, strict=True)
    ]


def _place(radius_mm: float, spot: Spot | None = None, direction: Fraction | float | None = None) -> PlaceAnswer:
    return PlaceAnswer(
        direction_deg=None if direction is None else float(direction),
        radius_mm=round(radius_mm, 3),
        x_mm=None if spot is None else spot[0] / 1000,
        y_mm=None if spot is None else spot[1] / 1000,
    )


def range_text(low: Fraction, high: Fraction) -> str:
    """ "low..high" as exact text, or the one number where both are the same."""
    return fraction_text(low) if low == high else f"{fraction_text(low)}..{fraction_text(high)}"
