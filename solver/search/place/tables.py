"""The rules of places as tables for CP-SAT: rule by rule, which places can be had, alone and together.

Each rule measures for itself what it says, in exact whole numbers; nothing is taken from `places.compatible`, from the
placer's choice or from the rollers' holder, by which the search goes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import combinations

import numpy as np
from ortools.sat.python.cp_model import IntVar

from constraints.frame import InFrame
from constraints.neighbour import Neighbour
from constraints.places import Aspect, Kept, Table
from constraints.post import PostsClear
from constraints.roller import RollersHold
from constraints.sag import RollersSpread
from constraints.stand import StandsClear
from solver.search.place.measures import Measures, apart, beside, least_of, needs, spots, squares
from solver.search.place.places import JoinedGears, JoinedPlaces, PostSpots, Spots
from solver.search.place.shapes import RingStack, share
from solver.search.roller_gaps import FREE, GRID, RollerGaps, even_rows


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


@dataclass(frozen=True, eq=False)
class RoundThing:
    """A gear of a thing, or a post (of no size), at each row of its aspect, on the levels that it is on or passes."""

    aspect: Aspect
    levels: range
    sizes: np.ndarray
    xs: np.ndarray
    ys: np.ndarray

    def __len__(self) -> int:
        return len(self.xs)


Pairs = list[tuple[RoundThing, RoundThing]]


@dataclass(frozen=True)
class RuleTables:
    """The rules of one train, or of all trains with its rings. things: places of the links and of the drive; owners:
    for each of things whose it is, where a link may be one of several, else themselves; rollers: of each ring, none
    where none are asked for; stand_passes: the levels that the stand of a body on each of the stack's riders passes."""

    measures: Measures
    stack: RingStack
    things: Sequence[JoinedPlaces]
    rollers: Sequence[RingRollers]
    stand_passes: Sequence[range]
    owners: Sequence[int] | None = None

    @cached_property
    def _circles(self) -> list[tuple[list[RoundThing], list[RoundThing]]]:
        """Gears and posts of each thing."""
        return [
            (
                [circle_of(number, range(one.level, one.level + 1), one.size, one) for one in thing.gears],
                [circle_of(number, one.passes, np.zeros(len(thing), np.int64), one) for one in thing.posts],
            )
            for number, thing in enumerate(self.things)
        ]

    @cached_property
    def _pairs(self) -> tuple[Pairs, Pairs, Pairs]:
        """What of two things may meet: gears, a post and a gear, two posts."""
        owners = range(len(self.things)) if self.owners is None else self.owners
        gears, mixed, posts = Pairs(), Pairs(), Pairs()
        for i, j in combinations(range(len(self.things)), 2):
            if owners[i] != owners[j]:
                (mine, my_posts), (others, their_posts) = self._circles[i], self._circles[j]
                gears += _on_one_level(mine, others)
                mixed += [*_on_one_level(my_posts, others), *_on_one_level(their_posts, mine)]
                posts += _on_one_level(my_posts, their_posts)
        return gears, mixed, posts

    @property
    def cells(self) -> int:
        """How large the tables of what two things leave each other are, all together."""
        return sum(len(one) * len(other) for pairs in self._pairs for one, other in pairs)

    def frame(self) -> InFrame:
        inside, middle = self.measures.gear_in_frame, spots([0])
        return InFrame(
            [
                _every(thing, (_by_size(gear, lambda at, size: inside(*at, size)) for gear in thing.gears))
                for thing in self.things
            ],
            all(self.measures.in_frame(middle, middle, z, self.measures.ring_tip).all() for z in self.stack.rings),
        )

    def neighbour(self) -> Neighbour:
        return Neighbour([_entry(one, other, self.measures.gears) for one, other in self._pairs[0]])

    def post(self) -> PostsClear:
        _, mixed, posts = self._pairs
        measures = self.measures
        every: list[JoinedPlaces | RingRollers] = [*self.things, *self.rollers]
        post, roller, between = measures.post, measures.roller, measures.rounds(measures.post, measures.post)
        pairs = [_entry(one, gear, lambda size: measures.gear_and(size, post)) for one, gear in mixed]
        pairs += [_entry(one, other, lambda _: between) for one, other in posts]
        held: list[tuple[int, Aspect, Table]] = []
        for ring, rollers in enumerate(self.rollers):
            for gears, own in self._circles:
                for one in (gear for gear in gears if gear.levels.start in rollers.passes):
                    held.append((ring, one.aspect, self._clear_of(rollers, one, post)))
                for one in own:
                    if share(one.levels, rollers.passes):
                        held.append((ring, one.aspect, apart(rollers.xs, rollers.ys, one.xs, one.ys, between)))
                    if rollers.level in one.levels:
                        need = measures.rounds(post, roller)
                        held.append((ring, one.aspect, apart(rollers.xs, rollers.ys, one.xs, one.ys, need)))
        rings = [
            (i, j, self._rollers_apart(one, other)) for (i, one), (j, other) in combinations(enumerate(self.rollers), 2)
        ]
        return PostsClear([_every(one, self._posts_alone(one)) for one in every], pairs, held, rings)

    def stand(self) -> StandsClear:
        riders = list(zip(self.stack.riders, self.stand_passes, strict=True))
        every: list[JoinedPlaces | RingRollers] = [*self.things, *self.rollers]
        return StandsClear(
            np.array([self._stand_and_rings(ring, passes) for ring, passes in riders], bool),
            np.array(
                [
                    [ring == by or not share(passes, others) or self._stands_apart(ring, by) for by, others in riders]
                    for ring, passes in riders
                ],
                bool,
            ).reshape(len(riders), len(riders)),
            [[_every(one, self._stand_clear(one, *rider)) for one in every] for rider in riders],
        )

    def roller(self) -> RollersHold:
        measures, asked = self.measures, self.measures.fit.rollers
        assert asked is not None
        need = measures.rounds(measures.roller, measures.roller)
        gears: list[tuple[int, Aspect, Table]] = []
        meshes: list[tuple[Aspect, int, Table]] = []
        for ring, rollers in enumerate(self.rollers):
            for number, thing in enumerate(self.things):
                for gear in self._circles[number][0]:
                    if rollers.level in gear.levels:
                        gears.append((ring, gear.aspect, self._clear_of(rollers, gear, measures.roller)))
                for mesh in thing.meshes:
                    if mesh.level == rollers.level:
                        angles, rows = np.unique(np.array(mesh.angles, float), return_inverse=True)
                        meshes.append((Aspect(number, rows.ravel()), ring, _near(angles, rollers, float(asked.reach))))
        return RollersHold(
            asked.count,
            [rollers.directions for rollers in self.rollers],
            [apart(one.xs, one.ys, one.xs, one.ys, need) for one in self.rollers],
            gears,
            meshes,
        )

    def spread(self, asked: Sequence[Sequence[tuple[IntVar | None, RollerGaps]]]) -> RollersSpread:
        """asked: for each ring how its rollers must stand, always (None) or where a literal is true."""
        return RollersSpread(
            [rollers.directions for rollers in self.rollers],
            [
                [
                    (where, float(360 / GRID) * gaps.widest, [row for count in gaps.even for row in even_rows(count)])
                    for where, gaps in some
                    if gaps != FREE
                ]
                for some in asked
            ],
        )

    # -- measures ----------------------------------------------------------------------------------------------------

    def _clear_of(self, rollers: RingRollers, gear: RoundThing, radius: Fraction) -> Table:
        """Which rollers, or posts of theirs, of that radius [mm] clear a gear."""
        need = needs(lambda size: self.measures.gear_and(size, radius), gear.sizes)
        return apart(rollers.xs, rollers.ys, gear.xs, gear.ys, need)

    def _rollers_apart(self, one: RingRollers, other: RingRollers) -> Table:
        """Which rollers of two rings clear each other's posts."""
        kept: Table = np.ones((len(one), len(other)), bool)
        measures = self.measures
        if one.level in other.passes or other.level in one.passes:
            kept &= apart(one.xs, one.ys, other.xs, other.ys, measures.rounds(measures.post, measures.roller))
        if share(one.passes, other.passes):
            kept &= apart(one.xs, one.ys, other.xs, other.ys, measures.rounds(measures.post, measures.post))
        return kept

    def _posts_alone(self, one: JoinedPlaces | RingRollers) -> Iterable[Kept]:
        """Where its posts clear the rings, and its own gears and posts."""
        measures = self.measures
        for post in one.posts:
            for level in post.passes:
                yield beside(post.xs, post.ys, measures.ring_and(self.stack.rings[level], measures.post))
            for gear in one.gears:
                if gear.level in post.passes:
                    need = needs(lambda size: measures.gear_and(size, measures.post), gear.size)
                    yield squares(post.xs - gear.xs, post.ys - gear.ys) >= least_of(need, post.xs, gear.xs)
        between = measures.rounds(measures.post, measures.post)
        for post, by in combinations(one.posts, 2):
            if share(post.passes, by.passes):
                yield squares(post.xs - by.xs, post.ys - by.ys) >= least_of(between, post.xs, by.xs)

    def _stand_clear(self, one: JoinedPlaces | RingRollers, ring: int, passes: range) -> Iterable[Kept]:
        measures, stand = self.measures, self.stack.rings[ring]
        for gear in one.gears:
            if gear.level in passes:
                yield _by_size(gear, lambda at, size: beside(*at, measures.stand_and_gear(stand, size)))
        for post in one.posts:
            if share(post.passes, passes):
                yield beside(post.xs, post.ys, measures.stand_and(stand, 0, measures.post))
        if isinstance(one, RingRollers) and one.level in passes:
            yield beside(one.xs, one.ys, measures.stand_and(stand, 0, measures.roller))

    def _stand_and_rings(self, ring: int, passes: range) -> bool:
        """Whether a stand, a rod of a post's radius half a rim inside its ring's pitch circle, is nearer to the axis
        than the holes of the rings that it passes, or beyond their tips."""
        measures, room = self.measures, self.measures.post + self.measures.clearance
        for level in passes:
            more = self.stack.rings[level] - self.stack.rings[ring]
            within = more * (measures.low if more > 0 else measures.high) - measures.rim / 2
            beyond = -more * (measures.low if more < 0 else measures.high) - measures.rim / 2 - measures.ring_tip
            if max(within, beyond) < room:
                return False
        return True

    def _stands_apart(self, ring: int, other: int) -> bool:
        between = abs(self.stack.rings[ring] - self.stack.rings[other]) * self.measures.low
        return between >= 2 * self.measures.post + self.measures.clearance


def circle_of(number: int, levels: range, sizes: np.ndarray, at: JoinedGears | PostSpots) -> RoundThing:
    """A gear or a post of a thing: a row for all places at which it is the same."""
    if not len(at.xs) or at.xs.dtype == object or at.ys.dtype == object:
        return RoundThing(Aspect(number), levels, sizes, at.xs, at.ys)
    told = np.stack([at.xs, at.ys, sizes], axis=1)
    _, first, rows = np.unique(told, axis=0, return_index=True, return_inverse=True)
    if len(first) == len(told):
        return RoundThing(Aspect(number), levels, sizes, at.xs, at.ys)
    return RoundThing(Aspect(number, rows.ravel()), levels, sizes[first], at.xs[first], at.ys[first])


def rows_of(one: RoundThing) -> np.ndarray:
    """For each place of its thing the row that it is in."""
    return np.arange(len(one)) if one.aspect.rows is None else one.aspect.rows


def _on_one_level(some: Iterable[RoundThing], others: Sequence[RoundThing]) -> Pairs:
    """Every two of these that have a level in common."""
    return [(one, other) for one in some for other in others if share(one.levels, other.levels)]


def _entry(one: RoundThing, other: RoundThing, rule: Callable[[int], int]) -> tuple[Aspect, Aspect, Table]:
    """Where two circles are as far apart as a rule asks for their sizes together."""
    need = needs(rule, one.sizes[:, None] + other.sizes)
    return one.aspect, other.aspect, apart(one.xs, one.ys, other.xs, other.ys, need)


def _every(one: JoinedPlaces | RingRollers, kept: Iterable[Kept]) -> Kept:
    """The places that each of these keeps."""
    found: Kept = np.logical_and.reduce([np.ones(len(one), bool), *kept])
    return found


def _by_size(gear: JoinedGears, rule: Callable[[Spots, int], Kept]) -> Kept:
    """What a rule says of a gear's spots, where it has a size."""
    found = np.ones(len(gear.xs), bool)
    for size in np.unique(gear.size).tolist():
        here = gear.size == size
        found[here] = rule((gear.xs[here], gear.ys[here]), size)
    return found


def _near(angles: np.ndarray, rollers: RingRollers, reach: float) -> Table:
    """The rollers that are at most `reach` degrees from a mesh, at each of these angles."""
    off = (np.array(rollers.directions)[None, :] - angles[:, None] + 180) % 360 - 180
    found: Table = abs(off) <= reach
    return found
