"""Rule `roller`: each ring has its rollers, one near each mesh that pushes on it, and cannot leave them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from ortools.sat.python import cp_model

from constraints.places import Aspect, PlaceVars, Table


@dataclass(frozen=True)
class RollersHold:
    """counts: numbers of rollers that a ring may have; every gap between two stays below half a turn.

    directions: for each ring those of its rollers [degrees]; beside: which of them stand clear of each other; gears: of
    a ring and a thing the rollers that clear the thing's gears on its level; meshes: for a thing and a ring, each mesh
    between them, the rollers that are near enough to it at each place."""

    counts: Sequence[int]
    directions: Sequence[Sequence[float]]
    beside: Sequence[Table]
    gears: Iterable[tuple[int, Aspect, Table]]
    meshes: Iterable[tuple[Aspect, int, Table]]
    name = "roller"

    def post(self, train: PlaceVars) -> None:
        for rollers, directions, beside in zip(train.rollers, self.directions, self.beside, strict=True):
            number = cp_model.LinearExpr.sum(list(rollers))
            train.model.add_linear_expression_in_domain(number, cp_model.Domain.from_values(list(self.counts)))
            train.together(rollers, rollers, beside | np.eye(len(rollers), dtype=bool))
            # A gap of half a turn begins at a roller: another one must stand within less than that beyond it.
            beyond = (np.array(directions)[None, :] - np.array(directions)[:, None]) % 360
            train.beside(rollers, rollers, (beyond > 0) & (beyond < 180))
        for ring, thing, table in self.gears:
            train.clear(train.rollers[ring], thing, table)
        for thing, ring, table in self.meshes:
            train.near(thing, train.rollers[ring], table)
