"""A second code for the rule `arm`, written from what the rule says: lines, discs and annuli as shapely geometry.

Circles are polygons with a corner on every 0.35 degrees, so that a radius of 500 mm is good to 0.003 mm: two codes may
differ where an arm is nearer to its limit than `NEAR`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry
from shapely_judge import SIDES, Scene, mm

from solver.check.sag import limit_mm
from solver.check.weigh import Weights
from solver.design.design import Design
from solver.design.train import Train

NEAR = 0.005  # mm
ROUND = 256  # corners in a quarter of a circle

Line = tuple[tuple[float, float], ...]


def disc(spot: tuple[float, float], radius: float) -> BaseGeometry:
    return Point(spot).buffer(radius, quad_segs=ROUND)


def annulus(inner: float, outer: float) -> BaseGeometry:
    whole = disc((0.0, 0.0), outer)
    return whole.difference(disc((0.0, 0.0), inner)) if inner > 0 else whole


def _told(apart: float, shared: BaseGeometry, need: float) -> bool | None:
    """Whether two things are clear that are so far apart and share so much."""
    if not apart and math.sqrt(shared.area) > NEAR:
        return False
    return None if abs(apart - need) < NEAR else apart > need


class Arms:
    """The arms of a placed train whose gears are of wire, of the form `saw`."""

    def __init__(self, design: Design, train: Train) -> None:
        self.design, self.train, self.scene = design, train, Scene(design, train)
        assert design.supports is not None and design.fit.frame is not None and design.wire.form == "saw"
        self.need = float(design.supports.arm_mm) / 2 + float(design.fit.clearance)
        self.wide, self.high = float(design.fit.frame.width) / 2, float(design.fit.frame.height) / 2
        self.spacing = float(design.rings.level_spacing)

    # -- what is held --

    def targets(self) -> Iterator[tuple[str, int, tuple[float, float]]]:
        """(name, gap, spot) of all that an arm has to hold."""
        placement = self.train.placement
        assert placement is not None
        before = self.design.fit.stands == "outer"
        for index, (link, place) in enumerate(zip(self.train.links, placement.links)):
            yield f"L{index}", index, mm(place.arbor)
            letters = "w" * SIDES[link.kind][0] + "p" * SIDES[link.kind][1]
            for letter, spot in zip(letters, place.thirds):
                yield f"L{index}{letter}", index, mm(spot)
        for ring, some in enumerate(placement.rollers):
            for number, roller in enumerate(some):
                yield f"r{ring}.{number + 1}", ring - 1 if before else ring, mm(roller.spot)
        if placement.drive is not None:
            gap = placement.drive.ring - 1 if before else placement.drive.ring
            yield "M", gap, mm(placement.drive.at.arbor)
            for spot in placement.drive.at.thirds:
                yield "Mt", gap, mm(spot)

    # -- bending --

    def holds(self, name: str, line: Line) -> bool | None:
        """Whether an arm bends no farther than the rule `sag` allows, with the judge's weights; None where it does by
        nearly as much."""
        supports = self.design.supports
        assert supports is not None
        kind = {"M": "motor", "r": "roller"}.get(name[0], "third gear" if name[-1] in "wp" else "arbor")
        load = Weights(self.design).most(kind) * 9.80665 / 1000
        modulus, poisson = (200e3, 0.3) if supports.metal == "steel" else (110e3, 0.34)
        turned = 1 + poisson if supports.model == "table" and len(line) > 2 else 1.0
        bend = turned * load * LineString(line).length ** 3 / (3 * modulus * math.pi / 64 * float(supports.arm_mm) ** 4)
        most = limit_mm(self.design)
        return None if abs(bend - most) < most / 1000 else bend < most

    # -- eyes --

    def eye(self, name: str, spot: tuple[float, float]) -> BaseGeometry:
        """All that an eye may cover: the arm's wire about a post, or about a bush on a sleeve or on the motor's shaft,
        with a slot of half the addendum each way."""
        supports, wire, post = self.design.supports, self.design.wire, float(self.design.fit.post_radius)
        assert supports is not None
        inside = post
        if name == "M":
            inside += 1
        elif name[0] == "L" and name[-1] not in "wp":
            inside = 1 + (post + 1 if wire.arbor_diameter is None else float(wire.arbor_diameter) / 2)
        return disc(spot, inside + float(supports.arm_mm) + float(self.design.rings.addendum) / 2)

    def eyes_apart(self) -> Iterator[tuple[str, bool | None]]:
        """Of each two eyes of a gap, and of each eye beside the gap's arbor and each stand, whose eye it is and whether
        it is clear; None where it is too near to say."""
        every, clearance = list(self.targets()), float(self.design.fit.clearance)
        for number, (name, gap, spot) in enumerate(every):
            eye = self.eye(name, spot)
            for other, by, there in every[:number]:
                if by == gap:
                    yield (
                        name,
                        _told(eye.distance(self.eye(other, there)), eye.intersection(self.eye(other, there)), 0.0),
                    )
            for block in self.turning(name, gap):
                yield name, _told(eye.distance(block), eye.intersection(block), clearance)

    # -- lines --

    def lines(self, spot: tuple[float, float]) -> Iterator[Line]:
        """The family: straight to sides and corners, and bent once."""
        x, y = spot
        round_ = self.design.fit.frame.round  # type: ignore[union-attr]
        for sign in (1, -1):
            yield from self._to(((x, y),), (sign, 0))
            yield from self._to(((x, y),), (0, sign))
        slant = math.sqrt(0.5) if round_ else 1.0
        for right in (1, -1):
            for up in (1, -1):
                yield (x, y), (right * slant * self.wide, up * slant * self.high)
        for k in range(-3, 4):
            for elbow, ways in (
                ((k * self.wide / 4, y), ((0, 1), (0, -1))),
                ((x, k * self.high / 4), ((1, 0), (-1, 0))),
            ):
                if math.dist(elbow, spot) < 1e-9 or (round_ and math.hypot(*elbow) > self.wide):
                    continue
                for way in ways:
                    yield from self._to((spot, elbow), way)

    def _to(self, before: Line, way: tuple[int, int]) -> Iterator[Line]:
        x, y = before[-1]
        if self.design.fit.frame.round:  # type: ignore[union-attr]
            off = y if way[0] else x
            if abs(off) >= self.wide:
                return
            far_x = far_y = math.sqrt(self.wide**2 - off**2)
        else:
            far_x, far_y = self.wide, self.high
        yield (*before, (way[0] * far_x, y) if way[0] else (x, way[1] * far_y))

    # -- what is in the way --

    def blocks(self, name: str, gap: int) -> Iterator[BaseGeometry]:
        design, scene = self.design, self.scene
        wire, fit = design.wire, design.fit
        loop, tooth, post = wire.loop.mm, wire.tooth.mm, float(fit.post_radius)
        teeth = loop + tooth
        pins = float(wire.pin_length) if wire.pin_length is not None else 3 * loop + tooth + 2 * max(
            float(fit.clearance), 1.0
        )  # fmt: skip
        hub = 2 * post + 2 if wire.arbor_diameter is None else float(wire.arbor_diameter)
        beside = {gap, gap + 1}

        def tall(thick: float) -> bool:
            return thick / 2 + self.need > self.spacing / 2 + 0.001

        for gear in scene.gears:
            if beside & set(gear.levels) and tall(max(self._thick(gear.name, gear.slot, teeth, pins), hub)):
                yield disc(gear.spot, gear.radius)
        for roller in scene.rollers:
            if beside & set(roller.levels) and tall(3 * loop):
                yield disc(roller.spot, roller.radius)
        for ring in scene.rings:
            if beside & set(ring.levels) and tall(teeth):
                yield annulus(ring.inner, ring.outer)
        yield from self.turning(name, gap)

    def turning(self, name: str, gap: int) -> Iterator[BaseGeometry]:
        """What turns in a gap: its arbor's sleeve, and what stands sweep."""
        scene, fit, wire = self.scene, self.design.fit, self.design.wire
        post = float(fit.post_radius)
        hub = 2 * post + 2 if wire.arbor_diameter is None else float(wire.arbor_diameter)
        if 0 <= gap < len(self.train.links) and name != f"L{gap}":
            yield disc(mm(self.train.placement.links[gap].arbor), hub / 2)  # type: ignore[union-attr]
        for ring in self.train.seats:
            if (fit.stands == "outer" and gap >= ring) or (fit.stands == "inner" and gap < ring):
                middle = self.train.rings[ring] * scene.tooth - scene.rim / 2
                yield annulus(middle - post, middle + post)

    def _thick(self, name: str, slot: tuple[str, int, int] | None, teeth: float, pins: float) -> float:
        third_pinned = self.design.wire.third == "pins"
        if name.startswith("third gear"):
            return pins if third_pinned else teeth
        assert slot is not None
        kind, index, _ = slot
        if kind == "drive":
            behind = bool(self.train.placement.drive.thirds)  # type: ignore[union-attr]
        else:
            behind = bool(SIDES[self.train.links[index].kind][0 if name.startswith("wheel") else 1])
        return (teeth if third_pinned else pins) if behind else pins

    def verdicts(self) -> Iterator[tuple[str, Line, bool | None]]:
        """(what, its arm, whether it is clear): None where it is too near to say."""
        for name, gap, spot in self.targets():
            blocks = list(self.blocks(name, gap))
            for line in self.lines(spot):
                string = LineString(line)
                apart = min((string.distance(block) for block in blocks), default=math.inf)
                yield name, line, None if abs(apart - self.need) < NEAR else apart > self.need
