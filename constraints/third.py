"""Rule `third`: a third gear needs its triangle, and keeps the gear behind it clear of that gear's ring."""

from __future__ import annotations

from dataclasses import dataclass

from constraints.link import Span
from constraints.train import TrainVars


@dataclass(frozen=True)
class ThirdTriangle:
    """With a third gear of c teeth between ring and gear, the arbor stands at least `gap` and at most 2c teeth
    farther out than where the gear would touch its ring: nearer, it touches; farther, there is no triangle."""

    gap: int
    name = "third"

    def span(self, ring: int, gear: int, third: int) -> Span:
        return ring + gear + self.gap, ring + gear + 2 * third


@dataclass(frozen=True)
class ThirdCount:
    """At most so many third gears in the whole train."""

    most: int
    name = "third"

    def post(self, train: TrainVars) -> None:
        train.model.add(sum(link.column("thirds") for link in train.links) <= self.most)
