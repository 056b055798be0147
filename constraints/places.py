"""The CP-SAT variables of a train's places: a literal for each place of each thing, and of each ring's rollers.

What stands where is not told here. Rules come with tables, measured exactly: for the places of one thing which of them
can be had (`Kept`), for those of two which can be had together (`Table`, a row for each place of the first). Places at
which all is alike that a rule looks at are one row: an aspect.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import compress

import numpy as np
from ortools.sat.python import cp_model

Kept = np.ndarray  # of truths, one for each place
Table = np.ndarray  # of truths, shape (rows of one aspect, rows of another)
Literals = Sequence[cp_model.IntVar]

_FEW = 3  # so many pairs that cannot be had are said one by one


@dataclass(frozen=True, eq=False)
class Aspect:
    """What of a thing, by number, is looked at: the row of each of its places; None: each has its own."""

    thing: int
    rows: np.ndarray | None = None


@dataclass
class PlaceVars:
    """Places under construction. items: for each thing its places, of which exactly one is chosen; absent: for each
    thing the literal that says that none is, None where it is surely there; rollers: for each ring the directions in
    which it may have one; riders: for some rings the literal that says that a body with a stand rides there."""

    model: cp_model.CpModel = field(default_factory=cp_model.CpModel)
    items: list[Literals] = field(default_factory=list)
    absent: list[cp_model.IntVar | None] = field(default_factory=list)
    rollers: list[Literals] = field(default_factory=list)
    riders: list[cp_model.IntVar] = field(default_factory=list)
    _aspects: dict[Aspect, Literals] = field(default_factory=dict)

    def item(self, places: int) -> None:
        """One more thing, a link or the drive, with so many places."""
        self.items.append(self._places(places))
        self.absent.append(None)
        self.model.add_exactly_one(self.items[-1])

    def either(self, places: Sequence[int], wanted: cp_model.IntVar | None = None) -> None:
        """More things with so many places, of which exactly one is there; as a link may be of one kind or another.
        wanted: only where this is true, else none."""
        first = len(self.items)
        for count in places:
            absent = self.model.new_bool_var(f"absent{len(self.items)}")
            self.items.append(self._places(count))
            self.absent.append(absent)
            self.model.add_exactly_one([*self.items[-1], absent])
        every = [place for places in self.items[first:] for place in places]
        self.model.add_exactly_one(every if wanted is None else [*every, ~wanted])

    def ring(self, directions: int) -> None:
        """One more ring, with so many directions that its rollers may have."""
        level = len(self.rollers)
        self.rollers.append([self.model.new_bool_var(f"roller{level}.{index}") for index in range(directions)])

    def keep(self, places: Literals, kept: Kept) -> None:
        """Only those that are kept can be had."""
        if gone := [~place for place in compress(places, ~kept)]:
            self.model.add_bool_and(gone)

    def keep_where(self, literal: cp_model.IntVar, places: Literals, kept: Kept) -> None:
        """Likewise, where the literal is true."""
        for place in compress(places, ~kept):
            self.model.add_bool_or([~literal, ~place])

    def together(self, places: Literals, others: Literals, table: Table) -> None:
        """No two can be had together that the table does not hold."""
        for index, other in np.argwhere(~table).tolist():
            self.model.add_bool_or([~places[index], ~others[other]])

    def clear(self, one: Literals | Aspect, other: Aspect, table: Table, where: cp_model.IntVar | None = None) -> None:
        """Likewise of a thing, or of a ring's rollers, and another thing: whoever is chosen has the row of the other
        that is, unless it is absent, among those that the table holds. As one row is chosen, that is the same. where:
        only where this is true."""
        mine, others = self.literals(one) if isinstance(one, Aspect) else one, self.literals(other)
        absent = self.absent[other.thing]
        asked: Literals = [] if where is None else [where]
        free = [*([] if absent is None else [absent]), *(~one for one in asked)]
        missing = np.count_nonzero(~table, axis=1).tolist()
        for literal, row, refused in zip(mine, table, missing, strict=True):
            if refused > _FEW:
                self.model.add_bool_or([~literal, *free, *compress(others, row)])
            elif refused:
                self.model.add_bool_and([~by for by in compress(others, ~row)]).only_enforce_if(literal, *asked)

    def near(self, aspect: Aspect, others: Literals, table: Table) -> None:
        """Wherever a thing is, at least one of these others, of which there may be several, is in its row."""
        self.beside(self.literals(aspect), others, table)

    def beside(self, places: Literals, others: Literals, table: Table) -> None:
        """Whoever is chosen has at least one of the others that its row of the table holds."""
        for place, row in zip(places, table, strict=True):
            self.model.add_bool_or([~place, *compress(others, row)])

    def literals(self, aspect: Aspect) -> Literals:
        """For each row of an aspect the literal that says that the thing is at one of its places."""
        places, rows = self.items[aspect.thing], aspect.rows
        if rows is None:
            return places
        if aspect not in self._aspects:
            name, absent = f"aspect{len(self._aspects)}", self.absent[aspect.thing]
            found = [self.model.new_bool_var(f"{name}.{row}") for row in range(int(rows.max(initial=-1)) + 1)]
            self.model.add_exactly_one(found if absent is None else [*found, absent])
            among: list[Literals] = [[] for _ in found]
            for place, row in zip(places, rows.tolist(), strict=True):
                among[row].append(place)
            for literal, some in zip(found, among, strict=True):
                self.model.add_bool_and([~place for place in some]).only_enforce_if(~literal)
            self._aspects[aspect] = found
        return self._aspects[aspect]

    def _places(self, count: int) -> Literals:
        number = len(self.items)
        return [self.model.new_bool_var(f"place{number}.{index}") for index in range(count)]


@dataclass(frozen=True)
class Clearances:
    """What a rule says of parts that must not touch each other.

    alone: for each thing, then for each ring's rollers, the places that are clear of what is not chosen, and of what is
    the thing's own. pairs: for two things the places at which one clears the other; rollers: likewise for the rollers
    of a ring and a thing; rings: and for those of two rings."""

    alone: Sequence[Kept]
    pairs: Iterable[tuple[Aspect, Aspect, Table]] = ()
    rollers: Iterable[tuple[int, Aspect, Table]] = ()
    rings: Iterable[tuple[int, int, Table]] = ()

    def post(self, train: PlaceVars) -> None:
        for places, kept in zip([*train.items, *train.rollers], self.alone, strict=True):
            train.keep(places, kept)
        for one, other, table in self.pairs:
            train.clear(one, other, table)
        for ring, thing, table in self.rollers:
            train.clear(train.rollers[ring], thing, table)
        for ring, by, table in self.rings:
            train.together(train.rollers[ring], train.rollers[by], table)
