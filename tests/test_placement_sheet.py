"""The placement drawing and its table: every spot is the train's, measured from the frame's corner, at its scale."""

from __future__ import annotations

import csv
import io
import math
import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction

import ezdxf
import pytest
import shapely
from test_picture import design_of, plain, spot

from solver import Design, Link, Train
from solver.design.train import DrivePlace, LinkPlace, Placement
from solver.sheets.book.chapters import Scales, both_views, drilling_csv
from solver.sheets.draw.drawing import Circle, Drawing, Line, Polyline, Text
from solver.sheets.draw.out_dxf import dxf
from solver.sheets.draw.out_svg import svg_document
from solver.sheets.gears.adjust import most_travel_mm
from solver.sheets.views.bars import bar_drawings, patterns
from solver.sheets.views.placement import front, scale_for
from solver.sheets.views.placement_side import side
from solver.sheets.views.placement_whole import drilling_template, model_outline, whole_frame, whole_frame_scale
from solver.sheets.views.spots import close_pairs, drilled, drilling_table, level_depths, origin_of
from solver.words.lengths import Lengths

MM = Lengths("mm")
SVG = "{http://www.w3.org/2000/svg}"
FIT = """
[fit]
plate = "inner"
frame = {shape = "rectangle", width = 400, height = 300, depth = 120}
rollers = {count = 3, radius = 4, reach = 120}
[drive]
motor_rpm = [2]
pinion_teeth = 8
"""


def third_train() -> tuple[Design, Train]:
    """Two rings whose link has a third gear on the wheel's side, and a motor."""
    design = design_of(2, FIT.replace("rollers", "#").replace("[drive]", "\n[drive]"))
    radius = design.rings.pitch.radius_mm
    arbor, third = spot(radius(40), 90), spot(radius(33), 60)
    place = LinkPlace(Fraction(90), 40, arbor, (third,))
    drive = DrivePlace(1, Fraction(2), 8, (), LinkPlace(Fraction(225), 38, spot(radius(38), 225)))
    return design, Train((24, 30), (0, 1), (Link("third-wheel", 12, 10, (9,)),), Placement((place,), (), drive))


def test_the_table_has_every_spot_from_the_lower_left_corner() -> None:
    design = design_of(4, FIT)
    train = plain(design, 4)
    heads, rows = drilling_table(design, train, MM)
    assert heads[:4] == ["name", "what", "x [mm]", "y [mm]"]
    assert len(rows) == 3 + 1 + 4 * 3  # arbors, motor, rollers
    assert train.placement is not None and train.placement.drive is not None
    spots = {f"L{index}": link.arbor for index, link in enumerate(train.placement.links)}
    spots["M"] = train.placement.drive.at.arbor
    for ring, rollers in enumerate(train.placement.rollers):
        spots |= {f"r{ring}.{number}": roller.spot for number, roller in enumerate(rollers, start=1)}
    assert {row[0] for row in rows} == set(spots)
    for row in rows:
        x, y = spots[row[0]]  # micrometres from the main axis; the frame is 400 by 300 about it
        assert float(row[2]) == pytest.approx(x / 1000 + 200, abs=0.005)
        assert float(row[3]) == pytest.approx(y / 1000 + 150, abs=0.005)
        assert float(row[4]) == pytest.approx(2 * float(design.fit.post_radius), abs=0.05)


def test_lengths_in_both_units_agree() -> None:
    design = replace(design_of(3, FIT), units="in")
    heads, rows = drilling_table(design, plain(design, 3), Lengths("in", both=True))
    pairs = [(index, heads.index(head.replace("[in]", "[mm]"))) for index, head in enumerate(heads) if "[in]" in head]
    assert len(pairs) == 6
    for row in rows:
        for inches, mm in pairs:
            digits = len(row[inches].split(".")[1])
            assert float(row[inches]) * 25.4 == pytest.approx(float(row[mm]), abs=25.4 * 0.6 * 10**-digits + 0.06)


@pytest.mark.parametrize(
    ("frame", "corner"),
    [
        ('frame = {shape = "round", diameter = 600}', (0.0, 0.0)),
        ("", (0.0, 0.0)),
        ('frame = {shape = "square", side = 500}', (-250.0, -250.0)),
    ],
)
def test_where_coordinates_are_measured_from(frame: str, corner: tuple[float, float]) -> None:
    design = design_of(3, f"[fit]\n{frame}")
    assert origin_of(design).at == corner
    _, rows = drilling_table(design, plain(design, 3), MM)
    train = plain(design, 3)
    assert train.placement is not None
    x, y = train.placement.links[1].arbor
    assert (float(rows[1][2]), float(rows[1][3])) == pytest.approx(
        (x / 1000 - corner[0], y / 1000 - corner[1]), abs=0.005
    )


def test_levels_begin_at_the_plate() -> None:
    design = design_of(4, FIT)
    depths, deep, told = level_depths(design, 4)
    spacing = float(design.rings.level_spacing)
    assert deep == 120 and depths[0] == pytest.approx(spacing / 2)
    assert [after - before for before, after in zip(depths, depths[1:])] == pytest.approx([spacing] * 3)
    assert "smallest" in told
    turned, _, told = level_depths(replace(design, fit=replace(design.fit, plate="outer")), 4)
    assert turned == pytest.approx(depths[::-1]) and "largest" in told
    depths, deep, _ = level_depths(design_of(4), 4)
    assert depths[0] == pytest.approx(deep / 8)


def test_the_longest_slot_gives_half_a_tooth_of_play_each_way() -> None:
    design = design_of(3, FIT)
    travel, addendum = most_travel_mm(design), float(design.rings.addendum)
    # Straight flanks: half a pitch over twice the addendum, two flanks to each tooth; half a tooth is a quarter pitch.
    slope = float(design.rings.pitch.value) / 2 / (2 * addendum)
    assert 2 * travel * slope == pytest.approx(float(design.rings.pitch.value) / 4)
    holes = drilled(design, plain(design, 3))
    assert all(max(hole.inward, hole.outward) <= travel + 1e-9 for hole in holes)
    rollers = [hole for hole in holes if hole.what == "roller"]
    assert rollers and all(hole.slot_length == pytest.approx(hole.diameter + 2 * travel) for hole in rollers)


def test_without_an_addendum_the_slot_is_for_the_teeth_that_are_made() -> None:
    design = design_of(3)
    bare = replace(design, rings=replace(design.rings, addendum=Fraction(0)))
    # As gears are then drawn.
    assert most_travel_mm(bare) == pytest.approx(float(design.rings.pitch.value) / 3 / 2)


def test_a_hole_without_a_slot_is_round_in_the_table_and_has_none_in_drawings() -> None:
    """Teeth so low that pins slip past: nothing is to be adjusted."""
    design = design_of(3, "addendum = 0.3\nrim = 6")
    train = plain(design, 3)
    heads, rows = drilling_table(design, train, MM)
    assert heads[-3:] == ["in [mm]", "out [mm]", "out at [°]"]
    assert [row[-3:] for row in rows] == [["0.00", "0.00", "round"]] * 2
    layers = {shape.layer for shape in model_outline(design, train).shapes}
    assert "drill-arbor" in layers and "slots" not in layers


def test_arbors_move_from_the_main_axis_and_a_third_gear_from_both_its_neighbours() -> None:
    design, train = third_train()
    by_name = {hole.name: hole for hole in drilled(design, train)}
    assert set(by_name) == {"L0", "L0w", "M"}
    assert by_name["L0"].slot_deg == pytest.approx(90, abs=0.01)
    third, arbor = by_name["L0w"], by_name["L0"]
    assert third.levels == (0, 0) and arbor.levels == (0, 1)
    step = 1e-3
    moved = tuple(third.at[axis] + step * (math.cos, math.sin)[axis](math.radians(third.slot_deg)) for axis in (0, 1))
    from_axis = math.dist(moved, (0, 0)) - math.dist(third.at, (0, 0))
    from_arbor = math.dist(moved, arbor.at) - math.dist(third.at, arbor.at)
    assert from_axis > 0 and from_axis == pytest.approx(from_arbor, abs=1e-7)


def test_slots_that_come_too_close_are_named_and_measured() -> None:
    design = design_of(4, FIT)
    wide = replace(design, rings=replace(design.rings, addendum=Fraction(30)))
    train = plain(design, 4)
    assert close_pairs(replace(wide, fit=replace(wide.fit, plate="none")), train) == []
    found = {(one.name, other.name): left for one, other, left in close_pairs(wide, train)}
    holes = drilled(wide, train)
    checked = 0
    for number, one in enumerate(holes):
        for other in holes[:number]:
            shapes = []
            for hole in (one, other):
                turn = math.radians(hole.slot_deg)
                ends = [
                    tuple(hole.at[axis] + far * (math.cos, math.sin)[axis](turn) for axis in (0, 1))
                    for far in (-hole.inward, hole.outward)
                ]
                shapes.append(shapely.LineString(ends))
            left = shapes[0].distance(shapes[1]) - (one.diameter + other.diameter) / 2
            near = left < max(one.diameter, other.diameter)
            assert ((other.name, one.name) in found) is near
            if near:
                assert found[other.name, one.name] == pytest.approx(left, abs=1e-9)
                checked += 1
    assert checked


def circles(drawing: Drawing, layer: str) -> list[Circle]:
    return [shape for shape in drawing.shapes if isinstance(shape, Circle) and shape.layer == layer]


def test_the_front_view_is_to_scale_and_names_everything() -> None:
    design = design_of(4, FIT)
    train = plain(design, 4)
    scale = scale_for(design, train, (190, 250))
    assert 400 / scale <= 190 and scale in (2.5, 3.0)
    view = front(design, train, scale, MM)
    holes = drilled(design, train)
    named = {shape.text for shape in view.shapes if isinstance(shape, Text)}
    assert {hole.name for hole in holes} <= named
    for hole in holes:
        at = [circle.at for circle in circles(view, f"drill-{hole.what}")]
        assert min(math.dist(one, (hole.at[0] / scale, hole.at[1] / scale)) for one in at) < 1e-9
    arbor = holes[1]
    assert f"{arbor.at[0] + 200:.1f}, {arbor.at[1] + 150:.1f}" in named
    frame = next(shape for shape in view.shapes if isinstance(shape, Polyline) and shape.layer == "frame")
    assert max(x for x, _ in frame.points) - min(x for x, _ in frame.points) == pytest.approx(400 / scale)
    left, bottom, right, top = view.box
    assert right - left <= 190 and top - bottom <= 250


def test_the_side_view_has_heights_of_the_front_view_and_levels_at_their_depth() -> None:
    design = design_of(4, FIT)
    train = plain(design, 4)
    view = side(design, train, 2.5, MM)
    depths, _, _ = level_depths(design, 4)
    levels = sorted({shape.start[0] for shape in view.shapes if isinstance(shape, Line) and shape.layer == "level"})
    assert levels == pytest.approx([depth / 2.5 for depth in depths])
    posts = {
        round(shape.start[1], 6)
        for shape in view.shapes
        if isinstance(shape, Line) and shape.layer == "post" and shape.start[0] == 0
    }
    assert posts == {round(hole.at[1] / 2.5, 6) for hole in drilled(design, train)}


@pytest.mark.deep
def test_labels_of_the_side_view_do_not_lie_on_each_other() -> None:
    design = design_of(9, FIT.replace("height = 300", "height = 900").replace("width = 400", "width = 900"))
    view = side(design, plain(design, 9), 5.0, MM)
    ends = sorted(
        shape.at[1] for shape in view.shapes if isinstance(shape, Text) and shape.anchor == "end" and shape.at[0] < 0
    )
    assert len(ends) > 8
    assert all(after - before > 2.6 for before, after in zip(ends, ends[1:]))


def test_the_drilling_template_and_its_dxf_are_true_to_size() -> None:
    design = design_of(4, FIT)
    train = plain(design, 4)
    document = ezdxf.read(io.StringIO(dxf(drilling_template(design, train, MM))))
    assert document.header["$INSUNITS"] == 4
    holes = drilled(design, train)
    found = [one for one in document.modelspace().query("CIRCLE") if one.dxf.layer.startswith("drill-")]
    assert len(found) == len(holes)
    for hole in holes:
        near = min(found, key=lambda one: math.dist((one.dxf.center.x, one.dxf.center.y), hole.at))
        assert math.dist((near.dxf.center.x, near.dxf.center.y), hole.at) < 1e-9
        assert near.dxf.radius == pytest.approx(hole.diameter / 2) and near.dxf.layer == f"drill-{hole.what}"
    arcs = document.modelspace().query("ARC[layer=='slots']")
    assert len(arcs) == 2 * len(holes)
    assert {one.dxf.layer for one in document.modelspace()} >= {"frame", "slots", "centre", "text"}
    whole = ezdxf.read(io.StringIO(dxf(model_outline(design, train))))
    rings = sorted(one.dxf.radius for one in whole.modelspace().query("CIRCLE[layer=='pitch']"))
    assert max(rings) == pytest.approx(design.rings.pitch.radius_mm(train.rings[-1]))


# The frame, its size, whether it is far larger than a model of 230 mm, and from where coordinates are measured.
FRAMES = {
    "small": ('shape = "square", side = 400', (400.0, 400.0), False, "the frame's lower left corner"),
    "square": ('shape = "square", side = 900', (900.0, 900.0), True, "the frame's lower left corner"),
    "wide": ('shape = "rectangle", width = 5000, height = 350', (5000.0, 350.0), True, "the frame's lower left corner"),
    "tall": ('shape = "rectangle", width = 350, height = 5000', (350.0, 5000.0), True, "the frame's lower left corner"),
    "round": ('shape = "round", diameter = 900', (900.0, 900.0), True, "the middle of the round frame"),
    "none": ("", None, False, "the main axis"),
}


def framed(name: str) -> tuple[Design, Train, dict[str, tuple[float, float]]]:
    """A model in that frame, and the coordinates of its arbors as `drilling.csv` lists them [mm]."""
    text = FRAMES[name][0]
    design = design_of(
        4,
        FIT.replace(
            'shape = "rectangle", width = 400, height = 300, depth = 120', text or 'shape = "square", side = 1'
        ),
    )
    if not text:
        design = replace(design, fit=replace(design.fit, frame=None))
    train = plain(design, 4)
    rows = list(csv.DictReader(io.StringIO(drilling_csv(design, train, MM))))
    assert {row["x and y from"].split(",")[0] for row in rows} == {FRAMES[name][3]}
    return design, train, {row["name"]: (float(row["x [mm]"]), float(row["y [mm]"])) for row in rows}


def words(drawing: Drawing) -> str:
    return " ".join(shape.text for shape in drawing.shapes if isinstance(shape, Text)).replace("\u00a0", " ")


def corner_and_size(drawing: Drawing) -> tuple[float, float, float, float]:
    """The frame's lower left corner, of a round one its middle, and its size."""
    for shape in drawing.shapes:
        if shape.layer == "frame" and isinstance(shape, Circle):
            return *shape.at, 2 * shape.radius, 2 * shape.radius
        if shape.layer == "frame" and isinstance(shape, Polyline):
            left, bottom, right, top = shape.box
            return left, bottom, right - left, top - bottom
    raise AssertionError(f"{drawing.name} has no frame")


def arrows(drawing: Drawing) -> list[tuple[float, float]]:
    """Where arrows begin, along which coordinates are measured."""
    heads = {shape.points[0] for shape in drawing.shapes if isinstance(shape, Polyline) and shape.layer == "dimension"}
    lines = [shape for shape in drawing.shapes if isinstance(shape, Line) and shape.layer == "dimension"]
    return [line.start for line in lines if line.end in heads]


@pytest.mark.parametrize("name", FRAMES)
def test_the_frame_is_on_paper_and_coordinates_are_measured_from_where_it_is_drawn(name: str) -> None:
    design, train, listed = framed(name)
    _, size, far, told = FRAMES[name]
    room = (190.0, 230.0)
    scale, whole = scale_for(design, train, room), whole_frame_scale(design, train, room)
    assert (whole is not None) is far
    views = [(front(design, train, scale, MM), scale)]
    if whole is not None:
        views.append((whole_frame(design, train, whole, MM), whole))
    seen = 0
    for view, ratio in views:
        assert told in words(view)
        left, bottom, right, top = view.box
        assert right - left <= room[0] + 1e-6 and top - bottom <= room[1] + 1e-6
        at = arrows(view)
        assert len(at) in (0, 2) and len(set(at)) < 2
        if not at:
            assert f"the main axis is at x {size[0] / 2:g} mm, y {size[1] / 2:g} mm" in words(view)  # type: ignore[index]
            continue
        drawn = [circle.at for circle in circles(view, "wheel")]
        for arbor, middle in zip((f"L{index}" for index in range(3)), drawn, strict=True):
            measured = [(middle[axis] - at[0][axis]) * ratio for axis in (0, 1)]
            assert measured == pytest.approx(listed[arbor], abs=0.006)
        if size is not None and (ratio == whole or not far):
            assert corner_and_size(view) == pytest.approx((*at[0], size[0] / ratio, size[1] / ratio))
            seen += 1
    assert seen == (size is not None) and any(map(arrows, (view for view, _ in views)))


@pytest.mark.parametrize("name", FRAMES)
def test_the_dxf_has_the_frame_and_the_coordinates_of_the_table(name: str) -> None:
    design, train, listed = framed(name)
    _, size, _, told = FRAMES[name]
    space = ezdxf.read(io.StringIO(dxf(model_outline(design, train)))).modelspace()
    drilled_at = [(one.dxf.center.x, one.dxf.center.y) for one in space.query("CIRCLE[layer=='drill-arbor']")]
    assert drilled_at == [pytest.approx(listed[f"L{index}"], abs=0.006) for index in range(3)]
    assert told in " ".join(one.dxf.text for one in space.query("TEXT"))
    frames = list(space.query("*[layer=='frame']"))
    assert len(frames) == (size is not None)
    for frame in frames:
        if frame.dxftype() == "CIRCLE":
            assert (frame.dxf.center.x, frame.dxf.center.y, 2 * frame.dxf.radius) == pytest.approx((0, 0, size[0]))  # type: ignore[index]
        else:
            assert {(x, y) for x, y, *_ in frame.get_points()} == {(x, y) for x in (0, size[0]) for y in (0, size[1])}  # type: ignore[index]


@pytest.mark.parametrize("name", FRAMES)
def test_the_drilling_template_says_where_the_main_axis_is(name: str) -> None:
    design, train, _ = framed(name)
    _, size, far, told = FRAMES[name]
    template = drilling_template(design, train, MM)
    assert told in words(template)
    if size is not None and "corner" in told:
        assert f"x = {size[0] / 2:g} mm y = {size[1] / 2:g} mm" in words(template)
    assert any(shape.layer == "frame" for shape in template.shapes) is (size is not None and not far)


@pytest.mark.parametrize("name", FRAMES)
def test_views_beside_each_other_do_not_overlap_and_tell_their_scales(name: str) -> None:
    design, train, _ = framed(name)
    scales = Scales(scale_for(design, train, (190, 230)), whole_frame_scale(design, train, (190, 230)))
    drawing = both_views(design, train, scales, MM)
    assert f"front view, 1 : {scales.views:g}" in words(drawing)
    assert (
        (f"in its frame, 1 : {scales.whole:g}" in words(drawing))
        if scales.whole
        else ("its frame" not in words(drawing))
    )
    views = [front(design, train, scales.views, MM), side(design, train, scales.views, MM)]
    views += [whole_frame(design, train, scales.whole, MM)] if scales.whole else []
    assert drawing.size[0] == pytest.approx(sum(view.size[0] for view in views) + 10 * (len(views) - 1))


def test_the_svg_of_the_front_view_is_as_wide_as_drawn() -> None:
    design = design_of(3, FIT)
    view = front(design, plain(design, 3), 2.5, MM)
    root = ET.fromstring(svg_document(view, 5.0))
    assert float(root.attrib["width"][:-2]) == pytest.approx(view.size[0] + 10, abs=1e-3)


def test_a_train_without_places_is_refused() -> None:
    design = design_of(2)
    with pytest.raises(ValueError, match="without places"):
        front(design, Train((24, 30), (0, 1), (Link("plain", 11, 5),)), 2.0, MM)


# -- bars ------------------------------------------------------------------------------------------------------------


def test_bars_cut_alike_are_drawn_once() -> None:
    bars = [(914.0, [(100.0, "loop"), (300.0, "teeth")]), (1829.0, [(300.0, "teeth")])]
    bars += [(914.0, [(300.0, "teeth"), (100.0, "loop")])]
    assert patterns(bars) == [(1, 1829.0, ((300.0, "teeth"),)), (2, 914.0, ((300.0, "teeth"), (100.0, "loop")))]
    drawings = bar_drawings(bars, MM, 0.0, 180.0)
    assert len(drawings) == 2
    long, short = (
        next(shape for shape in drawing.shapes if isinstance(shape, Polyline) and shape.layer == "bar")
        for drawing in drawings
    )
    assert long.points[1][0] == pytest.approx(180.0) and short.points[1][0] == pytest.approx(180.0 * 914 / 1829)
    cuts = [shape.start[0] for shape in drawings[1].shapes if isinstance(shape, Line) and shape.layer == "bar"]
    assert cuts == pytest.approx([300 * 180 / 1829, 400 * 180 / 1829])
    told = " ".join(shape.text for shape in drawings[1].shapes if isinstance(shape, Text)).replace("\u00a0", " ")
    assert "2 bars of 914 mm" in told and "1 × 300 mm teeth" in told and "rest 514 mm" in told
    assert bar_drawings([], MM) == []


def test_what_the_saw_takes_is_not_left() -> None:
    (drawing,) = bar_drawings([(500.0, [(100.0, "a"), (100.0, "a"), (200.0, "b")])], MM, 2.0)
    told = " ".join(shape.text for shape in drawing.shapes if isinstance(shape, Text)).replace("\u00a0", " ")
    assert "rest 94 mm" in told
    (drawing,) = bar_drawings([(302.0, [(100.0, "a"), (200.0, "b")])], MM, 2.0)
    told = " ".join(shape.text for shape in drawing.shapes if isinstance(shape, Text)).replace("\u00a0", " ")
    assert "rest 0 mm" in told
