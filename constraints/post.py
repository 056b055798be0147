"""Rule `post`: the posts of arbors, third gears and rollers touch nothing on the levels that they pass to the plate."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from constraints.places import Place, PlaceVars, PostSpot, RollerVars, overlap, square


@dataclass(frozen=True)
class PostsClear:
    """rings: for each level (greatest, least) square of a post's distance from the main axis inside the ring or
    outside it. gear: least square for a post and a gear of so many teeth; roller, post: likewise for those."""

    rings: Sequence[tuple[int, int]]
    gear: Callable[[int], int]
    roller: int
    post_post: int
    name = "post"

    def post(self, train: PlaceVars) -> None:
        for place in train.all_places():
            if not all(self._clear_of_rings(post) for post in place.posts) or self._meet(place, place):
                train.forbid(place)
        for place, other in train.pairs():
            if self._meet(place, other) or self._meet(other, place) or self._posts_meet(place.posts, other.posts):
                train.forbid(place, other)
        for roller in train.all_rollers():
            own = _posts(roller)
            if not all(self._clear_of_rings(post) for post in own):
                train.forbid(roller)
            for place in train.all_places():
                if (
                    any(self._on_gear(post, place) for post in own)
                    or any(self._on_roller(post, roller) for post in place.posts)
                    or self._posts_meet(own, place.posts)
                ):
                    train.forbid(roller, place)
            for inner in train.all_rollers():
                if inner.level < roller.level and (
                    any(self._on_roller(post, inner) for post in own)
                    or any(self._on_roller(post, roller) for post in _posts(inner))
                    or self._posts_meet(own, _posts(inner))
                ):
                    train.forbid(roller, inner)

    def _clear_of_rings(self, post: PostSpot) -> bool:
        far = square(post.spot)
        return all(far <= self.rings[level][0] or far >= self.rings[level][1] for level in post.passes)

    def _meet(self, place: Place, other: Place) -> bool:
        return any(self._on_gear(post, other) for post in place.posts)

    def _on_gear(self, post: PostSpot, place: Place) -> bool:
        return any(
            gear.level in post.passes and square(post.spot, gear.spot) < self.gear(gear.teeth) for gear in place.gears
        )

    def _on_roller(self, post: PostSpot, roller: RollerVars) -> bool:
        return roller.level in post.passes and square(post.spot, roller.spot) < self.roller

    def _posts_meet(self, posts: Sequence[PostSpot], others: Sequence[PostSpot]) -> bool:
        return any(
            overlap(post.passes, other.passes) and square(post.spot, other.spot) < self.post_post
            for post in posts
            for other in others
        )


def _posts(roller: RollerVars) -> tuple[PostSpot, ...]:
    return (PostSpot(roller.passes, roller.spot),) if roller.passes else ()
