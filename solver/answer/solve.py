"""From a search's result to an answer: every solution is judged, and its figures are the judge's."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import inf

from solver.answer.arranging import Arranging, Like, Told
from solver.answer.document import SCHEMA, Answer, SolutionAnswer, Status
from solver.answer.merging import Merged, merged
from solver.answer.solution import solution_answer, told_toothing
from solver.check.judge import judge
from solver.check.verdict import Verdict
from solver.design.design import Design
from solver.design.exact import error_below
from solver.design.geometry import envelope_mm
from solver.design.toothing import is_open, toothings
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
    """A design that is solved in one thread, while another one may ask what is known so far. Where third gears may have
    pins or short teeth, it is searched with both, one after the other."""

    def __init__(self, design: Design, progress: Callable[[Progress], None] | None = None) -> None:
        """progress: called now and then."""
        self._design, self._parts = design, toothings(design)
        self._told = None if progress is None else _Told(progress, design.structure_count(), len(self._parts))
        self._began = awake()
        self._searches: list[DesignSearch] = []
        self._results: list[SearchResult] = []
        self._answer: Answer | None = None  # once the search is over

    def run(self, stop: StopRule) -> Answer:
        """The answer, once. stop: beside the design's time limit, of which each search has its share, and the last one
        all that is left. Raises Unsound."""
        whole = FirstOf(stop, Deadline(self._design.time_limit_s))
        for number, part in enumerate(self._parts):
            left = max(self._design.time_limit_s - (awake() - self._began), 0.0) / (len(self._parts) - number)
            share = whole if number == len(self._parts) - 1 else FirstOf(whole, Deadline(left))
            self._searches.append(self._of(part, share))
            self._results.append(self._searches[-1].run())
            if self._told is not None:
                self._told.over(self._results[-1])
        answer = self._found(self._results, whole)
        return self._proven(answer, whole) if self._design.prove and answer.proven else answer

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
        results, searches = list(self._results), list(self._searches)
        for part in self._parts[len(results) :]:
            search = searches[len(results)] if len(results) < len(searches) else self._of(part, NoStop())
            results.append(search.so_far(reason))
        return self._found(results, None)

    def _found(self, results: Sequence[SearchResult], stop: StopRule | None) -> Answer:
        found = merged(self._design, list(zip(self._parts, results, strict=True)))
        searched = {part: search.shared.fitter for part, search in zip(self._parts, self._searches, strict=False)}
        fitters = {part: fitter for part, fitter in searched.items() if fitter is not None}
        return _answer(self._design, found, self._began, None if stop is None else Arranging(stop, fitters))

    def _of(self, part: Design, stop: StopRule) -> DesignSearch:
        return DesignSearch(Shared(part, stop, self._told))


class _Told:
    """Progress of several searches as that of one: what earlier ones found counts, and nothing is proven of those to
    come."""

    def __init__(self, progress: Callable[[Progress], None], structures: int, parts: int) -> None:
        self._progress, self._structures, self._left = progress, structures, parts - 1
        self._errors: list[float] = []
        self._values: list[float] = []
        self._bounds: list[float] = []
        self._leasts: list[float] = []
        self._last: Progress | None = None

    def __call__(self, told: Progress) -> None:
        self._last = told
        bound, least = told.bound_error, told.least_value
        best, value = _least(self._errors, told.best_error), _least(self._values, told.best_value)
        if self._left:
            bound, least = 0.0, None
        bound = min([*self._bounds, bound])
        least = None if least is None else min([*self._leasts, least])
        left = told.structures_left + self._left * self._structures
        self._progress(Progress(best, bound, left, told.key, value, least))

    def over(self, result: SearchResult) -> None:
        """A search came to its end."""
        self._left -= 1
        if result.found or not result.complete:
            self._bounds.append(error_below(result.bound))
        last, self._last = self._last, None
        if last is not None:
            self._errors += [] if last.best_error is None else [last.best_error]
            self._values += [] if last.best_value is None else [last.best_value]
            self._leasts += [] if last.least_value is None else [last.least_value]


def _least(some: Sequence[float], one: float | None) -> float | None:
    return min([*some, *([] if one is None else [one])], default=None)


def answer_of(design: Design, result: SearchResult, seconds: float = 0.0) -> Answer:
    """Judge the result of a search that took so many seconds, third gears settled, and put it in words. Of one that was
    interrupted only as many solutions are judged, and shown, as can be in JUDGE_S: someone waits for its end. Raises
    Unsound."""
    return _answer(design, merged(design, [(design, result)]), awake() - seconds, Arranging(NoStop(), {}))


def _answer(design: Design, result: Merged, began: float, arranging: Arranging | None) -> Answer:
    """began: by the clock of a machine that is awake; arranging: None where there is no time left for it."""
    solutions: list[SolutionAnswer] = []
    told: dict[Like, Told] = {}
    if design.fit.arrange != "first" and arranging is not None:
        result, told = arranging.of(result)
    until = awake() + JUDGE_S if result.termination is Termination.INTERRUPT else inf
    listed = list(result.listed)
    trains = {one.like for one in listed}
    keys = key_order(design.rank)
    beyond = [one for one, _ in result.front if one.like not in trains]
    listed += sorted(beyond, key=lambda one: sort_key(one.found.figures, one.found.train, keys))
    for rank, one in enumerate(listed, start=1):
        if solutions and awake() > until:
            break
        verdict = judge(one.design, one.found.train)
        _agree(one.design, verdict, one.found.figures)
        solution = solution_answer(one.design, one.found.train, verdict, rank, one.orders)
        if design.fit.arrange != "first":
            solution = solution.model_copy(update={"arranged": told.get(one.like, "open")})
        solutions.append(told_toothing(solution, one.design) if is_open(design) else solution)
    ranks = {one.like: rank for rank, one in enumerate(listed, start=1)}
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
        least_first_key=value_told(toothings(design)[0], design.rank[0], result.least),
        solutions=solutions,
        front=[ranks[one.like] for one, _ in result.front] if design.front else None,
        front_open=result.front_open if design.front and not result.complete else None,
        front_ties=[ties for _, ties in result.front] if design.front else None,
        third_toothing=design.third_toothing,
        report={"seconds": round(awake() - began, 3), **result.report},
    )


def _agree(design: Design, verdict: Verdict, figures: Figures) -> None:
    if not verdict.sound:
        raise Unsound("the judge refuses a train that the search found: " + "; ".join(map(str, verdict.violations)))
    reach = envelope_mm(design.rings.pitch, Reaches(design).most, figures.envelope_teeth)
    ranked_by = (figures.error_square, figures.parts, figures.jigs, figures.teeth, figures.largest)
    judged = (verdict.error_square, verdict.parts, verdict.jigs, verdict.teeth, verdict.largest)
    alike = judged == ranked_by and (not design.counts_new or verdict.new_gears == figures.new_gears)
    if not alike or (verdict.envelope_mm is not None and verdict.envelope_mm != reach):
        raise Unsound("the judge's figures differ from those that the search ranked by")
