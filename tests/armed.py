"""A model of ten rings of hand-bent wire, as they have been built, with a frame and arms; for tests of supports."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache

from solver import Design, Train, parse_design, solve
from solver.answer.audit import find_places
from solver.design.train_data import RingTrain
from solver.files.train_file import parse_train
from solver.search.stop import NoStop

# 18 to 72 teeth by 6, an inch apart, in a frame of 25 in (common practice, no source; see test_built_models). Levels
# are farther apart than built, so that arms of 5/32 in have room between pins; each ring runs on three rollers. On
# these the outermost would go 12.3 mm out of round, and arms of rollers bend up to 6 mm that hold it: here much
# may bend.
TEN = """
title = "Ten rings of wire"
units = "in"
[bodies]
set = "planets"
sense = "either"
[[bodies.list]]
name = "Pluto"
period = 90560
[rings]
tooth_pitch = 1
addendum = 0.42
rim = 0.5
level_spacing = {spacing}
[fit]
frame = {{shape = "square", side = 25, depth = 8}}
clearance = 0.02
directions = 180
post_radius = 0.06
rollers = {{count = 3, radius = 0.25, reach = 179}}
[wire]
loop = 0.125
tooth = 0.09375
pin = 0.063
pin_length = 0.479
jig_pin = 0.08
third = "teeth"
[supports]
model = "{model}"
arm = 0.15625
bar = 0.25
sag = 0.5
"""
LINKS = [(14, 8), (17, 11), (17, 11), (10, 4), (13, 7), (11, 5), (10, 4), (14, 8), (10, 7)]
BODIES = ["Mercury", "Venus", "Earth", "Mars", "", "Jupiter", "Saturn", "Uranus", "Neptune", "Pluto"]


def ten_links() -> str:
    """The rings and links of a file with that train: the links between are chosen here, the last one is as built."""
    text = f"[train]\nrings = {list(range(18, 73, 6))}\nbodies = {json.dumps(BODIES)}\n"
    for wheel, pinion in LINKS:
        text += f"[[train.links]]\nwheel = {wheel}\npinion = {pinion}\n"
        text += 'kind = "third-wheel"\nthirds = [14]\n' if (wheel, pinion) == (10, 7) else ""
    return text


@cache
def ten_rings(model: str = "wall") -> tuple[Design, Train]:
    """The design and a placed train of it."""
    given = as_built(model)
    places = find_places(given, NoStop()).found
    assert places is not None
    return given.design, replace(given.train, placement=places)


def as_built(model: str = "wall", spacing: str = "0.75") -> RingTrain:
    """The train of ten rings, to be audited."""
    return parse_train(TEN.format(model=model, spacing=spacing) + ten_links())


# Three rings, in millimetres, solved in no time.
SMALL = """
title = "Three rings on arms"
[bodies]
list = [{{name = "a", period = 1}}, {{name = "b", period = 1.9}}, {{name = "c", period = 4}}]
[rings]
inner_teeth = 24
tooth_step = 9
tooth_pitch = 12
addendum = 4
rim = 5
level_spacing = 24
[arbors]
wheel_teeth = {{min = 8, max = 24}}
pinion_teeth = {{min = 8, max = 24}}
[fit]
frame = {{{frame}}}
clearance = 1
directions = 12
stands = "{stands}"
rollers = {{count = 3, radius = 3.5, reach = 179}}
[drive]
motor_rpm = [2, 5]
pinion_teeth = {{min = 8, max = 12}}
[wire]
form = "curved"
[supports]
model = "{model}"
metal = "{metal}"
[search]
keep = 1
"""
SQUARE, ROUND = 'shape = "square", side = 320', 'shape = "round", diameter = 350'


@cache
def small(frame: str = SQUARE, stands: str = "none", model: str = "wall", metal: str = "steel") -> tuple[Design, Train]:
    """The design and its first solution."""
    design = parse_design(SMALL.format(frame=frame, stands=stands, model=model, metal=metal))
    return design, solve(design).trains(design)[0]
