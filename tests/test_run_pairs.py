"""How pairs of teeth and pins run: against gears that shapely turns, and against what was measured elsewhere."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from gears_drawn import figure, sizes, spec
from shapely.geometry import LineString, Point, Polygon
from shapely.ops import unary_union
from turned_by_shapely import Pair, Turned

from solver.design.errors import DesignError
from solver.forms import FORMS
from solver.forms.curved import PLAY
from solver.forms.form import Sizes, Spec
from solver.forms.lantern import lantern_contact, parallel, pin_path
from solver.forms.runs import STEPS_PER_MM, MeshRun, Span, outward

MARGIN = 0.01  # of a pitch: of jams, of tips beside pins, of play and unevenness
UNEVEN = 0.15


def toothed(teeth: int, pins: int, form: str = "saw") -> Spec:
    """A ring, or a small gear that works with a third gear of pins."""
    return spec("ring" if teeth >= 18 else "gear", teeth, FORMS[form].roles("pins").ring, pins)


def pair_of(given: Sizes, teeth: int, pins: int, form: str = "saw") -> Pair:
    shape = FORMS[form].shape(given, toothed(teeth, pins, form))
    return Pair(given, shape.outline[0], teeth, pins)


def run_of(given: Sizes, teeth: int, pins: int, apart: float = 0.0, form: str = "saw") -> MeshRun:
    return FORMS[form].run(given, toothed(teeth, pins, form), spec("gear", pins, "pins", teeth), apart)


def span_of(given: Sizes, teeth: int, pins: int, uneven: float = UNEVEN, form: str = "saw") -> Span | None:
    return FORMS[form].span(given, toothed(teeth, pins, form), spec("gear", pins, "pins", teeth), uneven)


def drawn_sizes(draw: random.Random) -> Sizes:
    """Wires and proportions that a maker may think of, some of which do not run."""
    pitch = draw.uniform(8, 26)
    wires = {
        "tooth": draw.uniform(0.4, 0.12 * pitch),
        "pin": draw.uniform(0.5, 0.3 * pitch),
        "jig_pin": draw.uniform(0.5, 0.3 * pitch),
        "loop": draw.uniform(0.5, 3),
    }
    rings = {"tooth_pitch": pitch, "addendum": draw.uniform(0.1, 0.5) * pitch, "rim": draw.uniform(0.15, 0.6) * pitch}
    told = ["\n".join(f"{key} = {value:.3f}" for key, value in some.items()) for some in (wires, rings)]
    return replace(sizes(*told), hub_mm=0.0)  # tips are among the pins alone here


def agree(found: MeshRun, turned: Turned, pitch: float) -> str:
    """What they do not agree about, "" where they do; within MARGIN both may be right."""
    play = found.backlash / pitch
    if turned.jams:
        return "jams" if play > MARGIN else ""
    if play < -MARGIN:
        # Pins that jam in their own gaps may find a way around, past the tips: that is slipping, and no running either.
        return "" if turned.slips or turned.caught > MARGIN else "does not jam"
    if found.slips:
        return "" if turned.slips or turned.caught > -MARGIN or found.least_pins == 0 else "does not slip"
    if turned.slips or turned.caught > MARGIN:
        return "slips"
    if play < 0:
        return ""
    if abs(turned.uneven - found.uneven / pitch) > MARGIN:
        return "unevenness"
    # The most play is where a pin comes or goes, between the steps.
    most = turned.most - found.most / pitch
    return "" if abs(turned.play - play) <= MARGIN and -3 * MARGIN <= most <= MARGIN else "play"


def disagreements(seed: int, pairs: int, most: int = 4) -> list[str]:
    """Random pairs at both ends and in the middle of their span, and where they may not run at all; at most so many of
    these places of each."""
    draw, done, wrong = random.Random(seed), 0, []
    while done < pairs:
        given = drawn_sizes(draw)
        teeth, pins = draw.choice((draw.randint(5, 17), draw.randint(18, 72))), draw.randint(3, 24)
        try:
            pair = pair_of(given, teeth, pins)
        except DesignError:
            continue
        done += 1
        span = span_of(given, teeth, pins)
        places = [draw.uniform(-0.2, 0.3) * given.pitch_mm]
        if span is not None:
            places += [float(span.low_mm), float(span.low_mm + span.high_mm) / 2, float(span.high_mm)]
        for apart in draw.sample(places, min(most, len(places))):
            found, turned = run_of(given, teeth, pins, apart), pair.run(apart)
            if no := agree(found, turned, given.pitch_mm):
                wrong.append(
                    f"seed {seed}: {no}: {teeth} with {pins}, {apart:.3f} mm apart: {found}, {turned}, {given}"
                )
    return wrong


def test_a_dozen_random_pairs_run_as_shapely_turns_them() -> None:
    assert disagreements(seed=1, pairs=12, most=1) == []


@pytest.mark.deep
@pytest.mark.parametrize("seed", range(100, 120))
def test_thousands_of_random_pairs_run_as_shapely_turns_them(seed: int) -> None:
    assert disagreements(seed, pairs=105) == []


# -- spans ------------------------------------------------------------------------------------------------------------

BEYOND = 0.03  # of a pitch


def ends_that_are_wrong(seed: int, pairs: int) -> list[str]:
    """Pairs that do not run at an end of their span, or still run BEYOND it."""
    draw, done, wrong = random.Random(seed), 0, []
    while done < pairs:
        given = drawn_sizes(draw)
        teeth, pins = draw.randint(18, 72), draw.randint(3, 24)
        try:
            span, pair = span_of(given, teeth, pins), pair_of(given, teeth, pins)
        except DesignError:
            continue
        if span is None:
            continue
        done += 1
        assert span.holds(0, 0) and not span.holds(0, float(span.high_mm) + 0.01)
        assert (span.low_mm * STEPS_PER_MM).denominator == (span.high_mm * STEPS_PER_MM).denominator == 1
        for end, way in ((span.low_mm, -1), (span.high_mm, 1)):
            at, beyond = pair.run(float(end)), pair.run(float(end) + way * BEYOND * given.pitch_mm)
            if not at.runs(UNEVEN):
                wrong.append(f"seed {seed}: {teeth} with {pins} does not run at {float(end)}: {at}, {given}")
            if beyond.runs(UNEVEN) and beyond.caught < 0:
                wrong.append(f"seed {seed}: {teeth} with {pins} runs beyond {float(end)}: {beyond}, {given}")
    return wrong


def test_a_few_pairs_run_at_the_ends_of_their_span_and_not_beyond() -> None:
    assert ends_that_are_wrong(seed=2, pairs=4) == []


@pytest.mark.deep
@pytest.mark.parametrize("seed", range(200, 206))
def test_pairs_run_at_the_ends_of_their_span_and_not_beyond(seed: int) -> None:
    assert ends_that_are_wrong(seed, pairs=12) == []


def test_a_table_says_the_same_as_each_pair() -> None:
    given = sizes(*BUILT)
    table = FORMS["saw"].table(given, FORMS["saw"].roles("pins").at_ring, (18, 30, 45), (4, 9, 17), UNEVEN)
    for (teeth, pins), found in table.runs.items():
        assert found == run_of(given, teeth, pins)
        assert table.spans.get((teeth, pins)) == span_of(given, teeth, pins)
    assert len(table.runs) == 9
    assert FORMS["saw"].table(given, FORMS["saw"].roles("pins").at_ring, (18, 30, 45), (4, 9, 17), UNEVEN) is table


def test_what_cannot_be_bent_stands_in_no_table() -> None:
    given = sizes("jig_pin = 6")
    table = FORMS["saw"].table(given, FORMS["saw"].roles("pins").behind_third, (4, 5, 30), (8,), UNEVEN)
    assert set(table.spans) <= set(table.runs) < {(4, 8), (5, 8), (30, 8)}
    with pytest.raises(DesignError):
        run_of(sizes("jig_pin = 9"), 40, 8)


def test_a_pair_ends_where_tips_meet_the_hub() -> None:
    given = sizes("hub_diameter = 9", "tooth_pitch = 12\naddendum = 4\nrim = 6")
    # The pin circle of 5 has a radius of 9.549 mm, tips reach 4 mm in, the hub 4.5 mm out.
    found = run_of(given, 40, 5)
    assert found.tips_mm == pytest.approx(9.549 - 4 - 4.5, abs=1e-3) and not found.jams
    assert run_of(given, 40, 5, -1.06).jams
    span = span_of(given, 40, 5)
    assert span is not None and span.low_mm == -1
    assert span_of(replace(given, hub_mm=12), 40, 5) is None


# -- known figures ----------------------------------------------------------------------------------------------------

DEMO = ("", "tooth_pitch = 17\naddendum = 2.5\nrim = 3")
TALL = ("", "tooth_pitch = 17\naddendum = 6.8\nrim = 10")
BUILT = (
    "loop = 3.175\ntooth = 2.38125\npin = 3.175\nhub_diameter = 8",
    "tooth_pitch = 25.4\naddendum = 10.668\nrim = 12.7",
)


@pytest.mark.parametrize(("teeth", "pins"), [(30, 18), (30, 22), (34, 18), (50, 5), (66, 5), (42, 12)])
def test_low_teeth_hunt_and_high_teeth_hardly_do(teeth: int, pins: int) -> None:
    # Measured by another program on the same proportions: an addendum of 15 % of the pitch hunts 12 to 31 % of a tooth,
    # play 2.7 to 7.7 mm; one of 40 % hunts 3 to 5 %, play 44 to 50 % of a pitch, and does not jam at half the addendum
    # closer. Rim and wires of the latter are not known.
    low, high = run_of(sizes(*DEMO), teeth, pins), run_of(sizes(*TALL), teeth, pins)
    assert 0.11 <= low.uneven / 17 <= 0.335 and not low.jams
    assert 2.4 <= low.backlash <= 2.8
    assert 0.018 <= high.uneven / 17 <= 0.05
    assert 0.39 <= high.backlash / 17 <= high.most / 17 <= 0.51
    assert run_of(sizes(*TALL), teeth, pins, -3.4).backlash > 0


def test_where_low_teeth_jam_and_lose_contact() -> None:
    # Measured by another program: 30 with 18 jams from 0.55 mm closer (0.58 here, by its own steps of 0.05 mm 0.6), and
    # 50 with 5 has lost contact 1 mm farther.
    given = sizes(*DEMO)
    assert [run_of(given, 30, 18, apart).jams for apart in (-0.55, -0.6, -1.25)] == [False, True, True]
    assert [run_of(given, 50, 5, apart).slips for apart in (0, 1)] == [False, True]
    assert run_of(given, 50, 5, 1).least_pins == 0
    # At 1.25 mm closer 123 of 160 places of a tooth jam: pins in their own gaps, not in those beside them.
    pair = pair_of(given, 30, 18)
    grid = np.arange(-300, 301) / 1000
    jams = sum(not pair.free(np.full(len(grid), turn), grid, -1.25).any() for turn in np.arange(160) / 160)
    assert jams == 123


def test_built_proportions_run_with_every_number_of_pins() -> None:
    # Common practice, no source: pitch 1 in, addendum 0.42 in, rim 0.5 in, tooth wire 3/32 in on a loop of 1/8 in,
    # rings of 18 to 72 teeth, pin gears of 4 to 17; four pins still turn relatively smoothly.
    teeth, pins = tuple(range(18, 73, 6)), tuple(range(4, 18))
    table = FORMS["saw"].table(sizes(*BUILT), FORMS["saw"].roles("pins").at_ring, teeth, pins, UNEVEN)
    assert len(table.spans) == len(teeth) * len(pins)
    assert max(found.uneven for found in table.runs.values()) < 0.052 * 25.4
    assert all(span.low_mm <= -1 and span.high_mm >= 2 for span in table.spans.values())


# -- curved teeth -----------------------------------------------------------------------------------------------------


def test_the_curve_of_lantern_teeth() -> None:
    # Worked out by hand: module 2, 24 teeth, 8 pins of 0.4 pitches.
    pin = 0.4 * 2 * math.pi
    found = lantern_contact(2, 24, 8, pin)
    assert math.degrees(found.start) == pytest.approx(9.009, abs=5e-4)
    assert math.degrees(found.end) == pytest.approx(57.969, abs=5e-4)
    assert found.ratio == pytest.approx(1.088, abs=5e-4)
    assert found.tip_mm == pytest.approx(27.7364, abs=5e-5)
    far, at = pin_path(24, 8, 0, math.radians(30))
    assert (far, math.degrees(at)) == (pytest.approx(25.3889, abs=5e-5), pytest.approx(0.9353, abs=5e-5))
    x, y = parallel(24, 8, 0, math.radians(30), pin / 2)
    assert math.hypot(x, y) == pytest.approx(24.9029, abs=5e-5)
    assert math.degrees(math.atan2(y, x)) == pytest.approx(3.5762, abs=5e-5)


@pytest.mark.parametrize(
    ("pins", "row"),
    [
        (3, (None,) * 5), (4, (0.02, 0.05, 0.09, 0.12, 0.16)), (5, (0.17, 0.21, 0.25, 0.29, 0.33)),
        (6, (0.28, 0.33, 0.37, 0.42, 0.46)), (8, (0.44, 0.49, 0.54, 0.59, 0.63)), (10, (0.54, 0.59, 0.64, 0.69, 0.74)),
    ],
)  # fmt: skip
def test_the_thickest_pins_that_never_lose_contact(pins: int, row: tuple[float | None, ...]) -> None:
    # Worked out by other code: largest pin over pitch with a contact ratio of 1, pointed teeth without play.
    for teeth, share in zip((18, 24, 36, 72, 10**5), row):

        def ratio(thick: float, teeth: int = teeth) -> float:
            return lantern_contact(1, teeth, pins, thick * math.pi).ratio

        if share is None:
            assert ratio(1e-6) < 1
        else:
            assert ratio(share - 0.007) >= 1 > ratio(share + 0.007)


@pytest.mark.parametrize(("teeth", "least"), [(18, 10), (24, 9), (36, 8), (72, 7), (10**5, 7)])
def test_the_fewest_pins_half_a_pitch_thick(teeth: int, least: int) -> None:
    # "A pin about half the pitch" (memory): the fewest that never lose contact follow from the table above.
    ratios = [lantern_contact(1, teeth, pins, 0.5 * math.pi).ratio for pins in (least - 1, least)]
    assert ratios[0] < 1 <= ratios[1]


CURVED = ("pin = 4\nhub_diameter = 7", "tooth_pitch = 25.4\naddendum = 10.668\nrim = 12.7")


@pytest.mark.parametrize(("teeth", "pins"), [(18, 8), (24, 8), (30, 18), (50, 6), (72, 24), (66, 10)])
def test_curved_teeth_drive_their_own_pins_evenly(teeth: int, pins: int) -> None:
    given = sizes(*CURVED)
    found = run_of(given, teeth, pins, form="curved")
    assert found.uneven / 25.4 < 0.001 and found.within(UNEVEN * 25.4)
    assert found.backlash == pytest.approx(PLAY * 25.4)
    turned = pair_of(given, teeth, pins, "curved").run()
    assert turned.uneven < 0.002 and turned.play == pytest.approx(PLAY, abs=0.002)  # chords of what is drawn
    assert agree(found, turned, 25.4) == ""


@pytest.mark.parametrize("seed", [3, pytest.param(4, marks=pytest.mark.deep), pytest.param(5, marks=pytest.mark.deep)])
def test_random_curved_teeth_run_as_shapely_turns_them(seed: int) -> None:
    draw, done = random.Random(seed), 0
    while done < (6 if seed == 3 else 60):
        given = drawn_sizes(draw)
        teeth, pins, other = draw.randint(18, 72), draw.randint(3, 24), draw.randint(3, 24)
        ring = spec("ring", teeth, "curved teeth", *sorted((pins, other)))
        try:
            shape = FORMS["curved"].shape(given, ring)
        except DesignError:
            continue
        done += 1
        pair, apart = Pair(given, shape.outline[0], teeth, pins), draw.uniform(-0.1, 0.2) * given.pitch_mm
        found = FORMS["curved"].run(given, ring, spec("gear", pins, "pins", teeth), apart)
        assert agree(found, pair.run(apart), given.pitch_mm) == "", (seed, teeth, pins, other, apart, given, found)


def test_curved_teeth_are_made_for_the_fewest_pins() -> None:
    given = sizes(*CURVED)
    ring = spec("ring", 42, "curved teeth", 8, 13)
    assert figure(FORMS["curved"].shape(given, ring), "pins that the teeth are made for") == 8
    runs = [FORMS["curved"].run(given, ring, spec("gear", pins, "pins", 42)) for pins in (8, 13)]
    assert runs[0].uneven < 1e-3 * 25.4 < runs[1].uneven < UNEVEN * 25.4


@pytest.mark.parametrize(
    ("wire", "rings", "told"),
    [
        ("pin = 11", "tooth_pitch = 12\naddendum = 4\nrim = 6", "wire.pin = 11: leaves R40 no teeth between its pins"),
        ("pin = 4", "tooth_pitch = 12\naddendum = 4\nrim = 3", "rings.rim = 3: leaves R40 no room for pins below"),
        ("jig_pin = 9", "tooth_pitch = 12\naddendum = 4\nrim = 6", "wire.jig_pin = 9: leaves R40 no room for the bend"),
        ("pin = 3", "tooth_pitch = 12\naddendum = 1\nrim = 6", "rings.addendum = 1: leaves R40 no flanks above"),
    ],
)  # fmt: skip
def test_curved_teeth_that_cannot_be_bent_are_refused(wire: str, rings: str, told: str) -> None:
    with pytest.raises(DesignError) as no:
        FORMS["curved"].shape(sizes(wire, rings), spec("ring", 40, "curved teeth", 10))
    assert str(no.value).startswith(told)
    outline = FORMS["curved"].outline(sizes(wire, rings), spec("ring", 40, "curved teeth", 10))
    assert outline.unmade == str(no.value)


def test_the_curved_wire_goes_around_its_pins() -> None:
    for given in (sizes(*CURVED), sizes("pin = 3", "tooth_pitch = 25.4\naddendum = 6\nrim = 12.7")):
        shape = FORMS["curved"].shape(given, spec("ring", 40, "curved teeth", 10))
        wire = LineString(shape.outline[0])
        piece = next(piece for piece in shape.pieces if piece.what == "tooth wire")
        assert piece.length_mm == pytest.approx(wire.length, rel=1e-9)
        for hole in shape.holes[:-1]:
            turn = math.radians(hole.angle_deg)
            at = Point(hole.radius_mm * math.cos(turn), hole.radius_mm * math.sin(turn))
            assert wire.distance(at) == pytest.approx((hole.diameter_mm + given.tooth_mm) / 2, abs=0.02)
        assert wire.buffer(given.tooth_mm / 2).bounds[2] == pytest.approx(shape.tip_radius_mm, abs=2e-3)


# -- the room that gears take -----------------------------------------------------------------------------------------


def test_lengths_are_rounded_outwards() -> None:
    assert outward(4.0) == 4 and outward(0.1 + 0.2) == Fraction(3, 10) and outward(4.0001) == Fraction(4001, 1000)


@pytest.mark.parametrize("kind", ["ring", "gear"])
@pytest.mark.parametrize(
    ("form", "toothing"),
    [("saw", "saw teeth"), ("saw", "pins"), ("saw", "short teeth"), ("curved", "curved teeth"), ("curved", "pins")],
)
def test_a_gear_of_wire_stays_within_its_outline(form: str, kind: str, toothing: str) -> None:
    """What is drawn, with the thickness of its wires, by shapely."""
    pins = toothing == "pins"
    given = sizes("pin = 3", "tooth_pitch = 20\naddendum = 6\nrim = 9")
    gear = spec(kind, 20, toothing, 10)
    outline, shape = FORMS[form].outline(given, gear), FORMS[form].shape(given, gear)
    radius = given.radius_mm(20)
    if pins:
        parts = [Point(0, 0).buffer(radius - given.pin_mm / 2, 256)]
        parts += [Polygon(line) for line in shape.outline[1:] if len(line) == 25]
    else:
        parts = [
            LineString(shape.outline[0]).buffer(given.tooth_mm / 2),
            LineString(shape.outline[1]).buffer(1.628 / 2),
        ]
    metal = unary_union(parts)
    farthest = max(math.hypot(*point) for part in getattr(metal, "geoms", [metal]) for point in part.exterior.coords)
    assert farthest - radius <= float(outline.beyond_mm) <= farthest - radius + 0.02
    if kind == "ring" and not pins:
        assert outline.inside_mm is not None
        nearest = metal.distance(Point(0, 0))
        assert radius - nearest - 0.02 <= float(outline.inside_mm) <= radius - nearest + 0.02
    assert (outline.inside_mm is None) is (kind == "gear")
    assert float(outline.thick_mm) == pytest.approx(shape.thick_mm, abs=1e-3) and outline.thick_mm >= shape.thick_mm
    assert outline.unmade == ""


def test_an_outline_says_what_cannot_be_made() -> None:
    form = FORMS["saw"]
    assert (
        "leaves G5 no room for spokes" in form.outline(sizes("hub_diameter = 20"), spec("gear", 5, "pins", 40)).unmade
    )
    assert "wire.jig_pin" in form.outline(sizes("jig_pin = 9"), spec("ring", 40, "saw teeth", 9)).unmade
