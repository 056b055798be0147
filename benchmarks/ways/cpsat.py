"""CP-SAT: one model for all structures.

The family of rings is an index into columns of ring logarithms and classes; one table for each link ties class,
scaled logarithm, third gears and sense together, and the logarithms are summed along the chain. Booleans seat the
bodies; they enforce the two sides of the error. Neighbouring links around a blank commute, so they are ordered.
The workers are given an order of branching, from the inside outwards. Sums under enforcement stay below 2**26.
"""

from __future__ import annotations

import math
from typing import Any

from benchmarks.ways.common import SCALE, Clock, Found, Peer, Problem, Row, missing
from solver.design.train import Train

WORKERS = 2


class Chain:
    """The model, its last solution and whether that is proven."""

    def __init__(self, problem: Problem) -> None:
        from ortools.sat.python import cp_model

        self.problem = problem
        self.cp = cp = cp_model.CpModel()
        self.solver = cp_model.CpSolver()
        self.solver.parameters.num_workers = WORKERS
        self.table = problem.rows()
        self.hull = [
            (math.floor(SCALE * min(0, a)) - problem.rings, math.ceil(SCALE * b) + problem.rings)
            for a, b in problem.hull()
        ]
        self.worst = cp.new_int_var(0, math.floor(SCALE * problem.cap), "worst")
        self.family = cp.new_int_var(0, len(problem.families) - 1, "family")
        self.seats = [
            {ring: cp.new_bool_var(f"{body} on {ring}") for ring in problem.seats(body)}
            for body in range(len(problem.targets))
        ]
        self.places = [sum(ring * here for ring, here in seats.items()) for seats in self.seats]
        for seats in self.seats:
            cp.add_exactly_one(seats.values())
        for inner, outer in zip(self.places, self.places[1:], strict=False):
            cp.add(inner < outer)
        self.links = [self._link(link) for link in range(problem.links)]
        self._ratios()
        if problem.third_limit:
            cp.add(sum(link["thirds"] for link in self.links) <= problem.third_limit)
        if problem.senses_matter:
            self._senses()
        if problem.same_class:
            self._order()
        if problem.goal == "jigs":
            self._count()
        self._strategy()

    def _link(self, link: int) -> dict[str, Any]:
        """The columns of a link's table as variables; a column with one value stays a number."""
        rows = [row for row in self.table if self.problem.idle_possible(link) or not row.idle]
        columns: dict[str, Any] = {}
        for index, name in enumerate(Row._fields):
            values = sorted({row[index] for row in rows})
            columns[name] = self._choice(values, f"{name} {link}")
        free = [index for index, name in enumerate(Row._fields) if not isinstance(columns[name], int)]
        if len(free) > 1:
            self.cp.add_allowed_assignments(
                [columns[Row._fields[index]] for index in free],
                list(dict.fromkeys(tuple(row[index] for index in free) for row in rows)),
            )
        if len(self.problem.classes) > 1:
            self._column([family.classes[link] for family in self.problem.families], columns["group"])
        if self.problem.idle_possible(link):
            last = self.seats[-1]
            if not isinstance(columns["idle"], int):
                self.cp.add(sum(here for ring, here in last.items() if ring <= link) == columns["idle"])
        return columns

    def _choice(self, values: list[int], name: str) -> Any:
        from ortools.sat.python import cp_model

        return (
            values[0]
            if len(values) == 1
            else self.cp.new_int_var_from_domain(cp_model.Domain.from_values(values), name)
        )

    def _column(self, values: list[int], variable: Any) -> None:
        """variable is the value that belongs to the family."""
        self.cp.add_element(self.family, values, variable)

    def _ratios(self) -> None:
        """The errors of seated bodies."""
        cp, problem = self.cp, self.problem
        total: Any = 0
        for ring in range(1, problem.rings):
            total = total + self.links[ring - 1]["units"]
            logs = [family.units(ring) for family in problem.families]
            of_ring = self._choice(sorted(set(logs)), f"ring {ring}")
            if not isinstance(of_ring, int):
                self._column(logs, of_ring)
            period = cp.new_int_var(*self.hull[ring], f"period {ring}")
            cp.add(period == of_ring + total)
            total = period - of_ring
            for seats, (low, high) in zip(self.seats, problem.targets, strict=True):
                if ring in seats:
                    slow = cp.add(period - self.worst <= round(SCALE * high))
                    fast = cp.add(period + self.worst >= round(SCALE * low))
                    if len(seats) > 1:
                        slow.only_enforce_if(seats[ring])
                        fast.only_enforce_if(seats[ring])

    def _senses(self) -> None:
        cp, turned = self.cp, None
        for ring in range(1, self.problem.rings):
            beyond, turn = cp.new_bool_var(""), self.links[ring - 1]["turn"]
            cp.add_bool_xor([turn, beyond, True] if turned is None else [turned, turn, beyond, True])
            turned = beyond
            for seats, sense in zip(self.seats, self.problem.senses, strict=True):
                if ring in seats and sense is not None:
                    cp.add_implication(seats[ring], beyond if sense else beyond.negated())

    def _order(self) -> None:
        """The links before and after a blank ring may change places: the smaller ratio first."""
        for ring in range(1, self.problem.links):
            here = [seats[ring] for seats in self.seats if ring in seats]
            if any(len(seats) == 1 and ring in seats for seats in self.seats):
                continue
            inner, outer = self.links[ring - 1]["units"], self.links[ring]["units"]
            idle = self.links[ring]["idle"]
            free = [*here, *([] if isinstance(idle, int) else [idle])]
            self.cp.add(inner <= outer).only_enforce_if([literal.negated() for literal in free])

    def _count(self) -> None:
        """jigs: sizes used by any wheel or pinion, and the rings."""
        cp = self.cp
        sizes = sorted({teeth for row in self.table for teeth in (row.wheel, row.pinion)} - {0})
        used = {teeth: cp.new_bool_var(f"size {teeth}") for teeth in sizes}
        for link in self.links:
            for side in ("wheel", "pinion"):
                values = sorted({getattr(row, side) for row in self.table} - {0})
                literals = {teeth: cp.new_bool_var("") for teeth in values}
                idle = [] if isinstance(link["idle"], int) else [link["idle"]]
                cp.add_exactly_one([*literals.values(), *idle])
                cp.add(sum(teeth * literal for teeth, literal in literals.items()) == link[side])
                for teeth, literal in literals.items():
                    cp.add_implication(literal, used[teeth])
        self.jigs = sum(used.values()) + self.places[-1] + 1

    def _strategy(self) -> None:
        """The workers that follow an order take rings, seats, then links from the inside outwards, middles first."""
        from ortools.sat.python import cp_model

        first, last = cp_model.CHOOSE_FIRST, cp_model.SELECT_MAX_VALUE
        here = [literal for seats in self.seats for literal in seats.values()]
        units = [link["units"] for link in self.links if not isinstance(link["units"], int)]
        self.cp.add_decision_strategy([self.family], first, cp_model.SELECT_LOWER_HALF)
        self.cp.add_decision_strategy(here, first, last)
        self.cp.add_decision_strategy(units, first, cp_model.SELECT_MEDIAN_VALUE)

    def run(self, clock: Clock) -> tuple[Train | None, bool]:
        """The best train within the time left, and whether it is proven (none and proven: there is none)."""
        from ortools.sat.python import cp_model

        self.solver.parameters.max_time_in_seconds = max(0.01, clock.left())
        status = self.solver.solve(self.cp)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None, status == cp_model.INFEASIBLE
        value = self.solver.value
        rows = [
            Row(*(of if isinstance(of, int) else value(of) for of in (link[name] for name in Row._fields)))
            for link in self.links
        ]
        places = tuple(int(value(place)) for place in self.places)
        return self.problem.read(self.problem.families[value(self.family)], places, rows), status == cp_model.OPTIMAL

    def hint(self) -> None:
        """Start the next run from the last solution."""
        self.cp.clear_hints()
        for index in range(len(self.cp.proto.variables)):
            variable = self.cp.get_int_var_from_proto_index(index)
            self.cp.add_hint(variable, self.solver.value(variable))


def solve(problem: Problem, clock: Clock) -> Found:
    """The least worst error, or the fewest jigs and then the least error within them."""
    note = f"{WORKERS} workers"
    chain = Chain(problem)
    best = None
    if problem.goal == "jigs":
        chain.cp.minimize(chain.jigs)
        best, proven = chain.run(clock)
        if best is None or not proven:
            return Found(best, proven, note)
        chain.cp.add(chain.jigs <= round(chain.solver.objective_value))
        chain.hint()
    chain.cp.minimize(chain.worst)
    train, proven = chain.run(clock)
    return Found(train or best, proven, note)


CPSAT = Peer(
    "CP-SAT",
    f"ortools CP-SAT, {WORKERS} workers, one model with a table for each link",
    ("error", "jigs"),
    missing("ortools", "part of the project's own environment"),
    solve,
)
