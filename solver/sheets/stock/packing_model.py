"""Packing with CP-SAT: whether pieces go on so many bars, and on how short ones.

Where all ways to fill a bar can be listed, a variable says how often each is used; else one says how many pieces of
each length, and how many units of each long piece, lie on each bar, and bars alike are ordered by what they hold. One
worker and a fixed seed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import islice, pairwise
from math import ceil

from ortools.sat.python import cp_model

from solver.sheets.stock.packing_hand import Load, Loads, PackingTask, total, used
from solver.sheets.stock.packing_long import FINE, Long

_MOST_PATTERNS, _MOST_KINDS = 4000, 60


@dataclass(frozen=True)
class PackingFound:
    """What CP-SAT found: bars, or None; closed: nothing is left open; bound: no total is less."""

    loads: Loads | None
    closed: bool
    bound: int = 0


class Solver:
    """Asks CP-SAT about one task, each time within that deterministic limit."""

    def __init__(self, task: PackingTask, work: float) -> None:
        self.task, self.work = task, work

    @cached_property
    def patterns(self) -> list[tuple[int, Load]] | None:
        """The ways to fill a bar, worked out when they are first needed; None with long pieces, or too many."""
        return None if self.task.longs else _patterns(self.task)

    def fit(self, count: int) -> PackingFound:
        """Whether the pieces go on so many bars, all of them the longest."""
        return self._ask(_model(self.task, self.patterns, count, False), [])

    def shorten(self, best: Loads, least: int) -> PackingFound:
        """The least total of as many bars as these, which is from `least` to theirs."""
        model = _model(self.task, self.patterns, len(best), True)
        model.model.add_linear_constraint(model.length, least, total(best))
        model.model.minimize(model.length)
        return self._ask(model, best)

    def join_less(self, best: Loads) -> PackingFound:
        """The same bars with long pieces in as few parts as are found."""
        model = _Counts(self.task, len(best), True)
        for bar, (length, _) in zip(model.bars, sorted(best, key=lambda one: -one[0]), strict=True):
            model.model.add(bar == length)
        model.model.minimize(sum(model.parts))
        return self._ask(model, best, self.work / 6)  # nobody is told that there are no fewer

    def _ask(self, model: _Counts | _Patterns, hint: Loads, work: float | None = None) -> PackingFound:
        model.hint(hint)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = 1
        solver.parameters.max_deterministic_time = work or self.work
        status = solver.solve(model.model)
        closed = status in (cp_model.OPTIMAL, cp_model.INFEASIBLE)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return PackingFound(None, closed)
        bound = ceil(solver.best_objective_bound - 1e-6) if hint else 0
        return PackingFound(model.loads(solver), closed, bound)


def _model(
    task: PackingTask, patterns: list[tuple[int, Load]] | None, count: int, any_bar: bool
) -> _Counts | _Patterns:
    return _Counts(task, count, any_bar) if patterns is None else _Patterns(task, patterns, count)


def _patterns(task: PackingTask) -> list[tuple[int, Load]] | None:
    """Every way to fill a bar of each length to which no piece can be added; None where there are too many."""

    def fill(kind: int, room: int) -> Iterator[Load]:
        if kind == len(task.sizes):
            yield ()
            return
        size, most = task.sizes[kind], min(task.demand[kind], room // task.sizes[kind])
        for count in range(most, -1, -1):
            for rest in fill(kind + 1, room - count * size):
                yield ((kind, count), *rest) if count else rest

    def full(bar: int, load: Load) -> bool:
        here, room = dict(load), bar - used(task, load)
        return all(size > room or here.get(kind, 0) == task.demand[kind] for kind, size in enumerate(task.sizes))

    if len(task.sizes) > _MOST_KINDS:
        return None
    found: list[tuple[int, Load]] = []
    for bar in task.bars:
        loads = list(islice(fill(0, bar), 10 * _MOST_PATTERNS))
        found += [(bar, load) for load in loads if load and full(bar, load)]
        if len(loads) == 10 * _MOST_PATTERNS or len(found) > _MOST_PATTERNS:
            return None
    return found


class _Patterns:
    """How often each way to fill a bar is used; pieces may be there more often than they are needed."""

    def __init__(self, task: PackingTask, patterns: list[tuple[int, Load]], count: int) -> None:
        self.task, self.patterns = task, patterns
        self.model = model = cp_model.CpModel()
        self.times = [model.new_int_var(0, count, "") for _ in patterns]
        there: list[list[cp_model.LinearExprT]] = [[] for _ in task.sizes]
        for times, (_, load) in zip(self.times, patterns, strict=True):
            for kind, number in load:
                there[kind].append(number * times)
        for pieces, need in zip(there, task.demand, strict=True):
            model.add(sum(pieces) >= need)
        model.add(sum(self.times) == count)
        self.length = sum(bar * times for times, (bar, _) in zip(self.times, patterns, strict=True))

    def hint(self, loads: Loads) -> None:
        """Nothing is gained by a hint."""

    def loads(self, solver: cp_model.CpSolver) -> Loads:
        """The bars, with each piece only as often as it is needed."""
        left = list(self.task.demand)
        found: Loads = []
        for times, (bar, load) in zip(self.times, self.patterns, strict=True):
            for _ in range(solver.value(times)):
                taken = tuple((kind, min(number, left[kind])) for kind, number in load if left[kind])
                for kind, number in taken:
                    left[kind] -= number
                found.append((bar, taken))
        return [one for one in found if one[1]]


class _Counts:
    """How many pieces of each length lie on each bar. any_bar: bars of every length, else the longest alone."""

    def __init__(self, task: PackingTask, count: int, any_bar: bool) -> None:
        self.task = task
        self.model = model = cp_model.CpModel()
        kinds = range(len(task.sizes))
        bars = list(task.bars if any_bar else task.bars[-1:])
        self.lies = [
            [model.new_int_var(0, min(task.demand[kind], bars[-1] // task.sizes[kind]), "") for kind in kinds]
            for _ in range(count)
        ]
        self.bars = [model.new_int_var_from_domain(cp_model.Domain.from_values(bars), "") for _ in range(count)]
        for kind in kinds:
            model.add(sum(pieces[kind] for pieces in self.lies) == task.demand[kind])
        loads = [sum(task.sizes[kind] * pieces[kind] for kind in kinds) for pieces in self.lies]
        self.units: list[list[cp_model.IntVar]] = []
        self.parts: list[cp_model.IntVar] = []
        self.sawn: list[list[cp_model.IntVar]] = []
        for long in task.longs:
            loads = [load + needs for load, needs in zip(loads, self._add_long(long, bars[-1], count), strict=True)]
        for bar, load in zip(self.bars, loads, strict=True):
            model.add(load <= bar)
        for before, after in pairwise(self.bars if any_bar else loads):
            model.add(before >= after)
        self.length = sum(self.bars)

    def _add_long(self, long: Long, bar: int, count: int) -> list[cp_model.LinearExpr]:
        """What the parts of a long piece need on each bar."""
        model, most = self.model, long.room(bar)
        units = [model.new_int_var(0, min(most, long.units), "") for _ in range(count)]
        there = [model.new_bool_var("") for _ in range(count)]
        sawn = [model.new_int_var(0, long.sawn(most), "") for _ in range(count)]
        for lies, part, length in zip(units, there, sawn, strict=True):
            model.add(lies >= long.least * part)
            model.add(lies <= most * part)
            model.add(FINE * length >= long.unit * lies + long.extra * part)
        model.add(sum(units) == long.units)
        model.add(sum(there) >= long.fewest_parts(bar))
        self.units.append(units)
        self.parts += there
        self.sawn.append(sawn)
        return [length + long.cut * part for length, part in zip(sawn, there, strict=True)]

    def hint(self, loads: Loads) -> None:
        """Start from these bars."""
        for index, (bar, load) in enumerate(sorted(loads, key=lambda one: -one[0])):
            self.model.add_hint(self.bars[index], bar)
            for kind, number in enumerate(self.lies[index]):
                self.model.add_hint(number, dict(load).get(kind, 0))
            for place, long in enumerate(self.task.longs):
                lies = dict(load).get(len(self.task.sizes) + place, 0)
                self.model.add_hint(self.units[place][index], lies)
                self.model.add_hint(self.parts[place * len(loads) + index], bool(lies))
                self.model.add_hint(self.sawn[place][index], long.sawn(lies) if lies else 0)

    def loads(self, solver: cp_model.CpSolver) -> Loads:
        """The bars that hold something."""
        found: Loads = []
        for index, (bar, pieces) in enumerate(zip(self.bars, self.lies, strict=True)):
            numbers = enumerate(map(solver.value, [*pieces, *(lies[index] for lies in self.units)]))
            found.append((solver.value(bar), tuple((kind, number) for kind, number in numbers if number)))
        return [one for one in found if one[1]]
