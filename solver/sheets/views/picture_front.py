"""The picture's front view: rings around the main axis, gears where they stand, directions along the edge."""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, degrees, pi, sin

import numpy as np

from solver.sheets.draw.drawing import Arc, Box, Circle, Drawing, Line, Point, Shape, polar
from solver.sheets.draw.labels import Labels, call_out, half_size
from solver.sheets.draw.lettering import HEAD, TEXT, text_width
from solver.sheets.draw.marks import arrow_head, boxed, hatching, lettered
from solver.sheets.supports.made import SupportsMade
from solver.sheets.views.edge_on import BODY
from solver.sheets.views.gap import beside_model
from solver.sheets.views.model import Model
from solver.sheets.views.outlines import frame_of, of_level, rollers_of
from solver.sheets.views.picture_side import ABOVE
from solver.words.numbers import decimal

BESIDE = 9.0  # the room for direction labels to the left and to the right
POST = 0.45  # radius of the dot that is a post

_ARROW = 6.5  # its length
_TURNS = 48  # directions in which a ring's label may stand
# Where a ring's label stands from its body, along the ring first: x, y, cost.
_COMPASS = [(x, -y, abs(y) + abs(x * y) / 2) for y in (0, -1, 1) for x in (1, -1, 0) if x or y]


def front_view(model: Model, scale: float, supports: SupportsMade | None = None) -> list[Drawing]:
    """The front view at 1 : scale, the farthest first; (0, 0) is the main axis. A level veils those behind it.
    supports: frame and arms, in grey behind all levels."""
    view = _FrontView(model, scale)
    planes = [Drawing("front", tuple(beside_model(supports, scale)))] if supports is not None else []
    planes.append(view.edge())
    planes += [view.plane(level) for level in sorted(range(model.count), reverse=model.front == "inner")]
    shapes = [*view.posts(), *view.gear_names()]
    turn = 1.5 * pi
    for ring in range(model.count):
        turn, named = view.ring_name(ring, turn)
        shapes += named
    title, told = "Front view", f"seen from the side of the {'largest' if model.front == 'outer' else 'smallest'} ring"
    long = text_width(title, 1.2 * HEAD) + 1.5  # bold letters are wider
    x, y = -(long + text_width(told)) / 2, -view.half[1] - ABOVE - 2.5
    shapes += [lettered((x, y), title, HEAD, bold=True), lettered((x + long, y), told)]
    return [*planes, Drawing("front", tuple(shapes))]


class _FrontView:
    """The front view in the making [mm of the paper], and where its labels may stand."""

    def __init__(self, model: Model, scale: float) -> None:
        self.model, self.scale = model, scale
        self.half = self.at(model.half)
        wide, high = self.half[0] - 0.6, self.half[1] - 0.6
        self.labels = Labels((-wide, -high, wide, high))
        # Names of bodies, which the table has too, are left out where they would cover a tenth of everything.
        named = TEXT * sum(map(text_width, model.names.values()))
        self.crowded = named > 0.1 * pi * (model.envelope / scale) ** 2

    def at(self, spot: Point) -> Point:
        return spot[0] / self.scale, spot[1] / self.scale

    def scaled(self, shapes: list[Shape]) -> tuple[Shape, ...]:
        return Drawing("", tuple(shapes)).scaled(1 / self.scale).shapes

    def edge(self) -> Drawing:
        """The frame, or where there is none a circle around everything; the directions along it."""
        model, size = self.model, self.at(self.model.frame or self.model.half)
        circle: list[Shape] = [Circle((0.0, 0.0), model.half[0], "leader", facts=(("part", "edge"),))]
        square = model.frame is not None and model.fit.frame is not None and not model.fit.frame.round
        shapes = list(self.scaled(frame_of(model) if model.frame else circle))
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
            if not self.labels.covered(np.array([box]))[0]:
                self.labels.take(box)
                shapes.append(lettered((x, y), text, anchor="middle", bold=direction in used))
        return Drawing("front", tuple(shapes))

    def plane(self, level: int) -> Drawing:
        """A level: its ring in its grey, and its gears hatched; labels had better not cross their circles."""
        model, labels, scale = self.model, self.labels, self.scale
        radius, rare = model.radii[level], min(1.0, model.gap / scale / (2 * TEXT))  # lines close together are crossed
        tip, edge = radius + model.addendum, max(radius - model.rim, 0.0)
        for far, weight in ((tip, 1.0), (radius, 0.4), (edge, 1.0)):
            labels.circle((0.0, 0.0), far / scale, weight * rare, level)
        shapes: list[Shape] = [Circle((0.0, 0.0), tip, "veil", 1.0, edge)]
        shapes.append(Circle((0.0, 0.0), tip, "odd" if level % 2 else "even", 0.0, edge))
        lines: list[Line] = []
        for gear in model.gears:
            if gear.level == level:
                at, tip = self.at(gear.spot), gear.tip / scale
                labels.gear(at, tip)
                labels.circle(at, gear.radius / scale, 0.5)
                shapes.append(Circle(gear.spot, gear.tip, "veil", 1.0))
                lines += hatching(gear.style, at, tip)
        return Drawing("front", (*self.scaled([*shapes, *of_level(model, level)]), *lines))

    def posts(self) -> Iterator[Shape]:
        """Rollers and the dots of all posts."""
        yield from self.scaled(rollers_of(self.model))
        rollers = [spot for _, spot in self.model.rollers()]
        for spot in rollers:
            self.labels.circle(self.at(spot), self.model.roller / self.scale, 1.5)
        for spot, radius in [(one, POST / 2) for one in rollers] + [
            (one, POST) for one in sorted(self.model.standing())
        ]:
            self.labels.dot(self.at(spot), POST)
            yield Circle(self.at(spot), radius, "dot", 0.0, facts=(("part", "post"),))

    def gear_names(self) -> Iterator[Shape]:
        """What stands on each spot, by its teeth."""
        for spot, gears in self.model.standing().items():
            lines = [self.model.gear_text(gear) for gear in gears if gear.part != "pinion"]  # the wheel's text has it
            yield from call_out(self.labels, self.at(spot), max(gear.tip for gear in gears) / self.scale, *lines)

    def ring_name(self, ring: int, before: float) -> tuple[float, list[Shape]]:
        """The body, the arrow for the sense and the label of a ring, near a direction [radians]; with theirs."""
        model, reverse, blank = self.model, self.model.reverse[ring], ring not in self.model.bodies
        named = "" if blank or self.crowded else f"{model.names[ring]} "
        text, radius = f"{ring}: {named}{model.train.rings[ring]}", model.stands_at(ring) / self.scale
        way = -1 if reverse else 1
        first, last = (way * min(long / radius, turn) for long, turn in ((1.8, 0.4), (1.8 + _ARROW, 1.8)))
        turn, box = self._least_covering(ring, text, (first, last), before)
        hint = ("title", model.bodies.get(ring, f"ring {ring}, blank"))
        facts = (("ring", ring), ("sense", "reverse" if reverse else "same"), hint)
        low, high = sorted((degrees(turn + first), degrees(turn + last)))
        (x, y), heading = _on(radius, turn + last), turn + last + way * pi / 2
        tip, fill = (x + 0.9 * cos(heading), y + 0.9 * sin(heading)), 1.0 if reverse else 0.0
        shapes: list[Shape] = [
            Arc((0.0, 0.0), radius, low, high, "sense", (("part", "sense"), *facts)),
            arrow_head(tip, degrees(heading), "sense-head", fill, (("part", "head"), *facts)),
        ]
        if not blank:
            dot = max(min(BODY, 0.45 * model.gap / self.scale), 0.7)
            shapes.append(Circle(_on(radius, turn), dot, "dot", 0.0, facts=(("part", "body"), ("ring", ring), hint)))
        return turn, [*shapes, *boxed(box, [text])]

    def _least_covering(self, ring: int, text: str, arrow: Point, before: float) -> tuple[float, Box]:
        """The direction of a ring's body and the box of its label where they, and the arrow from one turn to another
        behind the body [radians], cover least."""
        labels, radius = self.labels, self.model.stands_at(ring) / self.scale
        along = [arrow[0] + part / 4 * (arrow[1] - arrow[0]) for part in range(5)]
        turns = [2 * pi * turn / _TURNS for turn in range(_TURNS)]
        spots = np.array([_on(radius, turn) for turn in turns])
        costs = labels.costs(np.hstack([spots - 1.4, spots + 1.4]), ring) + 1 - np.cos(np.array(turns) - before)
        middles = (np.array([_on(radius, turn + part) for turn in turns]) for part in along[::2])
        arrows = [np.hstack([middle - 0.9, middle + 0.9]) for middle in middles]
        costs = costs + sum(labels.costs(arrow, ring) / 2 for arrow in arrows)
        sides, size = np.tile(np.array(_COMPASS), (_TURNS, 1)), np.array(half_size([text]))
        texts = np.repeat(spots, len(_COMPASS), axis=0) + sides[:, :2] * (size + 1.4)
        boxes = np.hstack([texts - size, texts + size])
        costs = np.repeat(costs, len(_COMPASS)) + sides[:, 2]
        for covered in (np.repeat(one, len(_COMPASS), axis=0) for one in arrows):
            hit = (boxes[:, :2] < covered[:, 2:]) & (boxes[:, 2:] > covered[:, :2])
            costs = costs + 60.0 * (hit[:, 0] & hit[:, 1])
        chosen, box = labels.best(boxes, costs, ring)
        turn = turns[chosen // len(_COMPASS)]
        for part in along:
            labels.dot(_on(radius, turn + part), 0.9, 30)
        labels.dot(_on(radius, turn), 1.4, 30)
        return turn, box


def _on(radius: float, turn: float) -> Point:
    """The point at a radius in a direction [radians]."""
    return radius * cos(turn), radius * sin(turn)
