"""Rule `sag`: no post and no ring bends farther than allowed under what it carries."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

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
class PostsHold:
    """stiff: for each thing the places at which none of its posts bends too far."""

    stiff: Sequence[Kept]
    name = "sag"

    def post(self, train: PlaceVars) -> None:
        for places, kept in zip(train.items, self.stiff, strict=True):
            train.keep(places, kept)
