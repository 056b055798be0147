"""The model pulled apart along its axis: every level with its parts and their numbers, seen from above."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil, floor

from solver.sheets.draw.drawing import Circle, Drawing, Line, Point, Polyline, Shape
from solver.sheets.draw.lettering import shorten, text_width
from solver.sheets.draw.marks import boxed, lettered, rect
from solver.sheets.steps.callouts import LETTERS, places
from solver.sheets.steps.from_front import LIGHT, text_of
from solver.sheets.steps.things import PlacedPart, PlacedParts
from solver.sheets.views.scales import usual_scales
from solver.words.numbers import decimal

HIGH = 226.0  # of a page of levels [mm of the paper]
_RING, _GEAR, _HUB, _STUB = 1.3, 2.2, 3.6, 4.6  # how thick parts are drawn, and what is seen of a post
_BAR, _ARM = 1.6, 0.7  # and bars and arms
_ROW, _LEAD, _APART = 1.25 * LETTERS, 5.0, 2.0  # of numbers, of the lines to them, and between numbers
_BODY = 3.4  # from a level to its body, where that is on a rod
_FREE = 5.0  # between what belongs to two levels
_MARGIN = 18.0  # beside the model, for the names of levels


def exploded(things: PlacedParts, wide: float, high: float = HIGH) -> list[Drawing]:
    """The levels from the plate on downwards, or without one from the smallest ring, on as many drawings as they need.
    Across, x as in the front view, they are to scale; along the axis they are as far apart as their numbers need."""
    model = things.model
    order: list[float] = list(range(model.count))
    if model.fit.plate == "outer":
        order.reverse()
    gaps = {one.shape.first for one in things.by_name.values() if one.shape is not None}
    order = sorted({*order, *gaps}) if gaps else order  # without a plate
    pages: list[list[float]] = [[]]
    for level in order:
        some = [_Level(things, one, 1.0, wide).high for one in (*pages[-1], level)]
        if pages[-1] and sum(some) > high:
            pages.append([])
        pages[-1].append(level)
    each = ceil(len(order) / len(pages))  # about as many on each
    even = [order[first : first + each] for first in range(0, len(order), each)]
    if all(sum(_Level(things, one, 1.0, wide).high for one in some) <= high for some in even):
        pages = even
    return [_drawn(things, some, wide, not number) for number, some in enumerate(pages)]


def _drawn(things: PlacedParts, order: Sequence[float], wide: float, first: bool) -> Drawing:
    """Some of the levels, or all, as large as there is room for. first: whether the plate is before them."""
    parts = [one for level in order for one in _Level(things, level, 1.0, wide).parts]
    reach = max(max(-one.box[0], one.box[2]) for one in parts)
    scale = next(scale for scale in usual_scales() if 2 * reach / scale <= wide - 2 * _MARGIN)
    levels = [_Level(things, level, scale, wide) for level in order]
    some = f"{_named(order[0])} to {_named(order[-1])}, "
    if set(range(things.model.count)) <= set(order):
        some = ""
    elif all(level == floor(level) for level in order):
        some = f"levels {order[0]} to {order[-1]}, "
    name = f"Exploded view, {some}seen from above, 1 : {decimal(scale, 3)} across; along the axis not to scale"
    return Drawing(name, tuple(_page(things, levels, scale, first)))


def _page(things: PlacedParts, levels: Sequence[_Level], scale: float, first: bool) -> Iterator[Shape]:
    """Levels below each other, with chain lines along what reaches from one to the next."""
    wide, y = levels[0].wide, 0.0
    heights: dict[float, float] = {}
    if first and things.model.fit.plate != "none":
        yield rect((-wide / 2 + _MARGIN, 0.0, wide / 2 - _MARGIN, 2.0), "added", 0.85, (("part", "plate"),))
        yield lettered((-wide / 2, 1.0), "plate", LETTERS)
        y -= _FREE
    for level in levels:
        y -= level.above
        heights[level.level] = y
        yield from level.shapes(y)
        y -= level.below
    top, bottom = max(heights.values()), min(heights.values())
    yield Line((0.0, top + _STUB), (0.0, bottom - _STUB), "level")
    for arbor in things.by_name.values():
        if arbor.kind == "arbor":
            ends = [heights.get(level) for level in arbor.levels]
            x = arbor.at[0] / scale
            if None not in ends:
                yield Line(
                    (x, max(e for e in ends if e is not None)), (x, min(e for e in ends if e is not None)), "flow"
                )


class _Level:
    """A level seen from above, and the rows of numbers above and below it [mm of the paper]."""

    def __init__(self, things: PlacedParts, level: float, scale: float, wide: float) -> None:
        self.level, self.scale, self.wide = level, scale, wide
        self.plates_side = 0 if things.model.fit.plate != "outer" else 1
        # What is there for the first time, seen from the plate: all that stands on a post from this level on.
        self.parts = [one for one in things.by_name.values() if self._begins(one)]
        body = things.model.bodies.get(int(level)) if level == floor(level) else None
        self.named = [_named(level), *([shorten(body, _MARGIN, LETTERS)] if body else [])]
        spots: dict[Point, list[PlacedPart]] = {}
        for one in sorted(self.parts, key=lambda one: (one.kind != "post", one.kind not in ("arbor", "shaft"))):
            x, y = (one.at[0], one.at[1]) if one.kind != "ring" else (0.62 * one.radius, 0.0)
            spots.setdefault((round(x, 3), round(y, 3)), []).append(one)
        entries = sorted((x / scale, " ".join(text_of(one) for one in some)) for (x, _), some in spots.items())
        self.rows = _rows(entries, wide)

    def _begins(self, one: PlacedPart) -> bool:
        if one.shape is not None:
            return one.shape.first == self.level
        first = max(one.levels) if self.plates_side else min(one.levels)
        return (one.levels[0] if one.kind in ("rod", "body") else first) == self.level

    @property
    def above(self) -> float:
        return _FREE / 2 + _LEAD + _ROW * ((len(self.rows) + 1) // 2)

    @property
    def below(self) -> float:
        return _FREE / 2 + _LEAD + _ROW * (len(self.rows) // 2)

    @property
    def high(self) -> float:
        return self.above + self.below

    def shapes(self, y: float) -> Iterator[Shape]:
        kinds = (
            "bar",
            "arm",
            "bush",
            "post",
            "shaft",
            "rod",
            "arbor",
            "ring",
            "roller",
            "gear",
            "hub",
            "motor",
            "body",
        )
        for one in sorted(self.parts, key=lambda one: kinds.index(one.kind)):
            yield from self._part(one, y)
        for number, text in enumerate(self.named):
            yield lettered((-self.wide / 2, y + (0.5 * len(self.named) - 0.5 - number) * _ROW), text, LETTERS)
        for number, row in enumerate(self.rows):
            up = 1 if number % 2 == 0 else -1
            at = y + up * (_LEAD + _ROW * (number // 2 + 0.5))
            for x, wish, text in row:
                yield Line((wish, y), (x, at - up * 0.5 * _ROW), "callout")
                yield Circle((wish, y), 0.4, "callout", 0.0)
                wide = 0.54 * text_width(text, LETTERS)
                yield from boxed((x - wide, at - 0.45 * _ROW, x + wide, at + 0.45 * _ROW), [text], LETTERS, True)

    def _part(self, one: PlacedPart, y: float) -> Iterator[Shape]:
        facts, x, half = (("part", one.number),), one.at[0] / self.scale, one.radius / self.scale
        if one.shape is not None:
            left, _, right, _ = (side / self.scale for side in one.box)
            thick = _STUB if one.shape.along else {"bar": _BAR, "arm": _ARM}.get(one.kind, _HUB)
            fill = {"bar": LIGHT, "arm": 0.3}.get(one.kind, 1.0)
            yield rect((left, y - thick / 2, right, y + thick / 2), "added", fill, facts)
            return
        if one.kind in ("ring", "gear", "roller", "hub"):
            thick = {"gear": _GEAR, "hub": _HUB}.get(one.kind, _RING)
            yield rect(
                (x - half, y - thick / 2, x + half, y + thick / 2), "added", LIGHT if one.kind == "ring" else 1.0, facts
            )
        elif one.kind == "arbor":
            yield rect((x - half, y - _STUB + 1.0, x + half, y + 1.6), "added", 1.0, facts)
        elif one.kind in ("post", "shaft"):
            yield Polyline(((x, y + _STUB), (x, y - 1.6)), "added", facts=facts)
        elif one.kind == "motor":
            yield rect((x - half, y + 0.5 * _STUB, x + half, y + _STUB), "added", 1.0, facts)
        elif one.kind == "rod":
            yield Polyline(((x, y), (x, y - _BODY)), "added", facts=facts)
        else:
            yield Circle((x, y - (_BODY if one.beyond else 0.0)), min(half, 1.2), "added", 0.0, facts=facts)


def _named(level: float) -> str:
    """ "level 3", and "gap 3" for what is between levels 3 and 4."""
    if level < 0:
        return "behind"
    return f"level {level:.0f}" if level == floor(level) else f"gap {floor(level)}"


def _rows(entries: Sequence[tuple[float, str]], wide: float) -> list[list[tuple[float, float, str]]]:
    """Numbers in rows, by turns above and below, as many as they need: where each stands, where it points, its text."""
    sizes = [1.08 * text_width(text, LETTERS) + _APART for _, text in entries]
    room = wide - 2 * _MARGIN
    count = max(2, ceil(1.1 * sum(sizes) / room)) if entries else 2
    rows = []
    for row in range(count):
        some = list(zip(entries, sizes, strict=True))[row::count]
        at = places([x for (x, _), _ in some], [size for _, size in some], -room / 2, room / 2)
        rows.append([(x, wish, text) for x, ((wish, text), _) in zip(at, some, strict=True)])
    return rows
