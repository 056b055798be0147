"""Frame and arms as they are seen: of one gap from the front, and what both views of the model show of them."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import hypot, pi

from solver.design.train import Train
from solver.sheets.draw.drawing import Circle, Drawing, Point, Polyline, Shape, Text, polar
from solver.sheets.draw.labels import Labels, call_out
from solver.sheets.draw.lettering import wrap
from solver.sheets.draw.marks import cross, rect
from solver.sheets.supports.arms import BuiltArm
from solver.sheets.supports.frame import FrameMade, bars_beyond
from solver.sheets.supports.made import SupportsMade
from solver.sheets.views.model import Model
from solver.sheets.views.outlines import LETTERS, ROW, of_level, origin_marks
from solver.sheets.views.scales import usual_scales
from solver.sheets.views.spots import origin_of
from solver.words.lengths import Lengths
from solver.words.numbers import decimal

_SHADE = 0.82  # of bars
_STEPS = 16  # in half a turn of an eye
_METAL = 0.45  # of arms, where they are what is shown


def gap_view(made: SupportsMade, train: Train, gap: int, scale: float, lengths: Lengths) -> Drawing:
    """The arms of a gap at 1 : scale, with what stands on both its levels in grey; (0, 0) is the main axis. An arm has
    its name, the coordinates of what it holds and the length of its middle line; bends have their coordinates."""
    return _GapView(made, train, gap, scale, lengths).drawing()


class _GapView:
    """A gap in the making [mm of the paper]."""

    def __init__(self, made: SupportsMade, train: Train, gap: int, scale: float, lengths: Lengths) -> None:
        self.made, self.gap, self.scale, self.lengths = made, gap, scale, lengths
        self.frame, self.arms = made.frame, made.in_gap(gap)
        self.model, self.origin = Model(made.design, train), origin_of(made.design)
        assert made.design.supports is not None
        self.thick = float(made.design.supports.arm_mm)
        beyond = bars_beyond(made.design)
        self.half = (self.frame.wide_mm + beyond) / scale, (self.frame.high_mm + beyond) / scale
        self.labels = Labels((-self.half[0], -self.half[1], self.half[0], self.half[1]), LETTERS)

    def drawing(self) -> Drawing:
        shapes = [*self._levels(), *self._swept(), *frame_front(self.frame, self.gap), *self._arms()]
        scaled = Drawing("", tuple(shapes)).scaled(1 / self.scale).shapes
        marks = [*cross((0.0, 0.0), 3.0, "centre"), *self._origin()]
        self._keep_free()
        return Drawing(f"gap {self.gap}, 1 : {decimal(self.scale, 3)}", (*scaled, *marks, *self._names()))

    def _levels(self) -> Iterator[Shape]:
        """What stands on both levels, in grey; without pitch circles."""
        for level in (self.gap, self.gap + 1):
            if 0 <= level < self.made.levels:
                rollers = [spot for ring, spot in self.model.rollers() if ring == level]
                circles = [
                    (one.at, one.radius)
                    for one in of_level(self.model, level)
                    if isinstance(one, Circle) and one.layer != "pitch"
                ]
                for at, radius in [*circles, *((spot, self.model.roller) for spot in rollers)]:
                    yield Circle(at, radius, "beside")

    def _swept(self) -> Iterator[Shape]:
        """Circles that rods of bodies sweep through the gap."""
        for ring in self.model.train.seats:
            stands = self.made.design.fit.stands
            if (stands == "outer" and self.gap >= ring) or (stands == "inner" and self.gap < ring):
                yield Circle((0.0, 0.0), self.model.stands_at(ring), "swept")

    def _arms(self) -> Iterator[Shape]:
        for arm in self.arms:
            yield from arm_front(arm, self.thick, self.frame.bar_mm, "arm", _METAL)
        for arm in self.arms:  # eyes hide the ends of all arms
            eye, at = arm.eye, arm.points[0]
            yield _long_eye(arm, eye.outside_mm, _METAL)
            yield _long_eye(arm, eye.inside_mm / 2, 1.0)
            if arm.bush is not None:
                yield Circle(at, arm.bush.outside_mm / 2, "eye", _METAL)
            rod = eye.inside_mm / 2 if arm.bush is None else arm.bush.bore_mm / 2
            yield Circle(at, rod, "eye", _SHADE)

    def _origin(self) -> list[Shape]:
        at = self.origin.at[0] / self.scale, self.origin.at[1] / self.scale
        told = f"x and y, in {self.lengths.unit}, are measured from {self.origin.told}"
        told += "" if self.frame.round else ", inside of the bars"
        lines = wrap(told, max(2 * self.half[0], 100.0), LETTERS, 2)
        texts = [
            Text((-self.half[0], -self.half[1] - 4.2 - ROW * number), line, LETTERS)
            for number, line in enumerate(lines)
        ]
        free = self.model.free / self.scale if self.origin.at == (0.0, 0.0) else 9.0
        return [*origin_marks(at, free), *texts]

    def _keep_free(self) -> None:
        labels, scale = self.labels, self.scale
        for arm in self.arms:
            for start, end in pairwise(arm.points):
                across = (self.thick, 0.0) if abs(start[0] - end[0]) < abs(start[1] - end[1]) else (0.0, self.thick)
                for side in (-0.5, 0.0, 0.5):  # the middle and both edges
                    one, other = ((at[0] + side * across[0], at[1] + side * across[1]) for at in (start, end))
                    labels.line(_over(one, scale), _over(other, scale), 6.0)
            labels.dot(_over(arm.points[0], scale), (arm.eye.outside_mm + arm.eye.outward_mm) / scale, 20.0)
        at = _over(self.origin.at, scale)
        labels.take((at[0] - 1.0, at[1] - 1.0, at[0] + 14.0, at[1] + 6.0))
        labels.take((at[0] - 1.0, at[1] - 1.0, at[0] + 6.0, at[1] + 14.0))
        labels.dot((0.0, 0.0), 3.0)

    def _names(self) -> Iterator[Shape]:
        for arm in self.arms:
            lines = (arm.held.name, self._told(arm.points[0]), f"long {self._bare(arm.line_mm)}")
            yield from call_out(self.labels, _over(arm.points[0], self.scale), 0.0, *lines, bold=True)
            for bend in arm.bends:
                yield from call_out(self.labels, _over(bend, self.scale), 0.0, f"bend {self._told(bend)}")

    def _told(self, at: Point) -> str:
        return ", ".join(self._bare(at[axis] - self.origin.at[axis]) for axis in (0, 1))

    def _bare(self, mm: float) -> str:
        return self.lengths.bare(mm, self.lengths.unit, 1 if self.lengths.unit == "mm" else 2)


def _over(at: Point, scale: float) -> Point:
    return at[0] / scale, at[1] / scale


def _long_eye(arm: BuiltArm, radius: float, fill: float) -> Polyline:
    """The outline of an eye, so far around the middle of what it holds wherever that is moved [mm of the model]."""
    turn, points = arm.eye.direction_deg, list[Point]()
    for far, first in ((arm.eye.outward_mm, turn - 90), (-arm.eye.inward_mm, turn + 90)):
        x, y = (one + other for one, other in zip(arm.points[0], polar(far, turn), strict=True))
        rays = [polar(radius, first + 180 * step / _STEPS) for step in range(_STEPS + 1)]
        points += [(x + ray[0], y + ray[1]) for ray in rays]
    return Polyline(tuple(points), "eye", True, fill)


# -- in all views -----------------------------------------------------------------------------------------------------


def arm_front(arm: BuiltArm, thick: float, bar: float, layer: str, fill: float) -> Iterator[Shape]:
    """An arm from the front [mm of the model], across the bar that it ends on."""
    points = list(arm.points)
    if not arm.on_arm and arm.ends_at != "corner":
        (ax, ay), (bx, by) = points[-2], points[-1]
        long = hypot(bx - ax, by - ay)
        points[-1] = bx + bar * (bx - ax) / long, by + bar * (by - ay) / long
    for bend in arm.bends:
        yield Circle(bend, thick / 2, layer, fill)
    for (ax, ay), (bx, by) in pairwise(points):
        long = hypot(bx - ax, by - ay)
        if long > 1e-9:
            x, y = -(by - ay) / long * thick / 2, (bx - ax) / long * thick / 2
            yield Polyline(((ax + x, ay + y), (bx + x, by + y), (bx - x, by - y), (ax - x, ay - y)), layer, True, fill)


def frame_front(frame: FrameMade, gap: int | None) -> Iterator[Shape]:
    """The frame from the front [mm of the model]: members, and the bars of a gap shaded; None: all around."""
    wide, high, bar = frame.wide_mm, frame.high_mm, frame.bar_mm
    mine = [one for one in frame.bars if one.gap == gap] if gap is not None else []
    if frame.round:
        if mine:
            yield Circle((0.0, 0.0), wide + bar, "frame-bar", _SHADE, wide)
        for radius in (wide, wide + bar):
            yield Circle((0.0, 0.0), radius, "frame-bar")
    else:
        sides = {side for one in mine for side in one.sides}
        long = bar if any("rectangle" in one.what for one in mine) else 0.0
        boxes = {
            "top": (-wide - long, high, wide + long, high + bar),
            "bottom": (-wide - long, -high - bar, wide + long, -high),
            "left": (-wide - bar, -high, -wide, high),
            "right": (wide, -high, wide + bar, high),
        }
        yield from (rect(boxes[side], "frame-bar", _SHADE) for side in boxes if side in sides)
        yield rect((-wide, -high, wide, high), "frame-bar")
        yield rect((-wide - bar, -high - bar, wide + bar, high + bar), "frame-bar")
    for one in frame.bars:
        if one.gap is None and one.what.startswith("member"):
            yield from (Circle(spot, bar / 2, "frame-bar", 1.0) for spot in one.spots)


def beside_model(made: SupportsMade | None, scale: float) -> list[Shape]:
    """All arms and the frame behind the model's front view, at 1 : scale."""
    if made is None or made.design.supports is None:
        return []
    thick, bar = float(made.design.supports.arm_mm), made.frame.bar_mm
    shapes = [shape for arm in made.arms for shape in arm_front(arm, thick, bar, "arm-behind", 0.88)]
    shapes += frame_front(made.frame, None)
    return list(Drawing("", tuple(shapes)).scaled(1 / scale).shapes)


def beside_levels(made: SupportsMade | None, scale: float) -> list[Shape]:
    """The same in the side view: depth to the right, heights as in the front view."""
    if made is None or made.design.supports is None:
        return []
    frame, thick = made.frame, float(made.design.supports.arm_mm)
    bar, high, shapes = frame.bar_mm, frame.high_mm, list[Shape]()
    ends = [frame.bar_depths[gap] for gap in (-1, made.levels - 1)]
    for one in frame.bars:
        if one.gap is not None:
            x = frame.bar_depths[one.gap]
            upright = frame.round or {"left", "right"} & set(one.sides)
            tall = high + (bar if frame.round else 0.0)
            if upright:
                shapes.append(rect((x - bar / 2, -tall, x + bar / 2, tall), "bar-behind", 0.95))
            for side, y in (("top", high), ("bottom", -high - bar)):
                if frame.round or side in one.sides:
                    shapes.append(rect((x - bar / 2, y, x + bar / 2, y + bar), "frame-bar", _SHADE))
        elif one.what.startswith("member"):
            inner = (bar / 2 if not frame.round else -bar / 2) if one.spots else 0.0
            for y in sorted({round(spot[1], 6) for spot in one.spots}):
                box = (ends[0] + inner, y - bar / 2, ends[1] - inner, y + bar / 2)
                shapes.append(rect(box, "bar-behind" if frame.round else "frame-bar", 1.0))
        elif one.what == "foot":
            for y in sorted({round(spot[1], 6) for spot in one.spots}):
                far = ends[0] - bar / 2
                shapes.append(rect((far - one.length_mm, y - bar / 2, far, y + bar / 2), "frame-bar", 1.0))
        else:
            radius = one.length_mm / (2 * pi)
            for y in sorted({round(spot[1], 6) for spot in one.spots}):
                shapes.append(Circle((ends[0] - bar / 2 - radius, y), radius, "frame-bar"))
    for arm in made.arms:
        x, heights = frame.depths[arm.held.gap], [point[1] for point in arm.points]
        box = (x - thick / 2, min(heights) - thick / 2, x + thick / 2, max(heights) + thick / 2)
        shapes.append(rect(box, "arm-behind", 0.75))
    return list(Drawing("", tuple(shapes)).scaled(1 / scale).shapes)


def behind_levels(made: SupportsMade | None) -> float:
    """How far the frame reaches behind the depth of 0, with what it hangs by or stands on [mm]."""
    if made is None:
        return 0.0
    frame = made.frame
    hold = next(bar for bar in frame.bars if bar.thin or bar.what == "foot")
    return frame.bar_mm / 2 - frame.bar_depths[-1] + (hold.length_mm / pi if hold.thin else hold.length_mm)


def gap_scale(made: SupportsMade, room: Point) -> float:
    """The first usual scale, 1 : so much, at which the view of a gap has room [mm]."""
    beyond = bars_beyond(made.design)
    wide, high = 2 * (made.frame.wide_mm + beyond), 2 * (made.frame.high_mm + beyond)
    told = 6.0 + 2 * ROW  # below the view
    return next(s for s in usual_scales() if wide / s <= room[0] - 1.0 and high / s <= room[1] - told)
