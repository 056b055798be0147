"""Lazy clause generation with Pumpkin, the solver that also writes the project's certificates.

The same statement as chain.mzn. A table for each link; a body's windows are implied, linear inequalities at each ring
that it may ride on; the family's logarithms and lists are one table. The solver branches by what it learns.
"""

from __future__ import annotations

import math
import tempfile
from collections.abc import Callable, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

from benchmarks.ways.common import SCALE, Clock, Found, Peer, Problem, Row, by_goal, missing
from solver.design.train import Train

NOTE = "1 thread"
SIGNS = {"<=": "LessThanOrEqual", ">=": "GreaterThanOrEqual", "==": "Equal", "!=": "NotEqual"}


class LearningChain:
    """The model. most_jigs: None for no limit; worst: the greatest error allowed, None for the design's; proof: the
    file to which the steps of the proof are written. found: the least value of the goal that `run` found."""

    def __init__(
        self,
        problem: Problem,
        by_jigs: bool,
        most_jigs: int | None = None,
        worst: int | None = None,
        proof: Path | None = None,
    ) -> None:
        import pumpkin_solver
        from pumpkin_solver import constraints

        self.package, self.c, self.problem = pumpkin_solver, constraints, problem
        self.m = pumpkin_solver.Model(proof=None if proof is None else str(proof))
        self.literals: dict[tuple[str, str, int], Any] = {}
        self.spans: dict[str, tuple[int, int]] = {}
        self.table = problem.rows()
        self.hull = [(math.floor(SCALE * min(0, a)) - 99, math.ceil(SCALE * b) + 99) for a, b in problem.hull()]
        self.worst = self._variable("worst", 0, int(SCALE * problem.cap) if worst is None else worst)
        self.places = [self._chosen(f"place {body}", problem.seats(body)) for body in range(len(problem.targets))]
        for inner, outer in pairwise(self.places):
            self._post(self.c.LessThanOrEquals, [inner, outer.scaled(-1)], -1)
        self.family = self._variable("family", 0, len(problem.families) - 1)
        self.links = [self._link(link) for link in range(problem.links)]
        self._families()
        self._bodies()
        if problem.senses_matter:
            self._senses()
        if problem.third_limit:
            self._post(self.c.LessThanOrEquals, [one["thirds"] for one in self.links], problem.third_limit)
        if problem.same_class:
            self._order()
        self.jigs: Any = None
        if problem.goal == "jigs":
            self._count(most_jigs)
        self.goal = self.jigs if by_jigs else self.worst
        self.found = 0

    def _variable(self, name: str, low: int, high: int) -> Any:
        self.spans[name] = (low, high)
        return self.m.new_integer_variable(low, high, name=name)

    def _chosen(self, name: str, values: Sequence[int]) -> Any:
        """A variable of these values: a clause leaves out each gap between two of them."""
        values = sorted(set(values))
        variable = self._variable(name, values[0], values[-1])
        for below, above in pairwise(values):
            if above > below + 1:
                self._clause((variable, name, "<=", below), (variable, name, ">=", above))
        return variable

    def _post(self, kind: Any, *words: Any) -> None:
        self.m.add_constraint(kind(*words, self.m.new_constraint_tag()))

    def _clause(self, *facts: tuple[Any, str, str, int]) -> None:
        self._post(self.c.Clause, [self._literal(*fact) for fact in facts])

    def _literal(self, variable: Any, name: str, sign: str, value: int) -> Any:
        key = (name, sign, value)
        if key not in self.literals:
            told = self.package.Predicate(variable, getattr(self.package.Comparator, SIGNS[sign]), value)
            self.literals[key] = self.m.predicate_as_boolean(
                told, self.m.new_constraint_tag(), name=f"l{len(self.literals)}"
            )
        return self.literals[key]

    def _link(self, link: int) -> dict[str, Any]:
        problem = self.problem
        rows = [row for row in self.table if problem.idle_possible(link) or not row.idle]
        names = [name for name in Row._fields if name != "idle" or problem.idle_possible(link)]
        columns = {name: self._chosen(f"{name} {link}", [getattr(row, name) for row in rows]) for name in Row._fields}
        free = [name for name in names if len({getattr(row, name) for row in rows}) > 1]
        if len(free) > 1:
            tuples = dict.fromkeys(tuple(getattr(row, name) for name in free) for row in rows)
            self._post(self.c.Table, [columns[name] for name in free], [list(row) for row in tuples])
        if "idle" in free:  # idle where the last body rides further in
            last, name = self.places[-1], f"place {len(self.places) - 1}"
            idle = columns["idle"], f"idle {link}"
            self._clause((last, name, ">=", link + 1), (*idle, ">=", 1))
            self._clause((last, name, "<=", link), (*idle, "<=", 0))
        return columns

    def _families(self) -> None:
        """The periods of the rings: sums of what the links and the family's teeth add."""
        problem = self.problem
        steps = [
            [family.units(link + 1) - family.units(link) for family in problem.families]
            for link in range(problem.links)
        ]
        rings = [self._chosen(f"ring {link}", values) for link, values in enumerate(steps)]
        if len(problem.families) > 1:
            columns = [self.family, *rings]
            if len(problem.classes) > 1:
                columns += [one["group"] for one in self.links]
            rows = []
            for number, family in enumerate(problem.families):
                groups = family.classes if len(problem.classes) > 1 else ()
                rows.append([number, *(values[number] for values in steps), *groups])
            self._post(self.c.Table, columns, rows)
        self.periods = [self._variable("period 0", 0, 0)]
        for link, columns in enumerate(self.links):
            period = self._variable(f"period {link + 1}", *self.hull[link + 1])
            terms = [self.periods[-1], columns["units"], rings[link], period.scaled(-1)]
            self._post(self.c.Equals, terms, 0)
            self.periods.append(period)

    def _bodies(self) -> None:
        """At the ring on which a body rides the period is its own, but for the error."""
        for body, (low, high) in enumerate(self.problem.targets):
            for ring in self.problem.seats(body):
                here = self._literal(self.places[body], f"place {body}", "==", ring)
                period = self.periods[ring]
                for terms, most in (
                    ([period, self.worst.scaled(-1)], round(SCALE * high)),
                    ([period.scaled(-1), self.worst.scaled(-1)], -round(SCALE * low)),
                ):
                    stated = self.c.LessThanOrEquals(terms, most, self.m.new_constraint_tag())
                    self.m.add_implication(stated, here)

    def _senses(self) -> None:
        problem = self.problem
        turned = [(self._variable("turned 0", 0, 0), "turned 0")]
        for link, columns in enumerate(self.links):
            here, before = (columns["turn"], f"turn {link}"), turned[-1]
            beyond = (self._variable(f"turned {link + 1}", 0, 1), f"turned {link + 1}")
            for a in (0, 1):
                for b in (0, 1):
                    self._clause((*before, "!=", a), (*here, "!=", b), (*beyond, "==", a ^ b))
            turned.append(beyond)
        for body, sense in enumerate(problem.senses):
            for ring in problem.seats(body) if sense is not None else ():
                self._clause((self.places[body], f"place {body}", "!=", ring), (*turned[ring], "==", sense))

    def _order(self) -> None:
        """The links before and after a blank ring may change places: the smaller ratio first."""
        problem, bodies = self.problem, range(len(self.places))
        for ring in range(1, problem.links):
            riders = [k for k in bodies if ring in problem.seats(k)]
            if any(len(problem.seats(k)) == 1 for k in riders):
                continue
            inner, outer = self.links[ring - 1]["units"], self.links[ring]["units"]
            ordered = self.m.new_boolean_variable(name=f"ordered {ring}")
            stated = self.c.LessThanOrEquals([inner, outer.scaled(-1)], 0, self.m.new_constraint_tag())
            self.m.add_implication(stated, ordered)
            others = [self._literal(self.places[k], f"place {k}", "==", ring) for k in riders]
            if problem.idle_possible(ring) and len(problem.counts) > 1:
                others.append(self._literal(self.links[ring]["idle"], f"idle {ring}", ">=", 1))
            self._post(self.c.Clause, [ordered, *others])

    def _count(self, most: int | None) -> None:
        if len(self.problem.counts) > 1:
            raise NotImplementedError("jigs with several numbers of rings")
        sizes = sorted({size for row in self.table for size in (row.wheel, row.pinion)})
        used = {size: self.m.new_boolean_variable(name=f"used {size}") for size in sizes}
        for link, columns in enumerate(self.links):
            for side in ("wheel", "pinion"):
                for size in {getattr(row, side) for row in self.table}:
                    differs = self._literal(columns[side], f"{side} {link}", "!=", size)
                    self._post(self.c.Clause, [differs, used[size]])
        self.jigs = self._variable("jigs", 1, 3 * self.problem.rings if most is None else most)
        counted = [one.as_integer() for one in used.values()]
        self._post(self.c.LessThanOrEquals, [*counted, self.jigs.scaled(-1)], -self.problem.rings)

    def run(self, clock: Clock) -> tuple[Train | None, bool]:
        """The best train within the time left, and whether it is proven (none and proven: there is none).

        The goal is bisected: the solver is asked again and again under an assumption, and keeps what it has learnt.
        """
        low, middle, best, assumed = 0, 0, None, list[Any]()
        while clock.left():
            given = self.m.satisfy_under_assumptions(assumed, timeout=clock.left())
            told = type(given).__name__
            if told == "Satisfiable":
                best = self._read(given._0.int_value)
                self.found = given._0.int_value(self.goal)
            elif told.startswith("Unsatisfiable"):
                if best is None:
                    return None, True
                low = middle + 1
                self._post(self.c.LessThanOrEquals, [self.goal.scaled(-1)], -low)
            else:
                return best, False
            if low >= self.found:
                return best, True
            middle = (low + self.found) // 2
            assumed = [self.package.Predicate(self.goal, self.package.Comparator.LessThanOrEqual, middle)]
        return best, False

    def _read(self, value: Callable[[Any], int]) -> Train:
        rows = [Row(*(value(columns[name]) for name in Row._fields)) for columns in self.links]
        return self.problem.read(self.problem.families[value(self.family)], tuple(map(value, self.places)), rows)


def solve(problem: Problem, clock: Clock) -> Found:
    """The least worst error, or the fewest jigs and then the least error within them."""

    def run(by_jigs: bool, most_jigs: int | None = None) -> tuple[Train | None, int, bool]:
        chain = LearningChain(problem, by_jigs, most_jigs)
        train, proven = chain.run(clock)
        return train, chain.found, proven

    return by_goal(problem, run, NOTE)


def solve_with_proof(problem: Problem, clock: Clock) -> Found:
    """The least worst error; then once more that there is no less, each step of this proof written to a file."""
    chain = LearningChain(problem, by_jigs=False)
    best, proven = chain.run(clock)
    if best is None or not proven:
        return Found(best, proven, NOTE)
    before = clock.passed()
    if not chain.found:
        return Found(best, proven, f"{NOTE}; no error, nothing to prove")
    with tempfile.TemporaryDirectory() as folder:
        proof = Path(folder, "proof.drcp")
        train, proven = LearningChain(problem, by_jigs=False, worst=chain.found - 1, proof=proof).run(clock)
        assert train is None, "better than what was proven best"
        told = f"{clock.passed() - before:.2f} s of it for a proof of {proof.stat().st_size / 1e6:.2f} MB"
    return Found(best, proven, f"{NOTE}; {told}")


_WHAT = (
    "lazy clause generation, pumpkin-solver, 1 thread: one model, a table for each link and one for the families, each "
    "body's window implied by its place; the goal bisected under assumptions, the solver's own branching"
)
PUMPKIN = Peer("Pumpkin", _WHAT, ("error", "jigs"), missing("pumpkin_solver"), solve)
PUMPKIN_PROOF = Peer(
    "Pumpkin, proof",
    "the same, and then afresh that there is nothing better, each step written to a file",
    ("error",),
    missing("pumpkin_solver"),
    solve_with_proof,
)
