"""Rule `post`: the posts of arbors, third gears and rollers touch nothing on the levels that they pass to the plate."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from constraints.places import Aspect, Kept, PlaceVars, Table


@dataclass(frozen=True)
class PostsClear:
    """alone: for each thing, then for each ring's rollers, the places at which the posts clear the rings and what is
    the thing's own. pairs: for two things the places at which the posts of one clear the gears or the posts of the
    other; rollers: likewise for the rollers of a ring and a thing, the posts of either; rings: and for those of two
    rings."""

    alone: Sequence[Kept]
    pairs: Iterable[tuple[Aspect, Aspect, Table]] = ()
    rollers: Iterable[tuple[int, Aspect, Table]] = ()
    rings: Iterable[tuple[int, int, Table]] = ()
    name = "post"

    def post(self, train: PlaceVars) -> None:
        for places, kept in zip([*train.items, *train.rollers], self.alone, strict=True):
            train.keep(places, kept)
        for one, other, table in self.pairs:
            train.clear(one, other, table)
        for ring, thing, table in self.rollers:
            train.clear(train.rollers[ring], thing, table)
        for ring, by, table in self.rings:
            train.together(train.rollers[ring], train.rollers[by], table)
