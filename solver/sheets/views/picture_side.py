"""The picture's side view: everything at its distance from the main axis, links above and below in turn."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

from solver.sheets.draw.drawing import Drawing
from solver.sheets.draw.labels import Labels, call_out
from solver.sheets.draw.lettering import HEAD, TEXT, text_width
from solver.sheets.draw.marks import lettered, rect
from solver.sheets.supports.made import SupportsMade
from solver.sheets.views.edge_on import BODY, EdgeOn
from solver.sheets.views.model import Model

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


class _Unrolled(EdgeOn):
    """Where things are in the side view [mm of the paper]; level 0 at x = 0."""

    def __init__(self, model: Model, scale: float, depth: Depth) -> None:
        super().__init__(model, scale, [level * depth.step for level in range(model.count)], model.tall / scale)
        self.depth, self.last = depth, model.count - 1
        left, right = -depth.before, self.xs[-1] + depth.after
        if depth.frame is not None:
            left, right = -depth.step / 2 - depth.frame, self.xs[-1] + depth.step / 2 + depth.frame
        self.labels = Labels((left, -self.half, right, self.half))
        self.thick = min(0.42 * depth.step, 3.0)

    def end(self, side: str, beyond: float) -> float:
        """So far [mm] beyond the levels, on a side."""
        return -beyond if side == "inner" else self.xs[-1] + beyond

    def way(self, link: int) -> int:
        """Links stand above (1) and below (-1) in turn; the drive (-1) opposite to the wheel on its level."""
        if link >= 0:
            return 1 if link % 2 == 0 else -1
        drive = self.model.placement.drive
        assert drive is not None
        return -self.way(drive.ring) if drive.ring < self.last else self.way(self.last)

    def post(self, height: float, bottom: int, top: int) -> None:
        """What holds something on these levels, where there is a plate."""
        side, y = self.model.fit.plate, height / self.scale
        if side != "none":
            start = self.xs[bottom if side == "inner" else top]
            self.line((start, y), (self.end(side, self.depth.plate), y), "post")

    def flat(self, level: int, inner: float, outer: float, way: int, layer: str, thick: float) -> None:
        """Something flat on a level, between two distances from the main axis [mm of the model]."""
        box = self.slab(level, way * inner, way * outer, thick)
        self.cut(box, layer)
        self.labels.take(box, 3)


def side_view(model: Model, depth: Depth, scale: float, supports: SupportsMade | None = None) -> Drawing:
    """The side view at 1 : scale; (0, 0) is level 0 on the main axis. supports: frame and arms, in grey behind."""
    view = _Unrolled(model, scale, depth)
    if supports is not None:
        _arms(view, supports)
    _background(view)
    rollers = {ring: hypot(*spot) for ring, spot in model.rollers()}
    shafts = [  # an arbor goes on to the next level, with its pinion
        (view.way(gear.link) * hypot(*gear.spot), gear.level, gear.level + (gear.part == "wheel"))
        for gear in model.gears
        if gear.part != "pinion"
    ]
    posts = [(way * radius, ring, ring) for ring, radius in rollers.items() for way in (1, -1)]
    for post in (*posts, *shafts):
        view.post(*post)
    over = 0.3 * depth.step
    for height, bottom, top in shafts:
        view.line((view.xs[bottom] - over, height / scale), (view.xs[top] + over, height / scale), "arbor")
    for gear in model.gears:
        radius, thick = hypot(*gear.spot), view.thick * (0.35 if gear.style == "third" else 0.7)
        view.flat(gear.level, radius - gear.tip, radius + gear.tip, view.way(gear.link), gear.style, thick)
    for way in (1, -1):
        for ring, radius in enumerate(model.radii):
            inner, outer = max(radius - model.rim, 0), radius + model.addendum
            view.flat(ring, inner, outer, way, "section", view.thick)
        for ring, radius in rollers.items():
            view.flat(ring, radius - model.roller, radius + model.roller, way, "roller", 0.6 * view.thick)
    _stands(view)
    _names(view)
    view.shapes.append(lettered((view.xs[-1] / 2, -view.half - ABOVE - 2.5), "Side view", HEAD, "middle", True))
    return Drawing("side", tuple(view.shapes))


def _arms(view: _Unrolled, made: SupportsMade) -> None:
    """Arms between their levels, from what they hold outwards, and the bars of each gap at the frame's edge."""
    thick, half = min(made.frame.bar_mm / view.scale, 0.4 * view.depth.step), view.half
    bars = {bar.gap for bar in made.frame.bars if bar.gap is not None}
    for gap in sorted(bars):
        x = (gap + 0.5) * view.depth.step
        for y in (half, -half):
            view.shapes.append(rect((x - thick / 2, y - thick / 2, x + thick / 2, y + thick / 2), "bar-behind", 0.93))
    for arm in made.arms:
        x, far = (arm.held.gap + 0.5) * view.depth.step, hypot(*arm.points[0]) / view.scale
        ways = (1, -1)  # of rollers, which stand all around
        if arm.held.name.startswith("L"):
            ways = (view.way(int(arm.held.name[1:].rstrip("wp"))),)  # type: ignore[assignment]
        elif arm.held.name.startswith("M"):
            ways = (view.way(-1),)  # type: ignore[assignment]
        for way in ways:
            view.line((x, way * far), (x, way * half), "arm-behind")


def _background(view: _Unrolled) -> None:
    """Levels with their numbers, the main axis, the frame and the plate."""
    depth, model, half = view.depth, view.model, view.half
    view.levels()
    first, last = -depth.step / 2, view.xs[-1] + depth.step / 2
    left, right = first - (depth.frame or 0), last + (depth.frame or 0)
    if depth.frame is not None:
        for x in (left, right):
            view.line((x, -half), (x, half), "frame")
    if model.frame is not None and model.frame[1] >= model.envelope:  # else unrolled gears would seem to reach out
        for y in (-half, half):
            view.line((left, y), (right, y), "frame")
    view.line((min(left, first) - 2, 0.0), (max(right, last) + 2, 0.0), "axis")
    side = model.fit.plate
    if side != "none":
        x = view.end(side, depth.plate)
        beyond = x - 1.4 if side == "inner" else x + 1.4
        box = (min(x, beyond), -half, max(x, beyond), half)
        view.cut(box, "plate")
        view.labels.take(box)


def _stands(view: _Unrolled) -> None:
    """Bodies on their rings, or at the ends of their stands with their names beside them."""
    depth, model, side = view.depth, view.model, view.model.fit.stands
    if side == "none":
        view.bodies(None, None, 1.0)
        return
    end, out = view.end(side, depth.stands), 1 if side == "outer" else -1
    behind = view.end(side, depth.plate) + 1.4 * out if model.fit.plate == side else end + 1.5 * out
    view.bodies(end, None if depth.pressed else behind + 1.5 * out, 1.15 * TEXT)
    for ring in model.bodies:
        y = model.stands_at(ring) / view.scale
        view.labels.line((view.xs[ring], y), (end, y), 1)
        view.labels.dot((end, y), BODY)


def _names(view: _Unrolled) -> None:
    """The links' and the motor's."""
    model = view.model
    for index, place in enumerate(model.placement.links):
        y = view.way(index) * hypot(*place.arbor) / 1000 / view.scale
        start, end = (view.xs[index], y), (view.xs[index + 1], y)
        view.labels.line(start, end, 2)
        view.shapes += call_out(view.labels, ((start[0] + end[0]) / 2, y), 3.0, f"L{index}")
    drive = model.placement.drive
    if drive is not None:
        y = view.way(-1) * hypot(*drive.at.arbor) / 1000 / view.scale
        view.shapes += call_out(view.labels, (view.xs[drive.ring], y), 3.0, "M")
