"""What stands in a placed train, in millimetres of the model."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import hypot

from solver.design.design import Design
from solver.design.geometry import mm_in
from solver.design.links import KIND_BY_NAME
from solver.design.train import Spot, Train
from solver.search.reaches import BEHIND, GEAR, THIRD, Reaches
from solver.sheets.draw.drawing import Point
from solver.sheets.draw.lettering import clean, shorten
from solver.words.numbers import decimal

_NAME = 22.0  # the width [mm of the page] that a body's name may take in a view
FAR_FRAME = 1.7  # a frame that is so many times larger than the train is told, not drawn


@dataclass(frozen=True)
class PlacedGear:
    """A gear of a link or of the drive (link -1): what it is, on which level, its spot and radii."""

    part: str
    link: int
    level: int
    teeth: int
    spot: Point
    radius: float
    tip: float

    @property
    def style(self) -> str:
        """How it is drawn; the third gear of a motor as that of a link."""
        return {"motor-pinion": "motor", "motor-third": "third"}.get(self.part, self.part)


class Model:
    """A placed train of a design. Raises ValueError for a train without places."""

    def __init__(self, design: Design, train: Train) -> None:
        if train.placement is None:
            raise ValueError("a train without places cannot be drawn; the design needs fit.directions")
        self.design, self.train, self.placement = design, train, train.placement
        self.fit, self.count = design.fit, len(train.rings)
        self.unit = float(mm_in(design.units))
        self.radii = [design.rings.pitch.radius_mm(teeth) for teeth in train.rings]
        self._reaches = reaches = Reaches(design)
        self.addendum, self.rim = float(reaches.ring), float(reaches.rim)  # of rings
        self.roller = 0.0 if self.fit.rollers is None else float(self.fit.rollers.radius)
        self.gap = max(min(outer - inner for inner, outer in pairwise(self.radii)), 0.0)
        self.spacing = float(design.rings.level_spacing)
        self.bodies = {ring: clean(design.bodies[body].name) for body, ring in enumerate(train.seats)}
        self.names = {ring: shorten(name, _NAME) for ring, name in self.bodies.items()}  # as the views show them
        self.reverse = [False]
        for link in train.links:
            self.reverse.append(self.reverse[-1] ^ KIND_BY_NAME[link.kind].reverses)
        self.gears = list(self._gears())
        tips = [(0.0, 0.0, max(self.radii) + self.addendum), *((*gear.spot, gear.tip) for gear in self.gears)]
        self.envelope = max(hypot(x, y) + tip for x, y, tip in tips)
        frame = self.fit.frame
        # Half the frame's width and height; and the same unless it is far away.
        self.whole_frame = None if frame is None else (float(frame.width) / 2, float(frame.height) / 2)
        self.frame: Point | None = None
        self.half = self.envelope, self.envelope
        if self.whole_frame is not None and max(self.whole_frame) <= FAR_FRAME * self.envelope:
            self.frame = self.whole_frame
            self.half = (
                max(self.frame[0], *(abs(x) + tip for x, _, tip in tips)),
                max(self.frame[1], *(abs(y) + tip for _, y, tip in tips)),
            )
        # The end that faces the viewer: the plate is behind, and without one the smallest ring.
        self.front = "inner" if self.fit.plate == "outer" else "outer"
        self.tall = max(self.half[1], self.envelope)

    def _gears(self) -> Iterator[PlacedGear]:
        for index, (link, place) in enumerate(zip(self.train.links, self.placement.links, strict=True)):
            kind = KIND_BY_NAME[link.kind]
            wheel, pinion = (BEHIND if thirds else GEAR for thirds in (kind.wheel_thirds, kind.pinion_thirds))
            yield self._gear("wheel", index, index, link.wheel, place.arbor, wheel)
            yield self._gear("pinion", index, index + 1, link.pinion, place.arbor, pinion)
            for side, (teeth, spot) in enumerate(zip(link.thirds, place.thirds, strict=True)):
                level = index if side < KIND_BY_NAME[link.kind].wheel_thirds else index + 1
                yield self._gear("third", index, level, teeth, spot, THIRD)
        drive = self.placement.drive
        if drive is not None:
            role = BEHIND if drive.thirds else GEAR
            yield self._gear("motor-pinion", -1, drive.ring, drive.pinion, drive.at.arbor, role)
            for teeth, spot in zip(drive.thirds, drive.at.thirds, strict=True):
                yield self._gear("motor-third", -1, drive.ring, teeth, spot, THIRD)

    def _gear(self, part: str, link: int, level: int, teeth: int, spot: Spot, role: str) -> PlacedGear:
        radius, reach = self.design.rings.pitch.radius_mm(teeth), self._reaches.reach_mm(role, teeth)
        return PlacedGear(part, link, level, teeth, _mm(spot), radius, radius + reach)

    @property
    def shows_all(self) -> bool:
        """Whether views show the whole frame, or there is none; one that is far larger than the model they do not."""
        return self.fit.frame is None or self.frame is not None

    @property
    def view_half(self) -> Point:
        """Half of what the placement's front view shows to the left and right, and above and below: all that stands,
        and the frame where it is not far larger in that direction."""
        frame, size = self.fit.frame, self.whole_frame
        if frame is None or size is None or frame.round or self.shows_all:
            return self.half
        wide, high = (far if far <= FAR_FRAME * self.envelope else self.envelope for far in size)
        return max(wide, self.half[0]), max(high, self.half[1])

    @property
    def view_tall(self) -> float:
        """The same above and below in its side view."""
        return max(self.view_half[1], self.envelope)

    @property
    def free(self) -> float:
        """A little more than half of what is free inside of the innermost ring, from the main axis."""
        return 0.6 * (self.radii[0] - self.rim)

    def rollers(self) -> Iterator[tuple[int, Point]]:
        """The ring and the spot of every roller."""
        for ring, some in enumerate(self.placement.rollers):
            for roller in some:
                yield ring, _mm(roller.spot)

    def stands_at(self, ring: int) -> float:
        """Radius at which a body stands on its ring: the middle of the rim."""
        return max(self.radii[ring] - self.rim / 2, self.radii[ring] / 2)

    def standing(self) -> dict[Point, list[PlacedGear]]:
        """The gears on each spot, those of links first."""
        found: dict[Point, list[PlacedGear]] = {}
        for gear in sorted(self.gears, key=lambda gear: gear.style == "third"):
            found.setdefault(gear.spot, []).append(gear)
        return found

    def gear_text(self, gear: PlacedGear) -> str:
        """What the front view calls a gear: a link by the teeth of both its gears, a third gear by its own."""
        if gear.style == "third":
            return str(gear.teeth)
        drive = self.placement.drive
        if gear.style == "motor" and drive is not None:
            return f"M {gear.teeth}, {decimal(float(drive.rpm), 3)} rpm"
        link = self.train.links[gear.link]
        return f"L{gear.link} {link.wheel}/{link.pinion}"

    def length(self, value: float) -> str:
        """A length in the design's unit, without it."""
        return decimal(value / self.unit, 4)

    def spot(self, spot: Spot) -> tuple[str, str]:
        """x and y in the design's unit, to the hundredth of a mm, to the micrometre in a small train."""
        decimals = (3 if self.design.units == "in" else 2) + (self.envelope < 10)
        x, y = (decimal(side / self.unit, decimals) for side in _mm(spot))
        return x, y


def _mm(spot: Spot) -> Point:
    return spot[0] / 1000, spot[1] / 1000
