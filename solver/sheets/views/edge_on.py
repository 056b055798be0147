"""What the views from the side have in common: the main axis lies level at y = 0, levels stand side by side."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot

from solver.sheets.draw.drawing import Box, Circle, Line, Point, Shape
from solver.sheets.draw.lettering import TEXT, text_width
from solver.sheets.draw.marks import hatching, lettered, rect
from solver.sheets.views.model import Model

BODY = 1.15  # radius of the dot that is a body
_EVERY = (1, 2, 5, 10, 20, 50, 100)


class EdgeOn:
    """A view from the side in the making [mm of the paper]. xs: where the levels stand; half: how far the view reaches
    above and below the axis; letters: their size."""

    def __init__(self, model: Model, scale: float, xs: Sequence[float], half: float, letters: float = TEXT) -> None:
        self.model, self.scale, self.xs, self.half, self.letters = model, scale, xs, half, letters
        self.shapes: list[Shape] = []

    def levels(self) -> None:
        """The levels with their numbers above and below, as many as there is room for; that of level 0 always."""
        step = abs(self.xs[-1] - self.xs[0]) / max(len(self.xs) - 1, 1)
        apart = text_width(str(len(self.xs) - 1), self.letters) + 0.8
        every = next((every for every in _EVERY if every * step >= apart), len(self.xs))
        for level, x in enumerate(self.xs):
            self.line((x, -self.half), (x, self.half), "level")
            if level % every == 0:
                for y in (self.half + 2.0, -self.half - 2.0):
                    self.shapes.append(lettered((x, y), str(level), self.letters, "middle"))

    def line(self, start: Point, end: Point, layer: str) -> None:
        self.shapes.append(Line(start, end, layer))

    def slab(self, level: int, low: float, high: float, thick: float) -> Box:
        """Something flat on a level, between two heights [mm of the model]."""
        x, ends = self.xs[level], sorted((low / self.scale, high / self.scale))
        return x - thick / 2, ends[0], x + thick / 2, ends[1]

    def cut(self, box: Box, layer: str) -> None:
        """Something that hides what is behind it, hatched as its layer is."""
        half = (box[2] - box[0]) / 2, (box[3] - box[1]) / 2
        self.shapes.append(rect(box, layer, 1.0))
        self.shapes += hatching(layer, (box[0] + half[0], box[1] + half[1]), hypot(*half), half)

    def bodies(self, end: float | None, names: float | None, row: float) -> None:
        """Bodies at the height of their ring's top, on their rings or at the ends of their stands. end: x of these;
        names: x at which their names begin or end, away from the levels; row: from name to name."""
        rings = sorted(self.model.bodies, key=self.model.stands_at)
        heights = [self.model.stands_at(ring) / self.scale for ring in rings]
        room = abs(heights[0] - heights[-1]) / len(rings)
        for ring, y, name in zip(rings, heights, spread(heights, row), strict=True):
            start = self.xs[ring]
            if end is not None:
                self.line((start, y), (end, y), "stand")
            dot = min(BODY, 0.45 * room) if end is not None and len(rings) > 1 else BODY
            at = (start if end is None else end), y
            self.shapes.append(Circle(at, dot, "dot", 0.0))
            if names is not None:
                out = 1.0 if names > at[0] else -1.0
                if name != y or abs(names - at[0]) > 4.0:
                    self.line(at, (names - 0.6 * out, name), "leader")
                anchor = "start" if out > 0 else "end"
                self.shapes.append(lettered((names, name), self.model.names[ring], self.letters, anchor))


def spread(heights: Sequence[float], row: float) -> list[float]:
    """Ascending heights moved so that there is a row between neighbours, each near its own."""
    groups: list[tuple[float, int]] = []  # middle and how many
    for height in heights:
        groups.append((height, 1))
        while len(groups) > 1:
            (low, under), (high, over) = groups[-2:]
            if high - low >= (under + over) / 2 * row:
                break
            groups[-2:] = [((low * under + high * over) / (under + over), under + over)]
    return [middle + (place - (many - 1) / 2) * row for middle, many in groups for place in range(many)]
