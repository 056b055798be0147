"""Rule `level`: what stands on neighbouring levels does not touch along the axis."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from constraints.link import Choice
from constraints.places import Aspect, Kept, PlaceVars, Table


@dataclass(frozen=True)
class WithinLevel:
    """kinds: indices of the kinds of link whose gears leave each other room along the axis, wherever they stand;
    least_step: teeth that neighbouring rings must differ by, so as not to touch."""

    kinds: frozenset[int]
    least_step: int = 0
    name = "level"

    def allows(self, inner: int, outer: int, choice: Choice) -> bool:
        """Whether the gears of this choice, and its rings, leave each other room."""
        return choice.kind in self.kinds and abs(outer - inner) >= self.least_step


@dataclass(frozen=True)
class LevelsClear:
    """What is so thick that it touches parts on other levels along the axis stands beside them.

    alone: for each thing, then for each ring's rollers, the places that other rings, the frame's depth and what is the
    thing's own leave. pairs: for two things the places at which the gears of one clear those of the other; rollers:
    likewise for the rollers of a ring and a thing; rings: and for those of two rings. sound: whether the rings
    themselves are clear of each other."""

    alone: Sequence[Kept]
    pairs: Iterable[tuple[Aspect, Aspect, Table]] = ()
    rollers: Iterable[tuple[int, Aspect, Table]] = ()
    rings: Iterable[tuple[int, int, Table]] = ()
    sound: bool = True
    name = "level"

    def post(self, train: PlaceVars) -> None:
        if not self.sound:
            train.model.add_bool_or([])
        for places, kept in zip([*train.items, *train.rollers], self.alone, strict=True):
            train.keep(places, kept)
        for one, other, table in self.pairs:
            train.clear(one, other, table)
        for ring, thing, table in self.rollers:
            train.clear(train.rollers[ring], thing, table)
        for ring, by, table in self.rings:
            train.together(train.rollers[ring], train.rollers[by], table)
