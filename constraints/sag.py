"""Rule `sag`: no post and no ring bends farther than allowed under what it carries."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import compress

import numpy as np
from ortools.sat.python.cp_model import IntVar

from constraints.places import Kept, PlaceVars
from constraints.train import Expr, TrainVars


@dataclass(frozen=True)
class RingsHold:
    """holds: whether a ring bends little enough that is on a level, has so many teeth, is one of so many rings, and
    carries a body, by number, or none. A body makes a ring heavier, so that what is too much without is with any."""

    holds: Callable[[int, int, int, int | None], bool]
    name = "sag"

    def post(self, train: TrainVars) -> None:
        for last, here in train.seats[-1].items():
            for level, values in enumerate(train.ring_values[: last + 1]):
                wrong = [teeth for teeth in values if not self.holds(level, teeth, last + 1, None)]
                self._forbid(train, level, wrong, [here])
                for body, seats in enumerate(train.seats):
                    if level in seats:
                        more = [teeth for teeth in values if not self.holds(level, teeth, last + 1, body)]
                        self._forbid(train, level, sorted(set(more) - set(wrong)), [here, seats[level]])

    def _forbid(self, train: TrainVars, level: int, teeth: Sequence[int], literals: Sequence[Expr]) -> None:
        """None of these teeth on a level where all of these literals are true."""
        if teeth:
            different = list(dict.fromkeys(literals))
            rows = [[one, *(1 for _ in different)] for one in teeth]
            train.model.add_forbidden_assignments([train.rings[level], *different], rows)


@dataclass(frozen=True)
class RollersSpread:
    """directions: for each ring those of its rollers [degrees], all or none; asked: for each ring how they must stand,
    each always (None) or where a literal is true: no gap wider than so many degrees, unless they are exactly one of
    these rows, by number."""

    directions: Sequence[Sequence[float]]
    asked: Sequence[Sequence[tuple[IntVar | None, float, Sequence[tuple[int, ...]]]]]
    name = "sag"

    def post(self, train: PlaceVars) -> None:
        for rollers, directions, some in zip(train.rollers, self.directions, self.asked, strict=False):
            beyond = (np.array(directions)[None, :] - np.array(directions)[:, None]) % 360
            told: dict[tuple[int, ...], IntVar] = {}
            for where, widest, rows in some if len(rollers) else ():
                free = [self._exactly(train, rollers, row, told) for row in rows]
                near = (beyond > 0) & (beyond <= widest + 1e-6)
                for roller, row in zip(rollers, near, strict=True):
                    always = [~roller, *free, *compress(rollers, row)]
                    train.model.add_bool_or(always if where is None else [~where, *always])

    def _exactly(
        self, train: PlaceVars, rollers: Sequence[IntVar], row: tuple[int, ...], told: dict[tuple[int, ...], IntVar]
    ) -> IntVar:
        """The literal that says that a ring has these rollers and no others."""
        if row not in told:
            told[row] = train.model.new_bool_var(f"row of {len(row)} from {row[0]}")
            every = [roller if index in row else ~roller for index, roller in enumerate(rollers)]
            train.model.add_bool_and(every).only_enforce_if(told[row])
        return told[row]


@dataclass(frozen=True)
class PostsHold:
    """stiff: for each thing the places at which none of its posts bends too far."""

    stiff: Sequence[Kept]
    name = "sag"

    def post(self, train: PlaceVars) -> None:
        for places, kept in zip(train.items, self.stiff, strict=True):
            train.keep(places, kept)
