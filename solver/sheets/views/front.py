"""The front view: rings around the main axis, gears and rollers where they stand, directions along the edge."""

from __future__ import annotations

from math import atan2, cos, pi, radians, sin

import numpy as np

from solver.sheets.draw.labels import Labels, call_out, half_size
from solver.sheets.draw.svg import BODY, HEAD, POST, TEXT, Pen, Point, decimal, text_width
from solver.sheets.views.parts import Gear, Model
from solver.sheets.views.side import ABOVE

BESIDE = 9.0  # the room for direction labels to the left and to the right

_ARROW = 6.5  # its length
_TURNS = 48  # directions in which a ring's label may stand


def front_view(pen: Pen, model: Model) -> None:
    """Draw the front view with the main axis at (0, 0)."""
    scale = pen.scale
    half = model.half[0] / scale, model.half[1] / scale
    labels = Labels((0.6 - half[0], 0.6 - half[1], half[0] - 0.6, half[1] - 0.6))
    pen.open("front")
    _edge(pen, model, labels, half)
    for level in sorted(range(model.count), reverse=model.front == "inner"):  # what is nearer veils what is farther
        _ring(pen, model, labels, level)
        for gear in model.gears:
            if gear.level == level:
                _gear(pen, labels, gear)
    for ring, spot in model.rollers():
        at, radius = _at(pen, spot), model.roller / scale
        pen.circle(at, radius, "roller", part="roller", ring=ring)
        pen.circle(at, POST / 2, "dot", part="post")
        labels.circle(at, radius, 1.5)
        labels.dot(at, POST)
    for spot in sorted(model.standing()):
        pen.circle(_at(pen, spot), POST, "dot", part="post")
        labels.dot(_at(pen, spot), POST)
    _name_gears(pen, model, labels)
    crowded = sum(map(text_width, model.names.values())) * TEXT > 0.1 * pi * (model.envelope / scale) ** 2
    turn = 1.5 * pi
    for ring in range(model.count):
        turn = _name_ring(pen, model, labels, ring, turn, crowded)
    _caption(pen, half[1] + ABOVE + 2.5, "largest" if model.front == "outer" else "smallest")
    pen.close()


def _caption(pen: Pen, y: float, nearest: str) -> None:
    title, told = "Front view", f"seen from the side of the {nearest} ring"
    long = text_width(title, 1.2 * HEAD) + 1.5  # bold letters are wider
    x = -(long + text_width(told)) / 2
    pen.text((x, y), title, HEAD, "start", bold=True)
    pen.text((x + long, y), told, anchor="start")


def _at(pen: Pen, spot: Point) -> Point:
    """Where a spot [mm of the model, y upwards] is on the page."""
    return spot[0] / pen.scale, -spot[1] / pen.scale


def _edge(pen: Pen, model: Model, labels: Labels, half: Point) -> None:
    """The frame, or where there is none a circle around everything; the directions along it."""
    frame = model.fit.frame
    size = half if model.frame is None else (model.frame[0] / pen.scale, model.frame[1] / pen.scale)
    square = model.frame is not None and frame is not None and not frame.round
    if square:
        pen.rect((-size[0], -size[1], size[0], size[1]), "frame", part="frame")
    else:
        pen.circle((0, 0), size[0], "frame" if model.frame else "thin", part="frame" if model.frame else "edge")
    drive = model.placement.drive
    used = {place.direction for place in (*model.placement.links, *([drive.at] if drive is not None else []))}
    for direction in sorted(model.fit.directions or (), key=lambda one: (one not in used, one)):
        turn = radians(float(direction))
        ray = cos(turn), -sin(turn)
        far = min(one / max(abs(part), 1e-9) for one, part in zip(size, ray, strict=True)) if square else size[0]
        at = ray[0] * far, ray[1] * far
        if direction in used:
            pen.line((0, 0), at, "ray")
        long = 2.0 if direction in used else 1.2
        pen.line(at, (at[0] + long * ray[0], at[1] + long * ray[1]), "rule" if direction in used else "thin")
        text = decimal(float(direction), 2) + "°"
        wide = text_width(text) / 2
        middle = at[0] + ray[0] * (2.6 + wide), at[1] + ray[1] * (2.6 + 1.1)
        place = (middle[0] - wide, middle[1] - 1.2, middle[0] + wide, middle[1] + 1.2)
        if not labels.covered(np.array([place]))[0]:
            labels.take(place)
            pen.text(middle, text, bold=direction in used)


def _ring(pen: Pen, model: Model, labels: Labels, ring: int) -> None:
    pitch, tip = model.radii[ring] / pen.scale, (model.radii[ring] + model.addendum) / pen.scale
    edge = (model.radii[ring] - model.rim) / pen.scale
    teeth = model.train.rings[ring]
    for style in ("veil", "odd" if ring % 2 else "even"):
        pen.path(_disc(pen, tip) + (_disc(pen, edge) if edge > 0 else ""), style)
    pen.circle((0, 0), tip, "ring", part="ring-tip", ring=ring, teeth=teeth)
    pen.circle((0, 0), pitch, "pitch", part="ring", ring=ring, teeth=teeth)
    if edge > 0:
        pen.circle((0, 0), edge, "ring", part="ring-edge", ring=ring, teeth=teeth)
    rare = min(1.0, model.gap / pen.scale / (2 * TEXT))  # lines that lie close together have to be crossed
    for radius, weight in ((tip, 1.0), (pitch, 0.4), (edge, 1.0)):
        labels.circle((0, 0), max(radius, 0), weight * rare, ring)


def _gear(pen: Pen, labels: Labels, gear: Gear) -> None:
    at, tip, pitch = _at(pen, gear.spot), gear.tip / pen.scale, gear.radius / pen.scale
    told: dict[str, str | int] = {"teeth": gear.teeth, "level": gear.level}
    if gear.link >= 0:
        told["link"] = gear.link
    pen.circle(at, tip, "veil")
    pen.circle(at, tip, gear.style, part=f"{gear.part}-tip", **told)
    pen.circle(at, pitch, "pitch", part=gear.part, **told)
    labels.circle(at, tip, 2.0)
    labels.circle(at, pitch, 0.5)
    labels.gears.append((*at, tip))


def _disc(pen: Pen, radius: float) -> str:
    half = f"A{pen(radius, radius)} 0 0 0"
    return f"M{pen(radius)} 0{half} {pen(-radius)} 0{half} {pen(radius)} 0Z"


def _name_gears(pen: Pen, model: Model, labels: Labels) -> None:
    """The tooth counts of every link, third gear and of the drive, near their middles: one label for each spot."""
    for spot, gears in model.standing().items():
        lines = [model.gear_text(gear) for gear in gears if gear.part != "pinion"]  # the wheel's text has its pinion
        call_out(pen, labels, _at(pen, spot), max(gear.tip for gear in gears) / pen.scale, *lines)


# Where a ring's label stands from its body, along the ring first: x, y, cost.
_COMPASS = [(x, y, abs(y) + abs(x * y) / 2) for y in (0, -1, 1) for x in (1, -1, 0) if x or y]


def _name_ring(pen: Pen, model: Model, labels: Labels, ring: int, before: float, crowded: bool) -> float:
    """The body, the arrow for the sense and the label of a ring, together where they cover least, near a direction
    [radians]; returns theirs. crowded: without the name, which the table has."""
    teeth, reverse, blank = model.train.rings[ring], model.reverse[ring], ring not in model.bodies
    text = f"{ring}: {teeth}" if blank or crowded else f"{ring}: {model.names[ring]} {teeth}"
    radius = model.stands_at(ring) / pen.scale
    way = -1 if reverse else 1
    first, last = (way * min(long / radius, turn) for long, turn in ((1.8, 0.4), (1.8 + _ARROW, 1.8)))

    def at(turn: float) -> Point:
        return radius * cos(turn), -radius * sin(turn)

    turns = [2 * pi * turn / _TURNS for turn in range(_TURNS)]
    spots = np.array([at(turn) for turn in turns])
    costs = labels.costs(np.hstack([spots - 1.4, spots + 1.4]), ring) + 1 - np.cos(np.array(turns) - before)
    arrows = [
        np.hstack([along - 0.9, along + 0.9])
        for part in (0.0, 0.5, 1.0)
        for along in [np.array([at(turn + first + part * (last - first)) for turn in turns])]
    ]
    costs = costs + sum(labels.costs(arrow, ring) / 2 for arrow in arrows)
    sides, size = np.tile(np.array(_COMPASS), (_TURNS, 1)), np.array(half_size(text))
    middles = np.repeat(spots, len(_COMPASS), axis=0) + sides[:, :2] * (size + 1.4)
    boxes = np.hstack([middles - size, middles + size])
    costs = np.repeat(costs, len(_COMPASS)) + sides[:, 2]
    for arrow in (np.repeat(one, len(_COMPASS), axis=0) for one in arrows):
        hit = (boxes[:, :2] < arrow[:, 2:]) & (boxes[:, 2:] > arrow[:, :2])
        costs = costs + 60.0 * (hit[:, 0] & hit[:, 1])
    chosen, box = labels.best(boxes, costs, ring)
    turn = turns[chosen // len(_COMPASS)]
    start, end = at(turn + first), at(turn + last)
    for part in range(5):
        labels.dot(at(turn + first + part / 4 * (last - first)), 0.9, 30)
    labels.dot(at(turn), 1.4, 30)

    told: dict[str, str | int] = {"ring": ring, "sense": "reverse" if reverse else "same"}
    pen.open("", model.bodies.get(ring, f"ring {ring}, blank"))
    flag = 1 if reverse else 0  # with y downwards, 0 is counterclockwise
    pen.path(f"M{pen(*start)}A{pen(radius, radius)} 0 0 {flag} {pen(*end)}", "arrow", part="sense", **told)
    heading = atan2(-way * cos(turn + last), -way * sin(turn + last))
    tip = end[0] + 0.9 * cos(heading), end[1] + 0.9 * sin(heading)
    pen.arrow_head(tip, heading, "open" if reverse else "dot")
    if not blank:
        pen.circle(at(turn), max(min(BODY, 0.45 * model.gap / pen.scale), 0.7), "dot", part="body", ring=ring)
    pen.label(box, text)
    pen.close()
    return turn
