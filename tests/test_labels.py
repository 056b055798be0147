"""Names on drawings can be read: no label lies on another, on a hole or on a slot, in designs that ship and others."""

from __future__ import annotations

from itertools import combinations, pairwise
from math import cos, radians, sin

import pytest
from enumerated import parsed
from random_designs import random_placed_design
from shipped import shipped

from solver import Design, solve
from solver.design.train import Train
from solver.sheets.draw.drawing import Arc, Box, Line, Polyline, Shape, Text, box_of
from solver.sheets.views.placement import front, scale_for
from solver.sheets.views.placement_whole import drilling_template
from solver.sheets.views.spots import drilled
from solver.words.lengths import Lengths

MM = Lengths("mm")
ROOM = (186.0, 235.0)  # of a page


def overlap(one: Box, other: Box) -> bool:
    return one[0] < other[2] and one[2] > other[0] and one[1] < other[3] and one[3] > other[1]


def readable(design: Design, train: Train) -> None:
    template = drilling_template(design, train, MM)
    texts = {shape: box_of(shape) for shape in template.shapes if isinstance(shape, Text)}
    for (one, box), (other, over) in combinations(texts.items(), 2):
        assert not overlap(box, over), (one.text, other.text)
    names = {shape.text: shape for shape in texts if shape.bold and shape.text not in ("x", "y")}
    holes = drilled(design, train)
    assert sorted(names) == sorted(hole.name for hole in holes)
    for shape in template.shapes:
        if shape.layer in ("slots", "hole-marks") or shape.layer.startswith("drill-"):
            for part in pieces(shape):
                assert not any(overlap(part, box) for box in texts.values()), shape
    lines = [shape for shape in template.shapes if isinstance(shape, Line) and shape.layer == "leader"]
    for hole in holes:
        nearest = min(holes, key=lambda one: distance(one.at, texts[names[hole.name]]))
        led = [line for line in lines if line.start == hole.at]
        # Either the name is nearest to its own hole, or a line leads from the hole to it.
        assert nearest is hole or len(led) == 1, hole.name
        if led:
            assert distance(led[0].end, texts[names[hole.name]]) < 1.0
    drawn = front(design, train, scale_for(design, train, ROOM), MM)
    boxes = [shape.box for shape in drawn.shapes if isinstance(shape, Polyline) and shape.layer == "label"]
    for one, other in combinations(boxes, 2):
        assert not overlap(inside(one), inside(other)), (one, other)


def pieces(shape: Shape) -> list[Box]:
    """Boxes of a shape; of an arc around short pieces of it."""
    if not isinstance(shape, Arc):
        return [box_of(shape)]
    turns = [shape.start_deg + part / 12 * ((shape.end_deg - shape.start_deg) % 360) for part in range(13)]
    ends = [(shape.at[0] + shape.radius * cos(radians(t)), shape.at[1] + shape.radius * sin(radians(t))) for t in turns]
    return [(min(a, c), min(b, d), max(a, c), max(b, d)) for (a, b), (c, d) in pairwise(ends)]


def distance(at: tuple[float, float], box: Box) -> float:
    """From a point to a box."""
    return float(sum(max(low - x, 0.0, x - high) ** 2 for x, low, high in zip(at, box[:2], box[2:])) ** 0.5)


def inside(box: Box) -> Box:
    """Without the white margin of 0.3 mm around letters, which may lie on another's."""
    return box[0] + 0.3, box[1] + 0.3, box[2] - 0.3, box[3] - 0.3


@pytest.mark.slow
@pytest.mark.parametrize(
    "name",
    [*(pytest.param(one, marks=pytest.mark.deep) for one in ("saturn-hall", "saturn-stair-well")), "jupiter-table"],
)
def test_names_of_what_ships_can_be_read(name: str) -> None:
    design, answer = shipped(name)
    for train in answer.trains(design)[:2]:
        readable(design, train)


@pytest.mark.deep
def test_names_of_random_placed_designs_can_be_read() -> None:
    seen = 0
    for seed in range(200):
        design = parsed(random_placed_design(seed))
        trains = solve(design).trains(design)[:1] if design else []
        for train in trains:
            readable(design, train)
            seen += 1
        if seen == 20:
            return
    raise AssertionError(f"only {seen} of 200 designs have places")
