"""Where one link, or the drive, can stand: every direction and side that nothing but itself forbids.

A shape is one choice of teeth, arbor radius and level; its places are the directions and the sides of its third gears
that the frame, the rings that its posts pass, its own gears and the bodies' stands leave.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import cached_property
from itertools import product

import numpy as np

from solver.design.design import Design
from solver.search.place.arm_ways import ArmWays
from solver.search.place.compass import Compass, direction_of, triangle
from solver.search.place.measures import Measures, beside, least_of, spots
from solver.search.place.places import (
    GearSpots,
    HeldSpots,
    MeshSpots,
    Places,
    PostSpots,
    SideChoice,
    Spots,
    gap_held,
    held_as,
    held_spots,
    nowhere,
    own_eyes_clear,
    slabs_at,
    squares_between,
)
from solver.search.place.shapes import ArborShape, Side, share
from solver.search.place.slabs import among_rings, own_clear
from solver.search.place.wished import where_wished
from solver.search.roller_gaps import GRID
from solver.search.sagged import sagging_of


class Placer:
    """Finds places of shapes in the levels of one design; remembers them."""

    def __init__(self, design: Design, measures: Measures, plate: str) -> None:
        """plate: on which side it stands; "none": places as if nothing had a post."""
        assert design.fit.directions is not None
        self.plate = plate
        self.design, self.measures, self.fit = design, measures, design.fit
        self.directions = design.fit.directions
        self.compass = Compass(self.directions, measures)
        self.sagging = None if plate == "none" else sagging_of(design)
        self.middle = spots([0])
        self._arbors: dict[tuple[int, tuple[int, ...]], np.ndarray] = {}
        self._choices: dict[tuple[object, ...], list[SideChoice]] = {}
        self._alone: dict[ArborShape, Places] = {}
        self._among: dict[tuple[ArborShape, tuple[int, ...], tuple[int, ...]], Places] = {}
        self._armed: dict[tuple[str, int, Fraction | None], np.ndarray] = {}

    def passes(self, level: int, levels: int, top: int | None = None) -> range:
        """The levels that a post passes: from its part on `level` (an arbor reaches to `top`) to the plate."""
        if self.plate == "inner":
            return range(level)
        if self.plate == "outer":
            return range((level if top is None else top) + 1, levels)
        return range(0)

    def alone(self, shape: ArborShape, levels: int) -> Places:
        """The places of a shape that the frame and its own parts leave, in a train of so many levels; none where a post
        bends too far."""
        key = shape if self.plate == "none" else ArborShape((*shape.sides, Side(levels, 0, 0, None)), shape.radius)
        if key not in self._alone:
            self._alone[key] = self._found(shape, levels)
        return self._alone[key]

    def among(self, shape: ArborShape, rings: tuple[int, ...], riders: tuple[int, ...]) -> Places:
        """Likewise what the rings that its posts pass, and the stands of the bodies on the rings `riders`, leave, and
        where arms reach it as far as it alone tells."""
        if self._bare and self.measures.arms is None:
            return self.alone(shape, len(rings))
        key = (shape, () if self._bare else rings, riders)
        if key not in self._among:
            self._look_at([shape], rings, riders)
        return self._among[key]

    def prepare(self, shapes: Sequence[ArborShape], rings: tuple[int, ...], riders: tuple[int, ...]) -> None:
        """Look at several shapes at once that are asked for next: arms of many targets take little longer than of
        one."""
        if self.measures.arms is not None:
            kept = () if self._bare else rings
            self._look_at([shape for shape in shapes if (shape, kept, riders) not in self._among], rings, riders)

    @cached_property
    def _bare(self) -> bool:
        """Whether rings are in nobody's way."""
        return self.plate == "none" and self.fit.stands == "none" and self.measures.thick is None

    def _look_at(self, shapes: Sequence[ArborShape], rings: tuple[int, ...], riders: tuple[int, ...]) -> None:
        arms, kept = self.measures.arms, () if self._bare else rings
        held: dict[tuple[int, int], list[Places]] = {}
        for shape in shapes:
            if arms is not None and not self._arms_reach(arms, shape, rings, riders):
                self._among[shape, kept, riders] = nowhere(shape)
                continue
            left = self._left(shape, rings, riders)
            if arms is None or not len(left):
                self._among[shape, kept, riders] = left
            else:
                gap, spots = held_spots(left, self.fit.stands)
                held.setdefault((gap, len(spots) if len(shape.sides) > 1 else -len(spots)), []).append(left)
        for some in held.values():
            assert arms is not None
            for places in self._reached(arms, some, rings, riders):
                self._among[places.shape, kept, riders] = places

    def _arms_reach(self, arms: ArmWays, shape: ArborShape, rings: tuple[int, ...], riders: tuple[int, ...]) -> bool:
        """False only where no arm reaches an arbor, or a motor's shaft, in any direction that holds its gears. Of
        shapes there are many, as there are of third gears, and few arbors."""
        held, disc = held_as(shape, 0), arms.disc(rings, riders, gap_held(shape, self.fit.stands))
        key = held, shape.radius, disc
        if key not in self._armed:
            self._armed[key] = arms.reached(held, *self.compass.ray(0.0, shape.radius), disc, None)
        sizes = tuple(self.measures.side(side)[0] for side in shape.sides)
        return bool((self._armed[key] & self._arbor_stands(shape.radius, sizes)).any())

    def _left(self, shape: ArborShape, rings: tuple[int, ...], riders: tuple[int, ...]) -> Places:
        places = self.alone(shape, len(rings))
        kept = np.ones(len(places), bool)
        for post in places.posts:
            for level in post.passes:
                kept &= beside(post.xs, post.ys, self.measures.ring_and(rings[level], self.measures.post))
        for ring in riders if len(places) else ():
            passed = self.stand_passes(ring, len(rings))
            for gear in places.gears:
                if gear.level in passed:
                    kept &= beside(gear.xs, gear.ys, self.measures.stand_and_gear(rings[ring], gear.size))
            for post in places.posts:
                if share(post.passes, passed):
                    kept &= beside(post.xs, post.ys, self.measures.stand_and(rings[ring], 0, self.measures.post))
        for some in among_rings(self.measures, slabs_at(self.measures, places), rings):
            kept &= some
        return places.only(kept)

    def _reached(
        self, arms: ArmWays, some: Sequence[Places], rings: tuple[int, ...], riders: tuple[int, ...]
    ) -> Iterator[Places]:
        """Those of these places, in one gap and of as many things each, of which each thing that is held has an arm;
        rule `arm`."""
        gap, link = held_spots(some[0], self.fit.stands)[0], len(some[0].shape.sides) > 1
        each = [held_spots(places, self.fit.stands)[1] for places in some]
        spots = [_together(column) for column in zip(*each, strict=True)]
        disc = arms.disc(rings, riders, gap)
        kept, begin = np.ones(len(spots[0][0]), bool), 0
        for number, (xs, ys) in enumerate(spots):
            left = np.flatnonzero(kept)
            arbor = (spots[0][0][left], spots[0][1][left]) if link and number else None
            kept[left] = arms.reached(held_as(some[0], number), xs[left], ys[left], disc, arbor)
        for places, own in zip(some, each, strict=True):
            reached = kept[begin : begin + len(places)] & own_eyes_clear(self.measures, places, disc)
            begin += len(places)
            held: tuple[HeldSpots, ...] = ()
            if not link:  # which arbor their arms may have to pass is not known
                held = tuple(
                    HeldSpots(gap, *at, arms.free(held_as(places, number), *at, disc) & reached[:, None])
                    for number, at in enumerate(own if reached.any() else ())
                )
            yield replace(places, held=held).only(reached)

    def stand_passes(self, ring: int, levels: int) -> range:
        """The levels that the stand of a body on a ring passes."""
        if self.fit.stands == "inner":
            return range(ring)
        if self.fit.stands == "outer":
            return range(ring + 1, levels)
        return range(0)

    def fits_frame(self, shape: ArborShape) -> bool:
        """Whether some direction holds the shape inside the frame."""
        reach = [shape.radius + max(side.gear for side in shape.sides)]
        reach += [side.ring + 2 * side.third for side in shape.sides if side.third is not None]
        if max(reach) <= self.free_teeth:
            return True
        if not self.arbor_fits(shape):
            return False
        return len(reach) == 1 or any(kept.any() for _, kept in self._sides(shape))

    def _rolled(self, angles: Sequence[float] | np.ndarray) -> np.ndarray:
        """In which of these directions [degrees] of a mesh a roller, where there are any, can be as near to it as it
        must be."""
        found = np.array(angles, float)
        if self.fit.rollers is None:
            return np.ones(len(found), bool)
        step = 360 / GRID
        near: np.ndarray = np.abs(found - step * np.rint(found / step)) <= float(self.fit.rollers.reach) + 1e-9
        return near

    @property
    def wishes(self) -> bool:
        """Whether links may not stand in every direction, whatever the frame leaves."""
        return bool(self.fit.link_places or self.fit.keep_free)

    @cached_property
    def widest(self) -> float | None:
        """Degrees between the two directions that are farthest apart, of those in which a roller can be near; None:
        there are none."""
        angles = np.array(self.directions, float)
        angles = angles[self._rolled(angles)]
        if not len(angles):
            return None
        between = np.abs(angles[:, None] - angles[None, :])
        return float(np.minimum(between, 360 - between).max())

    @cached_property
    def free_teeth(self) -> int:
        """How far from the main axis [teeth of pitch radius] gears may reach in every direction."""
        frame = self.fit.frame
        assert frame is not None
        room = min(frame.width, frame.height) / 2 - self.fit.clearance - self.measures.reaches.most
        return math.floor(room / self.measures.high)

    def arbor_fits(self, shape: ArborShape) -> bool:
        """Whether some direction holds the gears on the arbor of a shape."""
        return bool(self._arbor_stands(shape.radius, tuple(self.measures.side(side)[0] for side in shape.sides)).any())

    def _arbor_stands(self, radius: int, sizes: tuple[int, ...]) -> np.ndarray:
        """Which directions hold gears of these sizes on an arbor so far out."""
        if (radius, sizes) not in self._arbors:
            arbor = self.compass.ray(0.0, radius)
            kept = [self.measures.gear_in_frame(*arbor, size) for size in sizes]
            self._arbors[radius, sizes] = np.logical_and.reduce(kept)
        return self._arbors[radius, sizes]

    def side_choices(self, ring: int, gear: int, thirds: tuple[int, ...], radii: range, gap: int) -> list[SideChoice]:
        """What one side of a link can have on its level, at every radius, direction and side that the frame leaves;
        one entry for each third gear; thirds: () where the gear meets its ring directly."""
        key = (ring, gear, thirds, radii)
        if key not in self._choices:
            self._choices[key] = []
            for third in thirds or (None,):
                columns: list[list[Spots]] = []
                for radius in radii:
                    if third is not None and not gap <= radius - ring - gear <= 2 * third:
                        continue
                    for rows, kept in self._sides(ArborShape((Side(0, ring, gear, third),), radius)):
                        columns.append([(xs[kept], ys[kept]) for xs, ys in rows])
                joined = [
                    (np.concatenate([xs for xs, _ in column]), np.concatenate([ys for _, ys in column]))
                    for column in zip(*columns, strict=True)
                ]
                if joined and len(joined[0][0]):
                    self._choices[key].append((self.measures.side(Side(0, ring, gear, third)), joined))
        return self._choices[key]

    # -- building ------------------------------------------------------------------------------------------------

    def _sides(self, shape: ArborShape) -> Iterator[tuple[list[Spots], np.ndarray]]:
        """For each choice of the third gears' sides: spots of the arbor and the third gears, one for each direction,
        and which of them the frame leaves."""
        turns: list[list[tuple[float, float]]] = []
        for side in shape.sides:
            if side.third is not None:
                turn, far = triangle(shape.radius, side.ring, side.third, side.gear)
                turns.append([(turn, far), (-turn, far)] if turn else [(0.0, far)])
        arbor = self.compass.ray(0.0, shape.radius)
        sizes = [self.measures.side(side) for side in shape.sides]
        standing = self._arbor_stands(shape.radius, tuple(gear for gear, *_ in sizes))
        between = [third for _, *some in sizes for third in some]
        for chosen in product(*turns):
            thirds = [self.compass.ray(turn, far) for turn, far in chosen]
            kept = standing.copy()
            for third, at in zip(between, thirds, strict=True):
                kept &= self.measures.gear_in_frame(*at, third)
            yield [arbor, *thirds], kept

    def _found(self, shape: ArborShape, levels: int) -> Places:
        places = self._standing(shape, levels, list(self._sides(shape)))
        if self.sagging is not None and not self.sagging.posts_hold(shape.sides, levels):
            return places.only(np.zeros(len(places), bool))
        return places.only(self._own(places))

    def _standing(self, shape: ArborShape, levels: int, sides: Sequence[tuple[list[Spots], np.ndarray]]) -> Places:
        """What stands where on these sides, in the directions that are kept."""
        indices = np.concatenate([np.flatnonzero(kept) for _, kept in sides])
        order = np.argsort(indices, kind="stable")  # by direction, then by the order of the sides
        columns = []
        for number in range(1 + sum(side.third is not None for side in shape.sides)):
            xs, ys = (np.concatenate([rows[number][axis][kept] for rows, kept in sides])[order] for axis in (0, 1))
            columns.append((xs, ys))
        directions = tuple(self.directions[index] for index in indices[order].tolist())
        arbor, thirds = columns[0], columns[1:]
        gears, posts, meshes, rest = [], [], [], iter(thirds)
        bottom, top = shape.sides[0].level, shape.sides[-1].level
        posts.append(PostSpots(self.passes(bottom, levels, top), *arbor))
        for side in shape.sides:
            sizes = self.measures.side(side)
            gears.append(GearSpots(side.level, sizes[0], *arbor))
            if side.third is None:
                meshes.append(MeshSpots(side.level, tuple(map(float, directions))))
                continue
            third = next(rest)
            gears.append(GearSpots(side.level, sizes[1], *third))
            posts.append(PostSpots(self.passes(side.level, levels), *third))
            pushing = zip(*(axis.tolist() for axis in third), strict=True) if self.fit.rollers is not None else ()
            meshes.append(MeshSpots(side.level, tuple(direction_of(spot) for spot in pushing)))
        posts = [post for post in posts if post.passes]
        return Places(shape, directions, tuple(gears), tuple(posts), tuple(meshes), arbor, tuple(thirds))

    def _own(self, places: Places) -> np.ndarray:
        """Where the maker wishes it, no post of the shape touches a gear or a post of its own, and a roller can be near
        every mesh."""
        kept = where_wished(self.fit, places)
        if self.fit.rollers is not None:
            for mesh in places.meshes:
                kept &= self._rolled(mesh.angles)
        for post in places.posts:
            for gear in places.gears:
                if gear.level in post.passes:
                    need = self.measures.gear_and(gear.size, self.measures.post)
                    kept &= squares_between(post, gear) >= least_of(need, post.xs, gear.xs)
        for index, post in enumerate(places.posts):
            for other in places.posts[:index]:
                if share(post.passes, other.passes):
                    need = self.measures.rounds(self.measures.post, self.measures.post)
                    kept &= squares_between(post, other) >= least_of(need, post.xs, other.xs)
        for some in own_clear(self.measures, slabs_at(self.measures, places)):
            kept &= some
        return kept


def _together(some: Sequence[Spots]) -> Spots:
    """Spots of several things as one."""
    xs, ys = zip(*some, strict=True)
    return np.concatenate(xs), np.concatenate(ys)
