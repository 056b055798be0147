"""The CP-SAT model of one train's places: the rules posted on the places of its links, its drive and its rollers.

It answers where trying one place after the other would take too long: whether there is a placement at all, and which
is the first, thing by thing.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache, partial

from constraints.frame import RectangularFrame, RoundFrame
from constraints.neighbour import Neighbour
from constraints.places import GearSpot, MeshSpot, PlaceVars, PostSpot
from constraints.post import PostsClear
from constraints.roller import RollersHold
from constraints.stand import StandsClear
from solver.search.place.measures import Measures
from solver.search.place.places import Places
from solver.search.place.rollers import Wheelhouse
from solver.search.place.shapes import RingStack
from solver.search.solves import Solves


class PlaceModel:
    """The model of the places of things (links, then the drive), each with those that it may have by itself.

    houses: for each ring its rollers, none where none are asked for; passes: the levels that each body's stand passes.
    """

    def __init__(
        self,
        measures: Measures,
        stack: RingStack,
        domains: Sequence[Places],
        houses: Sequence[Wheelhouse],
        stand_passes: Sequence[range],
    ) -> None:
        self.measures, self.stack, self.domains, self.houses = measures, stack, domains, houses
        self.stand_passes = stand_passes

    def build(self) -> PlaceVars:
        """A fresh model with every rule."""
        train = PlaceVars()
        for places in self.domains:
            train.item(
                (
                    [GearSpot(one.level, one.teeth, (int(one.xs[i]), int(one.ys[i]))) for one in places.gears],
                    [PostSpot(one.passes, (int(one.xs[i]), int(one.ys[i]))) for one in places.posts],
                    [MeshSpot(one.level, one.angles[i]) for one in places.meshes if self.houses],
                )
                for i in range(len(places))
            )
        for house in self.houses:
            train.ring([(float(at.direction), at.spot) for at in house.all()], house.passes)
        measures, fit = self.measures, self.measures.fit
        if fit.frame is not None:
            teeth = {gear.teeth for place in train.all_places() for gear in place.gears}
            room = {z: measures.frame_room(z, measures.addendum) for z in teeth}
            if fit.frame.round:
                RoundFrame({z: far for z, (_, _, far) in room.items()}).post(train)
            else:
                RectangularFrame({z: (across, up) for z, (across, up, _) in room.items()}).post(train)
        Neighbour(cache(measures.gears)).post(train)
        PostsClear(
            [measures.ring_and(teeth, measures.post) for teeth in self.stack.rings],
            cache(lambda teeth: measures.gear_and(teeth, measures.post)),
            measures.rounds(measures.post, measures.roller),
            measures.rounds(measures.post, measures.post),
        ).post(train)
        for ring, passes in zip(self.stack.riders, self.stand_passes, strict=True):
            stand = self.stack.rings[ring]
            StandsClear(
                passes,
                cache(partial(self._stand_and_gear, stand)),
                measures.stand_and(stand, 0, measures.roller),
                measures.stand_and(stand, 0, measures.post),
            ).post(train)
        if fit.rollers is not None:
            RollersHold(
                fit.rollers.count,
                float(fit.rollers.reach),
                measures.rounds(measures.roller, measures.roller),
                cache(lambda teeth: measures.gear_and(teeth, measures.roller)),
            ).post(train)
        return train

    def _stand_and_gear(self, stand: int, teeth: int) -> tuple[int, int]:
        return self.measures.stand_and(stand, teeth, self.measures.addendum)

    def first(self, solves: Solves) -> tuple[list[int], list[tuple[int, ...]]] | None:
        """The first placement: for each thing the index of its place, the earlier things first, and the directions of
        each ring's rollers on the grid; None: there is none, proven. Raises SearchStopped."""
        train = self.build()
        chosen: list[int] = []
        for places in train.items:
            train.model.minimize(sum(index * place.chosen for index, place in enumerate(places)))
            solver, exists = solves.run(train.model)
            if not exists:
                return None
            chosen.append(round(solver.objective_value))
            train.model.add(places[chosen[-1]].chosen == 1)
        return chosen, [
            tuple(index for index, roller in enumerate(ring) if solver.boolean_value(roller.chosen))
            for ring in train.rollers
        ]
