"""A second judge of places, written from the fit rules alone: what stands in a placed train as shapely geometry.

A polygon is nowhere as exact as the circle it stands for, except where one wants it to be: a polygon with a corner on
the circle lies inside of it and touches it there, one with the middle of an edge on the circle lies around it. So each
distance is taken to a polygon that touches its circle exactly where the other part faces it; what is left is the
rounding of floats, some 1e-13 mm, so margins can be held to 1e-6 mm and verdicts to `NEAR`. Whole outlines (`outline`)
are finely cornered polygons, good to `FLAT` of a radius.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations, pairwise, product

import numpy as np
import shapely
from shapely.geometry import LinearRing, Point, Polygon, box

from solver.design.design import Design
from solver.design.train import DrivePlace, Link, LinkPlace, Train

CORNERS = 12  # of a polygon that touches its circle at one known place
FINE = 32  # corners in a quarter of an outline
FLAT = 1 - math.cos(math.pi / (4 * FINE))  # how far the middle of an outline's edge lies inside, of the radius
SIDES = {"plain": (0, 0), "third-wheel": (1, 0), "third-pinion": (0, 1), "third-both": (1, 1)}  # third gears

Slot = tuple[str, int, int]  # whose spot: ("link", i, -1: arbor, or its third gear), ("roller", ring, number), ...


@dataclass(frozen=True)
class Disc:
    """A gear, a roller or a post: a disc on some levels. spot and radius in mm; slot: the spot it stands on, if any."""

    name: str
    owner: str
    levels: range
    spot: tuple[float, float]
    radius: float
    slot: Slot | None = None

    def outline(self) -> Polygon:
        return Point(self.spot).buffer(self.radius, quad_segs=FINE)


@dataclass(frozen=True)
class Band:
    """A ring, or what a stand sweeps: an annulus around the main axis [mm], `inner` 0 or less where it has no hole."""

    name: str
    levels: range
    inner: float
    outer: float

    spot = (0.0, 0.0)

    @property
    def radius(self) -> float:
        return self.outer

    def outline(self) -> Polygon | LinearRing:
        whole = Point(0, 0).buffer(self.outer, quad_segs=FINE)
        if math.isclose(self.inner, self.outer):  # neither rim nor addendum
            return whole.exterior
        return whole.difference(Point(0, 0).buffer(self.inner, quad_segs=FINE)) if self.inner > 0 else whole


@dataclass(frozen=True)
class Stand:
    """A body's stand: its rod as it stands on the right of the main axis, and the band that it sweeps."""

    rod: Disc
    band: Band


@dataclass(frozen=True)
class Measure:
    """One distance: its rule, between what, and the room left [mm], negative where it is missing; degrees for angles.

    kept: None where the margin is too small for floats to say. one, other: the parts; other is None at the frame.
    """

    rule: str
    names: frozenset[str]
    margin: float
    kept: bool | None
    degrees: bool = False
    one: Disc | None = None
    other: Disc | Band | None = None


NEAR = 1e-9  # mm or degrees that floats cannot judge


def measured(rule: str, names: Sequence[str], margin: float, **more: object) -> Measure:
    kept = None if abs(margin) < NEAR else bool(margin > 0)
    return Measure(rule, frozenset(names), float(margin), kept, **more)  # type: ignore[arg-type]


class Scene:
    """Everything that stands in a placed train of a design."""

    def __init__(self, design: Design, train: Train) -> None:
        assert train.placement is not None
        self.design, self.train, self.placement = design, train, train.placement
        pitch = design.rings.pitch
        self.tooth = float(pitch.value) / (2 if pitch.is_module else 2 * math.pi)
        self.addendum, self.rim = float(design.rings.addendum), float(design.rings.rim)
        self.clearance, self.post = float(design.fit.clearance), float(design.fit.post_radius)
        self.count = len(train.rings)
        self.rings = [
            Band(f"ring {level}", range(level, level + 1), z * self.tooth - self.rim, self.tip(z))
            for level, z in enumerate(train.rings)
        ]
        self.gears = list(self._gears())
        self.rollers = [
            Disc(f"roller {number + 1} of ring {level}", f"ring {level}", range(level, level + 1),
                 mm(roller.spot), float(design.fit.rollers.radius), ("roller", level, number))
            for level, some in enumerate(self.placement.rollers) for number, roller in enumerate(some)
        ]  # fmt: skip
        self.posts = list(self._posts()) if design.fit.plate != "none" else []
        self.stands = list(self._stands()) if design.fit.stands != "none" else []

    def tip(self, teeth: int, role: str = "ring") -> float:
        # As made, saw teeth reach an addendum, those of third gears half of it, and of pins half their thickness does.
        if not self.design.wired:
            return teeth * self.tooth + self.addendum
        toothed = {"ring": 1.0, "third": 0.5} if self.design.wire.third == "teeth" else {"ring": 1.0, "behind": 1.0}
        reach = toothed[role] * self.addendum if role in toothed else self.design.wire.pin.mm / 2
        return teeth * self.tooth + reach

    def beyond(self, lowest: int, highest: int, side: str) -> range:
        """The levels between a part that takes up some and what lies on that side of the rings."""
        return range(lowest) if side == "inner" else range(highest + 1, self.count)

    def works(self) -> Iterator[tuple[str, str, int, Link | DrivePlace, LinkPlace]]:
        """Every link, and the drive: (name, kind of slot, level of its inner side, its gears, its place)."""
        for index, (link, place) in enumerate(zip(self.train.links, self.placement.links)):
            yield f"link {index}", "link", index, link, place
        if self.placement.drive is not None:
            yield "drive", "drive", self.placement.drive.ring, self.placement.drive, self.placement.drive.at

    def third_levels(self, level: int, gears: Link | DrivePlace) -> list[int]:
        if isinstance(gears, DrivePlace):
            return [level] * len(gears.thirds)
        on_wheel, on_pinion = SIDES[gears.kind]
        return [level] * on_wheel + [level + 1] * on_pinion

    def _gears(self) -> Iterator[Disc]:
        for owner, kind, level, gears, place in self.works():
            key = level if kind == "link" else 0
            fixed = (
                [("motor pinion", gears.pinion, level)]
                if isinstance(gears, DrivePlace)
                else [("wheel", gears.wheel, level), ("pinion", gears.pinion, level + 1)]
            )
            behind = self.third_levels(level, gears)
            for name, teeth, on in fixed:
                yield Disc(f"{name} of {owner}", owner, range(on, on + 1), mm(place.arbor),
                           self.tip(teeth, "behind" if on in behind else "gear"), (kind, key, -1))  # fmt: skip
            for number, on in enumerate(self.third_levels(level, gears)):
                yield Disc(f"third gear of {owner}", owner, range(on, on + 1), mm(place.thirds[number]),
                           self.tip(gears.thirds[number], "third"), (kind, key, number))  # fmt: skip

    def _posts(self) -> Iterator[Disc]:
        side = self.design.fit.plate
        for owner, kind, level, gears, place in self.works():
            key = level if kind == "link" else 0
            top = level + (kind == "link")
            yield Disc(f"post of arbor of {owner}", owner, self.beyond(level, top, side), mm(place.arbor), self.post,
                       (kind, key, -1))  # fmt: skip
            for number, on in enumerate(self.third_levels(level, gears)):
                yield Disc(f"post of third gear of {owner}", owner, self.beyond(on, on, side),
                           mm(place.thirds[number]), self.post, (kind, key, number))  # fmt: skip
        for roller in self.rollers:
            level = roller.levels[0]
            yield Disc(f"post of {roller.name}", roller.owner, self.beyond(level, level, side), roller.spot, self.post,
                       roller.slot)  # fmt: skip

    def _stands(self) -> Iterator[Stand]:
        for level in self.train.seats:
            name, levels = f"stand on ring {level}", self.beyond(level, level, self.design.fit.stands)
            far = self.train.rings[level] * self.tooth - self.rim / 2
            yield Stand(
                Disc(name, name, levels, (far, 0.0), self.post), Band(name, levels, far - self.post, far + self.post)
            )

    # -- what must keep apart ----------------------------------------------------------------------------------------

    def pairs(self) -> Iterator[tuple[str, Disc, Disc | Band]]:
        """(rule, a disc, what it must keep the clearance from), wherever both are on one level."""
        for one, other in combinations(self.gears, 2):
            if one.owner != other.owner and meet(one, other):
                yield "neighbour", one, other
        for post in self.posts:
            for thing in (*self.rings, *self.gears, *self.rollers):
                if meet(post, thing):
                    yield "post", post, thing
        for one, other in combinations(self.posts, 2):
            if meet(one, other):
                yield "post", one, other
        for stand in self.stands:
            # A ring and a band look the same from every side, so the rod may stand anywhere.
            for ring in self.rings:
                if meet(stand.rod, ring):
                    yield "stand", stand.rod, ring
            for disc in (*self.gears, *self.rollers, *self.posts):
                if meet(disc, stand.band):
                    yield "stand", disc, stand.band
        for one_stand, other_stand in combinations(self.stands, 2):
            if meet(one_stand.rod, other_stand.band):
                yield "stand", one_stand.rod, other_stand.band
        for one, other in combinations(self.rollers, 2):
            if meet(one, other):
                yield "roller", one, other
        for roller, gear in product(self.rollers, self.gears):
            if meet(roller, gear):
                yield "roller", roller, gear

    def frame(self) -> Polygon | None:
        """The frame less the clearance; a round one as an outline."""
        frame = self.design.fit.frame
        if frame is None:
            return None
        width, height = float(frame.width) / 2 - self.clearance, float(frame.height) / 2 - self.clearance
        return Point(0, 0).buffer(width, quad_segs=FINE) if frame.round else box(-width, -height, width, height)

    def framed(self) -> list[Disc]:
        """The tip circles that must lie inside the frame."""
        tips = [
            Disc(f"tip circle of {ring.name}", ring.name, ring.levels, ring.spot, ring.outer) for ring in self.rings
        ]
        return tips + self.gears

    def measures(self) -> list[Measure]:
        """Every distance and angle that matters."""
        pairs = list(self.pairs())
        found = [
            measured(rule, (one.name, other.name), margin, one=one, other=other)
            for (rule, one, other), margin in zip(pairs, apart([pair[1:] for pair in pairs]) - self.clearance)
        ]
        frame = self.design.fit.frame
        if frame is not None:
            tips = self.framed()
            for tip, margin in zip(tips, self._inside(tips)):
                found.append(measured("frame", (tip.name, "frame"), margin, one=tip))
            if frame.depth is not None:
                room = frame.depth - self.count * self.design.rings.level_spacing
                found.append(Measure("frame", frozenset({"depth"}), float(room), room >= 0))
        if self.design.fit.rollers is not None:
            for level, some in enumerate(self.placement.rollers):
                found += self._turned(level, sorted(roller.direction for roller in some))
        return found

    def _inside(self, tips: list[Disc]) -> np.ndarray:
        """Room between tip circles and the frame less the clearance: to its nearest side [mm]."""
        spots, radii = np.array([tip.spot for tip in tips]), np.array([tip.radius for tip in tips])
        frame = self.design.fit.frame
        assert frame is not None
        if frame.round:
            far = float(frame.width) / 2 - self.clearance
            return -past(spots, np.zeros_like(spots), np.full(len(tips), far)) - radii
        # A buffer has corners at its extremes, so its bounds are exact.
        bounds = shapely.bounds(shapely.buffer(shapely.points(spots), radii, quad_segs=2))
        return ((bounds - np.array(self.frame().bounds)) * [1, 1, -1, -1]).min(axis=1)  # type: ignore[union-attr]

    def _turned(self, level: int, directions: list[Fraction]) -> Iterator[Measure]:
        """How a ring's rollers are spread, in degrees: exact where directions are compared, floats at third gears."""
        rollers, owner = self.design.fit.rollers, f"ring {level}"
        assert rollers is not None
        yield Measure("roller", frozenset({f"number of rollers of {owner}"}), 0.0, len(directions) in rollers.count)
        gap = max(b - a for a, b in pairwise([*directions, directions[0] + 360]))
        yield Measure("roller", frozenset({f"gap of {owner}"}), float(180 - gap), gap < 180, True)
        for name, _, inner, gears, place in self.works():
            levels = self.third_levels(inner, gears)
            if level in levels:
                x, y = place.thirds[levels.index(level)]
                nearest: float | Fraction = min(turn(math.degrees(math.atan2(y, x)), float(d)) for d in directions)
                room = float(rollers.reach) - nearest
                kept = None if abs(room) < NEAR else room > 0
            elif level in ((inner,) if isinstance(gears, DrivePlace) else (inner, inner + 1)):
                nearest = min(turn(place.direction, direction) for direction in directions)
                room, kept = rollers.reach - nearest, rollers.reach >= nearest
            else:
                continue
            names = frozenset({f"nearest roller of {owner}", f"the mesh of {name}"})
            yield Measure("roller", names, float(room), kept, True)


def mm(spot: tuple[int, int]) -> tuple[float, float]:
    return spot[0] / 1000, spot[1] / 1000


def turn(one, other):
    """The angle between two directions, in degrees."""
    return abs((one - other + 180) % 360 - 180)


def meet(one: Disc | Band, other: Disc | Band) -> bool:
    """Whether two parts share a level."""
    return max(one.levels.start, other.levels.start) < min(one.levels.stop, other.levels.stop)


def facing(centres: np.ndarray, radii: np.ndarray, toward: np.ndarray, around: bool) -> np.ndarray:
    """Polygons that touch their circles in the direction of a point: from inside with a corner, or (around) from
    outside with the middle of an edge."""
    step = 2 * math.pi / CORNERS
    away = toward - centres
    angles = np.arctan2(away[:, 1], away[:, 0])[:, None] + step * (np.arange(CORNERS) + around / 2)
    reach = radii / math.cos(step / 2) if around else radii
    corners = centres[:, None, :] + reach[:, None, None] * np.stack([np.cos(angles), np.sin(angles)], axis=-1)
    polygons: np.ndarray = shapely.polygons(corners)
    return polygons


def past(spots: np.ndarray, centres: np.ndarray, radii: np.ndarray) -> np.ndarray:
    """How far spots are outside of circles; negative: how far inside, to the nearest place of the circle."""
    points = shapely.points(spots)
    within, around = facing(centres, radii, spots, False), facing(centres, radii, spots, True)
    outside, inside = shapely.distance(points, within), shapely.distance(points, shapely.boundary(around))
    depth: np.ndarray = np.where(shapely.covers(around, points), -inside, outside)
    return depth


def apart(pairs: list[tuple[Disc, Disc | Band]]) -> np.ndarray:
    """Room between discs and other parts; negative: how far the disc must move until it touches from outside, or, in
    a band, from the hole if that is nearer."""
    if not pairs:
        return np.zeros(0)
    spots, centres = (np.array([pair[side].spot for pair in pairs]) for side in (0, 1))
    far = past(spots, centres, np.array([other.radius for _, other in pairs]))
    holes = np.array([other.inner if isinstance(other, Band) else 0.0 for _, other in pairs])
    there = holes > 0
    if there.any():
        far[there] = np.maximum(far[there], -past(spots[there], centres[there], holes[there]))
    return far - np.array([one.radius for one, _ in pairs])
