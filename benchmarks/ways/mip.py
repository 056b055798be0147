"""Mixed-integer programming with HiGHS: a binary for each option of each link, the logarithms as they are (floats),
the error a free variable. The families of rings are taken one after the other, the best so far bounding the next;
within a family binaries seat the bodies, with the tightest big constants that the options allow.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

from benchmarks.ways.common import Clock, Family, Found, Option, Peer, Problem, missing
from solver.design.train import Train

THREADS = 2
TOLERANCE = 1e-9  # of rows and integers


class Program:
    """The program of one family with one number of rings."""

    def __init__(self, problem: Problem, family: Family, count: int) -> None:
        import highspy

        self.problem, self.family, self.count = problem, family, count
        self.highs = h = highspy.Highs()
        for option, value in (
            ("output_flag", False),
            ("threads", THREADS),
            ("mip_rel_gap", 0.0),
            ("mip_abs_gap", 1e-8),
            ("primal_feasibility_tolerance", TOLERANCE),
            ("mip_feasibility_tolerance", TOLERANCE),
        ):
            h.setOptionValue(option, value)
        self.worst = h.addVariable(lb=0, ub=problem.cap)
        self.options: list[list[Option]] = []
        self.chosen: list[list[Any]] = []
        for link in range(count - 1):
            options = [o for o in problem.classes[family.classes[link]] if o.thirds <= problem.third_limit]
            self.options.append(options)
            self.chosen.append([h.addBinary() for _ in options])
            h.addConstr(h.qsum(self.chosen[-1]) == 1)
        self.jigs: Any = None
        self._bodies()
        if problem.third_limit:
            h.addConstr(self._sum(lambda option: option.thirds, 0, count - 1) <= problem.third_limit)
        if problem.goal == "jigs":
            self._count()

    def _sum(self, figure: Any, first: int, last: int) -> Any:
        """Sum of a figure of the options over the links first..last-1."""
        return self.highs.qsum(
            figure(option) * variable
            for link in range(first, last)
            for option, variable in zip(self.options[link], self.chosen[link], strict=True)
            if figure(option)
        )

    def _bodies(self) -> None:
        h, problem = self.highs, self.problem
        last = len(problem.targets) - 1
        low = high = 0.0
        hull = [(0.0, 0.0)]
        for link in range(self.count - 1):
            low += min((o.log for o in self.options[link]), default=0.0)
            high += max((o.log for o in self.options[link]), default=0.0)
            hull.append((low + self.family.logs[link + 1], high + self.family.logs[link + 1]))
        blanks = self.count - 1 - last
        ranges = [
            [0] if body == 0 else [self.count - 1] if body == last else list(range(body, body + blanks + 1))
            for body in range(last + 1)
        ]
        self.seats = [{ring: h.addBinary() for ring in rings} for rings in ranges]
        for seats in self.seats:
            h.addConstr(h.qsum(seats.values()) == 1)
        for inner, outer in pairwise(self.seats):
            for ring in inner:  # an inner body at `ring` or beyond leaves the outer one beyond it
                beyond = [here for at, here in inner.items() if at >= ring]
                left = [here for at, here in outer.items() if at > ring]
                h.addConstr(h.qsum(beyond) <= h.qsum(left))
        periods = [h.addVariable(lb=a - 1e-6, ub=b + 1e-6) for a, b in hull]
        for ring in range(1, self.count):
            step = self.family.logs[ring] - self.family.logs[ring - 1]
            h.addConstr(periods[ring] - periods[ring - 1] - self._sum(lambda o: o.log, ring - 1, ring) == step)
        for seats, (least, most) in zip(self.seats, problem.targets, strict=True):
            for ring, here in seats.items():
                slow = max(0.0, hull[ring][1] + 1e-6 - most) if len(seats) > 1 else 0.0
                fast = max(0.0, least - hull[ring][0] + 1e-6) if len(seats) > 1 else 0.0
                h.addConstr(periods[ring] - self.worst + slow * here <= most + slow)
                h.addConstr(periods[ring] + self.worst - fast * here >= least - fast)
        if problem.senses_matter:
            self._senses()

    def _senses(self) -> None:
        h = self.highs
        turned: Any = None
        for ring in range(1, self.count):
            turn, beyond = self._sum(lambda o: o.turn, ring - 1, ring), h.addBinary()
            if turned is None:
                h.addConstr(beyond - turn == 0)
            else:
                h.addConstr(beyond - turned - turn <= 0)
                h.addConstr(beyond - turned + turn >= 0)
                h.addConstr(beyond + turned - turn >= 0)
                h.addConstr(beyond + turned + turn <= 2)
            turned = beyond
            for seats, sense in zip(self.seats, self.problem.senses, strict=True):
                if ring in seats and sense is not None:
                    h.addConstr(beyond - seats[ring] >= 0) if sense else h.addConstr(beyond + seats[ring] <= 1)

    def _count(self) -> None:
        h = self.highs
        sizes: dict[int, Any] = {}
        for options, chosen in zip(self.options, self.chosen, strict=True):
            for side in ("wheel", "pinion"):
                by_size: dict[int, list[Any]] = {}
                for option, variable in zip(options, chosen, strict=True):
                    by_size.setdefault(getattr(option.choice, side), []).append(variable)
                for size, variables in by_size.items():
                    if size not in sizes:
                        sizes[size] = h.addBinary()
                    h.addConstr(h.qsum(variables) <= sizes[size])
        self.jigs = h.qsum(sizes.values())

    def run(self, objective: Any, clock: Clock) -> tuple[Train | None, float, bool]:
        """(train, objective, proven) within the time left."""
        import highspy

        h = self.highs
        h.setOptionValue("time_limit", h.getRunTime() + max(0.01, clock.left()))
        h.minimize(objective)
        status = h.getModelStatus()
        if status in (highspy.HighsModelStatus.kInfeasible, highspy.HighsModelStatus.kUnboundedOrInfeasible):
            return None, math.inf, True
        info = h.getInfo()
        proven = status == highspy.HighsModelStatus.kOptimal
        if info.primal_solution_status != 2:  # 2: feasible
            return None, math.inf, False
        places = tuple(next(ring for ring, here in seats.items() if h.val(here) > 0.5) for seats in self.seats)
        picked = [
            next(o for o, variable in zip(options, chosen, strict=True) if h.val(variable) > 0.5)
            for options, chosen in zip(self.options, self.chosen, strict=True)
        ]
        return self.problem.train(self.family, places, picked), info.objective_function_value, proven

    def limit(self, expression: Any, most: float) -> None:
        self.highs.addConstr(expression <= most)


def solve(problem: Problem, clock: Clock) -> Found:
    """The least worst error, or the fewest jigs and then the least error within them."""
    best, least, proven = None, math.inf, True
    fewest = math.inf
    for family in problem.families:
        for count in problem.counts:
            if not clock.left():
                return Found(best, False, _note())
            if any(not problem.classes[one] for one in family.classes[: count - 1]):
                continue
            program = Program(problem, family, count)
            if program.jigs is not None:
                if fewest < math.inf:
                    program.limit(program.jigs, fewest - count)
                train, jigs, done = program.run(program.jigs, clock)
                if train is not None:
                    if jigs + count < fewest - 0.5:
                        fewest, least, best = round(jigs + count), math.inf, train
                    program.limit(program.jigs, round(jigs))
                proven = proven and done
                if train is None or not done:
                    continue
            if least < math.inf:
                program.limit(program.worst, least)
            train, worst, done = program.run(program.worst, clock)
            proven = proven and done
            if train is not None and worst < least:
                best, least = train, worst
    return Found(best, proven, _note())


def _note() -> str:
    return f"{THREADS} threads"


MIP = Peer(
    "HiGHS",
    f"mixed-integer program, HiGHS, {THREADS} threads, families one after the other below the best so far",
    ("error", "jigs"),
    missing("highspy"),
    solve,
)
