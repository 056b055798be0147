"""Where labels stand: each in turn takes the place where it covers least of what is drawn [mm of the paper]."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, cos, hypot, pi, sin

import numpy as np
from numpy.typing import NDArray

from solver.sheets.draw.drawing import Box, Line, Point, Shape
from solver.sheets.draw.lettering import TEXT, text_width
from solver.sheets.draw.marks import boxed

Boxes = NDArray[np.float64]  # a row for each, or a number for each

_FAR = (1.2, 2.2, 3.2, 4.5, 6.0, 8.0, 10.5, 13.5, 17.0, 21.0, 26.0, 32.0)  # of a label from what it names


class Labels:
    """Where labels with letters of a size may stand: lines they should not cross, and boxes that are taken."""

    def __init__(self, bounds: Box, letters: float = TEXT) -> None:
        self.bounds, self.letters = bounds, letters
        self.circles: list[tuple[float, float, float, float, int]] = []  # x, y, radius, weight, owner
        self.taken: list[tuple[float, float, float, float, float]] = []  # box, weight
        self.gears: list[tuple[float, float, float]] = []  # x, y, radius
        self.leaders: list[tuple[float, float, float, float]] = []  # both ends

    def circle(self, at: Point, radius: float, weight: float, owner: int = -1) -> None:
        self.circles.append((*at, radius, weight, owner))

    def gear(self, at: Point, tip: float, weight: float = 2.0) -> None:
        self.circle(at, tip, weight)
        self.gears.append((*at, tip))

    def take(self, box: Box, weight: float = 60.0) -> None:
        self.taken.append((*box, weight))

    def dot(self, at: Point, radius: float, weight: float = 8.0) -> None:
        self.take((at[0] - radius, at[1] - radius, at[0] + radius, at[1] + radius), weight)

    def line(self, start: Point, end: Point, weight: float = 3.0) -> None:
        """A straight line, as dots along it."""
        steps = max(1, ceil(hypot(end[0] - start[0], end[1] - start[1])))
        for step in range(steps + 1):
            part = step / steps
            self.dot((start[0] + part * (end[0] - start[0]), start[1] + part * (end[1] - start[1])), 0.1, weight)

    def covered(self, boxes: Boxes) -> Boxes:
        """What each box would cover of what is taken."""
        if not self.taken:
            return np.zeros(len(boxes))
        # What is taken far from all of them is left out: labels are tried about one place of a large sheet.
        (west, south), (east, north) = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
        near = [one for one in self.taken if one[0] < east and one[2] > west and one[1] < north and one[3] > south]
        if not near:
            return np.zeros(len(boxes))
        left, bottom, right, top = (boxes[:, side : side + 1] for side in range(4))
        x0, y0, x1, y1, weight = np.array(near, dtype=float).T
        return np.asarray(((left < x1) & (right > x0) & (bottom < y1) & (top > y0)) @ weight)

    def costs(self, boxes: Boxes, owner: int = -2) -> Boxes:
        """What each box would cover. owner: whose own circles may be covered for a quarter of the cost."""
        left, bottom, right, top = (boxes[:, side : side + 1] for side in range(4))
        bounds = self.bounds
        out = (left < bounds[0]) | (bottom < bounds[1]) | (right > bounds[2]) | (top > bounds[3])
        total = self.covered(boxes) + 1000.0 * out[:, 0]
        if not self.circles:
            return total
        x, y, radius, weight, of = np.array(self.circles, dtype=float).T
        beside, over = np.maximum(left - x, x - right), np.maximum(bottom - y, y - top)
        near = np.maximum(beside, 0) ** 2 + np.maximum(over, 0) ** 2
        far = np.maximum(x - left, right - x) ** 2 + np.maximum(y - bottom, top - y) ** 2
        crossed = (near < (radius + 0.15) ** 2) & (far > np.maximum(radius - 0.15, 0) ** 2)
        return np.asarray(total + crossed @ np.where(of == owner, weight / 4, weight))

    def best(self, boxes: Boxes, before: Boxes, owner: int = -2) -> tuple[int, Box]:
        """The cheapest box, with what each costs before, and its number; it is taken."""
        at = int(np.argmin(np.round(self.costs(boxes, owner) + before, 6)))
        left, bottom, right, top = (float(side) for side in boxes[at])
        self.take((left, bottom, right, top))
        return at, (left, bottom, right, top)

    def misleading(self, start: Point, ends: Boxes) -> Boxes:
        """What lines from a point to each end would cost: crossing other lines, gears elsewhere, or their middles."""
        total, along = np.zeros(len(ends)), ends - start
        for x, y, radius in self.gears:
            there = np.array((x, y)) - start
            if hypot(*there) >= radius:
                part = np.clip(along @ there / np.maximum((along**2).sum(axis=1), 1e-9), 0, 1)
                missed = np.hypot(*(part[:, None] * along - there).T)
                total += 3.0 * (missed < radius) + 6.0 * (missed < 1.0)
        for x0, y0, x1, y1 in self.leaders:
            one, two, other = np.array((x0, y0)) - start, np.array((x1, y1)) - start, np.array((x1 - x0, y1 - y0))
            apart = _side(along, one) * _side(along, two) < 0
            total += 8.0 * (apart & (_side(other, -one) * _side(other, along - one) < 0))
        return total


def _side(along: Boxes, to: Boxes) -> Boxes:
    """On which side of a direction a vector is, by its sign."""
    return np.asarray(along[..., 0] * to[..., 1] - along[..., 1] * to[..., 0])


def half_size(lines: Sequence[str], letters: float = TEXT) -> Point:
    """Half the width and height of a label's box."""
    return max(text_width(line, letters) for line in lines) / 2 + 0.3, 0.56 * letters * len(lines)


def call_out(labels: Labels, at: Point, inside: float, *lines: str, bold: bool = False) -> list[Shape]:
    """A label near a point, and a line to it where it stands outside of that radius. bold: its first line."""
    letters = labels.letters / TEXT
    rays = [(cos(turn * pi / 8), -sin(turn * pi / 8)) for turn in range(16)]
    offsets = np.array([(far * letters * x, far * letters * y) for far in _FAR for x, y in rays])
    middles, start = np.array(at) + offsets, np.array(at)
    size = np.array(half_size(lines, labels.letters))
    boxes = np.hstack([middles - size, middles + size])
    near = np.clip(start, boxes[:, :2], boxes[:, 2:])
    along = np.concatenate([start + part / 12 * (near - start) for part in range(2, 13)])
    across = labels.covered(np.hstack([along] * 2)).reshape(-1, len(near))
    corners = np.abs(offsets) + size
    outside = np.sqrt((corners**2).sum(axis=1)) > max(inside, 4.0 * letters)
    far = 0.15 / letters * np.sqrt((offsets**2).sum(axis=1)) + 2.0 * outside
    chosen, box = labels.best(boxes, far + 0.3 * np.max(across, axis=0) + labels.misleading(at, near))
    shapes: list[Shape] = []
    if outside[chosen]:
        end = float(near[chosen][0]), float(near[chosen][1])
        shapes.append(Line(at, end, "leader"))
        labels.line(at, end)
        labels.leaders.append((*at, *end))
    return [*shapes, *boxed(box, lines, labels.letters, bold)]
