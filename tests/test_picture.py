"""The picture of a placed train: what it shows is the train, to scale, on a page that can be read and printed."""

from __future__ import annotations

import io
import json
import math
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction

import ezdxf
import pytest
from pypdf import PdfReader
from random_designs import audited

from solver import Design, Link, Train, parse_design
from solver.design.train import DrivePlace, LinkPlace, Placement, RollerPlace, Spot
from solver.sheets.draw.out_dxf import dxf
from solver.sheets.draw.out_pdf import pdf
from solver.sheets.views.model import Model
from solver.sheets.views.picture import picture, picture_page
from solver.sheets.views.picture_notes import notes
from solver.sheets.views.picture_page import fitted

SVG = "{http://www.w3.org/2000/svg}"
PITCH = 12.0
HOSTILE = "<b>\"Io\" & 'Europa'</b> ]]> \x00\x1b\x0b\u202e\uffff <!-- 木星 " + "long " * 30


def spot(radius: float, direction: float) -> Spot:
    turn = math.radians(direction)
    return round(1000 * radius * math.cos(turn)), round(1000 * radius * math.sin(turn))


def design_of(rings: int, extra: str = "", title: str = "t", pitch: float = PITCH, name: str = "Body {}") -> Design:
    bodies = "\n".join(
        f"[[bodies.list]]\nname = {json.dumps(name.format(i), ensure_ascii=False)}\nperiod = {i + 1}"
        for i in range(rings)
    )
    text = f'[bodies]\nsense = "either"\n{bodies}\n[rings]\ninner_teeth = 24\ntooth_step = 6\ntooth_pitch = {pitch}\n'
    return replace(audited(text + extra), title=title)


def plain(design: Design, rings: int) -> Train:
    """A train of plain links, one direction on from the other, and rollers and a motor where the design has them."""
    teeth = tuple(24 + 6 * ring for ring in range(rings))
    radius = design.rings.pitch.radius_mm
    links = tuple(Link("plain", 11 + i % 3, 5 + i % 3) for i in range(rings - 1))
    places = tuple(
        LinkPlace(Fraction(75 * i % 360), z + link.wheel, spot(radius(z + link.wheel), 75 * i % 360))
        for i, (z, link) in enumerate(zip(teeth, links))
    )
    rollers: tuple[tuple[RollerPlace, ...], ...] = ()
    if design.fit.rollers is not None:
        inside = float(design.rings.rim + design.fit.rollers.radius)
        rollers = tuple(
            tuple(RollerPlace(Fraction(at), spot(radius(z) - inside, at)) for at in (20, 140, 260)) for z in teeth
        )
    drive = None
    if design.drive is not None:
        far = teeth[-1] + 8
        drive = DrivePlace(
            rings - 1, Fraction(5, 2), 8, (), LinkPlace(Fraction(225), far, spot(radius(far), 225))
        )  # fmt: skip
    return Train(teeth, tuple(range(rings)), links, Placement(places, rollers, drive))


def with_thirds() -> tuple[Design, Train]:
    """Rings 24, 30, 36: a third gear at the wheel of the first link, one on each side of the second."""
    design = design_of(3)
    radius = design.rings.pitch.radius_mm

    def turned(ring: int, third: int, gear: int, arbor: int) -> float:
        """How far beside its arbor a third gear stands, as seen from the main axis [degrees]."""
        one, two, three = (radius(teeth) for teeth in (ring + third, arbor, third + gear))
        return math.degrees(math.acos((one**2 + two**2 - three**2) / (2 * one * two)))

    first = LinkPlace(Fraction(0), 38, spot(radius(38), 0), (spot(radius(24 + 7), turned(24, 7, 9, 38)),))
    second = LinkPlace(
        Fraction(120), 50, spot(radius(50), 120),
        (spot(radius(30 + 8), 120 + turned(30, 8, 9, 50)), spot(radius(36 + 9), 120 - turned(36, 9, 8, 50))),
    )  # fmt: skip
    links = (Link("third-wheel", 9, 8, (7,)), Link("third-both", 9, 8, (8, 9)))
    return design, Train((24, 30, 36), (0, 1, 2), links, Placement((first, second)))


def everything() -> tuple[Design, Train]:
    extra = (
        'addendum = 3\nrim = 5\n[fit]\nframe = {shape = "square", side = 420, depth = 100}\nplate = "inner"\n'
        'stands = "outer"\nrollers = {count = 3, radius = 3}\n[drive]\nmotor_rpm = 2.5\n'
    )
    design = design_of(5, extra)
    return design, plain(design, 5)


def read(svg: str) -> ET.Element:
    return ET.fromstring(svg.encode())


def corners(element: ET.Element) -> tuple[float, float, float, float]:
    """Least and greatest x and y of a polygon."""
    xs, ys = zip(*((float(one) for one in pair.split(",")) for pair in element.attrib["points"].split()))
    return min(xs), min(ys), max(xs), max(ys)


def parts(svg: str, part: str, view: str = "front") -> list[ET.Element]:
    return read(svg).findall(f".//{SVG}g[@data-view='{view}']//*[@data-part='{part}']")


def number(element: ET.Element, key: str) -> float:
    return float(element.attrib[key])


def units_per_printed_mm(root: ET.Element) -> float:
    return float(root.attrib["viewBox"].split()[2]) / float(root.attrib["width"].removesuffix("mm"))


def test_a_train_without_places_has_no_picture() -> None:
    design, train = everything()
    with pytest.raises(ValueError, match="without places"):
        picture(design, replace(train, placement=None))


def test_every_part_of_the_train_is_drawn_once() -> None:
    svg = picture(*everything())
    due = {"ring": 5, "ring-tip": 5, "ring-edge": 5, "wheel": 4, "pinion": 4, "third": 0, "roller": 15, "body": 5}
    due |= {"motor-pinion": 1, "motor-third": 0, "frame": 1, "sense": 5, "wheel-tip": 4, "post": 15 + 4 + 1}
    assert {part: len(parts(svg, part)) for part in due} == due
    svg = picture(*with_thirds())
    due = {"ring": 3, "wheel": 2, "pinion": 2, "third": 3, "third-tip": 3, "roller": 0, "motor-pinion": 0, "post": 5}
    assert {part: len(parts(svg, part)) for part in due} == due


@pytest.mark.parametrize(
    ("length", "radius_of_tooth"), [("tooth_pitch = 12", PITCH / (2 * math.pi)), ("module = 2.5", 1.25)]
)
def test_pitch_circles_have_the_radius_of_their_teeth(length: str, radius_of_tooth: float) -> None:
    text = f"""
[bodies]
set = "jupiter"
[rings]
inner_teeth = 24
tooth_step = 6
{length}
addendum = 3
rim = 5
[fit]
rollers = {{count = 3, radius = 3}}
[drive]
motor_rpm = 2
"""
    design = parse_design(text)
    svg = picture(design, plain(design, 4))
    for part in ("ring", "wheel", "pinion", "motor-pinion"):
        for shift, name in ((0, part), (3, f"{part}-tip")):
            for circle in parts(svg, name):
                due = number(circle, "data-teeth") * radius_of_tooth + shift
                assert number(circle, "r") == pytest.approx(due, abs=0.001), name
    for circle in parts(svg, "ring-edge"):
        assert number(circle, "r") == pytest.approx(number(circle, "data-teeth") * radius_of_tooth - 5, abs=0.001)
    assert {circle.attrib["r"] for circle in parts(svg, "roller")} == {"3"}


@pytest.mark.parametrize("make", [everything, with_thirds])
def test_what_is_drawn_stands_where_it_was_placed(make) -> None:  # type: ignore[no-untyped-def]
    design, train = make()
    placement = train.placement
    svg = picture(design, train)

    def spots(part: str) -> list[Spot]:
        return [(round(1000 * number(one, "cx")), round(-1000 * number(one, "cy"))) for one in parts(svg, part)]

    arbors = [place.arbor for place in placement.links]
    assert sorted(spots("wheel")) == sorted(spots("pinion")) == sorted(arbors)
    assert sorted(spots("third")) == sorted(spot for place in placement.links for spot in place.thirds)
    assert sorted(spots("roller")) == sorted(roller.spot for ring in placement.rollers for roller in ring)
    assert spots("motor-pinion") == ([placement.drive.at.arbor] if placement.drive else [])
    assert set(spots("ring")) == {(0, 0)}
    for circle in parts(svg, "wheel"):
        link = int(circle.attrib["data-link"])
        assert (number(circle, "data-teeth"), number(circle, "data-level")) == (train.links[link].wheel, link)
        assert (round(1000 * number(circle, "cx")), round(-1000 * number(circle, "cy"))) == arbors[link]


def test_bodies_ride_on_the_rims_of_their_rings() -> None:
    design, train = everything()
    for body in parts(picture(design, train), "body"):
        ring = design.rings.pitch.radius_mm(train.rings[int(body.attrib["data-ring"])])
        assert math.hypot(number(body, "cx"), number(body, "cy")) == pytest.approx(ring - 2.5, abs=0.01)


@pytest.mark.slow
def test_a_reversed_ring_has_the_opposite_arrow() -> None:
    turns = {}
    svg = picture(*with_thirds())
    for head in parts(svg, "head"):
        (x1, y1), *back = ((float(x), -float(y)) for x, y in (at.split(",") for at in head.attrib["points"].split()))
        x0, y0 = (sum(sides) / 2 for sides in zip(*back))
        turns[int(head.attrib["data-ring"])] = (head.attrib["data-sense"], x0 * y1 - y0 * x1 > 0)
        (shaft,) = (one for one in parts(svg, "sense") if one.attrib["data-ring"] == head.attrib["data-ring"])
        ends = re.findall(r"(-?[\d.]+) (-?[\d.]+)(?=A|$)", shaft.attrib["d"])
        assert min(math.dist((x0, -y0), (float(x), float(y))) for x, y in ends) < 2 * units_per_printed_mm(read(svg))
    # Ring 0 turns counterclockwise, one third gear reverses ring 1, and two keep the sense of that for ring 2.
    assert turns == {0: ("same", True), 1: ("reverse", False), 2: ("reverse", False)}


def test_two_reversals_are_none() -> None:
    design, train = with_thirds()
    assert train.placement is not None
    first, second = train.placement.links
    placement = replace(train.placement, links=(first, replace(second, thirds=second.thirds[1:])))
    links = (train.links[0], Link("third-pinion", 9, 8, (9,)))
    arrows = parts(picture(design, replace(train, links=links, placement=placement)), "sense")
    assert {arrow.attrib["data-ring"]: arrow.attrib["data-sense"] for arrow in arrows} == {
        "0": "same", "1": "reverse", "2": "same",
    }  # fmt: skip


def test_labels_tell_teeth_names_speed_and_directions() -> None:
    root = read(picture(*everything()))
    texts = ["".join(one.itertext()) for one in root.iter(f"{SVG}text")]
    for text in ("0: Body 0 24", "4: Body 4 48", "L0 11/5", "L3 11/5", "M 8, 2.5 rpm", "75°", "225°", "Scale 1 :"):
        assert any(text in one for one in texts), text


@pytest.mark.parametrize("make", [everything, with_thirds])
def test_labels_do_not_cover_each_other(make) -> None:  # type: ignore[no-untyped-def]
    boxes = [corners(box) for box in parts(picture(*make()), "label")]
    assert len(boxes) >= 8
    for index, one in enumerate(boxes):
        for other in boxes[:index]:
            apart = one[0] >= other[2] or other[0] >= one[2] or one[1] >= other[3] or other[1] >= one[3]
            assert apart, (one, other)


def test_a_hostile_title_and_name_are_text_and_no_more() -> None:
    design = design_of(3, title=HOSTILE, name="{} " + HOSTILE[:70].replace("{", ""))
    svg = picture(design, plain(design, 3))
    root = read(svg)
    title = root.find(f"{SVG}title")
    assert title is not None and title.text is not None
    assert title.text.startswith("<b>\"Io\" & 'Europa'</b> ]]> ")
    assert not {"b", "!--"} & {element.tag.removeprefix(SVG) for element in root.iter()}
    assert "\u202e" not in svg and "\x1b" not in svg and "\uffff" not in svg
    assert len(parts(svg, "ring")) == 3


@pytest.mark.parametrize("make", [with_thirds, everything])
def test_a_trimmed_page_ends_below_what_is_drawn_and_is_else_the_same(make) -> None:  # type: ignore[no-untyped-def]
    whole, trimmed = picture(*make()), picture(*make(), trimmed=True)
    boxes = [[float(one) for one in read(svg).attrib["viewBox"].split()] for svg in (whole, trimmed)]
    assert boxes[0][:3] == pytest.approx(boxes[1][:3], abs=2e-3) and boxes[1][3] < boxes[0][3]
    assert drawn_of(trimmed) == drawn_of(whole)
    ys = [float(one.attrib["y"]) for one in read(trimmed).iter(f"{SVG}text")]
    scale = float(read(trimmed).attrib["data-scale"])
    bottom = boxes[1][1] + boxes[1][3]
    assert bottom - 14 * scale < max(ys) < bottom - 8 * scale  # the margin, and at most a row or a frame's line more


def drawn_of(svg: str) -> list[str]:
    return [line for line in svg.splitlines() if not line.startswith(("<svg", "<rect"))]


def test_the_same_train_gives_the_same_bytes() -> None:
    assert picture(*everything()) == picture(*everything())


def test_scale_bars_are_as_long_as_they_say() -> None:
    design, train = everything()
    bars = read(picture(replace(design, units="in"), train)).findall(f".//{SVG}polygon[@data-part='scale']")
    assert len(bars) == 2
    for bar in bars:
        assert corners(bar)[2] - corners(bar)[0] == pytest.approx(number(bar, "data-mm"), abs=0.001)
    assert number(bars[1], "data-mm") % 25.4 == pytest.approx(0, abs=1e-6)


def test_the_same_page_is_written_as_pdf_and_its_views_as_dxf() -> None:
    model = Model(*everything())
    made = fitted(model, lambda widest: notes(model, widest))
    page = picture_page(model, made)
    (sheet,) = PdfReader(io.BytesIO(pdf([page], "picture"))).pages
    assert [float(side) * 25.4 / 72 for side in sheet.mediabox[2:]] == pytest.approx(page.size)
    told = sheet.extract_text()
    assert all(text in told for text in ("Front view", "Side view", "0: Body 0 24", "L3 11/5", "Legend"))
    levels = [placed.drawing for placed in page.placed if any(one.layer == "veil" for one in placed.drawing.shapes)]
    assert len(levels) == model.count
    for level, drawing in enumerate(levels):
        space = ezdxf.read(io.StringIO(dxf(drawing))).modelspace()
        pitch = max(one.dxf.radius for one in space.query("CIRCLE[layer=='pitch']"))
        assert pitch * made.scale == pytest.approx(model.radii[level])
        assert not space.query("CIRCLE[layer=='veil']")  # an area without an outline


CASES = {
    "two rings": (2, ""),
    "forty rings": (40, 'rim = 3\naddendum = 3\n[fit]\nplate = "inner"\nstands = "outer"\n'),
    "a round frame": (4, '[fit]\nframe = {shape = "round", diameter = 360}\nplate = "outer"\n'),
    "a frame far away": (3, '[fit]\nframe = {shape = "rectangle", width = 90000, height = 900}\n'),
    "a frame that is too small": (3, '[fit]\nframe = {shape = "rectangle", width = 90, height = 200, depth = 10}\n'),
    "levels far apart": (3, "level_spacing = 100000\n"),
    "levels close together": (3, 'level_spacing = 0.001\n[fit]\nstands = "inner"\nplate = "inner"\n'),
    "every degree": (4, "[fit]\ndirections = 360\n"),
}


@pytest.mark.parametrize(
    "case", [pytest.param(case, marks=pytest.mark.slow) if case == "forty rings" else case for case in CASES]
)
def test_it_is_an_a4_page_that_can_be_read(case: str) -> None:
    rings, extra = CASES[case]
    design = design_of(rings, extra)
    assert_readable(picture(design, plain(design, rings)))


@pytest.mark.parametrize("pitch", ["0.1", "900000"])
def test_tiny_and_huge_trains_can_be_read_too(pitch: str) -> None:
    lengths = "".join(f"{key} = {float(pitch) / 4:f}\n" for key in ("addendum", "rim", "level_spacing"))
    design = design_of(4, lengths, pitch=float(pitch), title="wide" * 50, name="{} " + "very " * 15)
    svg = picture(design, plain(design, 4))
    assert_readable(svg)
    unit = number(read(svg), "data-units-per-mm")
    for ring in parts(svg, "ring"):
        due = number(ring, "data-teeth") * float(pitch) / (2 * math.pi) * unit
        assert number(ring, "r") == pytest.approx(due, abs=0.001)


def assert_readable(svg: str) -> None:
    """On A4, with text of at least 2.2 mm inside the margins, in black and white, and at most three decimals."""
    root = read(svg)
    size = root.attrib["width"], root.attrib["height"]
    assert size in (("210mm", "297mm"), ("297mm", "210mm"))
    left, top, wide, high = (float(one) for one in root.attrib["viewBox"].split())
    unit = units_per_printed_mm(root)
    for text in root.iter(f"{SVG}text"):
        assert number(text, "font-size") / unit >= 2.2 - 0.001 / unit
        assert left + 5 * unit <= number(text, "x") <= left + wide - 5 * unit
        assert top + 5 * unit <= number(text, "y") <= top + high - 5 * unit
    for element in root.iter():
        for key in ("fill", "stroke"):
            assert re.fullmatch(r"none|#000|#fff|#(..)\1\1", element.attrib.get(key, "none"))
        for key in ("x", "y", "width", "height", "cx", "cy", "r", "points", "d"):
            assert not re.search(r"\.\d{4}|nan|inf|e[+-]?\d", element.attrib.get(key, "")), element.attrib
