"""The CP-SAT variables of a whole design: which rings, how many of them, who rides where, and every link.

A link is one row of the table of its choices. The table has the columns that rules ask for and no others, so that
choices which no rule tells apart are one row. There are as many rings as there can be at most; those beyond the last
body's are not built, and their links are idle.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from functools import cached_property
from itertools import product
from typing import Any, TypeAlias

from ortools.sat.python import cp_model

from constraints.link import Choice, LinkChoices

# An expression of CP-SAT. Its own union of expressions and numpy integers has no sum that type checkers accept.
Expr: TypeAlias = Any
Of = Callable[[Choice], int]
Key = tuple[int, ...]  # what of the two rings beside a link decides its choices

COLUMNS: dict[str, Of] = {
    "kind": lambda choice: choice.kind,
    "wheel": lambda choice: choice.wheel,
    "pinion": lambda choice: choice.pinion,
    "wheel_third": lambda choice: choice.wheel_third,
    "pinion_third": lambda choice: choice.pinion_third,
    "reach": lambda choice: choice.reach,
    "thirds": lambda choice: choice.thirds,
    "wheel_set": lambda choice: choice.wheel_set,
    "pinion_set": lambda choice: choice.pinion_set,
    "turn": lambda choice: choice.thirds % 2,
}
OF_KIND = ("thirds", "turn")  # which the kind tells


class ChoiceTable:
    """The choices of a link for each key of the rings beside it, and what each is worth, worked out once for all links
    that have the same."""

    def __init__(self, keyed: Iterable[tuple[Key, Choice]]) -> None:
        told = list(keyed)
        self.keys, self.choices = [key for key, _ in told], [choice for _, choice in told]
        self._worth: dict[str, list[int]] = {}

    @cached_property
    def logs(self) -> tuple[float, float]:
        """The least and the greatest ln(wheel / pinion); 0 where there are no choices."""
        found = [math.log(choice.wheel / choice.pinion) for choice in self.choices]
        return min(found, default=0.0), max(found, default=0.0)

    def worth(self, name: str, of: Of) -> list[int]:
        """What each choice is worth."""
        if name not in self._worth:
            self._worth[name] = [of(choice) for choice in self.choices]
        return self._worth[name]


class LinkVars:
    """One link. idle: whether it is beyond the last body's ring, or 0 where it cannot be."""

    def __init__(self, train: TrainVars, number: int, idle: Expr) -> None:
        self.train, self.number, self.idle = train, number, idle
        self.may_idle = not isinstance(idle, int)
        self._columns: dict[str, tuple[Of, cp_model.IntVar]] = {}
        self._literals: dict[str, dict[int, cp_model.IntVar]] = {}
        self._told: dict[str, cp_model.IntVar] = {}

    @property
    def table(self) -> ChoiceTable:
        return self.train.table(self.number)

    def values(self, name: str, of: Of) -> list[int]:
        """What the choices are worth, ascending; 0 for idle, and where there are none."""
        found = set(self.table.worth(name, of))
        return sorted(found | {0} if self.may_idle or not found else found)

    def logs(self) -> tuple[float, float]:
        """The least and the greatest ln(wheel / pinion); 0 for idle, and where there are no choices."""
        least, most = self.table.logs
        return (min(least, 0.0), max(most, 0.0)) if self.may_idle else (least, most)

    def column(self, name: str, of: Of | None = None) -> cp_model.IntVar:
        """What the choice taken is worth; 0 where idle. of: for a name that is none of COLUMNS."""
        if name in OF_KIND and len(self.train.rules.shapes) > 1:
            return self._of_kind(name)
        if name not in self._columns:
            of = of or COLUMNS[name]
            domain = cp_model.Domain.from_values(self.values(name, of))
            self._columns[name] = of, self.train.model.new_int_var_from_domain(domain, f"{name} {self.number}")
        return self._columns[name][1]

    def _of_kind(self, name: str) -> cp_model.IntVar:
        """A column that the kind tells: the table, which has the kind, is the narrower for it."""
        if name not in self._told:
            of = COLUMNS[name]
            worth = {choice.kind: of(choice) for choice in self.table.choices}
            domain = cp_model.Domain.from_values(self.values(name, of))
            told = self._told[name] = self.train.model.new_int_var_from_domain(domain, f"{name} {self.number}")
            literals = self.literals("kind")
            self.train.model.add(told == sum(worth[kind] * literals[kind] for kind in worth if worth[kind]))
        return self._told[name]

    def ask(self, *names: str) -> None:
        """Tell choices apart by these columns."""
        for name in names:
            self.column(name)

    def literals(self, name: str) -> dict[int, cp_model.IntVar]:
        """For each value of a column the literal that says "it is this one"."""
        if name not in self._literals:
            variable = self.column(name)
            self._literals[name] = self.train.channelled(variable, self.values(name, self._columns[name][0]))
        return self._literals[name]

    def third(self, side: str) -> dict[int, cp_model.IntVar]:
        """The third gear on a side ("wheel" or "pinion"), a literal for each count of teeth; 0: none. It has at least
        the teeth that its triangle needs, and is one that may stand there; just the smallest where that stands for all.
        """
        name = f"{side}_third"
        needed = self.column(name)
        if self.train.smallest or list(needed.proto.domain) == [0, 0]:
            return self.literals(name)
        if f"chosen {name}" not in self._literals:
            model, stock = self.train.model, (0, *self.train.rules.third_teeth)
            chosen = model.new_int_var_from_domain(cp_model.Domain.from_values(stock), f"chosen {name} {self.number}")
            literals = self.train.channelled(chosen, stock)
            model.add(chosen >= needed)
            model.add(needed == 0).only_enforce_if(literals[0])
            model.add(needed >= 1).only_enforce_if(~literals[0])
            if self.train.rules.sets:
                numbers = self.literals(f"{side}_set")
                for some, number in self.train.rules.sets.items():
                    if number in numbers:
                        model.add_bool_or([literals[teeth] for teeth in some]).only_enforce_if(numbers[number])
            self._literals[f"chosen {name}"] = literals
        return self._literals[f"chosen {name}"]

    def third_teeth(self, side: str) -> Expr:
        """The teeth of the third gear on a side, 0 where there is none."""
        return sum(teeth * here for teeth, here in self.third(side).items())

    def gears(self) -> list[dict[int, cp_model.IntVar]]:
        """Wheel, pinion and third gears, each as a literal for each count of teeth; 0: there is none."""
        return [self.literals("wheel"), self.literals("pinion"), self.third("wheel"), self.third("pinion")]

    def taken(self, inner: int, outer: int, value: Callable[[Expr], int]) -> Choice:
        """The choice taken between rings of so many teeth, by the variables' values; of those that are one row the
        first."""
        told = [(of, value(variable)) for of, variable in self._columns.values()]
        wanted = self.train.key(inner, outer)
        among = zip(self.table.keys, self.table.choices, strict=True)
        return next(choice for key, choice in among if key == wanted and all(of(choice) == one for of, one in told))

    def third_taken(self, side: str, choice: Choice, value: Callable[[Expr], int]) -> int:
        """The teeth of the third gear on a side; 0: there is none. The smallest, where no rule asked for another."""
        literals = self._literals.get(f"chosen {side}_third")
        if literals is None:
            return choice.wheel_third if side == "wheel" else choice.pinion_third
        return next(teeth for teeth, here in literals.items() if value(here))

    def close(self) -> None:
        """Post the table, once all rules have asked for what they need."""
        train = self.train
        heads, table = train.key_vars(self.number), self.table
        variables = [*heads, *([self.idle] if self.may_idle else [])]
        variables += [variable for _, variable in self._columns.values()]
        columns: list[Sequence[int]] = [[key[index] for key in table.keys] for index in range(len(heads))]
        columns += [[0] * len(table.keys)] if self.may_idle else []
        columns += [table.worth(name, of) for name, (of, _) in self._columns.items()]
        rows = dict.fromkeys(zip(*columns, strict=True))
        if self.may_idle:
            idle = (1, *(0 for _ in self._columns))
            rows.update(dict.fromkeys((*(key if heads else ()), *idle) for key in train.keys(self.number)))
        if not table.keys and not self.may_idle:
            train.model.add_bool_or([])
        elif variables:
            train.model.add_allowed_assignments(variables, list(rows))


class TrainVars:
    """A design under construction.

    periods[i]: the scaled logarithm of ring i's period over that of ring 0; worst: the scaled ln(1 + worst error),
    never less than it is (both posted by `error`); turned[i]: whether ring i turns against ring 0 (by `sense`).
    """

    def __init__(
        self,
        rules: LinkChoices,
        rings: Sequence[Iterable[int]],
        counts: Sequence[int],
        bodies: int,
        key: Callable[[int, int], Key],
        families: Sequence[Sequence[int]] | None = None,
        *,
        growing: bool = True,
        smallest: bool = False,
        seats: Sequence[int] | None = None,
        keep: Callable[[int, Choice], bool] | None = None,
    ) -> None:
        """rings: for each level the teeth that its ring may have; families: where only some combinations of these may
        stand together, all of them; counts: how many rings there may be; key: what of the teeth of two rings decides
        the choices between them; growing: whether each ring must have more teeth than the one inside it; smallest:
        the smallest third gears stand for all; seats: the bodies' rings, where they are given; keep: choices of a link
        that it refuses are left out."""
        self.model = model = cp_model.CpModel()
        self.rules, self.key, self.families, self.growing, self.smallest = rules, key, families, growing, smallest
        self._keep = keep
        self.ring_values = [sorted(set(ring)) for ring in rings]
        self.rings = [
            model.new_int_var_from_domain(cp_model.Domain.from_values(values), f"ring {i}")
            for i, values in enumerate(self.ring_values)
        ]
        self.family = None if families is None else model.new_int_var(0, len(families) - 1, "family")
        self.periods: list[Expr] = []
        self.worst: Expr = 0
        self.turned: list[cp_model.IntVar] = []
        self._known: dict[Key, list[Choice]] = {}
        self._tables: dict[int, ChoiceTable] = {}
        self._shared: dict[tuple[Key, ...], ChoiceTable] = {}
        self._keys: dict[int, dict[Key, tuple[int, int]]] = {}
        self._key_vars: dict[int, list[cp_model.IntVar]] = {}
        self._of_ring: dict[tuple[str, int], Expr] = {}
        most, last = max(counts), bodies - 1
        self.seats: list[dict[int, cp_model.IntVar]] = []
        for body in range(bodies):
            if seats is not None:
                possible: Iterable[int] = (seats[body],)
            elif body in (0, last):
                possible = (0,) if body == 0 else [count - 1 for count in counts]
            else:
                possible = range(body, most - last + body)
            self.seats.append({ring: model.new_bool_var(f"body {body} on ring {ring}") for ring in possible})
        self.links: list[LinkVars] = []
        for number in range(most - 1):
            idle: Expr = 0
            if number >= min(counts) - 1:
                idle = model.new_bool_var(f"idle {number}")
                model.add(idle == sum(here for ring, here in self.seats[-1].items() if ring <= number))
            self.links.append(LinkVars(self, number, idle))

    def channelled(self, variable: cp_model.IntVar, values: Iterable[int]) -> dict[int, cp_model.IntVar]:
        """For each value of a variable the literal that says "it is this one"."""
        name = variable.name
        literals = {value: self.model.new_bool_var(f"{name} = {value}") for value in values}
        self.model.add_exactly_one(literals.values())
        self.model.add(variable == sum(value * literal for value, literal in literals.items()))
        return literals

    # -- links ---------------------------------------------------------------------------------------------------

    def keys(self, number: int) -> dict[Key, tuple[int, int]]:
        """Every value that the key of a link's rings can have, each with the smallest rings that have it."""
        if number not in self._keys:
            found: dict[Key, tuple[int, int]] = {}
            for pair in self._pairs(number):
                found.setdefault(self.key(*pair), pair)
            self._keys[number] = found
        return self._keys[number]

    def _pairs(self, number: int) -> list[tuple[int, int]]:
        if self.families is not None:
            pairs = {(family[number], family[number + 1]) for family in self.families}
        else:
            pairs = set(product(self.ring_values[number], self.ring_values[number + 1]))
        return sorted((inner, outer) for inner, outer in pairs if outer > inner or not self.growing)

    def table(self, number: int) -> ChoiceTable:
        """The choices of a link for each of its keys; arbor and reach count from the inner ring's pitch circle."""
        if number not in self._tables:
            keys, keep = tuple(self.keys(number)), self._keep
            if keep is not None:
                kept = ((key, one) for key in keys for one in self._between(number, key) if keep(number, one))
                self._tables[number] = ChoiceTable(kept)
            elif keys not in self._shared:
                self._shared[keys] = ChoiceTable((key, one) for key in keys for one in self._between(number, key))
            self._tables.setdefault(number, self._shared.get(keys))  # type: ignore[arg-type]
        return self._tables[number]

    def interchangeable(self, number: int, other: int) -> bool:
        """Whether two links have the same choices as each other, whatever the rings are."""
        if self._keep is not None:
            return False
        if self.families is None:
            return len({*self.keys(number), *self.keys(other)}) == 1
        keys = ([self.key(rings[one], rings[one + 1]) for one in (number, other)] for rings in self.families)
        return all(one == two for one, two in keys)

    def _between(self, number: int, key: Key) -> list[Choice]:
        if key not in self._known:
            inner, outer = self.keys(number)[key]
            found = self.rules.between(inner, outer)
            self._known[key] = [one._replace(arbor=one.arbor - inner, reach=one.reach - inner) for one in found]
        return self._known[key]

    def key_vars(self, number: int) -> list[cp_model.IntVar]:
        """The variables of a link's key; none where there is one key alone."""
        if number not in self._key_vars:
            keys, found = list(self.keys(number)), list[cp_model.IntVar]()
            for index in range(len(keys[0]) if len(keys) > 1 else 0):
                values = cp_model.Domain.from_values([key[index] for key in keys])
                found.append(self.model.new_int_var_from_domain(values, f"key {number}.{index}"))
            if found and self.family is not None and self.families is not None:
                told = [self.key(family[number], family[number + 1]) for family in self.families]
                for index, variable in enumerate(found):
                    self.model.add_element(self.family, [key[index] for key in told], variable)
            elif found:
                rows = [(*pair, *self.key(*pair)) for pair in self._pairs(number)]
                self.model.add_allowed_assignments([self.rings[number], self.rings[number + 1], *found], rows)
            self._key_vars[number] = found
        return self._key_vars[number]

    # -- rings ---------------------------------------------------------------------------------------------------

    def of_ring(self, number: int, name: str, of: Callable[[int], int]) -> Expr:
        """A function of a ring's teeth, under a name of its own."""
        if (name, number) not in self._of_ring:
            values = self.ring_values[number]
            told: Expr = of(values[0])
            if len(values) > 1:
                domain = cp_model.Domain.from_values(sorted(map(of, values)))
                told = self.model.new_int_var_from_domain(domain, f"{name} {number}")
                if self.family is not None and self.families is not None:
                    self.model.add_element(self.family, [of(family[number]) for family in self.families], told)
                else:
                    self.model.add_allowed_assignments([self.rings[number], told], [(z, of(z)) for z in values])
            self._of_ring[name, number] = told
        return self._of_ring[name, number]

    def ratios_to_first(self, ring: int) -> list[float]:
        """What ln(Z[ring] / Z[0]) can be."""
        if self.families is not None:
            return [math.log(family[ring] / family[0]) for family in self.families]
        if ring == 0:
            return [0.0]
        there, first = self.ring_values[ring], self.ring_values[0]
        return [math.log(there[0] / first[-1]), math.log(there[-1] / first[0])]

    def beyond(self, ring: int) -> Expr:
        """1 where the last body rides further in, so that there is no such ring."""
        return self.links[ring - 1].idle if ring else 0

    def seat(self, body: int) -> Expr:
        """The ring of a body."""
        return sum(ring * here for ring, here in self.seats[body].items())

    def close(self) -> cp_model.CpModel:
        """The model, whose links' tables are posted now: no rule may ask for more."""
        for link in self.links:
            link.close()
        return self.model
