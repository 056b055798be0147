"""Puts the model of a case to the solver `pumpkin-solver`, which writes down each step of its proof."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from solver.check.certificate.claim import Trains
from solver.check.certificate.model import CaseModel, Constraint

HOW_TO_INSTALL = "a certificate needs the solver that writes proofs: pip install 'ringwright[certificate]'"
_OPS = {"<=": "LessThanOrEqual", ">=": "GreaterThanOrEqual", "==": "Equal", "!=": "NotEqual"}


class NoProvingSolver(RuntimeError):
    """The proving solver is not installed."""


class TooLong(RuntimeError):
    """The proving solver did not come to an end in its time."""


def solving() -> Any:
    """The package `pumpkin_solver`. Raises NoProvingSolver."""
    try:
        import pumpkin_solver  # type: ignore[import-untyped,import-not-found,unused-ignore]
    except ImportError:
        raise NoProvingSolver(HOW_TO_INSTALL) from None
    return pumpkin_solver


class Posted:
    """A model as the solver has it, its steps written to `proof`. tags: the constraints; they count from 1 in the order
    in which tags are asked for. Raises NoProvingSolver."""

    def __init__(self, model: CaseModel, proof: Path) -> None:
        self.model, self.package = model, solving()
        self.solver = self.package.Model(proof=str(proof))
        self.variables = {
            name: self.solver.new_integer_variable(low, high, name=name) for name, (low, high) in model.bounds.items()
        }
        self.literals: dict[tuple[str, str, int], Any] = {}
        self.count, self.tags = 0, dict[int, Constraint]()
        for constraint in model.constraints:
            self.post(constraint)

    def _tag(self) -> Any:
        self.count += 1
        return self.solver.new_constraint_tag()

    def _literal(self, name: str, op: str, value: int) -> Any:
        key = (name, op, value)
        if key not in self.literals:
            comparator = getattr(self.package.Comparator, _OPS[op])
            told = self.package.Predicate(self.variables[name], comparator, value)
            # Without a name the proof leaves the literal out; with one it says the fact itself.
            self.literals[key] = self.solver.predicate_as_boolean(told, self._tag(), name=f"l{len(self.literals)}")
        return self.literals[key]

    def post(self, constraint: Constraint) -> None:
        kind, terms, total = constraint
        from pumpkin_solver import constraints  # type: ignore[import-untyped,import-not-found,unused-ignore]

        if kind == "clause":
            literals = [self._literal(*fact) for fact in terms]
            stated = constraints.Clause(literals, self._tag())
        else:
            scaled = [self.variables[name].scaled(factor) for factor, name in terms]
            stated = (constraints.Equals if kind == "sum" else constraints.LessThanOrEquals)(scaled, total, self._tag())
        self.tags[self.count] = constraint
        self.solver.add_constraint(stated)

    def solve(self, seconds: float) -> Trains | None:
        """Some trains that keep the model, or None: there are none, and the proof is written. Raises
        TooLong."""
        found = self.solver.satisfy(timeout=seconds)
        name = type(found).__name__
        if name == "Unsatisfiable":
            return None
        if name != "Satisfiable":
            raise TooLong(f"no certificate: not settled within {seconds:.0f} s")
        solution, model = found._0, self.model
        value = {name: solution.int_value(variable) for name, variable in self.variables.items()}
        counts = [value[f"c{r}"] for r in range(model.last + 1)]
        seats = tuple(r for r, (before, count) in enumerate(zip([0, *counts], counts, strict=False)) if count > before)
        links = (_link(model.values[i], value[f"u{i}"], value[f"b{i}"]) for i in range(model.last))
        return Trains(seats, tuple(links))


def _link(values: Sequence[dict[int, set[Any]]], thirds: int, value: int) -> tuple[Any, int]:
    return min(values[thirds][value]), thirds
