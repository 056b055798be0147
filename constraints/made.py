"""Rule `made`: what is built stays where it is: links with all their gears, and who rides on a ring, or nobody."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from constraints.link import Choice
from constraints.train import TrainVars


class StandingLink(NamedTuple):
    """A link that stays: index of its kind, teeth of wheel and pinion, and of its third gears on the wheel's and on the
    pinion's side (0: none there); None: which third gears it has is open."""

    kind: int
    wheel: int
    pinion: int
    thirds: tuple[int, int] | None


@dataclass(frozen=True)
class Stays:
    """These links, by number, are what they are; riders: for each ring that is settled the body that rides on it, -1
    for nobody. What may stand between a ring and a gear is a rule of its own, and so are the teeth of the rings."""

    links: Mapping[int, StandingLink]
    riders: Mapping[int, int]
    name = "made"

    def allows(self, number: int, choice: Choice) -> bool:
        """Whether a choice of a link can be what stands there."""
        standing = self.links.get(number)
        if standing is None:
            return True
        if (choice.kind, choice.wheel, choice.pinion) != standing[:3]:
            return False
        least = choice.wheel_third, choice.pinion_third
        return standing.thirds is None or all(z >= few for z, few in zip(standing.thirds, least, strict=True))

    def post(self, train: TrainVars) -> None:
        model = train.model
        for ring, rider in self.riders.items():
            for body, seats in enumerate(train.seats):
                if ring in seats and body != rider:
                    model.add(seats[ring] == 0)
            if rider >= 0 and ring not in train.seats[rider]:
                model.add_bool_or([])
            elif rider >= 0:
                model.add(train.seats[rider][ring] == 1)
        for number, standing in self.links.items():
            if number >= len(train.links):
                model.add_bool_or([])
                continue
            link = train.links[number]
            if link.may_idle:
                model.add(link.idle == 0)
            if standing.thirds is None or train.smallest:
                continue
            for side, teeth in zip(("wheel", "pinion"), standing.thirds, strict=True):
                literals = link.third(side) if teeth else {}
                if teeth in literals:
                    model.add(literals[teeth] == 1)
                elif teeth:
                    model.add_bool_or([])
