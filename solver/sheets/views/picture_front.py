"""The picture's front view: rings around the main axis, gears where they stand, directions along the edge."""

from __future__ import annotations

from math import atan2, cos, degrees, pi, sin

import numpy as np

from solver.sheets.draw.drawing import Arc, Circle, Drawing, Line, Point, Shape, polar
from solver.sheets.draw.labels import Labels, call_out, half_size
from solver.sheets.draw.lettering import HEAD, TEXT, text_width
from solver.sheets.draw.marks import arrow_head, boxed, hatching, lettered
from solver.sheets.views.edge_on import BODY
from solver.sheets.views.model import Model
from solver.sheets.views.outlines import frame_of, of_level, rollers_of
from solver.sheets.views.picture_side import ABOVE
from solver.words.numbers import decimal

BESIDE = 9.0  # the room for direction labels to the left and to the right
POST = 0.45  # radius of the dot that is a post

_ARROW = 6.5  # its length
_TURNS = 48  # directions in which a ring's label may stand


def front_view(model: Model, scale: float) -> list[Drawing]:
    """The front view at 1 : scale, the farthest first; (0, 0) is the main axis. A level veils those behind it."""
    half = model.half[0] / scale, model.half[1] / scale
    labels = Labels((0.6 - half[0], 0.6 - half[1], half[0] - 0.6, half[1] - 0.6))
    planes = [_edge(model, labels, scale)]
    for level in sorted(range(model.count), reverse=model.front == "inner"):
        planes.append(_plane(model, level, scale))
        _keep_clear(model, labels, level, scale)
    shapes = list(_scaled(rollers_of(model), scale))
    for _, spot in model.rollers():
        labels.circle(_at(spot, scale), model.roller / scale, 1.5)
        shapes.append(_post(labels, _at(spot, scale), POST / 2))
    shapes += [_post(labels, _at(spot, scale), POST) for spot in sorted(model.standing())]
    for spot, gears in model.standing().items():
        lines = [model.gear_text(gear) for gear in gears if gear.part != "pinion"]  # the wheel's text has its pinion
        shapes += call_out(labels, _at(spot, scale), max(gear.tip for gear in gears) / scale, *lines)
    crowded = sum(map(text_width, model.names.values())) > 0.1 * pi * (model.envelope / scale) ** 2 / TEXT
    turn = 1.5 * pi
    for ring in range(model.count):
        turn, named = _name_ring(model, labels, ring, scale, turn, crowded)
        shapes += named
    shapes += _caption(-half[1] - ABOVE - 2.5, "largest" if model.front == "outer" else "smallest")
    return [*planes, Drawing("front", tuple(shapes))]


def _scaled(shapes: list[Shape], scale: float) -> tuple[Shape, ...]:
    return Drawing("", tuple(shapes)).scaled(1 / scale).shapes


def _at(spot: Point, scale: float) -> Point:
    return spot[0] / scale, spot[1] / scale


def _post(labels: Labels, at: Point, radius: float) -> Circle:
    labels.dot(at, POST)
    return Circle(at, radius, "dot", 0.0, facts=(("part", "post"),))


def _caption(y: float, nearest: str) -> list[Shape]:
    title, told = "Front view", f"seen from the side of the {nearest} ring"
    long = text_width(title, 1.2 * HEAD) + 1.5  # bold letters are wider
    x = -(long + text_width(told)) / 2
    return [lettered((x, y), title, HEAD, bold=True), lettered((x + long, y), told)]


def _edge(model: Model, labels: Labels, scale: float) -> Drawing:
    """The frame, or where there is none a circle around everything; the directions along it."""
    size = _at(model.frame or model.half, scale)
    edge: list[Shape] = [Circle((0.0, 0.0), model.half[0], "leader", facts=(("part", "edge"),))]
    square = model.frame is not None and model.fit.frame is not None and not model.fit.frame.round
    shapes = list(_scaled(frame_of(model) if model.frame else edge, scale))
    drive = model.placement.drive
    used = {place.direction for place in (*model.placement.links, *([drive.at] if drive is not None else []))}
    for direction in sorted(model.fit.directions or (), key=lambda one: (one not in used, one)):
        ray = polar(1.0, float(direction))
        far = min(one / max(abs(part), 1e-9) for one, part in zip(size, ray, strict=True)) if square else size[0]
        at, long = (ray[0] * far, ray[1] * far), 2.0 if direction in used else 1.2
        if direction in used:
            shapes.append(Line((0.0, 0.0), at, "ray"))
        end = at[0] + long * ray[0], at[1] + long * ray[1]
        shapes.append(Line(at, end, "rule" if direction in used else "leader"))
        text = decimal(float(direction), 2) + "°"
        wide = text_width(text) / 2
        x, y = at[0] + ray[0] * (2.6 + wide), at[1] + ray[1] * (2.6 + 1.1)
        box = (x - wide, y - 1.2, x + wide, y + 1.2)
        if not labels.covered(np.array([box]))[0]:
            labels.take(box)
            shapes.append(lettered((x, y), text, anchor="middle", bold=direction in used))
    return Drawing("front", tuple(shapes))


def _plane(model: Model, level: int, scale: float) -> Drawing:
    """A level: its ring in its grey, and its gears hatched."""
    tip, edge = model.radii[level] + model.addendum, max(model.radii[level] - model.rim, 0.0)
    shapes: list[Shape] = [Circle((0.0, 0.0), tip, "veil", 1.0, edge)]
    shapes.append(Circle((0.0, 0.0), tip, "odd" if level % 2 else "even", 0.0, edge))
    gears = [gear for gear in model.gears if gear.level == level]
    shapes += [Circle(gear.spot, gear.tip, "veil", 1.0) for gear in gears]
    lines = [line for gear in gears for line in hatching(gear.style, _at(gear.spot, scale), gear.tip / scale)]
    return Drawing("front", (*_scaled([*shapes, *of_level(model, level)], scale), *lines))


def _keep_clear(model: Model, labels: Labels, level: int, scale: float) -> None:
    """The circles of a level, which labels should not cross."""
    rare = min(1.0, model.gap / scale / (2 * TEXT))  # lines that lie close together have to be crossed
    radius = model.radii[level]
    for far, weight in ((radius + model.addendum, 1.0), (radius, 0.4), (max(radius - model.rim, 0.0), 1.0)):
        labels.circle((0.0, 0.0), far / scale, weight * rare, level)
    for gear in model.gears:
        if gear.level == level:
            labels.gear(_at(gear.spot, scale), gear.tip / scale)
            labels.circle(_at(gear.spot, scale), gear.radius / scale, 0.5)


# Where a ring's label stands from its body, along the ring first: x, y, cost.
_COMPASS = [(x, -y, abs(y) + abs(x * y) / 2) for y in (0, -1, 1) for x in (1, -1, 0) if x or y]


def _name_ring(
    model: Model, labels: Labels, ring: int, scale: float, before: float, crowded: bool
) -> tuple[float, list[Shape]]:
    """The body, the arrow for the sense and the label of a ring, together where they cover least, near a direction
    [radians]; with theirs. crowded: without the name, which the table has."""
    teeth, reverse, blank = model.train.rings[ring], model.reverse[ring], ring not in model.bodies
    text = f"{ring}: {teeth}" if blank or crowded else f"{ring}: {model.names[ring]} {teeth}"
    radius = model.stands_at(ring) / scale
    way = -1 if reverse else 1
    first, last = (way * min(long / radius, turn) for long, turn in ((1.8, 0.4), (1.8 + _ARROW, 1.8)))

    def at(turn: float) -> Point:
        return radius * cos(turn), radius * sin(turn)

    turns = [2 * pi * turn / _TURNS for turn in range(_TURNS)]
    spots = np.array([at(turn) for turn in turns])
    costs = labels.costs(np.hstack([spots - 1.4, spots + 1.4]), ring) + 1 - np.cos(np.array(turns) - before)
    arrows = [
        np.hstack([along - 0.9, along + 0.9])
        for part in (0.0, 0.5, 1.0)
        for along in [np.array([at(turn + first + part * (last - first)) for turn in turns])]
    ]
    costs = costs + sum(labels.costs(arrow, ring) / 2 for arrow in arrows)
    sides, size = np.tile(np.array(_COMPASS), (_TURNS, 1)), np.array(half_size([text]))
    middles = np.repeat(spots, len(_COMPASS), axis=0) + sides[:, :2] * (size + 1.4)
    boxes = np.hstack([middles - size, middles + size])
    costs = np.repeat(costs, len(_COMPASS)) + sides[:, 2]
    for arrow in (np.repeat(one, len(_COMPASS), axis=0) for one in arrows):
        hit = (boxes[:, :2] < arrow[:, 2:]) & (boxes[:, 2:] > arrow[:, :2])
        costs = costs + 60.0 * (hit[:, 0] & hit[:, 1])
    chosen, box = labels.best(boxes, costs, ring)
    turn = turns[chosen // len(_COMPASS)]
    for part in range(5):
        labels.dot(at(turn + first + part / 4 * (last - first)), 0.9, 30)
    labels.dot(at(turn), 1.4, 30)

    hint = ("title", model.bodies.get(ring, f"ring {ring}, blank"))
    facts = (("part", "sense"), ("ring", ring), ("sense", "reverse" if reverse else "same"), hint)
    low, high = sorted((degrees(turn + first), degrees(turn + last)))
    heading = atan2(way * cos(turn + last), -way * sin(turn + last))
    x, y = at(turn + last)
    tip = x + 0.9 * cos(heading), y + 0.9 * sin(heading)
    shapes: list[Shape] = [Arc((0.0, 0.0), radius, low, high, "sense", facts)]
    shapes.append(
        arrow_head(tip, degrees(heading), "sense-head", 1.0 if reverse else 0.0, (("part", "head"), *facts[1:]))
    )
    if not blank:
        dot = max(min(BODY, 0.45 * model.gap / scale), 0.7)
        shapes.append(Circle(at(turn), dot, "dot", 0.0, facts=(("part", "body"), ("ring", ring), hint)))
    return turn, [*shapes, *boxed(box, [text])]
