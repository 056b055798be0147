"""Everywhere that a link or a motor can stand, for the second proof: every direction, side and distance, whatever
forbids them.

Nothing is taken from the search but where a point lies in a direction (`compass`) and lengths (`measures`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import compress, product

import numpy as np

from constraints.link import Span
from constraints.reverted import Reverted
from constraints.run import Run
from constraints.third import ThirdTriangle
from solver.design.design import Design
from solver.design.links import KIND_BY_NAME, KINDS
from solver.design.train import Link, LinkPlace, Spot
from solver.search.levels import levels_of
from solver.search.place.compass import Compass, direction_of, triangle
from solver.search.place.measures import Measures
from solver.search.place.places import JoinedGears, JoinedPlaces, MeshSpots, PostSpots
from solver.search.place.rollers import Wheelhouse
from solver.search.place.shapes import ArborShape, Side
from solver.search.place.tables import RingRollers
from solver.search.reaches import gap_of
from solver.search.runs import runs_of
from solver.search.sagged import sagging_of

Rings = tuple[int, ...]


@dataclass(frozen=True)
class Standing:
    """Places of a thing whose gears and posts are on the same levels, with the direction of each."""

    places: JoinedPlaces
    directions: tuple[Fraction, ...]

    def __len__(self) -> int:
        return len(self.directions)

    def only(self, kept: np.ndarray) -> Standing:
        """The places that are kept."""
        return Standing(self.places.only(kept), tuple(compress(self.directions, kept)))

    def at(self, index: int) -> LinkPlace:
        """The place."""
        gears = iter(self.places.gears)
        spots: list[Spot] = []
        for side in self.places.shapes[index].sides:
            arbor = _spot(next(gears), index)
            if side.third is not None:
                spots.append(_spot(next(gears), index))
        return LinkPlace(self.directions[index], self.places.shapes[index].radius, arbor, tuple(spots))


def thirds_of(shape: ArborShape) -> tuple[int, ...]:
    """The teeth of a shape's third gears."""
    return tuple(side.third for side in shape.sides if side.third is not None)


def link_of(shape: ArborShape) -> Link:
    """The link that has this shape."""
    sides = shape.sides
    there = tuple(side.third is not None for side in sides)
    kind = next(kind.name for kind in KINDS if (kind.wheel_thirds, kind.pinion_thirds) == there)
    return Link(kind, sides[0].gear, sides[1].gear, thirds_of(shape))


def reach_of(shape: ArborShape) -> int:
    """How far what has this shape reaches from the main axis [teeth, without addendum]."""
    thirds = (side.ring + 2 * side.third for side in shape.sides if side.third is not None)
    return max(*(shape.radius + side.gear for side in shape.sides), *thirds, 0)


def _spot(gear: JoinedGears, index: int) -> Spot:
    return int(gear.xs[index]), int(gear.ys[index])


class Ground:
    """Where the things of one design can stand."""

    def __init__(self, design: Design) -> None:
        assert design.fit.directions is not None
        self.design, self.fit, self.measures = design, design.fit, Measures(design)
        runs, self.levels, self.sagging = runs_of(design), levels_of(design), sagging_of(design)
        self.run = None if runs is None else Run(runs.ring_runs, runs.third_runs, runs.gears_run)
        self.compass = Compass(design.fit.directions, self.measures)
        self.gap = gap_of(design)

    def passes(self, low: int, high: int, count: int) -> range:
        """The levels that a post passes on its way to the plate, from what it carries on the levels `low` to `high`."""
        return {"inner": range(low), "outer": range(high + 1, count)}.get(self.fit.plate, range(0))

    def stand_passes(self, ring: int, count: int) -> range:
        """The levels that the stand of a body on a ring passes."""
        return {"inner": range(ring), "outer": range(ring + 1, count)}.get(self.fit.stands, range(0))

    def link_shapes(self, rings: Rings, level: int, links: Iterable[Link]) -> list[ArborShape]:
        """The shapes that these links can have between the rings of a level and the next one, at every distance."""
        found = []
        for link in links:
            kind = KIND_BY_NAME[link.kind]
            thirds = link.thirds[0] if kind.wheel_thirds else None, link.thirds[-1] if kind.pinion_thirds else None
            gears = link.wheel, link.pinion
            sides = tuple(
                Side(at, rings[at], gear, third)
                for at, gear, third in zip((level, level + 1), gears, thirds, strict=True)
            )
            (low, high), (low_too, high_too) = map(self._span, sides)
            found += [ArborShape(sides, radius) for radius in range(max(low, low_too), min(high, high_too) + 1)]
        return found

    def motor_shapes(self, rings: Rings) -> list[ArborShape]:
        """The shapes that the motor, with its third gear or without, can have at these rings."""
        drive = self.design.drive
        assert drive is not None
        thirds = (None, *(self.design.arbors.third_teeth if drive.third_gears else ()))
        levels = {"inner": [0], "outer": [len(rings) - 1]}.get(drive.ring, list(range(len(rings))))
        found = []
        for level, pinion, third in product(levels, drive.pinion_teeth, thirds):
            side = Side(level, rings[level], pinion, third)
            if not self._runs(side):
                continue
            low, high = self._span(side)
            found += [ArborShape((side,), radius) for radius in range(low, high + 1)]
        return found

    def everywhere(self, shapes: Iterable[ArborShape], count: int) -> list[Standing]:
        """All places of these shapes in a train of so many rings, those together whose third gears are on the same
        sides."""
        alike: dict[tuple[tuple[int, bool], ...], list[ArborShape]] = {}
        for shape in shapes:
            alike.setdefault(tuple((side.level, side.third is not None) for side in shape.sides), []).append(shape)
        return [self._standing(some, count) for some in alike.values()]

    def rollers(self, level: int, rings: Rings) -> RingRollers:
        """The rollers of a ring in every direction; none where they are larger than the ring leaves."""
        house = Wheelhouse(self.measures, level, rings[level], self.passes(level, level, len(rings)))
        every = slice(None if house.possible else 0)
        directions = tuple(float(at.direction) for at in house.all())
        return RingRollers(level, directions, house.xs[every], house.ys[every], house.passes)

    def stiff(self, one: Standing, count: int) -> np.ndarray:
        """At which of these places no post bends too far, in a train of so many rings."""
        shapes = one.places.shapes
        if self.sagging is None:
            return np.ones(len(shapes), bool)
        return np.array([self.sagging.posts_hold(shape.sides, count) for shape in shapes], bool)

    # -- building ----------------------------------------------------------------------------------------------------

    def _runs(self, side: Side) -> bool:
        """Whether a motor's gears run, and stay within their level."""
        if self.levels is not None and not self.levels.side(side.third is not None):
            return False
        if self.run is None:
            return True
        if side.third is None:
            return self.run.ring(side.ring, side.gear)
        return self.run.third(side.ring, side.gear, side.third)

    def _span(self, side: Side) -> Span:
        """The arbor's least and greatest distance from the main axis [teeth] for one of its gears to do its work."""
        if side.third is None:
            return Reverted().span(side.ring, side.gear, 0)
        return ThirdTriangle(self.gap).span(side.ring, side.gear, side.third)

    def _standing(self, shapes: Sequence[ArborShape], count: int) -> Standing:
        ways = [(shape, turns) for shape in shapes for turns in self._turns(shape)]
        every = len(self.compass.directions)

        def column(spots: Iterable[tuple[np.ndarray, np.ndarray]]) -> tuple[np.ndarray, np.ndarray]:
            xs, ys = zip(*spots, strict=True)
            return np.concatenate(xs), np.concatenate(ys)

        arbor = column(self.compass.ray(0.0, shape.radius) for shape, _ in ways)
        directions = self.compass.directions * len(ways)
        sides = shapes[0].sides
        bottom, top = sides[0].level, sides[-1].level
        gears, meshes, posts, thirds = [], [], [PostSpots(self.passes(bottom, top, count), *arbor)], 0
        for number, side in enumerate(sides):
            sizes = [self.measures.side(shape.sides[number]) for shape, _ in ways]
            gears.append(JoinedGears(side.level, np.repeat([size[0] for size in sizes], every), *arbor))
            if side.third is None:
                meshes.append(MeshSpots(side.level, tuple(map(float, directions))))
                continue
            at = column(self.compass.ray(*turns[thirds]) for _, turns in ways)
            thirds += 1
            gears.append(JoinedGears(side.level, np.repeat([size[1] for size in sizes], every), *at))
            posts.append(PostSpots(self.passes(side.level, side.level, count), *at))
            pushing = zip(*(axis.tolist() for axis in at), strict=True) if self.fit.rollers is not None else ()
            meshes.append(MeshSpots(side.level, tuple(map(direction_of, pushing))))
        every_shape = tuple(shape for shape, _ in ways for _ in range(every))
        places = JoinedPlaces(every_shape, tuple(gears), tuple(post for post in posts if post.passes), tuple(meshes))
        standing = Standing(places, directions)
        return standing.only(self._wished(standing)) if self.fit.link_places or self.fit.keep_free else standing

    def _wished(self, one: Standing) -> np.ndarray:
        """At which of these places a link stands where it is asked to, and not in what is kept free; rule `place`."""
        sides = one.places.shapes[0].sides if len(one) else ()
        if len(sides) < 2:
            return np.ones(len(one), bool)
        asked = [span.sector for span in self.fit.link_places if span.link == sides[0].level]
        kept = []
        for index, direction in enumerate(one.directions):
            at = one.at(index)
            there = all(sector.holds(direction) for sector in asked)
            for sector in self.fit.keep_free:
                there &= not sector.holds(direction)
                there &= not any(sector.near(direction_of(third)) for third in at.thirds)
            kept.append(there)
        return np.array(kept, bool)

    def _turns(self, shape: ArborShape) -> Iterator[tuple[tuple[float, int], ...]]:
        """For every choice of the third gears' sides, left or right of the arbor: the turn of each from the arbor's
        direction [radians], and its distance from the main axis [teeth]."""
        each = []
        for side in shape.sides:
            if side.third is not None:
                turn, far = triangle(shape.radius, side.ring, side.third, side.gear)
                each.append([(turn, far), (-turn, far)] if turn else [(turn, far)])
        return product(*each)
