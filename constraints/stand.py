"""Rule `stand`: the circle that a body's stand sweeps meets nothing on the levels that it passes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from constraints.places import PlaceVars, Spot, overlap, square

Limits = tuple[int, int]  # greatest square of a distance inside the circle, least one outside it


@dataclass(frozen=True)
class StandsClear:
    """One body's stand. passes: its levels. gear: limits for a gear of so many teeth; roller, post: for those."""

    passes: range
    gear: Callable[[int], Limits]
    roller: Limits
    post_limits: Limits
    name = "stand"

    def post(self, train: PlaceVars) -> None:
        for place in train.all_places():
            if any(gear.level in self.passes and _hit(gear.spot, self.gear(gear.teeth)) for gear in place.gears) or any(
                overlap(post.passes, self.passes) and _hit(post.spot, self.post_limits) for post in place.posts
            ):
                train.forbid(place)
        for roller in train.all_rollers():
            if (roller.level in self.passes and _hit(roller.spot, self.roller)) or (
                overlap(roller.passes, self.passes) and _hit(roller.spot, self.post_limits)
            ):
                train.forbid(roller)


def _hit(spot: Spot, limits: Limits) -> bool:
    return limits[0] < square(spot) < limits[1]
