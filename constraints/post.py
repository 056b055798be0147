"""Rule `post`: the posts of arbors, third gears and rollers touch nothing on the levels that they pass to the plate."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from constraints.places import Kept, PlaceVars, Table


@dataclass(frozen=True)
class PostsClear:
    """Of the things, then of each ring's rollers, numbered on. alone: the places at which the posts clear the rings and
    what is the thing's own; pairs: for two of them, the earlier one first, those at which the posts of each clear the
    gears, rollers and posts of the other."""

    alone: Sequence[Kept]
    pairs: Mapping[tuple[int, int], Table]
    name = "post"

    def post(self, train: PlaceVars) -> None:
        every = [*train.items, *train.rollers]
        for places, kept in zip(every, self.alone, strict=True):
            train.keep(places, kept)
        for (one, other), table in self.pairs.items():
            if one < len(train.items):
                train.beside(every[other], every[one], table.T)
            else:
                train.together(every[one], every[other], table)
