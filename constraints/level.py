"""Rule `level`: what stands on neighbouring levels does not touch along the axis."""

from __future__ import annotations

from dataclasses import dataclass

from constraints.link import Choice
from constraints.places import Clearances, PlaceVars


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
class LevelsClear(Clearances):
    """What is so thick that it touches parts on other levels along the axis stands beside them: gears, rings, rollers;
    alone is also what the frame's depth leaves. sound: whether the rings themselves are clear of each other."""

    sound: bool = True
    name = "level"

    def post(self, train: PlaceVars) -> None:
        if not self.sound:
            train.model.add_bool_or([])
        super().post(train)
