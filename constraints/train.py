"""The CP-SAT variables of one train, in one container."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeAlias

from ortools.sat.python import cp_model

# An expression of CP-SAT. Its own union of expressions and numpy integers has no sum that type checkers accept.
Expr: TypeAlias = Any


@dataclass(frozen=True)
class Count:
    """A tooth count: the integer and, for each value of its domain, the literal that says "it is this one"."""

    value: cp_model.IntVar
    is_value: dict[int, cp_model.IntVar]

    def weighted(self, weights: dict[int, int], sign: int = 1) -> list[tuple[cp_model.IntVar, int]]:
        """Terms (literal, sign * weights[z]) whose sum is the weight of the value taken."""
        return [(literal, sign * weights[teeth]) for teeth, literal in self.is_value.items()]


@dataclass(frozen=True)
class Kind:
    """A link kind as its literal and the number of third gears on the wheel's and on the pinion's side."""

    chosen: cp_model.IntVar
    wheel_thirds: int
    pinion_thirds: int

    @property
    def thirds(self) -> int:
        return self.wheel_thirds + self.pinion_thirds


@dataclass(frozen=True)
class LinkVars:
    """One link. A third gear that is absent counts 0 teeth. arbor: radius in teeth (only with places)."""

    kinds: tuple[Kind, ...]
    kind_index: cp_model.IntVar
    wheel: Count
    pinion: Count
    wheel_third: Count
    pinion_third: Count
    arbor: cp_model.IntVar

    def thirds(self) -> Expr:
        """How many third gears the link has."""
        return sum(kind.thirds * kind.chosen for kind in self.kinds)

    def counts(self) -> tuple[Count, Count, Count, Count]:
        return (self.wheel, self.pinion, self.wheel_third, self.pinion_third)


@dataclass
class TrainVars:
    """A train under construction: rings and links, ring 0 first.

    logs[i] is the scaled logarithm of T[i] (posted by the rule `error`); reverse[i] is true where ring i turns
    against ring 0 (posted by `sense`).
    """

    model: cp_model.CpModel
    rings: list[Count] = field(default_factory=list)
    links: list[LinkVars] = field(default_factory=list)
    logs: list[cp_model.IntVar] = field(default_factory=list)
    reverse: list[cp_model.IntVar] = field(default_factory=list)
    arbor_high: int = 0

    def count(self, name: str, domain: Iterable[int]) -> Count:
        """A new tooth count over a domain, with its literals channelled."""
        values = sorted(set(domain))
        number = self.model.new_int_var_from_domain(cp_model.Domain.from_values(values), name)
        literals = {teeth: self.model.new_bool_var(f"{name}={teeth}") for teeth in values}
        self.model.add_exactly_one(literals.values())
        self.model.add(number == sum(teeth * literal for teeth, literal in literals.items()))
        return Count(number, literals)

    @classmethod
    def build(
        cls,
        rings: Sequence[Iterable[int]],
        wheel: Sequence[Iterable[int]],
        pinion: Sequence[Iterable[int]],
        third: Iterable[int],
        kinds: Sequence[Sequence[tuple[int, int]]],
        log_span: int,
        gap: int = 0,
    ) -> TrainVars:
        """Variables for a train: a domain for each ring, for each link's wheel and pinion, and one for thirds.

        kinds: for each link the (wheel_thirds, pinion_thirds) of the kinds it may have. log_span: bound on the
        absolute value of every scaled logarithm; below 2**53, so that sums of a few stay far below 2**63. gap: the
        clearance of a third gear's wheel in teeth, which the arbor may have to stand farther out.
        """
        train = cls(cp_model.CpModel())
        third = set(third)
        gears = max(max(domain, default=0) for domain in (*wheel, *pinion))
        train.arbor_high = max(map(max, rings)) + gears + 2 * max(third, default=0) + gap
        for i, domain in enumerate(rings):
            train.rings.append(train.count(f"ring{i}", domain))
            train.logs.append(train.model.new_int_var(-log_span, log_span, f"log{i}"))
            train.reverse.append(train.model.new_bool_var(f"reverse{i}"))
        for i, shapes in enumerate(kinds):
            train.links.append(train._link(i, set(wheel[i]), set(pinion[i]), third, shapes))
        return train

    def _link(
        self, i: int, wheel: set[int], pinion: set[int], third: set[int], shapes: Sequence[tuple[int, int]]
    ) -> LinkVars:
        model = self.model
        literals = [model.new_bool_var(f"kind{i}.{index}") for index in range(len(shapes))]
        model.add_exactly_one(literals)
        index_var = model.new_int_var(0, len(shapes) - 1, f"kind{i}")
        model.add(index_var == sum(index * literal for index, literal in enumerate(literals)))
        wheel_third = self.count(f"wheel_third{i}", {0} | (third if any(w for w, _ in shapes) else set()))
        pinion_third = self.count(f"pinion_third{i}", {0} | (third if any(p for _, p in shapes) else set()))
        for literal, (on_wheel, on_pinion) in zip(literals, shapes, strict=True):
            for gear, present in ((wheel_third, on_wheel), (pinion_third, on_pinion)):
                absent = gear.is_value[0]
                model.add_implication(literal, ~absent if present else absent)
        return LinkVars(
            tuple(Kind(literal, *shape) for literal, shape in zip(literals, shapes, strict=True)),
            index_var,
            self.count(f"wheel{i}", wheel),
            self.count(f"pinion{i}", pinion),
            wheel_third,
            pinion_third,
            model.new_int_var(0, self.arbor_high, f"arbor{i}"),
        )
