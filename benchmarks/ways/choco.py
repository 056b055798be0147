"""Constraint programming with Choco, the second such solver, through its own Python interface.

The same statement as chain.mzn; Choco's compact tables and elements; ring logarithms through the family's index.
"""

from __future__ import annotations

import math
from typing import Any

from benchmarks.ways.common import SCALE, Clock, Found, Peer, Problem, Row, by_goal, missing
from solver.design.train import Train


class Chain:
    """The model. most_jigs: None for no limit."""

    def __init__(self, problem: Problem, by_jigs: bool, most_jigs: int | None = None) -> None:
        from pychoco import Model

        self.problem, self.jigs_found = problem, 0
        self.m = m = Model()
        table = problem.rows()
        self.table = table
        hull = [(math.floor(SCALE * min(0, a)) - 99, math.ceil(SCALE * b) + 99) for a, b in problem.hull()]
        self.worst = m.intvar(0, int(SCALE * problem.cap), "worst")
        self.family = m.intvar(0, len(problem.families) - 1, "family")
        self.places = [m.intvar(list(problem.seats(body)), None, "") for body in range(len(problem.targets))]
        for inner, outer in zip(self.places, self.places[1:], strict=False):
            m.arithm(inner, "<", outer).post()
        self.links = [self._link(link) for link in range(problem.links)]
        self.periods = [m.intvar(0)]
        self.turned = [m.intvar(0)]
        for link, columns in enumerate(self.links):
            period = m.intvar(*hull[link + 1], f"period {link}")
            steps = [family.units(link + 1) - family.units(link) for family in problem.families]
            ring = m.intvar(sorted(set(steps)), None, "")
            m.element(ring, steps, self.family).post()
            m.sum([self.periods[-1], columns["units"], ring], "=", period).post()
            self.periods.append(period)
            if problem.senses_matter:
                beyond = m.intvar(0, 1, "")
                xor = [[a, b, a ^ b] for a in (0, 1) for b in (0, 1)]
                m.table([self.turned[-1], columns["turn"], beyond], xor).post()
                self.turned.append(beyond)
        for place, sense, (low, high) in zip(self.places, problem.senses, problem.targets, strict=True):
            taken = m.intvar(min(a for a, _ in hull), max(b for _, b in hull), "")
            m.element(taken, self.periods, place).post()
            m.arithm(taken, "-", self.worst, "<=", round(SCALE * high)).post()
            m.arithm(taken, "+", self.worst, ">=", round(SCALE * low)).post()
            if problem.senses_matter and sense is not None:
                m.element(m.intvar(sense), self.turned, place).post()
        if problem.third_limit:
            m.sum([columns["thirds"] for columns in self.links], "<=", problem.third_limit).post()
        if problem.same_class:
            self._order()
        self.jigs: Any = None
        if problem.goal == "jigs":
            self._count(most_jigs)
        self.goal = self.jigs if by_jigs else self.worst

    def _link(self, link: int) -> dict[str, Any]:
        m, problem = self.m, self.problem
        rows = [row for row in self.table if problem.idle_possible(link) or not row.idle]
        columns = {}
        for index, name in enumerate(Row._fields):
            values = sorted({row[index] for row in rows})
            columns[name] = m.intvar(values[0]) if len(values) == 1 else m.intvar(values, None, f"{name} {link}")
        free = [name for index, name in enumerate(Row._fields) if len({row[index] for row in rows}) > 1]
        if len(free) > 1:
            tuples = dict.fromkeys(tuple(getattr(row, name) for name in free) for row in rows)
            m.table([columns[name] for name in free], [list(row) for row in tuples]).post()
        if len(problem.classes) > 1:
            m.element(columns["group"], [family.classes[link] for family in problem.families], self.family).post()
        if problem.idle_possible(link) and len(problem.counts) > 1:
            pairs = [[place, int(place <= link)] for place in problem.seats(len(self.places) - 1)]
            m.table([self.places[-1], columns["idle"]], pairs).post()
        return columns

    def _order(self) -> None:
        """The links before and after a blank ring may change places: the smaller ratio first."""
        m, problem = self.m, self.problem
        for ring in range(1, problem.links):
            riders = [k for k in range(len(self.places)) if ring in problem.seats(k)]
            if any(len(problem.seats(k)) == 1 for k in riders):
                continue
            inner, outer = self.links[ring - 1]["units"], self.links[ring]["units"]
            alternatives = [m.arithm(inner, "<=", outer), m.arithm(self.links[ring]["idle"], "=", 1)]
            alternatives += [m.arithm(self.places[k], "=", ring) for k in riders]
            m.or_(alternatives).post()

    def _count(self, most: int | None) -> None:
        m, links = self.m, self.links
        gears = [columns[side] for columns in links for side in ("wheel", "pinion")]
        sizes = m.intvar(1, len(gears), "sizes")
        m.n_values(gears, sizes).post()
        self.jigs = m.intvar(1, 3 * self.problem.rings, "jigs")
        if len(self.problem.counts) > 1:
            raise NotImplementedError("jigs with several numbers of rings")
        m.arithm(self.jigs, "=", sizes, "+", self.problem.rings).post()
        if most is not None:
            m.arithm(self.jigs, "<=", most).post()

    def run(self, clock: Clock) -> tuple[Train | None, bool]:
        """The best train within the time left, and whether it is proven (none and proven: there is none)."""
        solver = self.m.get_solver()
        units = [columns["units"] for columns in self.links]
        rest = [columns[name] for columns in self.links for name in ("thirds", "turn", "wheel", "pinion")]

        # One family of rings: from the inside outwards. Several: the variable with the fewest values left first.
        search = solver.set_min_dom_lb_search if len(self.problem.families) > 1 else solver.set_input_order_lb_search
        search(self.family, *self.places, *units, *rest, self.worst)
        if not clock.left():
            return None, False
        solution = solver.find_optimal_solution(self.goal, False, time_limit=f"{clock.left():.3f}s")
        proven = solver.get_search_state() == "TERMINATED"
        if solution is None:
            return None, proven

        def value(variable: Any) -> int:
            return int(solution.get_int_val(variable))

        self.jigs_found = value(self.jigs) if self.jigs is not None else 0
        rows = [Row(*(value(columns[name]) for name in Row._fields)) for columns in self.links]
        places = tuple(map(value, self.places))
        return self.problem.read(self.problem.families[value(self.family)], places, rows), proven


def solve(problem: Problem, clock: Clock) -> Found:
    """The least worst error, or the fewest jigs and then the least error within them."""

    def run(by_jigs: bool, most_jigs: int | None = None) -> tuple[Train | None, int, bool]:
        chain = Chain(problem, by_jigs, most_jigs)
        train, proven = chain.run(clock)
        return train, chain.jigs_found, proven

    return by_goal(problem, run, "1 thread")


CHOCO = Peer(
    "Choco",
    "Choco through pychoco, 1 thread, one model, a compact table for each link; branches from the inside outwards, "
    "with several families of rings where the fewest values are left",
    ("error", "jigs"),
    missing("pychoco"),
    solve,
)
