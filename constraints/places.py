"""The CP-SAT variables of a train's places: a literal for each place of each thing, and of each ring's rollers.

What stands where is not told here. Rules come with tables, measured exactly: for the places of one thing which of them
can be had (`Kept`), for those of two which can be had together (`Table`, a row for each place of the first).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import compress

import numpy as np
from ortools.sat.python import cp_model

Kept = np.ndarray  # of truths, one for each place
Table = np.ndarray  # of truths, shape (places, other places)
Literals = Sequence[cp_model.IntVar]


@dataclass
class PlaceVars:
    """Places under construction. items: for each link, and the drive, its places, of which exactly one is chosen;
    rollers: for each ring the directions in which it may have one."""

    model: cp_model.CpModel = field(default_factory=cp_model.CpModel)
    items: list[Literals] = field(default_factory=list)
    rollers: list[Literals] = field(default_factory=list)

    def item(self, places: int) -> None:
        """One more link or the drive, with so many places."""
        number = len(self.items)
        self.items.append([self.model.new_bool_var(f"place{number}.{index}") for index in range(places)])
        self.model.add_exactly_one(self.items[-1])

    def ring(self, directions: int) -> None:
        """One more ring, with so many directions that its rollers may have."""
        level = len(self.rollers)
        self.rollers.append([self.model.new_bool_var(f"roller{level}.{index}") for index in range(directions)])

    def keep(self, places: Literals, kept: Kept) -> None:
        """Only those that are kept can be had."""
        for place in compress(places, ~kept):
            self.model.add(place == 0)

    def together(self, places: Literals, others: Literals, table: Table) -> None:
        """No two can be had together that the table does not hold."""
        for index, other in np.argwhere(~table).tolist():
            self.model.add_bool_or([~places[index], ~others[other]])

    def beside(self, places: Literals, others: Literals, table: Table) -> None:
        """Whoever is chosen has at least one of the others that its row of the table holds; where exactly one of the
        others is chosen, the same as `together`, in fewer words."""
        for place, row in zip(places, table, strict=True):
            if not row.all():
                self.model.add_bool_or([~place, *compress(others, row)])
