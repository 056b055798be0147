"""Rule `interchange`: of trains that differ by the order of the links around blank rings alone, one stands for all.

Where no body rides on the ring between two links, and both have the same choices whatever the rings are, they may
change places: the periods of all bodies, their senses, and every count of gears, jigs and parts stay what they are.
What reaches out, and places, do not: this is for questions that ask for neither.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from constraints.train import TrainVars


@dataclass(frozen=True)
class Interchange:
    """Of two links with a blank ring between them the first one has the smaller wheel, or one as small."""

    name = "interchange"

    def post(self, train: TrainVars) -> None:
        for link, other in pairwise(train.links):
            if not train.interchangeable(link.number, other.number):
                continue
            ridden = [seats[other.number] for seats in train.seats if other.number in seats]
            if any(len(seats) == 1 and other.number in seats for seats in train.seats):
                continue
            ordered = train.model.add(link.column("wheel") <= other.column("wheel"))
            if unless := ridden + ([other.idle] if other.may_idle else []):
                ordered.only_enforce_if([~one for one in unless])
