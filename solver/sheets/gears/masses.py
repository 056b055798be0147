"""What every part of a model weighs and where its middle is: by groups, in all, and the centre of mass.

Rings and bodies turn about the main axis, and are taken to be there; what all bodies on one side shift is told apart.
Depth is measured as on the sheets: from the plate, or without one from half a level spacing behind the smallest ring.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import hypot

from solver.design.arms import gap_of_ring
from solver.design.train import Spot
from solver.design.weights import body_grams
from solver.forms.weights import hub_mm
from solver.sheets.gears.inventory import Inventory
from solver.sheets.gears.small_parts import PostRod

GROUPS = ("rings", "small gears", "hubs", "arbors", "posts", "rollers", "stands", "bodies", "frame", "arms")


@dataclass(frozen=True)
class Mass:
    """A part, or a group of parts: what it is, its weight [g], and its middle from the main axis and in depth [mm]."""

    what: str
    grams: float
    x_mm: float
    y_mm: float
    depth_mm: float

    @property
    def from_axis_mm(self) -> float:
        return hypot(self.x_mm, self.y_mm)


@dataclass(frozen=True)
class Masses:
    """parts: with the group of each. shift_mm: how far the bodies, all on one side, shift the middle of everything."""

    parts: tuple[tuple[str, Mass], ...]
    shift_mm: float

    @property
    def whole(self) -> Mass:
        """Everything that is weighed, its middle the centre of mass."""
        return _together("all", [mass for _, mass in self.parts])

    def groups(self) -> Iterator[tuple[Mass, int]]:
        """Each group that there is, with the number of its parts."""
        for group in GROUPS:
            some = [mass for of, mass in self.parts if of == group]
            if some:
                yield _together(group, some), len(some)


def _together(what: str, some: list[Mass]) -> Mass:
    grams = sum(one.grams for one in some)
    x, y, depth = (
        sum(one.grams * at for one, at in zip(some, column, strict=True)) / grams
        for column in zip(*((one.x_mm, one.y_mm, one.depth_mm) for one in some), strict=True)
    )
    return Mass(what, grams, x, y, depth)


def masses_of(stock: Inventory, beside: Sequence[tuple[str, Mass]] = ()) -> Masses:
    """All that a model is made of, as far as it is listed, and its bodies; without plate, screws, motor and solder.
    beside: frame and arms, each with its group, where they are designed."""
    parts = (*_Places(stock).parts(), *beside)
    grams = sum(mass.grams for _, mass in parts)
    rim = stock.sizes.rim_mm / 2
    moment = sum(
        (float(body_grams(stock.design, body)) + _stand_grams(stock, ring))
        * (stock.sizes.radius_mm(stock.train.rings[ring]) - rim)
        for body, ring in enumerate(stock.train.seats)
    )
    return Masses(parts, moment / grams)


def _stand_grams(stock: Inventory, ring: int) -> float:
    return sum(stand.grams for stand in stock.stands if stand.ring == ring)


class _Places:
    """Where the parts of a placed train are."""

    def __init__(self, stock: Inventory) -> None:
        assert stock.train.placement is not None
        self.stock, self.placement = stock, stock.train.placement
        self.count, self.spacing = len(stock.train.rings), stock.sizes.level_spacing_mm
        self.turned = stock.design.fit.plate == "outer"

    def parts(self) -> Iterator[tuple[str, Mass]]:
        stock, hubs, thirds = self.stock, iter(self.stock.hubs), self._third_spots()
        spots = {index: self._spot(made.part, made.link, thirds) for index, made in enumerate(stock.gears)}
        thick = {
            (made.part, made.link): hub_mm(stock.sizes, shape.thick_mm)
            for made, shape in zip(stock.gears, stock.shapes, strict=True)
        }
        for index, (made, grams) in enumerate(zip(stock.gears, stock.gear_grams, strict=True)):
            group = "rings" if made.part == "ring" else "small gears"
            yield group, self._mass(made.gear.use, grams, spots[index], made.gear.level)
            if made.part != "ring":
                yield "hubs", self._mass(made.gear.use, next(hubs).grams, spots[index], made.gear.level)
        posts = iter(stock.posts)
        for arbor, place in zip(stock.arbors, self.placement.links, strict=True):
            aside = (thick["pinion", arbor.link] - thick["wheel", arbor.link]) / 4 / self.spacing
            middle = (arbor.bottom + arbor.top) / 2 + aside
            yield self._post(next(posts), place.arbor, aside=aside)
            yield "arbors", self._mass(f"arbor of link {arbor.link}", arbor.grams, place.arbor, middle)
        for index, made in enumerate(stock.gears):
            if made.part == "third gear":
                yield self._post(next(posts), spots[index], self._to_gap(made.link, made.gear.level))
        every = [roller.spot for some in self.placement.rollers for roller in some]
        for spot, roller in zip(every, stock.rollers, strict=True):
            yield self._post(next(posts), spot, self._to_gap(-1, roller.ring))
            told = f"roller {roller.number} of ring {roller.ring}"
            yield "rollers", self._mass(told, roller.grams, spot, roller.ring)
        for stand in stock.stands:
            yield "stands", self._mass(stand.body, stand.grams, (0, 0), self._beyond(stand.ring, stand.length_mm / 2))
        long = {stand.ring: stand.length_mm for stand in stock.stands}
        for body, ring in enumerate(stock.train.seats):
            name, grams = stock.design.bodies[body].name, float(body_grams(stock.design, body))
            yield "bodies", self._mass(name, grams, (0, 0), self._beyond(ring, long.get(ring, 0)))

    def _third_spots(self) -> dict[int, Iterator[Spot]]:
        """Of each link, and of the drive at -1, the spots of its third gears in order."""
        found = {index: iter(place.thirds) for index, place in enumerate(self.placement.links)}
        if self.placement.drive is not None:
            found[-1] = iter(self.placement.drive.at.thirds)
        return found

    def _spot(self, part: str, link: int | None, thirds: dict[int, Iterator[Spot]]) -> Spot:
        if link is None:
            return 0, 0
        if part == "third gear":
            return next(thirds[link])
        if link == -1:
            assert self.placement.drive is not None
            return self.placement.drive.at.arbor
        return self.placement.links[link].arbor

    def _mass(self, what: str, grams: float, spot: Spot, level: float) -> Mass:
        """level: of its middle, in levels from ring 0."""
        depth = (self.count - 0.5 - level if self.turned else level + 0.5) * self.spacing
        return Mass(what, grams, spot[0] / 1000, spot[1] / 1000, depth)

    def _beyond(self, level: int, far_mm: float) -> float:
        """The level of what stands so far beyond the middle of its ring, on the side of the stands."""
        way = -1 if self.stock.design.fit.stands == "inner" else 1
        return level + way * far_mm / self.spacing

    def _to_gap(self, link: int | None, level: int) -> float:
        """1 where the arm of a third gear (of a link; -1: of the motor) or a roller on this level is in the gap beyond
        it, -1 where it is in the one before; 0 without arms."""
        if not self.stock.design.armed:
            return 0.0
        gap = gap_of_ring(level, self.stock.design.fit.stands) if link in (None, -1) else link
        return 1.0 if gap == level else -1.0

    def _post(self, post: PostRod, spot: Spot, way: float = 0.0, aside: float = 0.0) -> tuple[str, Mass]:
        """way: to the gap of its arm, from whose far side a stub on one level begins; aside: by how many levels the
        middle of any other is off that of its levels."""
        if way:
            assert self.stock.design.supports is not None
            beyond = (self.spacing + float(self.stock.design.supports.arm_mm)) / 2
            aside = way * (beyond - post.length_mm / 2) / self.spacing
        middle = (post.bottom + post.top) / 2 + aside
        plate = self.stock.design.fit.plate
        if plate != "none":
            half = post.length_mm / 2 / self.spacing
            middle = half - 0.5 if plate == "inner" else self.count - 0.5 - half
        return "posts", self._mass(post.carries, post.grams, spot, middle)
