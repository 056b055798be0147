"""How gears cut from plate run: their outlines turned by shapely, and the theory of involutes."""

from __future__ import annotations

import math

import pytest
from gears_drawn import sizes, spec
from turned_by_shapely import turned_plates

from solver.forms import FORMS
from solver.forms.form import Spec
from solver.forms.involute import half_tooth, run_involutes, true_ratio
from solver.forms.meshing import PlateTeeth, run_plates, span_plates
from solver.forms.runs import WorkedOut

CLOCK, RACK = FORMS["cycloidal"], FORMS["involute"]
GIVEN = sizes('form = "cycloidal"', "module = 2\nrim = 9")


def two(teeth: int, mate: int) -> tuple[Spec, Spec]:
    return spec("ring", teeth, "", mate), spec("gear", mate, "", teeth)


@pytest.mark.parametrize(
    ("teeth", "leaves", "apart"),
    [(60, 10, 0.0), (30, 6, 0.0), (72, 7, 0.5), (96, 16, -0.3), (24, 12, 1.0), (60, 20, 0.0), (36, 8, 1.0)],
)
def test_clock_teeth_run_as_shapely_turns_them(teeth: int, leaves: int, apart: float) -> None:
    one, other = two(teeth, leaves)
    found, pitch = CLOCK.run(GIVEN, one, other, apart), GIVEN.pitch_mm
    outlines = [CLOCK.shape(GIVEN, gear).outline[0] for gear in (other, one)]
    turned = turned_plates(*outlines, (leaves, teeth), pitch, apart)
    # What the gear with gaps is free to turn, the other held.
    assert found.backlash / pitch == pytest.approx(turned.play, abs=0.002)
    assert found.uneven / pitch == pytest.approx(turned.uneven, abs=0.002)
    assert found.most / pitch == pytest.approx(turned.most, abs=0.002)
    assert found.within(0.15 * pitch) and found.uneven / pitch < 0.03


def test_clock_gears_jam_and_leave_each_other_where_shapely_says_so() -> None:
    one, other = two(60, 10)
    span = CLOCK.span(GIVEN, one, other, 0.15)
    assert span is not None
    outlines = [CLOCK.shape(GIVEN, gear).outline[0] for gear in (other, one)]
    for apart, runs in ((float(span.low_mm), True), (float(span.low_mm) - 0.1, False), (float(span.high_mm), True)):
        turned = turned_plates(*outlines, (10, 60), GIVEN.pitch_mm, apart)
        assert turned.runs(0.151) is runs
    beyond = CLOCK.run(GIVEN, one, other, float(span.high_mm) + 0.1)
    assert not beyond.within(0.15 * GIVEN.pitch_mm)


def test_clock_gears_that_are_not_of_the_form_do_not_run() -> None:
    assert CLOCK.run(GIVEN, *two(50, 5)).slips and CLOCK.span(GIVEN, *two(50, 5), 0.15) is None
    # A pair of wheels: the tips of each reach into the roots of the other.
    assert CLOCK.run(GIVEN, *two(18, 18)).jams
    table = CLOCK.table(GIVEN, CLOCK.roles("pins").at_ring, (30, 60), (5, 6), 0.15)
    assert set(table.spans) == {(30, 6), (60, 6)} and len(table.runs) == 4
    assert table.runs[30, 6] == CLOCK.run(GIVEN, *two(30, 6))
    assert (31, 6) not in table.runs


@pytest.mark.parametrize(("one", "other"), [(12, 46), (20, 24), (30, 48), (40, 17)])
@pytest.mark.parametrize("apart", [0.0, 0.1, 0.3, 0.5])
def test_involutes_as_drawn_run_as_the_theory_says(one: int, other: int, apart: float) -> None:
    """The outlines in modules, against the textbook's backlash; chords of what is drawn leave a little more."""
    told = run_involutes(1.0, one, other, apart)
    drawn = [PlateTeeth(teeth, teeth / 2, half_tooth(teeth)) for teeth in (one, other)]
    found = run_plates(*drawn, apart)
    assert found.backlash == pytest.approx(told.backlash, abs=0.0015)
    assert found.tips_mm == pytest.approx(told.tips_mm, abs=0.001)
    if true_ratio(one, other, apart) > 1.02:
        assert not told.slips and found.uneven / math.pi < 0.001
    assert run_plates(*drawn, -0.05).jams and run_involutes(1.0, one, other, -0.05).jams


def test_involutes_run_from_the_nominal_distance_to_a_contact_ratio_of_one() -> None:
    given = sizes('form = "involute"', "module = 5\nrim = 12")
    span = RACK.span(given, *two(48, 30), 0.15)
    assert span is not None and span.low_mm == 0
    assert true_ratio(48, 30, float(span.high_mm) / 5) >= 1 > true_ratio(48, 30, (float(span.high_mm) + 0.05) / 5)
    # Undercut leaves 8 teeth less than one tooth's contact with 30: 0.913 (see `test_forms`).
    assert RACK.run(given, *two(30, 8)).slips and RACK.span(given, *two(30, 8), 0.15) is None
    table = RACK.table(given, RACK.roles("pins").at_ring, (30, 48), (8, 30), 0.15)
    assert table.spans[48, 30] == span and (30, 8) not in table.spans


def test_what_two_gears_share_is_worked_out_once_and_only_when_asked() -> None:
    asked: list[tuple[int, int]] = []

    def work_out(one: int, other: int) -> int | None:
        asked.append((one, other))
        return one * other or None

    found = WorkedOut([(2, 3), (0, 5)], work_out)
    assert asked == []
    assert (found[2, 3], found[2, 3], found.get((0, 5)), found.get((7, 7))) == (6, 6, None, None)
    assert asked == [(2, 3), (0, 5)] and dict(found) == {(2, 3): 6} and len(found) == 1


def test_a_ring_of_clock_teeth_has_a_span_of_its_own_drawing() -> None:
    gears = [PlateTeeth(teeth, teeth * 1.0, [(x * 2, y * 2) for x, y in half_tooth(teeth)]) for teeth in (20, 40)]
    assert span_plates(*gears, 1.0, 2 * math.pi) is None  # without play at the nominal distance


@pytest.mark.parametrize("form", ["cycloidal", "involute"])
@pytest.mark.parametrize(
    ("kind", "teeth", "mate"), [("ring", 24, 8), ("ring", 60, 10), ("gear", 9, 40), ("gear", 14, 60)]
)
def test_a_gear_of_plate_stays_within_its_outline(form: str, kind: str, teeth: int, mate: int) -> None:
    for rings in ("module = 3\naddendum = 3\nrim = 9", "module = 2\naddendum = 3\nrim = 5"):
        for wire in ("", "arbor_diameter = 5.2\nhub_diameter = 13", "hub_diameter = 30", "sheet = 4"):
            given, gear = sizes(f'form = "{form}"\n{wire}', rings), spec(kind, teeth, "", mate)
            outline, shape = FORMS[form].outline(given, gear), FORMS[form].shape(given, gear)
            farthest = max(math.hypot(*point) for point in shape.outline[0]) - given.radius_mm(teeth)
            assert -1e-9 <= float(outline.beyond_mm) - farthest <= 0.0011
            inner = given.radius_mm(teeth) - shape.bore_mm / 2
            assert (float(outline.inside_mm) if outline.inside_mm is not None else 0) == pytest.approx(
                inner if kind == "ring" else 0, abs=1e-9
            )
            assert float(outline.thick_mm) == given.sheet_mm
            bad = [remark.text for remark in shape.remarks if not remark.runs]
            assert all(text in outline.unmade for text in bad if "metal" in text or "hub" in text)
            assert bool(outline.unmade) is any("metal" in text or "the hub" in text for text in bad)
