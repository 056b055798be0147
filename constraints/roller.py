"""Rule `roller`: each ring has its rollers, one near each mesh that pushes on it, and cannot leave them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from ortools.sat.python import cp_model

from constraints.places import PlaceVars, square


@dataclass(frozen=True)
class RollersHold:
    """Numbers of rollers that a ring may have; none farther than `reach` degrees from a mesh may be the nearest to it,
    and every gap between two stays below half a turn. roller: least square of the distance of two; gear: of a roller
    and a gear of so many teeth on its level."""

    counts: Sequence[int]
    reach: float
    roller: int
    gear: Callable[[int], int]
    name = "roller"

    def post(self, train: PlaceVars) -> None:
        model = train.model
        for level, rollers in enumerate(train.rollers):
            number = sum(roller.chosen for roller in rollers)
            model.add_linear_expression_in_domain(number, cp_model.Domain.from_values(list(self.counts)))
            for index, roller in enumerate(rollers):
                for other in rollers[:index]:
                    if square(roller.spot, other.spot) < self.roller:
                        train.forbid(roller, other)
                # A gap of half a turn begins at a roller: another one must stand within less than that beyond it.
                ahead = [one.chosen for one in rollers if 0 < (one.direction - roller.direction) % 360 < 180]
                model.add_bool_or([~roller.chosen, *ahead])
            for place in train.all_places():
                for mesh in place.meshes:
                    if mesh.level == level:
                        near = [one.chosen for one in rollers if turned(one.direction, mesh.direction) <= self.reach]
                        model.add_bool_or([~place.chosen, *near])
                for gear in place.gears:
                    for roller in rollers if gear.level == level else ():
                        if square(roller.spot, gear.spot) < self.gear(gear.teeth):
                            train.forbid(roller, place)


def turned(one: float, other: float) -> float:
    """The angle between two directions [degrees, 0 to 180]."""
    return abs((one - other + 180) % 360 - 180)
