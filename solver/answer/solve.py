"""From a search's result to an answer: every solution is judged, and its figures are the judge's."""

from __future__ import annotations

from collections.abc import Callable
from math import inf

from solver.answer.document import SCHEMA, Answer, SolutionAnswer, Status
from solver.answer.solution import solution_answer
from solver.check.judge import judge
from solver.check.verdict import Verdict
from solver.design.design import Design
from solver.design.exact import error_below
from solver.design.geometry import envelope_mm
from solver.search.order.search import DesignSearch, SearchResult
from solver.search.order.shared import Progress, Shared, value_told
from solver.search.rank import Figures, key_order, sort_key
from solver.search.reaches import Reaches
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
        front_open=result.front_open if design.front and not result.complete else None,
        front_ties=[point.ties for point in result.front] if design.front else None,
        third_toothing=design.third_toothing,
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
    reach = envelope_mm(design.rings.pitch, Reaches(design).most, figures.envelope_teeth)
    ranked_by = (figures.error_square, figures.parts, figures.jigs, figures.teeth, figures.largest)
    judged = (verdict.error_square, verdict.parts, verdict.jigs, verdict.teeth, verdict.largest)
    if judged != ranked_by or (verdict.envelope_mm is not None and verdict.envelope_mm != reach):
        raise Unsound("the judge's figures differ from those that the search ranked by")
