"""The side view: the main axis lies level, everything at its distance from it, links above and below in turn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot

from solver.sheets.draw.labels import Labels, call_out
from solver.sheets.draw.svg import BODY, HEAD, TEXT, Pen, Point, text_width
from solver.sheets.views.parts import Model

ABOVE = 5.6  # the room for the numbers of levels, as for the directions of the front view


@dataclass(frozen=True)
class Depth:
    """The side view along the main axis: how far apart levels are drawn, how much it needs before the first level and
    after the last, and where plate and stands end (from the nearest level)."""

    step: float
    before: float
    after: float
    plate: float
    stands: float
    true: bool
    pressed: bool  # with levels closer than is good to read, and without names
    frame: float | None  # how far the frame reaches beyond the outermost levels


def depth_of(model: Model, scale: float, pressed: bool) -> Depth:
    """The side view along the main axis at a scale."""
    fit = model.fit
    step = 52 / model.count if pressed else min(max(model.spacing / scale, 2.0), 90 / model.count)
    over = None
    if model.frame is not None and fit.frame is not None and fit.frame.depth is not None:
        over = (float(fit.frame.depth) / model.spacing - model.count) / 2 * step
        over = over if over <= 15 else None
    edge = step / 2 + max(over or 0, 0)
    apart = min(max(step, 3.0), 7.0)
    stands = edge + 0.8 * apart
    ends = {"inner": edge + 1.5, "outer": edge + 1.5}
    if fit.stands != "none":
        ends[fit.stands] = stands + 1.5
    plate = ends.get(fit.plate, 0) + 0.6 * apart
    if fit.plate != "none":
        ends[fit.plate] = plate + 2.5
    if fit.stands != "none" and not pressed:
        ends[fit.stands] += 3 + max(map(text_width, model.names.values()))
    true = abs(step * scale - model.spacing) < 1e-6 * model.spacing
    return Depth(step, ends["inner"], ends["outer"], plate, stands, true, pressed, over)


class _Section:
    """Where things are in the side view; origin: level 0 on the main axis."""

    def __init__(self, pen: Pen, model: Model, depth: Depth, origin: Point) -> None:
        self.pen, self.model, self.depth = pen, model, depth
        self.origin, self.half = origin, model.tall / pen.scale
        self.last = model.count - 1
        self.above, self.below = origin[1] - self.half, origin[1] + self.half
        left, right = self.x(0) - depth.before, self.x(self.last) + depth.after
        if depth.frame is not None:
            left, right = self.x(-0.5) - depth.frame, self.x(self.last + 0.5) + depth.frame
        self.labels = Labels((left, self.above, right, self.below))
        self.thick = min(0.42 * depth.step, 3.0)

    def x(self, level: float) -> float:
        return self.origin[0] + level * self.depth.step

    def y(self, radius: float, way: int = 1) -> float:
        """Where a distance [mm of the model] from the main axis is: way 1 above it, -1 below."""
        return self.origin[1] - way * radius / self.pen.scale

    def end(self, side: str, beyond: float) -> float:
        return self.x(0) - beyond if side == "inner" else self.x(self.last) + beyond

    def way(self, link: int) -> int:
        """Links stand above and below in turn; the drive (-1) opposite to the wheel on its level."""
        if link >= 0:
            return 1 if link % 2 == 0 else -1
        drive = self.model.placement.drive
        assert drive is not None
        return -self.way(drive.ring) if drive.ring < self.last else self.way(self.last)

    def post(self, radius: float, way: int, bottom: int, top: int) -> None:
        """What holds something on these levels, where there is a plate."""
        side, y = self.model.fit.plate, self.y(radius, way)
        if side != "none":
            start = self.x(bottom if side == "inner" else top)
            self.pen.line((start, y), (self.end(side, self.depth.plate), y), "post")

    def slab(self, level: int, inner: float, outer: float, way: int, style: str, thick: float) -> None:
        """Something flat on a level, between two distances from the main axis."""
        x, ends = self.x(level), sorted((self.y(inner, way), self.y(outer, way)))
        box = (x - thick / 2, ends[0], x + thick / 2, ends[1])
        self.pen.rect(box, "white")
        self.pen.rect(box, style)
        self.labels.take(box, 3)


def side_view(pen: Pen, model: Model, depth: Depth, origin: Point) -> None:
    """Draw the side view with level 0 on the main axis at that point."""
    view = _Section(pen, model, depth, origin)
    pen.open("side")
    _background(view)
    rollers = {ring: hypot(*spot) for ring, spot in model.rollers()}
    for ring, radius in rollers.items():
        for way in (1, -1):
            view.post(radius, way, ring, ring)
    shafts = [  # an arbor goes on to the next level, with its pinion
        (hypot(*gear.spot), view.way(gear.link), gear.level, gear.level + (gear.part == "wheel"))
        for gear in model.gears
        if gear.part != "pinion"
    ]
    for shaft in shafts:
        view.post(*shaft)
    over = 0.3 * depth.step
    for radius, way, bottom, top in shafts:
        y = view.y(radius, way)
        pen.line((view.x(bottom) - over, y), (view.x(top) + over, y), "arbor")
    for gear in model.gears:
        radius, thick = hypot(*gear.spot), view.thick * (0.35 if gear.style == "third" else 0.7)
        view.slab(gear.level, radius - gear.tip, radius + gear.tip, view.way(gear.link), gear.style, thick)
    for ring, radius in enumerate(model.radii):
        for way in (1, -1):
            view.slab(ring, max(radius - model.rim, 0), radius + model.addendum, way, "section", view.thick)
    for ring, radius in rollers.items():
        for way in (1, -1):
            view.slab(ring, radius - model.roller, radius + model.roller, way, "roller", 0.6 * view.thick)
    _bodies(view)
    _names(view)
    middle = (view.x(0) + view.x(view.last)) / 2
    pen.text((middle, view.below + ABOVE + 2.5), "Side view", HEAD, bold=True)
    pen.close()


def _background(view: _Section) -> None:
    """Levels with their numbers, the main axis, the frame and the plate."""
    pen, depth, model, above, below = view.pen, view.depth, view.model, view.above, view.below
    wide = text_width(str(view.last)) + 0.8
    every = next(every for every in (1, 2, 5, 10, 20, 50, 100) if every * depth.step >= wide)
    for level in range(model.count):
        pen.line((view.x(level), above), (view.x(level), below), "level", part="level", level=level)
        if level % every == 0:
            for y in (above - 2, below + 2):
                pen.text((view.x(level), y), str(level))
    first, last = view.x(-0.5), view.x(view.last + 0.5)
    left, right = first - (depth.frame or 0), last + (depth.frame or 0)
    if depth.frame is not None:
        for x in (left, right):
            pen.line((x, above), (x, below), "frame")
    if model.frame is not None and model.frame[1] >= model.envelope:  # else unrolled gears would seem to reach out
        for y in (above, below):
            pen.line((left, y), (right, y), "frame")
    pen.line((min(left, first) - 2, view.origin[1]), (max(right, last) + 2, view.origin[1]), "axis")
    side = model.fit.plate
    if side != "none":
        x = view.end(side, depth.plate)
        beyond = x - 1.4 if side == "inner" else x + 1.4
        box = (min(x, beyond), above, max(x, beyond), below)
        pen.rect(box, "plate", part="plate")
        view.labels.take(box)


def _bodies(view: _Section) -> None:
    """Bodies on their rings, or at the ends of their stands with their names beside them."""
    pen, depth, model = view.pen, view.depth, view.model
    side = model.fit.stands
    rings = sorted(model.bodies, reverse=True)
    heights = [view.y(model.stands_at(ring)) for ring in rings]
    if side == "none":
        for ring, y in zip(rings, heights, strict=True):
            pen.circle((view.x(ring), y), BODY, "dot")
        return
    end, out = view.end(side, depth.stands), 1 if side == "outer" else -1
    beyond = (view.end(side, depth.plate) + 1.4 * out if model.fit.plate == side else end + 1.5 * out) + out
    for ring, y in zip(rings, heights, strict=True):
        pen.line((view.x(ring), y), (end, y), "rule")
        pen.circle((end, y), min(BODY, 0.45 * abs(heights[0] - heights[-1]) / len(rings)), "dot")
        view.labels.line((view.x(ring), y), (end, y), 1)
        view.labels.dot((end, y), BODY)
    if depth.pressed:
        return
    for ring, y, beside in zip(rings, heights, _spread(heights, 1.15 * TEXT), strict=True):
        if beside != y or model.fit.plate == side:
            pen.line((end, y), (beyond, beside), "thin")
        pen.text((beyond + 0.5 * out, beside), model.names[ring], anchor="start" if out > 0 else "end")


def _names(view: _Section) -> None:
    """The links' and the motor's."""
    model = view.model
    for index, place in enumerate(model.placement.links):
        start, end = view.x(index), view.x(index + 1)
        y = view.y(hypot(*place.arbor) / 1000, view.way(index))
        view.labels.line((start, y), (end, y), 2)
        call_out(view.pen, view.labels, ((start + end) / 2, y), 3.0, f"L{index}")
    drive = model.placement.drive
    if drive is not None:
        at = view.x(drive.ring), view.y(hypot(*drive.at.arbor) / 1000, view.way(-1))
        call_out(view.pen, view.labels, at, 3.0, "M")


def _spread(heights: Sequence[float], apart: float) -> list[float]:
    """Ascending heights, moved so that neighbours are so far apart, together as far up as down."""
    moved: list[float] = []
    for height in heights:
        moved.append(max(height, moved[-1] + apart) if moved else height)
    back = sum(new - old for new, old in zip(moved, heights, strict=True)) / len(moved)
    return [height - back for height in moved] if back > 1e-9 else moved
