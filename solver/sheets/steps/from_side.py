"""Parts from the side [mm of the paper]: the main axis lies level, levels stand side by side, the plate is left."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from solver.sheets.draw.drawing import Circle, Line, Point, Polyline, Shape
from solver.sheets.draw.lettering import text_width
from solver.sheets.draw.marks import lettered, rect
from solver.sheets.steps.callouts import LETTERS, Callout
from solver.sheets.steps.from_front import LIGHT
from solver.sheets.steps.holding import HeldShape
from solver.sheets.steps.things import PlacedPart

_THICK, _WIDER, _OVER = 0.34, 0.56, 0.42  # of a level: how thick gears and hubs are drawn, how far rods reach
PLATE = 2.0  # mm of the paper that a plate is drawn thick
_MOTOR = 6.0  # and a motor


@dataclass(frozen=True)
class SideView:
    """A view from the side in the making. scale: 1 : so much across; xs: where each level stands; step: from level to
    level; plate: whether there is one, at x = 0; first: where the view begins; until: where rods that are there
    already are cut off."""

    scale: float
    xs: tuple[float, ...]
    step: float
    plate: bool
    first: float
    until: float

    @property
    def wide(self) -> float:
        """From where it begins to a level beyond the last one [mm]."""
        return self.until - self.first

    def grid(self, levels: Iterable[int], low: float, high: float) -> Iterator[Shape]:
        """These levels with their numbers above, and the main axis; heights of the view."""
        levels = sorted(levels)
        for level in levels:
            x = self.xs[level]
            yield Line((x, low), (x, high), "level")
        apart = text_width(str(max(levels)), LETTERS) + 0.8
        every = next(every for every in (1, 2, 5, 10, 20, 50) if every * self.step > apart or every == 50)
        for level in levels:
            if level % every == 0:
                yield lettered((self.xs[level], high + 2.2), str(level), LETTERS, "middle")
        ends = [self.xs[level] for level in levels]
        if low < 0 < high and ends:
            yield Line((min([*ends, 0.0]) - 2.0, 0.0), (max(ends) + 2.0, 0.0), "level")

    def part(self, one: PlacedPart, layer: str) -> Iterator[Shape]:
        """A part. layer: "there" for grey, else in black."""
        facts, fill = (("part", one.number),), (LIGHT if layer == "there" else 1.0)
        if one.shape is not None:
            yield self._held(one, one.shape, layer)
            return
        ends = sorted(self.xs[level] for level in one.levels)
        y, far = round(one.at[1] / self.scale, 2), round(one.radius / self.scale, 2)
        over = round(_OVER * self.step, 2)
        if one.kind in ("ring", "gear", "hub", "roller"):
            half = round({"hub": _WIDER, "roller": _THICK / 2}.get(one.kind, _THICK) * self.step / 2, 2)
            yield rect((ends[0] - half, y - far, ends[0] + half, y + far), layer, fill, facts)
        elif one.kind == "arbor":
            yield rect((ends[0] - over, y - far, ends[1] + over, y + far), layer, fill, facts)
        elif one.kind in ("post", "shaft"):
            start = 0.0 if self.plate else ends[0] - 1.2 * over
            yield Polyline(((start, y), (ends[1] + 1.2 * over, y)), layer, facts=facts)
        elif one.kind == "motor":
            end = -PLATE if self.plate else ends[0] - 1.2 * over
            yield rect((end - _MOTOR, y - far, end, y + far), layer, fill, facts)
        elif one.kind == "rod":
            end = min(self.stand_end(one), self.until) if layer in ("there", "carried") else self.stand_end(one)
            yield Polyline(((self.xs[one.levels[0]], y), (end, y)), layer, facts=facts)
        else:
            yield Circle((self.stand_end(one), y), far, layer, fill if layer == "there" else 0.0, facts=facts)

    def _held(self, one: PlacedPart, shape: HeldShape, layer: str) -> Shape:
        """A part of frame or arms: bars as light as what is there, so that they hide little."""
        facts, scale = (("part", one.number),), self.scale
        _, low, _, high = shape.box
        left, right = self.at(shape.first) - shape.back_mm / scale, self.at(shape.last) + shape.front_mm / scale
        if shape.circle:
            return Circle(((left + right) / 2, one.at[1] / scale), (right - left) / 2, layer, None, facts=facts)
        dark = one.kind == "arm" and layer != "there"
        box = round(left, 2), round(low / scale, 2), round(right, 2), round(high / scale, 2)
        return rect(box, layer, 0.3 if dark else LIGHT if layer == "there" else 1.0, facts)

    def at(self, level: float) -> float:
        """Where a level, or what is between two, stands."""
        return self.xs[0] + level * (self.xs[1] - self.xs[0])

    def stand_end(self, one: PlacedPart) -> float:
        """Where a rod ends, and its body is: half a level beyond its last level; without a rod in its level."""
        sign = 1.0 if self.xs[-1] >= self.xs[0] else -1.0
        return self.xs[one.levels[1]] + 0.6 * sign * one.beyond * self.step

    def point(self, one: PlacedPart) -> Point:
        """Where its number points to: the edge of a ring, the middle of a gear, the end of a rod."""
        y = one.at[1] / self.scale
        if one.shape is not None:
            return self.at(one.shape.last), y
        if one.kind == "ring":
            return self.xs[one.levels[0]], one.radius / self.scale - 1.0
        if one.kind == "motor":
            return (-PLATE if self.plate else self.xs[one.levels[0]] - self.step / 2) - _MOTOR / 2, y
        if one.kind in ("rod", "body"):
            return self.stand_end(one), y
        return self.xs[one.levels[1]], y

    def callouts(self, things: Sequence[PlacedPart]) -> list[Callout]:
        """Numbers of these parts: one callout for what has one point and stands on one spot."""
        points: dict[tuple[Point, Point], list[PlacedPart]] = {}
        some = [one for one in things if one.kind != "bar"]  # those of a gap lie behind each other: named in front
        for one in sorted(some, key=lambda one: (one.kind != "post", one.kind not in ("arbor", "shaft"))):
            x, y = self.point(one)
            points.setdefault(((round(x, 2), round(y, 2)), one.at), []).append(one)
        return [Callout(at, tuple(one.number for one in some)) for (at, _), some in points.items()]
