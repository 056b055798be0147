"""Pictures of the build order are walked: what each step puts on is in black in its picture, once, and in grey in every
later one; everything stands where the answer says; numbers cover nothing and their lines do not cross."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from dataclasses import replace
from functools import cache
from itertools import combinations, pairwise
from math import hypot

import pytest
from armed import ROUND, SQUARE, small
from pypdf import PdfReader
from shapely import Polygon
from shipped import shipped
from test_build_order import SEEDS, draw
from test_pack import CYCLOIDAL, INCHES, OPEN

from solver import parse_design, solve
from solver.answer.document import train_of
from solver.sheets.book.bill import bill_csv, bill_of
from solver.sheets.book.document import Document, Figure, Heading, Items
from solver.sheets.book.lists import order
from solver.sheets.book.order import build_order
from solver.sheets.book.out_book import book
from solver.sheets.book.pictures import WIDE, exploded_views, step_pictures
from solver.sheets.book.steps import BuildStep, Operation
from solver.sheets.draw.drawing import Circle, Drawing, Line, Polyline, Text, box_of
from solver.sheets.gears.inventory import Inventory, inventory
from solver.sheets.steps.callouts import LETTERS, places
from solver.sheets.steps.numbers import numbers_of, told
from solver.sheets.steps.things import PlacedParts
from solver.sheets.supports.made import SupportsMade, supports_made
from solver.sheets.views.spots import Drilled, drilled
from solver.words.lengths import Lengths
from solver.words.papers import PAPERS

SOLVED = {"inches": INCHES, "cycloidal": CYCLOIDAL, "open": OPEN}
LARGE = ("solar-system-2-thirds", "open")
SHIPPED = ("saturn-hall", "solar-system-2-thirds")  # the hall; and third gears, no plate, no rollers
NAMES = (
    *(name for name in (*SHIPPED, *SOLVED) if name not in LARGE),
    *(pytest.param(name, marks=pytest.mark.deep) for name in LARGE),
)
ARMED = {"wall": (SQUARE, "none", "wall"), "round": (ROUND, "outer", "wall"), "table": (SQUARE, "none", "table")}
GREY, BLACK = {"there", "carried"}, {"added"}


@cache
def answered(name: str):
    if name in SHIPPED:
        design, answer = shipped(name)
    else:
        design = parse_design(SOLVED[name])
        answer = solve(design)
    return design, answer.solutions[0]


@cache
def held(name: str | int) -> SupportsMade | None:
    """Frame and arms of a design."""
    return supports_made(*small(*ARMED[str(name)])) if name in ARMED else None


@cache
def numbered(name: str | int) -> dict[str, str]:
    return numbers_of(built(name)[0], held(name))


@cache
def built(name: str | int) -> tuple[Inventory, tuple[BuildStep, ...], dict[BuildStep, Figure]]:
    """A design that is solved, or a random one whose places are drawn."""
    if isinstance(name, int):
        stock = inventory(*draw(name))
    elif name in ARMED:
        stock = inventory(*small(*ARMED[name]))
    else:
        design, solution = answered(name)
        stock = inventory(design, train_of(design, solution))
    lengths = Lengths(stock.design.units)
    steps = build_order(stock, lengths, held(name))
    return stock, steps, step_pictures(steps, stock, lengths, held(name))


ALL = (*NAMES, *ARMED, *SEEDS[:5], *(pytest.param(seed, marks=pytest.mark.deep) for seed in SEEDS[5:]))
HOLES = (
    "inches",
    pytest.param("saturn-hall", marks=pytest.mark.slow),
    *(pytest.param(one, marks=pytest.mark.deep) for one in (*SHIPPED, *SOLVED) if one not in ("inches", "saturn-hall")),
)  # slots take longer


@cache
def holes_of(name: str) -> dict[str, Drilled]:
    stock = built(name)[0]
    return {hole.name: hole for hole in drilled(stock.design, stock.train)}


def parts(drawing: Drawing, layers: set[str]) -> Counter[str]:
    """How many shapes on some layers say that they are a part."""
    shapes = [shape for shape in drawing.shapes if shape.layer in layers and not isinstance(shape, Line | Text)]
    return Counter(str(dict(shape.facts)["part"]) for shape in shapes if "part" in dict(shape.facts))


def is_assembly(step: BuildStep) -> bool:
    return bool(step.mounts) and step.title.split()[0].rstrip(":") in ("Level", "Drive", "Bodies", "The")


@pytest.mark.deep
@pytest.mark.parametrize("name", ALL)
def test_what_is_put_on_is_black_once_and_grey_in_all_later_pictures(name: str | int) -> None:
    stock, steps, shown = built(name)
    numbers, on_model, put_on = numbered(name), set[str](), list[str]()
    for step in steps:
        if not step.mounts:
            continue
        drawing = shown[step].drawing
        assert "not shown" not in shown[step].caption
        wanted = {numbers[mounted] for mounted in step.mounts}
        black = parts(drawing, BLACK)
        assert set(black) == wanted, step.title
        put_on += black
        if not is_assembly(step):
            continue
        # From the front and from the side.
        assert all(black[number] >= 2 for number in wanted), step.title
        fixed = {f"hub of {mounted}" for mounted in (*on_model, *step.mounts)}
        fixed |= {f"rod of {body}" for body in _bodies_on(stock, {*on_model, *step.mounts})}
        here = {numbers[one] for one in on_model} | {numbers[one] for one in fixed if one in numbers}
        grey = parts(drawing, GREY)
        assert set(grey) - {"plate"} == here, step.title
        assert all(grey[number] >= 2 for number in here), step.title
        assert ("plate" in grey) is (stock.design.fit.plate != "none")
        on_model |= set(step.mounts)
    assert Counter(put_on) == Counter(numbers.values())


def _bodies_on(stock: Inventory, on: set[str]) -> set[str]:
    bodies = [stock.design.bodies[body].name for body in range(len(stock.train.seats))]
    return {body for body in bodies if any(re.fullmatch(rf"ring \d+ \({re.escape(body)}\)", name) for name in on)}


@pytest.mark.parametrize("name", NAMES)
def test_everything_stands_where_the_answer_says(name: str) -> None:
    _, solution = answered(name)
    _, steps, shown = built(name)
    spots: dict[str, tuple[float, float]] = {f"r{ring}": (0.0, 0.0) for ring in range(len(solution.rings))}
    for index, link in enumerate(solution.links):
        assert link.arbor is not None
        spots |= {
            f"{number}": (link.arbor.x_mm, link.arbor.y_mm) for number in (f"L{index}", f"L{index}a", f"L{index}b")
        }
        letters = {"plain": "", "third-wheel": "w", "third-pinion": "p", "third-both": "wp"}[link.kind]
        spots |= {f"L{index}{letter}": (at.x_mm, at.y_mm) for letter, at in zip(letters, link.third_at, strict=True)}
    for ring, told_of in enumerate(solution.rings):
        for number, roller in enumerate(told_of.rollers, start=1):
            spots[f"r{ring}.{number}"] = roller.x_mm, roller.y_mm
    if solution.drive is not None and solution.drive.motor is not None:
        spots |= dict.fromkeys(("M", "Ms", "Mb"), (solution.drive.motor.x_mm, solution.drive.motor.y_mm))
    spots |= {f"P{number}": at for number, at in spots.items()}
    looked_at = 0
    for step in filter(is_assembly, steps):
        drawing = shown[step].drawing
        scale = float(drawing.name.split("1 : ")[1])
        front, side = dict[str, list[tuple[float, float]]](), dict[str, list[float]]()
        for shape in drawing.shapes:
            if shape.layer not in (*GREY, *BLACK) or isinstance(shape, Line | Text):
                continue
            number = str(dict(shape.facts).get("part", ""))
            left, low, right, top = box_of(shape)
            at = (left + right) / 2, (low + top) / 2
            if number not in spots:
                continue
            if number not in front:
                front[number] = [at]
                wanted = spots[number]
                # Teeth are not alike on all four sides of a gear.
                off = 0.3 * 25 / scale if isinstance(shape, Polyline) else 0.011
                assert hypot(at[0] - wanted[0] / scale, at[1] - wanted[1] / scale) < off, (step.title, number)
            else:
                side.setdefault(number, []).append(at[1])
                assert at[1] == pytest.approx(spots[number][1] / scale, abs=0.011), (step.title, number)
            looked_at += 1
        assert set(front) == set(side)
    assert looked_at > 50


@pytest.mark.parametrize("name", NAMES)
def test_levels_follow_each_other_from_the_plate_in_the_side_view(name: str) -> None:
    stock, steps, shown = built(name)
    last = [shown[step].drawing for step in steps if is_assembly(step)][-1]
    count = len(stock.train.rings)
    xs = []
    for ring in range(count):
        boxes = [box_of(shape) for shape in last.shapes if dict(getattr(shape, "facts", ())).get("part") == f"r{ring}"]
        left, _, right, _ = next(box for box in boxes if box[2] - box[0] < (box[3] - box[1]) / 5)
        xs.append((left + right) / 2)
    steps_between = [second - first for first, second in pairwise(xs)]
    assert steps_between == pytest.approx([steps_between[0]] * (count - 1), abs=0.03)
    assert (steps_between[0] > 0) is (stock.design.fit.plate != "outer")


# -- numbers and their lines -----------------------------------------------------------------------------------------


def overlapping(drawing: Drawing) -> list[tuple[str, str]]:
    boxes = [(shape.text, box_of(shape)) for shape in drawing.shapes if isinstance(shape, Text)]
    found = []
    for (one, a), (other, b) in combinations(boxes, 2):
        if min(a[2], b[2]) - max(a[0], b[0]) > 0.05 and min(a[3], b[3]) - max(a[1], b[1]) > 0.05:
            found.append((one, other))
    return found


def crossings(drawing: Drawing) -> int:
    lines = [shape for shape in drawing.shapes if isinstance(shape, Line) and shape.layer == "callout"]

    def side(line: Line, at: tuple[float, float]) -> float:
        (x, y), (to_x, to_y) = line.start, line.end
        return (to_x - x) * (at[1] - y) - (to_y - y) * (at[0] - x)

    return sum(
        side(one, other.start) * side(one, other.end) < -1e-6 and side(other, one.start) * side(other, one.end) < -1e-6
        for one, other in combinations(lines, 2)
    )


@pytest.mark.parametrize("name", ALL)
def test_numbers_cover_no_other_and_their_lines_do_not_cross(name: str | int) -> None:
    _, _, shown = built(name)
    for step, figure in shown.items():
        drawing = figure.drawing
        assert overlapping(drawing) == [], step.title
        assert crossings(drawing) == 0, step.title
        texts = [shape for shape in drawing.shapes if isinstance(shape, Text)]
        assert all(shape.size >= LETTERS for shape in texts)
        # No picture is wider than a page; none but that of the plate takes much more than half of it.
        wide, high = drawing.size
        assert wide <= WIDE + 0.5, step.title
        assert high <= 125 or step.title == "Drill the plate", step.title
        said = {word for shape in texts for word in shape.text.replace(",", "").split()}
        said |= {number for shape in texts if " to " in shape.text for number in _expanded(shape.text)}
        numbers = numbered(name)
        if is_assembly(step):
            assert {numbers[mounted] for mounted in step.mounts} <= said, step.title


@pytest.mark.parametrize("name", ALL)
def test_boards_show_what_is_tried(name: str | int) -> None:
    stock, steps, shown = built(name)
    numbers = numbered(name)
    boards = [step for step in steps if step.title.startswith("Try link")]
    assert len(boards) == len(stock.train.links)
    for step in boards:
        assert set(parts(shown[step].drawing, {"tried", "below"})) == {numbers[used] for used in step.uses}
        assert not parts(shown[step].drawing, BLACK)


@pytest.mark.parametrize("name", HOLES)
def test_the_plate_shows_what_is_drilled(name: str) -> None:
    stock, steps, shown = built(name)
    if stock.design.fit.plate != "none":
        drawing = next(shown[step].drawing for step in steps if step.title == "Drill the plate")
        holes = {
            dict(shape.facts)["hole"]: shape
            for shape in drawing.shapes
            if isinstance(shape, Circle) and "hole" in dict(shape.facts)
        }
        scale = float(drawing.name.split("1 : ")[1])
        wanted = holes_of(name)
        assert set(holes) == set(wanted)
        for number, shape in holes.items():
            assert shape.at == pytest.approx([side / scale for side in wanted[str(number)].at], abs=1e-3)
            assert 2 * shape.radius * scale == pytest.approx(wanted[str(number)].diameter)


@pytest.mark.parametrize("name", ALL)
def test_the_exploded_view_has_every_part_once(name: str | int) -> None:
    stock, _, _ = built(name)
    drawings = [block.drawing for block in exploded_views(stock, held(name)) if isinstance(block, Figure)]
    found = sum((parts(drawing, BLACK) for drawing in drawings), Counter[str]())
    found.pop("plate", None)
    assert found == Counter(numbered(name).values())
    things = {one.number: one for one in PlacedParts(stock, held(name)).by_name.values()}
    for drawing in drawings:
        assert overlapping(drawing) == []
        assert drawing.size[0] <= WIDE + 0.5 and drawing.size[1] <= 235
        scale = float(re.findall(r"1 : ([\d.]+)", drawing.name)[0])
        for shape in drawing.shapes:
            number = str(dict(getattr(shape, "facts", ())).get("part", ""))
            if shape.layer == "added" and number in things:
                left, _, right, _ = box_of(shape)
                box = things[number].box
                assert (left + right) / 2 == pytest.approx((box[0] + box[2]) / 2 / scale, abs=1e-6), number
    said = {
        word
        for drawing in drawings
        for shape in drawing.shapes
        if isinstance(shape, Text)
        for word in shape.text.split()
    }
    assert set(numbered(name).values()) <= said


def test_teeth_mesh_in_pictures() -> None:
    """Gears that are cut from plate, as drawn: no metal of one is in that of another, but for what is simplified."""
    _, steps, shown = built("cycloidal")
    seen = 0
    for step in filter(is_assembly, steps):
        outlines = {}
        for shape in shown[step].drawing.shapes:
            if isinstance(shape, Polyline) and shape.layer == "added" and len(shape.points) > 60:
                outlines[dict(shape.facts)["part"]] = Polygon(shape.points)
        ring = next((number for number in outlines if str(number).startswith("r")), None)
        for number, outline in outlines.items() if ring else ():
            if number != ring:
                common = outlines[ring].intersection(outline).area
                assert common < 0.002 * outline.area, (step.title, number)
                seen += outlines[ring].distance(outline) < 1.0
    assert seen >= 3


# -- the numbering ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", HOLES)
def test_numbers_are_those_of_the_drilling_table_and_each_is_one_part(name: str) -> None:
    stock, _, _ = built(name)
    numbers = numbers_of(stock)
    assert len(set(numbers.values())) == len(numbers)
    for hole in holes_of(name).values():
        name_of = "motor" if hole.name == "M" else hole.told
        assert numbers[name_of] == hole.name


@pytest.mark.parametrize("name", (*NAMES, *ARMED))
def test_the_parts_list_has_every_number_once(name: str) -> None:
    stock, _, _ = built(name)
    rows = list(csv.DictReader(io.StringIO(bill_csv(bill_of(stock, (), 0, Lengths("mm"), held(name))))))
    found: list[str] = []
    for row in rows:
        these = list(_expanded(row["numbers"]))
        assert not these or len(these) == int(row["count"]), row
        found += these
    bodies = {number for number in numbered(name).values() if number.startswith("B")}
    assert sorted(found) == sorted(set(numbered(name).values()) - bodies)  # bodies are not listed


def _expanded(text: str):
    """ "r0.1 to r0.3, L2" as each of its numbers."""
    for part in filter(None, text.split(", ")):
        first, _, last = part.partition(" to ")
        if not last:
            yield first
            continue
        one, other = (re.fullmatch(r"(.*?)(\d+)([a-z]?)", end) for end in (first, last))
        assert one and other and (one[1], one[3]) == (other[1], other[3])
        for number in range(int(one[2]), int(other[2]) + 1):
            yield f"{one[1]}{number}{one[3]}"


def test_runs_of_numbers_are_told_by_their_ends() -> None:
    assert told(["r3.1", "r3.2", "r3.3", "L3"]) == "r3.1 to r3.3, L3"
    assert told(["L0a", "L0b", "L1a", "L1b", "L2a"]) == "L0a to L2a, L0b, L1b"
    assert told(["M", "Ms", "r2", "r10", "r2"]) == "M, Ms, r2, r10"
    assert told([]) == ""


def test_steps_say_the_numbers_of_what_they_put_on() -> None:
    stock, steps, shown = built("inches")
    blocks = list(order(steps, stock, Lengths("in")))
    heads = [block.text.split(". ", 1)[1] for block in blocks if isinstance(block, Heading) and ". " in block.text]
    assert heads == [step.title for step in steps]
    after = [second for first, second in pairwise(blocks) if isinstance(first, Heading) and ". " in first.text]
    assert [isinstance(block, Figure) for block in after] == [step in shown for step in steps]
    words = " ".join(item for block in blocks for item in getattr(block, "items", ()))
    assert "Put up the posts, in the plate: arbor of link 0. [PL0]" in words
    assert "wheel of link 0: 16 pins, on jig G16, with its hub [L0a, HL0a]" in words


def test_what_has_no_number_is_told_below_the_picture() -> None:
    stock, steps, _ = built("inches")
    level = next(step for step in steps if step.title.startswith("Level"))
    more = replace(level, work=(*level.work, Operation("Add a bell.", makes=("bell",), mounts=("bell",))))
    alone = BuildStep("Bells", (Operation("Add a bell.", mounts=("bell",)),))
    shown = step_pictures((alone, more), stock, Lengths("in"))
    assert set(shown) == {more}
    assert shown[more].caption == "Scale 1 : 2; not shown: bell"


def test_a_heading_stays_with_its_picture_in_the_book() -> None:
    """However far down a page it would begin, and however high the picture is."""
    for lines in range(20, 60, 4):
        for high in (60.0, 200.0, 400.0):
            drawing = Drawing("x", (Line((0.0, 0.0), (50.0, high), "added"), Text((0.0, 1.0), "drawn", 3.0)))
            filled = Items(tuple(f"item {number}" for number in range(lines)))
            blocks = (Heading("Chapter"), filled, Heading("Step", 2), Figure(drawing, "Scale 1 : 2", False))
            read = PdfReader(io.BytesIO(book(Document("t", "s", blocks), PAPERS["a4"])))
            pages = [page.extract_text() for page in read.pages]
            assert sum("Step" in page and "drawn" in page and "Scale 1" in page for page in pages) == 1, (lines, high)


# -- where numbers stand ---------------------------------------------------------------------------------------------


def test_places_are_apart_and_as_near_as_they_can_be() -> None:
    """By hand: two that want one place go half their size each way; an end holds what would stand beyond it."""
    assert places([5.0, 5.0], [2.0, 2.0], 0.0, 20.0) == pytest.approx([4.0, 6.0])
    assert places([0.0, 0.0], [2.0, 2.0], 0.0, 20.0) == pytest.approx([1.0, 3.0])
    assert places([1.0, 10.0, 19.5], [2.0, 4.0, 2.0], 0.0, 20.0) == pytest.approx([1.0, 10.0, 19.0])
    # Three of 3 in a row wanted at 4, 5 and 9: means of 4, 5 - 3 and 9 - 6 pool to 3.
    assert places([4.0, 5.0, 9.0], [3.0, 3.0, 3.0], 0.0, 20.0) == pytest.approx([3.0, 6.0, 9.0])
    assert places([5.0, 5.0], [12.0, 12.0], 0.0, 20.0) == pytest.approx([4.0, 16.0])
