"""Shapes that arms do not reach: passed by arbor by arbor, before their third gears are placed, and none that has a
place."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from itertools import product

import pytest
from brute_arms import arms_of, thin_design
from test_arm import SQUARE, small

from solver import parse_design
from solver.design.arms import length_of
from solver.design.design import Design
from solver.design.links import KINDS
from solver.design.train import Link
from solver.search.place.arm_ways import ArmWays
from solver.search.place.measures import Measures
from solver.search.place.placer import Placer
from solver.search.place.shapes import ArborShape, link_shape
from solver.search.rank import arbor_radii
from solver.search.reaches import gap_of

THIRDS = range(8, 16)


def shapes_between(inner: int, outer: int, wheel: int, pinion: int, gap: int) -> list[ArborShape]:
    """Of a link of every kind, with these gears, every third gear and every radius."""
    links = [Link(kind.name, wheel, pinion, thirds) for kind in KINDS for thirds in product(THIRDS, repeat=kind.thirds)]
    return [
        link_shape(0, inner, outer, link, radius) for link in links for radius in arbor_radii(inner, outer, link, gap)
    ]


def soft(longest_mm: float) -> tuple[Design, Measures]:
    """A design whose arms hold arbors up to that length, and any third gear."""
    frame = SQUARE.replace("300", "900")
    design = parse_design(small(100, frame=frame).replace("directions = [0]", "directions = 24"))

    def usable(held, lengths, arms):
        return lengths() <= longest_mm if held == "arbor" else None

    measures = Measures(design)
    measures.arms = ArmWays(design, measures.high, measures.rim, usable)
    return design, measures


def test_arbors_that_no_arm_reaches_are_looked_at_once_whatever_their_third_gears_are(monkeypatch):
    """The frame's side is 450 mm from the main axis, and no arbor stands so far out that 100 mm reach it."""
    design, measures = soft(100)
    shapes, asked, reached = shapes_between(24, 30, 12, 7, gap_of(design)), 0, ArmWays.reached

    def counted(self, held, xs, ys, disc, own):
        nonlocal asked
        asked += len(xs)
        return reached(self, held, xs, ys, disc, own)

    monkeypatch.setattr(ArmWays, "reached", counted)
    placer = Placer(design, measures, "none")
    placer.prepare(shapes, (24, 30), ())
    assert not any(len(placer.among(shape, (24, 30), ())) for shape in shapes)
    radii = {shape.radius for shape in shapes}
    assert len(shapes) > 10 * len(radii) and asked == 24 * len(radii)


@pytest.mark.parametrize("longest_mm", [340, 355, 370])
def test_what_has_a_place_has_an_arm_of_the_enumeration(longest_mm):
    """Arbors alone, of links without third gears: in each direction that has places some arm is short enough."""
    design, measures = soft(longest_mm)
    placer, there, nowhere = Placer(design, measures, "none"), 0, 0
    plain = [shape for gear in range(6, 30) for shape in shapes_between(24, 30, gear + 6, gear, gap_of(design))]
    for shape in (shape for shape in plain if all(side.third is None for side in shape.sides)):
        far, kept = shape.radius * 12 / (2 * math.pi), set(placer.among(shape, (24, 30), ()).directions)
        for angle in set(placer.alone(shape, 2).directions):
            spot = far * math.cos(math.radians(angle)), far * math.sin(math.radians(angle))
            shortest = min(map(length_of, arms_of(design, *spot)))
            if abs(shortest - longest_mm) > 0.01:
                assert (angle in kept) == (shortest < longest_mm), (shape, angle)
        there, nowhere = there + bool(kept), nowhere + (not kept)
    assert there and nowhere, (there, nowhere)


@pytest.mark.deep
def test_nothing_with_a_place_is_passed_by(monkeypatch):
    """Random designs with soft arms and stands: the same places as where every shape is looked at as a whole."""
    some = none = passed = 0
    for seed in range(40):
        design = thin_design(seed)
        if design is None:
            continue
        rng, measures = random.Random(seed), Measures(design)
        inner = rng.randint(20, 40)
        outer = inner + rng.randint(3, 12)
        riders = (0, 1) if design.fit.stands != "none" else ()
        shapes = shapes_between(inner, outer, rng.randint(6, 14), rng.randint(6, 14), gap_of(design))[::61]
        quick, whole = Placer(design, measures, "none"), Placer(replace(design), Measures(design), "none")
        monkeypatch.setattr(whole, "_arms_reach", lambda *_: True)
        for shape in shapes:
            one, other = (placer.among(shape, (inner, outer), riders) for placer in (quick, whole))
            assert [one.at(i) for i in range(len(one))] == [other.at(i) for i in range(len(other))], (seed, shape)
            some, none = some + bool(len(one)), none + (not len(one))
            passed += shape not in quick._alone
    assert some >= 100 and none >= 100 and passed >= 100, (some, none, passed)
