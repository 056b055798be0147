"""Tooth forms: against teeth that are turned past each other with another library."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

import pytest
from gears_drawn import figure, sizes, spec
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon
from shapely.ops import unary_union

from solver.design.errors import DesignError
from solver.forms import FORMS, involute
from solver.forms.form import Roles, Sizes

# -- involute ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("teeth", "undercut"), [(8, True), (12, True), (17, True), (18, False), (30, False)])
def test_undercut_is_drawn_and_said_below_the_limit(teeth: int, undercut: bool) -> None:
    """A tooth that is not undercut gets wider all the way to its root."""
    shape = FORMS["involute"].shape(sizes('form = "involute"'), spec("gear", teeth, "involute teeth", 40))
    assert any("undercut" in remark.text for remark in shape.remarks) is undercut
    # Above the rounding at the root, from the tip inwards.
    angles = [math.atan2(y, x) for x, y in involute.half_tooth(teeth)[1:] if math.hypot(x, y) > teeth / 2 - 1.1]
    narrowing = any(after < before - 1e-5 for before, after in pairwise(angles))
    assert narrowing is (teeth < 17)  # of 17 it is a thousandth of a module


@pytest.mark.parametrize(("teeth", "mate"), [(8, 30), (12, 46), (20, 24), (5, 50)])
def test_involute_gears_turn_past_each_other_without_cutting_in(teeth: int, mate: int) -> None:
    """Shapely turns the drawn outlines: metal never overlaps, and where the contact ratio says so it always touches."""
    small, large = (Polygon(outline(z)) for z in (teeth, mate))
    centres = (teeth + mate) / 2
    worst, loosest = 0.0, 0.0
    for step in range(12):
        turn = 360 / teeth * step / 12
        one = affinity.rotate(small, turn, origin=(0, 0))
        # A gap of the mate faces the tooth on the line of centres.
        facing = 180 - 180 / mate - turn * teeth / mate
        other = affinity.translate(affinity.rotate(large, facing, origin=(0, 0)), centres)
        worst = max(worst, one.intersection(other).area)
        loosest = max(loosest, one.distance(other))
    assert worst < 2e-3  # square modules: chords of the outlines
    if FORMS["involute"].pair(sizes(), spec("gear", teeth, ""), spec("ring", mate, "")).figures[0].value >= 1:
        assert loosest < 2e-3


def outline(teeth: int) -> list[tuple[float, float]]:
    """The drawn gear, in modules."""
    given = sizes('form = "involute"', "module = 10")
    shape = FORMS["involute"].shape(given, spec("gear", teeth, "involute teeth", 40))
    return [(x / 10, y / 10) for x, y in shape.outline[0]]


# -- cycloidal --------------------------------------------------------------------------------------------------------


# -- gears of plate ---------------------------------------------------------------------------------------------------

PLATES = [
    (form, kind, teeth, wire)
    for form in ("cycloidal", "involute")
    for kind, teeth in (("ring", 24), ("ring", 60), ("gear", 6), ("gear", 9), ("gear", 14))
    for wire in (
        "",
        "arbor_diameter = 5.2",
        "arbor_diameter = 5.2\nhub_diameter = 13",
        "hub_diameter = 30",
        "sheet = 4",
    )
]


@pytest.mark.parametrize("rings", ["module = 3\naddendum = 3\nrim = 5", "module = 2\naddendum = 3\nrim = 9"])
@pytest.mark.parametrize(("form", "kind", "teeth", "wire"), PLATES)
def test_what_bore_and_hub_leave_of_a_gear_of_plate_is_said(
    form: str, kind: str, teeth: int, wire: str, rings: str
) -> None:
    """Shapely measures the outline that is cut: what is left around the bore, whether the hub covers teeth, and how
    far the tips reach beyond the circle that the fit is judged with."""
    given = replace(sizes(f'form = "{form}"\n{wire}', rings), judged_mm=3.0)  # as without [wire]
    mate = 8 if kind == "ring" else 60
    shape = FORMS[form].shape(given, spec(kind, teeth, FORMS[form].roles("pins").ring, mate))
    said = [(remark.text, remark.runs) for remark in shape.remarks]
    centre, edge = Point(0, 0), Polygon(shape.outline[0]).exterior
    left = edge.distance(centre) - shape.bore_mm / 2
    if shape.root_radius_mm <= 0:
        left = shape.root_radius_mm - shape.bore_mm / 2
    none = [runs for text, runs in said if "no metal is left" in text]
    little = [(text, runs) for text, runs in said if text.startswith("only ")]
    # Chords of the outline stand a little inside the circles that they are drawn for.
    assert none == ([False] if left <= 0 else [])
    assert bool(little) is (0 < left < given.sheet_mm - 0.05)
    for text, runs in little:
        assert float(text.split()[1]) == pytest.approx(left, abs=0.05) and runs is (left > given.sheet_mm / 2)
    hub = [runs for text, runs in said if text.startswith("the hub")]
    assert hub == ([False] if kind == "gear" and given.hub_mm / 2 > shape.root_radius_mm else [])
    farthest = max(math.hypot(*point) for point in shape.outline[0]) - given.radius_mm(teeth)
    over = [(text, runs) for text, runs in said if "farther than rings.addendum" in text]
    assert bool(over) is (farthest > 3 + 1e-6)
    for text, runs in over:
        assert float(text.split()[2]) == pytest.approx(farthest - 3, abs=0.001) and not runs


def test_tips_that_reach_into_the_roots_of_their_mate_are_said() -> None:
    """A gear that is a pinion to one and a wheel to another is drawn as a wheel, with shallow roots."""
    form, given = FORMS["cycloidal"], sizes('form = "cycloidal"', "module = 2\nrim = 9")
    ring, both, third = spec("ring", 96, "", 16), spec("gear", 16, "", 8, 96), spec("gear", 8, "", 16)
    for one, other in ((ring, both), (both, third), (ring, spec("gear", 16, "", 96))):
        shapes = [form.shape(given, gear) for gear in (one, other)]
        centres = sum(shape.pitch_radius_mm for shape in shapes)
        reach = [max(math.hypot(*point) for point in shape.outline[0]) for shape in shapes]
        roots = [min(math.hypot(*point) for point in shape.outline[0]) for shape in shapes]
        over = max(reach[0] + roots[1], reach[1] + roots[0]) - centres
        said = [remark for remark in form.pair(given, one, other).remarks if "into the roots" in remark.text]
        assert [remark.runs for remark in said] == ([False] if over > 0 else [])
        assert (over > 0) is (other is both)
        for remark in said:
            assert f"tips of R96 reach {over:.4g} mm into the roots of G16" in remark.text


def test_pins_thicker_than_the_teeth_are_high_are_said() -> None:
    gear = spec("gear", 10, "pins", 40)
    given = replace(sizes("pin = 5", "tooth_pitch = 12\naddendum = 2\nrim = 6"), judged_mm=2.0)  # as without [wire]
    thick = FORMS["saw"].shape(given, gear)
    assert [(r.text.startswith("tips reach 0.5 mm farther than rings.addendum"), r.runs) for r in thick.remarks] == [
        (True, False)
    ]


# -- saw teeth and pins -----------------------------------------------------------------------------------------------

PIN_GEARS = [(4, 66), (5, 50), (12, 42), (22, 34)]


def test_the_tooth_wire_is_as_long_as_it_is_drawn_and_goes_around_its_pins() -> None:
    given = sizes()
    ring = spec("ring", 40, "saw teeth", 10)
    shape = FORMS["saw"].shape(given, ring)
    wire = LineString(shape.outline[0])
    assert len(shape.holes) == 2 * 40 + 1
    piece = next(piece for piece in shape.pieces if piece.what == "tooth wire")
    assert piece.length_mm == pytest.approx(wire.length, rel=2e-4)  # arcs are drawn as chords
    for hole in shape.holes[:-1]:
        at = Point(
            hole.radius_mm * math.cos(math.radians(hole.angle_deg)),
            hole.radius_mm * math.sin(math.radians(hole.angle_deg)),
        )
        # The wire touches the jig's pins: half of both diameters from middle to middle.
        assert wire.distance(at) == pytest.approx((hole.diameter_mm + given.tooth_mm) / 2, abs=2e-3)
    assert wire.buffer(given.tooth_mm / 2).bounds[2] == pytest.approx(given.radius_mm(40) + 4, abs=2e-3)
    straight = max(a.distance(b) for a, b in pairwise(map(Point, shape.outline[0])))
    assert straight == pytest.approx(figure(shape, "straight edge"), abs=1e-9)


def test_other_neutral_fibres_take_other_lengths() -> None:
    lengths = []
    for neutral in (0, 0.5, 1):
        given = sizes(f"neutral = {neutral}")
        shape = FORMS["saw"].shape(given, spec("ring", 40, "saw teeth", 10))
        lengths.append([piece.length_mm for piece in shape.pieces])
        loop = next(piece for piece in shape.pieces if piece.what == "loop")
        inside = given.radius_mm(40) - 6
        assert loop.length_mm == pytest.approx(2 * math.pi * (inside + neutral * given.loop_mm))
    assert lengths[0][0] < lengths[1][0] < lengths[2][0] and lengths[0][1] < lengths[1][1] < lengths[2][1]


def positions(given: Sizes, pins: int, teeth: int, phase: float) -> Iterator[tuple[float, float]]:
    """The pins about the toothed gear's centre when the pin gear has turned `phase` of a tooth on."""
    centres = given.radius_mm(pins) + given.radius_mm(teeth)
    for index in range(pins):
        at = math.pi + 2 * math.pi * (index + phase) / pins
        yield centres + given.radius_mm(pins) * math.cos(at), given.radius_mm(pins) * math.sin(at)


@pytest.mark.parametrize(("pins", "teeth"), PIN_GEARS)
def test_pins_run_among_saw_teeth_as_another_library_measures(pins: int, teeth: int) -> None:
    """Shapely looks for the angles at which the toothed gear is free, at a few places of a tooth."""
    given = sizes()
    ring = spec("ring", teeth, "saw teeth", pins)
    found = FORMS["saw"].run(given, ring, spec("gear", pins, "pins", teeth))
    assert found.backlash > 0 and not found.slips and found.least_pins >= 1
    wire = affinity.rotate(Polygon(FORMS["saw"].shape(given, ring).outline[0]).exterior, 180 / teeth, origin=(0, 0))
    radius, reach = given.radius_mm(teeth), (given.pin_mm + given.tooth_mm) / 2
    free = []
    for phase in (0.0, 0.25, 0.5, 0.75):
        circles = unary_union([Point(at).buffer(reach, 64) for at in positions(given, pins, teeth, phase)])
        even = -360 * phase / teeth
        edges = []
        for way in (1, -1):
            offsets = [way * 0.02 * step for step in range(1000)]  # mm at the pitch circle
            edges.append(next(
                off for off in offsets
                if affinity.rotate(wire, even + math.degrees(off / radius), origin=(0, 0)).intersects(circles)
            ))  # fmt: skip
        free.append(edges[0] - edges[1])
    assert min(free) >= found.backlash - 0.05
    assert min(free) <= found.backlash + 0.5  # four places of a tooth, not all


def test_what_does_not_run_is_said() -> None:
    form = FORMS["saw"]
    ring, gear = spec("ring", 40, "saw teeth", 10), spec("gear", 10, "pins", 40)
    thick = form.pair(sizes("pin = 8"), ring, gear)
    assert [(r.runs, r.text.split(":")[0]) for r in thick.remarks] == [(False, "jams")]
    low = form.pair(
        sizes("jig_pin = 0.5\ntooth = 0.4\npin = 0.4", "tooth_pitch = 12\naddendum = 0.3\nrim = 5"), ring, gear
    )
    assert any(not r.runs and r.text.startswith("slips") for r in low.remarks)
    flat = form.pair(sizes("", "tooth_pitch = 17\naddendum = 2.5\nrim = 3"), ring, gear)
    assert any("unevenly" in r.text and r.runs for r in flat.remarks)


def test_pins_work_with_teeth_alone() -> None:
    """Or a third gear has short teeth, which work with a ring's, and the gear behind it pins."""
    assert FORMS["saw"].roles("pins") == Roles("saw teeth", "pins", "pins", "saw teeth")
    assert FORMS["saw"].roles("teeth") == Roles("saw teeth", "pins", "short teeth", "pins")
    for name, third in (("curved", "teeth"), ("involute", "teeth"), ("saw", "tooth")):
        with pytest.raises(ValueError, match=f"no third gears with {third}: "):
            FORMS[name].roles(third)


def test_wire_that_cannot_be_bent_so_is_refused() -> None:
    ring = spec("ring", 40, "saw teeth", 10)
    with pytest.raises(
        DesignError, match=r"^wire.jig_pin = 9: leaves no room between the bends of R40; \S+ mm would$"
    ) as no:
        FORMS["saw"].shape(sizes("jig_pin = 9"), ring)
    would = float(str(no.value).split()[-3])
    assert FORMS["saw"].shape(sizes(f"jig_pin = {would}"), ring).pieces
    with pytest.raises(DesignError, match=r"^wire.tooth = 6: is too thick to be bent to the teeth of R40, 12 mm from"):
        FORMS["saw"].shape(sizes("tooth = 6"), ring)
    with pytest.raises(DesignError, match=r"wire.hub_diameter = 20: leaves G5 no room for spokes: must be less than"):
        FORMS["saw"].shape(sizes("hub_diameter = 20"), spec("gear", 5, "pins", 40))
    with pytest.raises(DesignError, match=r"wire.hub_diameter = 20: leaves G5 no room for teeth: must be less than"):
        FORMS["saw"].shape(sizes("hub_diameter = 20"), spec("gear", 5, "saw teeth", 8))
    with pytest.raises(DesignError, match=r"wire.arbor_diameter = 3: must be greater than the posts"):
        sizes("arbor_diameter = 3")


def test_pins_as_long_as_the_levels_allow() -> None:
    gear = spec("gear", 10, "pins", 40)
    assert FORMS["saw"].shape(sizes(), gear).remarks == ()
    long = FORMS["saw"].shape(sizes("pin_length = 14"), gear).remarks
    short = FORMS["saw"].shape(sizes("pin_length = 5"), gear).remarks
    # Gears were judged as they are made: longer pins meet nothing on the next level.
    assert [r.runs for r in (*long, *short)] == [True, False]
    assert "next level" in long[0].text and "between the loops" in short[0].text


@pytest.mark.parametrize("name", FORMS)
def test_every_form_says_where_it_comes_from_and_reaches_its_tip_circle(name: str) -> None:
    form = FORMS[name]
    assert form.name == name and form.source and form.title
    given = sizes(f'form = "{name}"', "tooth_pitch = 12\nrim = 8")
    for one in (spec("ring", 40, form.roles("pins").ring, 12), spec("gear", 12, form.roles("pins").gear, 40)):
        shape = form.shape(given, one)
        assert shape.pitch_radius_mm == pytest.approx(one.teeth * 12 / (2 * math.pi))
        assert shape.root_radius_mm < shape.pitch_radius_mm < shape.tip_radius_mm
        farthest = max(math.hypot(*point) for line in shape.outline for point in line)
        assert shape.tip_radius_mm - given.tooth_mm / 2 - 1e-6 <= farthest <= shape.tip_radius_mm + 1e-6
