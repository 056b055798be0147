"""Ours: `solver.answer.document.solve` as any user calls it, judging included.

Asked for one solution it answers what the peers answer, and settles ties by the later keys besides; asked for ten it
gives the proven ranked list, which no peer does.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from benchmarks.cases import goal_of
from benchmarks.ways.common import Clock, Outcome, Point
from solver import Design, solve
from solver.answer.document import SolutionAnswer, Status


@dataclass(frozen=True)
class Ours:
    """The project's own search, asked for so many solutions."""

    name: str
    what: str
    keep: int

    def available(self) -> str | None:
        return None

    def run(self, design: Design, time_limit: float) -> Outcome:
        goal = goal_of(design)
        clock = Clock(time_limit)
        answer = solve(replace(design, keep=self.keep, time_limit_s=time_limit))
        seconds = clock.passed()
        if goal == "front":
            chosen = [answer.solutions[rank - 1] for rank in answer.front or ()]
        else:
            chosen = answer.solutions[:1]
        proven = answer.status in (Status.OPTIMAL, Status.INFEASIBLE)
        return Outcome(tuple(map(_point, chosen)), proven, seconds, f"{len(answer.solutions)} ranked solutions")


def _point(solution: SolutionAnswer) -> Point:
    return Point(solution.worst_error_pct / 100, solution.jigs, solution.largest)


OURS = Ours("ours", "this project: the best solution by all rank keys, judged", 1)
OURS_TEN = Ours("ours, ten", "this project: the ten best solutions in full rank order, each judged", 10)
