"""The setting sheet and the dial, read back: degrees from PDF and DXF, the words followed by who knows no more."""

from __future__ import annotations

import io
import math
import re
from dataclasses import replace
from fractions import Fraction
from functools import cache
from html import unescape

import ezdxf
import pytest
from commands import CONFIGS
from pypdf import PdfReader
from pypdf.generic import ContentStream
from shipped import shipped

from solver import load_design, parse_design, solve
from solver.answer.document import SolutionAnswer, train_of
from solver.design.design import Design
from solver.design.hang import Hang
from solver.design.links import KIND_BY_NAME
from solver.sheets.draw.drawing import Drawing, Page, Text, box_of
from solver.sheets.draw.out_dxf import dxf
from solver.sheets.draw.out_pdf import pdf
from solver.sheets.draw.tiling import pages
from solver.sheets.setting.dial import DialScale, dial, edges, scale_of
from solver.sheets.setting.sheet import SheetDates, setting_files
from solver.sheets.setting.year import earth_of, year_marks
from solver.sky.bodies import SkyBody, ring_angle, sky_of
from solver.sky.moments import parse_moment
from solver.sky.setting import ring_turns, set_by_teeth
from solver.words.papers import PAPERS

POINTS = 72 / 25.4  # a PDF point is 1/72 inch, an inch 25.4 mm exactly
CHRISTMAS = "2026-12-24T18:00+01:00"

Stroke = tuple[tuple[float, float], tuple[float, float]]


def strokes(data: bytes, drawn: Drawing, made: list[Page]) -> list[Stroke]:
    """Every straight line of two points in a PDF, in the coordinates of the drawing on its pages [mm]; each page has
    what is near its own part."""
    reader, found = PdfReader(io.BytesIO(data)), []
    for number, page in enumerate(made):
        placed = next(one for one in page.placed if one.drawing is drawn)
        points: list[tuple[float, float]] = []
        for operands, operator in ContentStream(reader.pages[number].get_contents(), reader).operations:
            if operator in (b"m", b"l"):
                x, y = (float(one) / POINTS for one in operands)
                points = [(x, y)] if operator == b"m" else [*points, (x, y)]
            elif operator in (b"S", b"s", b"f", b"B", b"n", b"b"):
                if operator == b"S" and len(points) == 2:
                    (a, b), (c, d) = points
                    x, y = placed.at
                    found.append(((a - x, b - y), (c - x, d - y)))
                points = []
    return found


def angle(point: tuple[float, float]) -> float:
    return math.degrees(math.atan2(point[1], point[0])) % 360


def apart(one: float, other: float) -> float:
    return abs((one - other + 180) % 360 - 180)


def ticks(lines: list[Stroke], radius: float) -> list[list[float]]:
    """Angles of the lines that begin at the dial's inner circle and go outwards: the short, the middling, the long."""
    found: dict[float, list[float]] = {}
    for start, end in lines:
        if abs(math.hypot(*start) - radius) < 0.01 and math.hypot(*end) > radius + 1:
            assert apart(angle(start), angle(end)) < 0.01  # it points at the centre
            long = math.hypot(*end) - radius
            of = next((some for length, some in found.items() if abs(length - long) < 0.2), None)
            of = found.setdefault(long, []) if of is None else of
            if all(apart(angle(end), known) > 0.1 for known in of):  # on two tiles it is drawn twice
                of.append(angle(end))
    return [found[length] for length in sorted(found)]


@pytest.mark.parametrize(
    ("radius", "paper", "scale"),
    [
        (60, "a3", DialScale(90, 1)),
        (160, "a4", DialScale(0, -1)),
        (310, "a4", DialScale(37.5, 1)),
        (30, "letter", DialScale(90, -1)),
    ],
)
def test_degree_n_of_the_pdf_stands_at_n_degrees(radius: float, paper: str, scale: DialScale) -> None:
    drawn = dial("dial", scale, radius, (), ("a dial",))
    made = pages([drawn], PAPERS[paper], "t")
    assert (len(made) > 1) == (radius > 150)
    by_length = ticks(strokes(pdf(made, "t"), drawn, made), radius)
    assert [len(one) for one in by_length] == [288, 36, 36]
    for step, found in zip((1, 5, 10), by_length, strict=True):
        others = {1: 5, 5: 10, 10: 360}[step]
        degrees = [n for n in range(0, 360, step) if n % others or step == 10]
        for n in degrees:
            assert min(apart(one, scale.zero_deg + scale.sense * n) for one in found) < 0.01


@pytest.mark.parametrize("scale", [DialScale(90, 1), DialScale(0, -1)])
def test_degree_n_of_the_dxf_stands_at_n_degrees_and_its_number_beside_it(scale: DialScale) -> None:
    document = ezdxf.read(io.StringIO(dxf(dial("dial", scale, 120, (), ()))))
    assert document.header["$INSUNITS"] == 4  # millimetres
    lines = list(document.modelspace().query("LINE"))
    for layer, step, skipped in (("degree", 1, 5), ("degree-5", 5, 10), ("degree-10", 10, 360)):
        found = [line for line in lines if line.dxf.layer == layer]
        expected = [n for n in range(0, 360, step) if n % skipped or step == 10]
        assert len(found) == len(expected)
        for line, n in zip(found, expected, strict=True):
            for point in (line.dxf.start, line.dxf.end):
                assert apart(angle((point.x, point.y)), scale.zero_deg + scale.sense * n) < 0.01
            assert math.hypot(line.dxf.start.x, line.dxf.start.y) == pytest.approx(120, abs=1e-6)
    numbers = {text.dxf.text: text.dxf.align_point for text in document.modelspace().query("TEXT")}
    assert sorted(numbers, key=int) == [str(n) for n in range(0, 360, 10)]
    for text, at in numbers.items():
        middle = at.x, at.y + 0.5 * 0.72 * 3.2 * math.radians(120) / 2.6
        assert apart(angle(middle), scale.zero_deg + scale.sense * int(text)) < 0.05


def test_nothing_on_a_dial_reaches_over_its_edge_or_another_number() -> None:
    earth = earth_of_planets()
    for radius in (40, 100, 300):
        days = year_marks(earth, 2026)
        drawn = dial("dial", DialScale(90, 1), radius, days, ("Solar System", "a longer line of what it is"))
        outer, _ = edges(radius, True)
        assert max(map(abs, drawn.box)) == pytest.approx(outer)
        boxes = [drawn_box(shape) for shape in drawn.shapes if hasattr(shape, "anchor")]
        for number, box in enumerate(boxes):
            assert math.hypot(max(map(abs, box[::2])), max(map(abs, box[1::2]))) < outer + 1
            for other in boxes[:number]:
                assert box[0] > other[2] or other[0] > box[2] or box[1] > other[3] or other[1] > box[3]


def earth_of_planets() -> SkyBody:
    earth = earth_of(sky_of(load_design(CONFIGS / "solar-system.toml")))
    assert earth is not None
    return earth


def drawn_box(shape: object) -> tuple[float, float, float, float]:
    """Of a text; letters of capitals' height."""
    assert isinstance(shape, Text)
    left, _, right, _ = box_of(shape)
    return left, shape.at[1], right, shape.at[1] + 0.72 * shape.size


def test_the_days_of_a_year_are_where_the_earth_stands() -> None:
    """Seen from the Sun, the Earth is at 180 degrees at the equinox of March and at 90 as December's solstice comes
    (what equinox and solstice mean); its mean longitude is within 2 degrees of the true one (equation of centre, 1.92),
    and days of 2026 are counted from the equinox of 2000 (precession, 0.37 degrees)."""
    earth = earth_of_planets()
    marks = year_marks(earth, 2026)
    assert [mark.name for mark in marks if mark.month][:3] == ["Jan", "Feb", "Mar"] and len(marks) == 36
    march, december = marks[8], marks[35]
    assert (march.name, december.name) == ("21", "21")
    assert apart(march.reading, 180) < 2.5 and apart(december.reading, 90) < 2.5
    for one, other in zip(marks, marks[1:]):
        assert (other.reading - one.reading) % 360 == pytest.approx(10 * 360 / 365.25, abs=2)  # 8 to 11 days


def test_a_year_that_the_source_ends_in_has_the_days_that_it_knows() -> None:
    """Simon et al. hold up to the year 3000: on its first day the model can be set, and has a dial."""
    earth = earth_of_planets()
    assert [mark.name for mark in year_marks(earth, 3000)] == ["Jan"] and len(year_marks(earth, 2999)) == 36


SOUTH = Hang(Fraction(0), "south")


@pytest.mark.parametrize("hang", [None, SOUTH])
def test_the_dial_reads_the_longitude_of_every_body(hang: Hang | None) -> None:
    design = replace(shipped("saturn-hall")[0], hang=hang)
    sky = sky_of(design)
    scale = scale_of(design, sky[0])
    assert scale == (DialScale(90, 1) if hang is None else DialScale(0, -1))
    for body in sky:
        for longitude in (0.0, 12.5, 200.0, 359.9):
            assert apart(scale.reading(ring_angle(design, body, longitude)), longitude) < 1e-9
    # Prograde as seen from the north is counterclockwise.
    assert apart(scale.angle(90.0), 180.0 if hang is None else 270.0) < 1e-9


def made(design: Design, solution: SolutionAnswer, dated: SheetDates, first_exact: bool = False) -> dict[str, bytes]:
    """The sheet of a solution, set by teeth for its dates."""
    wanted = ring_turns(design, dated.sky, dated.moment)
    standing = None if dated.since is None else ring_turns(design, dated.sky, dated.since)
    setting = set_by_teeth(design, solution, wanted, standing, first_exact=first_exact)
    return setting_files(design, solution, dated, setting)


@cache
def files(name: str, since: str | None = None, south: bool = False, first_exact: bool = False) -> dict[str, bytes]:
    design, answer = shipped(name)
    design = replace(design, hang=SOUTH) if south else design
    now = None if since is None else parse_moment(since)
    dated = SheetDates(sky_of(design), parse_moment(CHRISTMAS), now)
    return made(design, answer.solutions[0], dated, first_exact)


def words(name: str, *more: object) -> str:
    return unescape(re.sub(r"<[^>]*>", "\n", files(name, *more)["setting.html"].decode())).replace("\u00a0", " ")


def followed(name: str, since: str | None, south: bool, first_exact: bool) -> tuple[dict[str, float], dict[str, float]]:
    """A maker who reads the sheet: where each pointer ends on the dial, and where the sheet says that it does. Only
    tooth counts are known besides: rings follow by them."""
    design, answer = shipped(name)
    design = replace(design, hang=SOUTH) if south else design
    train, sky = train_of(design, answer.solutions[0]), sky_of(design)
    scale = scale_of(design, sky[0])
    turned = [0.0] * len(train.rings)

    def turn(ring: int, by: float, beyond: range) -> None:
        turned[ring] += by
        for outer in beyond:
            link = train.links[outer - 1]
            by *= link.pinion * train.rings[outer - 1] / (link.wheel * train.rings[outer])
            by = -by if KIND_BY_NAME[link.kind].reverses else by
            turned[outer] += by

    text = words(name, since, south, first_exact)
    told: dict[str, float] = {}
    by_drive = r"Turn ring (?P<first>0) \(.*?\) (?P<way0>\w+) by (?P<by0>[\d.]+)° by the"
    by_hand = r"Turn ring (?P<ring>\d+) \(.*?\) (?P<way>\w+) by [\d.]+ (?:tooth|teeth) \((?P<by>[\d.]+)°\)"
    check = r"the pointer of (?P<name>[\w ]+) stands at (?P<at>[\d.]+)°"
    for found in re.finditer(f"{by_drive}|{by_hand}|{check}", text):
        if found["name"]:
            told[found["name"]] = float(found["at"])
        else:
            ring, way, by = found["first"] or found["ring"], found["way0"] or found["way"], found["by0"] or found["by"]
            sign = 1 if way == "counterclockwise" else -1
            turn(int(ring), sign * float(by), range(int(ring) + 1, len(train.rings)))
    start = [90.0 if not south else 0.0] * len(sky)
    if since is not None:
        start = [float(one * 360) for one in ring_turns(design, sky, parse_moment(since))]
    ends = {body.name: scale.reading(start[n] + turned[train.seats[n]]) for n, body in enumerate(sky)}
    return ends, told


@pytest.mark.deep
@pytest.mark.parametrize("first_exact", [False, True])
@pytest.mark.parametrize(
    ("name", "since", "south"),
    [
        ("saturn-hall", None, False),
        ("saturn-hall", "2026-01-01T00:00Z", True),
        ("solar-system", None, False),
    ],
)
def test_who_follows_the_words_ends_where_the_checks_say(
    name: str, since: str | None, south: bool, first_exact: bool
) -> None:
    ends, told = followed(name, since, south, first_exact)
    assert set(told) == set(ends)
    for body, at in ends.items():
        assert apart(at, told[body]) < 0.1 + 0.005 * len(ends)  # to tenths, after turns told to hundredths
    # And no body is farther off than the sheet claims; ring 0 is in its place where it has to be.
    claim = re.search(r"Proven \((.*?)\): .*? less than ([\d.]+)° from", words(name, since, south, first_exact))
    assert claim is not None
    assert claim[1] == ("with ring 0 in its place" if first_exact else "ring 0 may stand off as well")
    design = replace(shipped(name)[0], hang=SOUTH) if south else shipped(name)[0]
    for number, body in enumerate(sky_of(design)):
        away = apart(ends[body.name], body.mean(parse_moment(CHRISTMAS)))
        assert away < 0.005 * (len(ends) + 1) + (0 if first_exact and number == 0 else float(claim[2]))


def test_the_table_has_the_longitudes_and_what_is_left_over() -> None:
    design, answer = shipped("saturn-hall")
    sky, moment = sky_of(design), parse_moment(CHRISTMAS)
    setting = set_by_teeth(design, answer.solutions[0], ring_turns(design, sky, moment))
    lines = files("saturn-hall")["pointers.csv"].decode().splitlines()
    assert lines[0] == "body,ring,dial_deg,set_to_deg,left_over_deg,from_right_deg,move_teeth"
    for line, body, one in zip(lines[1:], sky, setting.bodies, strict=True):
        name, ring, place, stands, left, _, teeth = line.split(",")
        assert (name, int(ring), int(teeth)) == (body.name, one.ring, one.move_teeth)
        assert apart(float(place), body.mean(moment)) < 1e-3
        assert (float(stands) - float(place) + 180) % 360 - 180 == pytest.approx(float(left), abs=2e-4)
    assert f"less than {float(setting.worst * 360):.4f}".rstrip("0") in words("saturn-hall")


def test_the_same_date_gives_the_same_files() -> None:
    design, answer = shipped("saturn-hall")
    again = made(design, answer.solutions[0], SheetDates(sky_of(design), parse_moment(CHRISTMAS)))
    assert again == files("saturn-hall")
    assert sorted(again) == ["dial.dxf", "dial.pdf", "dial.svg", "pointers.csv", "setting.html", "setting.pdf"]


def test_a_model_that_stands_right_is_left_alone() -> None:
    text = words("saturn-hall", CHRISTMAS)
    assert (
        "Leave arbor 8 in mesh" in text
        and "Lift arbor" not in text
        and "Every body stands exactly in its place" in text
    )


def test_a_design_without_places_has_a_sheet_too() -> None:
    text = """
    [bodies]
    unit = "days"
    [[bodies.list]]
    name = "near"
    period = 10
    longitude = 30
    epoch = "2026-01-01T00:00Z"
    [[bodies.list]]
    name = "far"
    period = 25
    longitude = 200
    epoch = "2026-01-01T00:00Z"
    [rings]
    inner_teeth = 18
    tooth_step = 6
    tooth_pitch = 12
    [fit]
    directions = "none"
    """
    design = parse_design(text, "two.toml")
    found = made(design, solve(design).solutions[0], SheetDates(sky_of(design), parse_moment("2026-01-01T00:00Z")))
    assert b"near" in found["setting.html"] and found["dial.pdf"].startswith(b"%PDF")


def test_the_dial_is_told_before_the_work_begins_and_no_page_is_for_it_alone() -> None:
    """Pointers are checked on the dial, so that it hangs before the first ring is turned."""
    design = parse_design('[bodies]\nset = "jupiter"\n[rings]\ninner_teeth = 33\ntooth_step = 4\nblanks = 1\n'
                          '[fit]\ndirections = "none"\n')  # fmt: skip
    dated = SheetDates(sky_of(design), parse_moment(CHRISTMAS))
    files = made(design, solve(design).solutions[0], dated)
    told = [page.extract_text() for page in PdfReader(io.BytesIO(files["setting.pdf"])).pages]
    (page,) = [text for text in told if "The dial" in text]
    assert page.index("Ring by ring") < page.index("The dial") < page.index("The drive")
