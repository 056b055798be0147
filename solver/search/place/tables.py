"""The rules of places as tables for CP-SAT: rule by rule, which places can be had, alone and together.

Each rule measures for itself what it says, in exact whole numbers; nothing is taken from `places.compatible`, from the
placer's choice or from the rollers' holder, by which the search goes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations

import numpy as np

from constraints.frame import InFrame
from constraints.neighbour import Neighbour
from constraints.places import Kept, Table
from constraints.post import PostsClear
from constraints.roller import RollersHold
from constraints.stand import StandsClear
from solver.search.place.measures import Measures, apart, needs
from solver.search.place.places import JoinedGears, JoinedPlaces, MeshSpots, PostSpots, Spots, beside
from solver.search.place.shapes import RingStack, share


@dataclass(frozen=True, eq=False)
class RingRollers:
    """The rollers that the ring of a level may have: their directions [degrees] and spots, and the levels that their
    posts pass."""

    level: int
    directions: tuple[float, ...]
    xs: np.ndarray
    ys: np.ndarray
    passes: range

    def __len__(self) -> int:
        return len(self.directions)

    gears: tuple[JoinedGears, ...] = ()

    @property
    def posts(self) -> tuple[PostSpots, ...]:
        return (PostSpots(self.passes, self.xs, self.ys),) if self.passes else ()


Standing = JoinedPlaces | RingRollers


@dataclass(frozen=True)
class RuleTables:
    """The rules of one train. things: all places of each link, then of the drive; rollers: of each ring, none where
    none are asked for; stand_passes: the levels that each body's stand passes."""

    measures: Measures
    stack: RingStack
    things: Sequence[JoinedPlaces]
    rollers: Sequence[RingRollers]
    stand_passes: Sequence[range]

    @property
    def _all(self) -> list[Standing]:
        return [*self.things, *self.rollers]

    def frame(self) -> InFrame:
        inside, tip = self.measures.in_frame, self.measures.addendum
        return InFrame(
            [
                _every(thing, (_by_teeth(gear, lambda at, z: inside(*at, z, tip)) for gear in thing.gears))
                for thing in self.things
            ]
        )

    def neighbour(self) -> Neighbour:
        gears = self.measures.gears
        return Neighbour(
            {
                (i, j): _both(
                    one,
                    other,
                    (
                        apart(gear.xs, gear.ys, by.xs, by.ys, needs(gears, gear.teeth[:, None] + by.teeth))
                        for gear in one.gears
                        for by in other.gears
                        if gear.level == by.level
                    ),
                )
                for (i, one), (j, other) in combinations(enumerate(self.things), 2)
            }
        )

    def post(self) -> PostsClear:
        every = self._all
        pairs = {
            (i, j): self._posts_clear(one, other) & self._posts_clear(other, one).T & self._posts_apart(one, other)
            for (i, one), (j, other) in combinations(enumerate(every), 2)
        }
        return PostsClear([_every(one, self._posts_alone(one)) for one in every], pairs)

    def stand(self) -> StandsClear:
        return StandsClear([_every(one, self._stands_clear(one)) for one in self._all])

    def roller(self) -> RollersHold:
        measures, asked = self.measures, self.measures.fit.rollers
        assert asked is not None
        need = measures.rounds(measures.roller, measures.roller)
        gears, meshes = {}, []
        for ring, rollers in enumerate(self.rollers):
            for number, thing in enumerate(self.things):
                gears[ring, number] = _both(
                    rollers,
                    thing,
                    (
                        self._round_and_gear(rollers, gear, measures.roller)
                        for gear in thing.gears
                        if gear.level == rollers.level
                    ),
                )
                for mesh in thing.meshes:
                    if mesh.level == rollers.level:
                        meshes.append(((number, ring), _near(mesh, rollers, float(asked.reach))))
        return RollersHold(
            asked.count,
            [rollers.directions for rollers in self.rollers],
            [apart(one.xs, one.ys, one.xs, one.ys, need) for one in self.rollers],
            gears,
            meshes,
        )

    # -- measures ----------------------------------------------------------------------------------------------------

    def _round_and_gear(self, at: PostSpots | RingRollers, gear: JoinedGears, radius: Fraction) -> Table:
        need = needs(lambda teeth: self.measures.gear_and(teeth, radius), gear.teeth)
        return apart(at.xs, at.ys, gear.xs, gear.ys, need)

    def _posts_alone(self, one: Standing) -> Iterable[Kept]:
        measures = self.measures
        for post in one.posts:
            for level in post.passes:
                yield beside(post.xs, post.ys, measures.ring_and(self.stack.rings[level], measures.post))
        if isinstance(one, JoinedPlaces):
            yield self._posts_clear(one, one).diagonal()

    def _posts_clear(self, one: Standing, other: Standing) -> Table:
        """Where no post of one touches a gear or a roller of the other."""
        measures = self.measures
        tables = [
            self._round_and_gear(post, gear, measures.post)
            for post in one.posts
            for gear in other.gears
            if gear.level in post.passes
        ]
        if isinstance(other, RingRollers):
            need = measures.rounds(measures.post, measures.roller)
            tables += [
                apart(post.xs, post.ys, other.xs, other.ys, need) for post in one.posts if other.level in post.passes
            ]
        return _both(one, other, tables)

    def _posts_apart(self, one: Standing, other: Standing) -> Table:
        need = self.measures.rounds(self.measures.post, self.measures.post)
        return _both(
            one,
            other,
            (
                apart(post.xs, post.ys, by.xs, by.ys, need)
                for post in one.posts
                for by in other.posts
                if share(post.passes, by.passes)
            ),
        )

    def _stands_clear(self, one: Standing) -> Iterable[Kept]:
        measures = self.measures
        for ring, passes in zip(self.stack.riders, self.stand_passes, strict=True):
            stand = self.stack.rings[ring]
            for gear in one.gears:
                if gear.level in passes:
                    limits = measures.stand_and
                    yield _by_teeth(gear, lambda at, z: beside(*at, limits(stand, z, measures.addendum)))  # noqa: B023
            for post in one.posts:
                if share(post.passes, passes):
                    yield beside(post.xs, post.ys, measures.stand_and(stand, 0, measures.post))
            if isinstance(one, RingRollers) and one.level in passes:
                yield beside(one.xs, one.ys, measures.stand_and(stand, 0, measures.roller))


def _every(one: Standing, kept: Iterable[Kept]) -> Kept:
    """The places that each of these keeps."""
    found: Kept = np.logical_and.reduce([np.ones(len(one), bool), *kept])
    return found


def _both(one: Standing, other: Standing, tables: Iterable[Table]) -> Table:
    """The two places that each of these tables holds."""
    found: Table = np.logical_and.reduce([np.ones((len(one), len(other)), bool), *tables])
    return found


def _by_teeth(gear: JoinedGears, rule: Callable[[Spots, int], Kept]) -> Kept:
    """What a rule says of a gear's spots, where it has so many teeth."""
    found = np.ones(len(gear.xs), bool)
    for teeth in np.unique(gear.teeth).tolist():
        here = gear.teeth == teeth
        found[here] = rule((gear.xs[here], gear.ys[here]), teeth)
    return found


def _near(mesh: MeshSpots, rollers: RingRollers, reach: float) -> Table:
    """The rollers that are at most `reach` degrees from a mesh, at each of its places."""
    off = (np.array(rollers.directions)[None, :] - np.array(mesh.angles)[:, None] + 180) % 360 - 180
    found: Table = abs(off) <= reach
    return found
