"""Gears that are drawn turning as they are made: pins stay in gaps and touch no wire, for many turns of the model."""

from math import cos, hypot, pi, sin

import pytest
import shapely
from shapely.geometry import LineString, Point

from solver import parse_design, solve
from solver.forms import FORMS
from solver.forms.form import Spec, sizes_of
from solver.service.page.motion import motion
from solver.service.page.outline import repeated
from solver.service.page.turning import turning
from solver.sheets.gears.looks import OFF, thinned
from solver.sheets.views.model import Model

MOONS = """
[bodies]
set = "jupiter"
[rings]
inner_teeth = 24
tooth_step = 6
tooth_pitch = 12
addendum = 4
rim = 6
[fit]
clearance = 1
directions = 12
[search]
keep = 1
[wire]
"""


@pytest.fixture(scope="module", params=["saw", "curved", "involute"])
def drawn(request):
    form = request.param
    more = {"saw": "", "curved": "jig_pin = 1\n", "involute": "sheet = 2\n"}[form]
    text = MOONS + f'form = "{form}"\n{more}'
    if form == "involute":
        text = text.replace(
            "[fit]", "[arbors]\nwheel_teeth = {min = 10, max = 30}\npinion_teeth = {min = 10, max = 30}\n[fit]"
        )
    design = parse_design(text.replace("rim = 6", "rim = 9") if form == "involute" else text)
    answer = solve(design)
    assert answer.solutions
    return design, answer, motion(design, answer.solutions[0])


def test_nothing_touches_while_it_turns(drawn):
    _, _, moving = drawn
    parts = {one.id: one for one in [*moving.rings, *moving.gears]}
    pairs = 0
    for first, second in moving.meshes:
        ring, gear = parts[first], parts[second]
        assert ring.look is not None and gear.look is not None
        pairs += 1
        corners = repeated(ring.look.tooth, ring.teeth)
        line = LineString([*corners, corners[0]])
        for moment in range(12):
            turns = moment / 37
            x, y = gear.x, gear.y
            mine = 2 * pi * (ring.phase_turns + turns * ring.rate_float)
            at = 2 * pi * (gear.phase_turns + turns * gear.rate_float)
            if gear.look.pin:
                spots = [
                    (x + gear.pitch_radius * cos(at + 2 * pi * n / gear.teeth),
                     y + gear.pitch_radius * sin(at + 2 * pi * n / gear.teeth))
                    for n in range(gear.teeth)
                ]  # fmt: skip
                turned = shapely.affinity.rotate(line, mine, origin=(0, 0), use_radians=True)
                nearest = min(turned.distance(Point(spot)) for spot in spots)
                assert nearest >= gear.look.pin / 2 - 2 * OFF, (first, second, moment)
            else:
                other = shapely.affinity.rotate(
                    shapely.Polygon(repeated(gear.look.tooth, gear.teeth)), at, origin=(0, 0), use_radians=True
                )
                body = shapely.affinity.rotate(shapely.Polygon(line), mine, origin=(0, 0), use_radians=True)
                over = body.intersection(shapely.affinity.translate(other, x, y)).area
                assert over < 0.5, (first, second, moment, over)
    assert pairs == 2 * (len(moving.rings) - 1)


def test_what_is_drawn_reaches_as_far_as_it_is_judged_to(drawn):
    design, answer, moving = drawn
    model = Model(design, answer.trains(design)[0])
    tips = {(gear.part, gear.link): gear.tip for gear in model.gears}
    for gear in moving.gears:
        assert tips[gear.part, gear.link] >= gear.tip_radius - 1e-6
        if gear.look.pin:
            assert gear.tip_radius == pytest.approx(gear.pitch_radius + design.wire.pin.mm / 2)
        else:
            assert max(hypot(*corner) for corner in gear.look.tooth) <= gear.tip_radius + 1e-3


def test_the_page_shows_pins_as_circles(drawn):
    _, _, moving = drawn
    page = turning(moving)
    for level in page.levels:
        for one in level:
            rounds = one.outline.count("a")
            pins = 2 * one.teeth + 4 if one.part != "ring" and moving.gears[0].look.pin else 2 * (one.part == "ring")
            assert rounds == pins, one.id


def test_a_thinned_line_stays_near():
    sizes = sizes_of(parse_design(MOONS.replace("[wire]", '[wire]\nform = "curved"\njig_pin = 1')))
    line = FORMS["curved"].shape(sizes, Spec("ring", 30, FORMS["curved"].roles("pins").ring, (9,))).outline[0]
    fewer = thinned(line, OFF)
    assert len(fewer) < len(line) / 3 and LineString(line).hausdorff_distance(LineString(fewer)) <= OFF
