"""From a search's result to an answer: every solution is judged, and its figures are the judge's."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from fractions import Fraction
from math import atan2, degrees, hypot, inf

from solver.answer.document import (
    SCHEMA,
    Answer,
    DriveAnswer,
    LinkAnswer,
    PlaceAnswer,
    RingAnswer,
    SolutionAnswer,
    Status,
    range_text,
)
from solver.check.judge import judge
from solver.check.verdict import Verdict
from solver.design.design import Design
from solver.design.exact import error_above, error_below, float_above, fraction_text
from solver.design.geometry import envelope_mm
from solver.design.train import LinkPlace, Spot, Train
from solver.search.order.search import DesignSearch, SearchResult
from solver.search.order.shared import Progress, Shared, value_told
from solver.search.rank import Figures, key_order, sort_key
from solver.search.stop import Deadline, FirstOf, NoStop, StopRule, Termination, awake

JUDGE_S = 0.2  # how long the solutions of an interrupted search are judged


class Unsound(RuntimeError):
    """The search returned a train that the judge refuses: a fault inside, never shown as an answer."""


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
        self._search: DesignSearch | None = None
        self._answer: Answer | None = None  # once the search is over

    def run(self, stop: StopRule) -> Answer:
        """The answer, once. stop: beside the design's time limit. Raises Unsound."""
        stop = FirstOf(stop, Deadline(self._design.time_limit_s))
        self._search = self._of(stop)
        answer = answer_of(self._design, self._search.run(), awake() - self._began)
        return self._proven(answer, stop) if self._design.prove and answer.proven else answer

    def _proven(self, answer: Answer, stop: StopRule) -> Answer:
        """The answer with its second proofs. Raises Unsound where one finds something better."""
        from solver.answer.prove import prove, with_proofs  # loads CP-SAT

        self._answer = answer
        proofs = prove(self._design, answer.solutions, answer.front, stop)
        if proofs.better is not None:
            raise Unsound(f"a second proof found something better than the best that was found: {proofs.better}")
        return with_proofs(answer, proofs)

    def so_far(self, reason: Termination) -> Answer:
        """The answer as if the search ended here for that reason; without second proofs. Raises Unsound."""
        if self._answer is not None:
            return self._answer
        search = self._search or self._of(NoStop())
        return answer_of(self._design, search.so_far(reason), awake() - self._began)

    def _of(self, stop: StopRule) -> DesignSearch:
        return DesignSearch(Shared(self._design, stop, self._progress))


def answer_of(design: Design, result: SearchResult, seconds: float = 0.0) -> Answer:
    """Judge the result of a search that took so many seconds, and put it in words. Of one that was interrupted only as
    many solutions are judged, and shown, as can be in JUDGE_S: someone waits for its end. Raises Unsound."""
    solutions: list[SolutionAnswer] = []
    until = awake() + JUDGE_S if result.termination is Termination.INTERRUPT else inf
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
    ranks = {found.train: rank for rank, found in enumerate(listed, start=1)}
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
        front=[ranks[point.found.train] for point in result.front] if design.front else None,
        front_ties=[point.ties for point in result.front] if design.front else None,
        report={
            "seconds": round(seconds, 3),
            "structures": result.structures,
            "structures_bounded_away": result.structures - len(result.tally.listed) if result.complete else None,
            "structures_listed": len(result.tally.listed),
            "structures_modelled": len(result.tally.modelled),
            "models_solved": result.solves.cost.models,
            "branches": result.solves.cost.branches,
            "conflicts": result.solves.cost.conflicts,
            "deterministic_time": result.solves.cost.deterministic_time,
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
        seconds=None if turn is None else float(figures.seconds[train.seats[turn[0]]]),
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
