"""Pages 1:1, read back with a PDF library: page sizes, the bar of 100 mm, and tiles that join."""

from __future__ import annotations

import io
import math
from collections.abc import Iterator
from dataclasses import dataclass, field

import pytest
from pypdf import PdfReader
from pypdf.generic import ContentStream
from test_templates import jig

from solver.sheets.draw.drawing import Circle, Drawing, Page, Placed, Text
from solver.sheets.draw.marks import rect
from solver.sheets.draw.out_pdf import pdf
from solver.sheets.draw.tiling import grid, pages
from solver.sheets.views.templates import template
from solver.words.lengths import Lengths
from solver.words.papers import PAPERS

MM = Lengths("mm")
POINTS = 72 / 25.4  # a PDF point is 1/72 inch, an inch 25.4 mm exactly


@dataclass
class Read:
    """What a page's content stream draws [mm]: boxes of closed straight paths, boxes of curved ones, texts, and the
    boxes that clip."""

    boxes: list[tuple[float, float, float, float]] = field(default_factory=list)
    rounds: list[tuple[float, float, float, float]] = field(default_factory=list)
    texts: list[tuple[float, float, str]] = field(default_factory=list)
    clips: list[tuple[float, float, float, float]] = field(default_factory=list)


def read(reader: PdfReader, number: int) -> Read:
    """Walk the operators of a page; transformations other than those of text would be a surprise, and fail."""
    found, points, curved = Read(), [], False
    at = (0.0, 0.0)
    for operands, operator in ContentStream(reader.pages[number].get_contents(), reader).operations:
        numbers = [float(one) for one in operands if isinstance(one, (int, float))]
        if operator == b"cm":
            assert numbers == [1, 0, 0, 1, 0, 0]
        elif operator == b"re":
            x, y, wide, high = numbers
            points += [(x, y), (x + wide, y + high)]
        elif operator in (b"m", b"l"):
            points.append((numbers[0], numbers[1]))
        elif operator == b"c":
            points.append((numbers[4], numbers[5]))
            curved = True
        elif operator == b"Tm":
            at = numbers[4] / POINTS, numbers[5] / POINTS
        elif operator == b"Tj":
            found.texts.append((*at, str(operands[0])))
        elif operator in (b"W", b"W*"):
            found.clips.append(box_of(points))
        elif operator in (b"S", b"s", b"B", b"b", b"B*", b"b*", b"f", b"f*", b"n"):
            if points and operator != b"n":
                (found.rounds if curved else found.boxes).append(box_of(points))
            points, curved = [], False
    return found


def box_of(points: list[tuple[float, float]]) -> tuple[float, float, float, float]:
    xs, ys = [x / POINTS for x, _ in points], [y / POINTS for _, y in points]
    return min(xs), min(ys), max(xs), max(ys)


def read_pages(made: list[Page]) -> tuple[PdfReader, list[Read]]:
    reader = PdfReader(io.BytesIO(pdf(made, "test")))
    return reader, [read(reader, number) for number in range(len(reader.pages))]


@pytest.mark.parametrize("paper", ["letter", *(pytest.param(name, marks=pytest.mark.slow) for name in ("a4", "a3"))])
def test_pages_are_paper_and_each_has_its_bar_of_100_mm(paper: str) -> None:
    drawings = [template(jig("ring", 66), MM), template(jig("ring", 40), MM)]
    drawings += [template(jig("gear", teeth), MM) for teeth in range(5, 20)]
    reader, found = read_pages(pages(drawings, PAPERS[paper], "t"))
    # ISO 216 [mm]; letter is 8.5 by 11 inches.
    sizes = {"a4": (210, 297), "a3": (297, 420), "letter": (8.5 * 25.4, 11 * 25.4)}
    for page, content in zip(reader.pages, found):
        size = float(page.mediabox.width) / POINTS, float(page.mediabox.height) / POINTS
        assert sorted(size) == pytest.approx(sorted(sizes[paper]), abs=0.01)
        long = [box for box in content.boxes if abs(box[2] - box[0] - 100) < 1e-3 and abs(box[3] - box[1] - 2) < 1e-3]
        assert len(long) == 1
        assert (long[0][2] - long[0][0]) * POINTS == pytest.approx(283.4646, abs=1e-4)
        assert any("print at 100 %" in text for _, _, text in content.texts)


def test_nothing_is_outside_of_the_page_or_over_another() -> None:
    drawings = [template(jig("gear", teeth), MM) for teeth in range(4, 25)] + [template(jig("ring", 31), MM)]
    made = pages(drawings, PAPERS["a4"], "t")
    held = []
    for page in made:
        boxes = []
        for placed in page.placed:
            if placed.drawing.name.startswith("jig"):
                held.append(placed.drawing.name)
                left, bottom, right, top = placed.drawing.box
                boxes.append((left + placed.at[0], bottom + placed.at[1], right + placed.at[0], top + placed.at[1]))
        for number, box in enumerate(boxes):
            assert box[0] > 5 and box[2] < page.size[0] - 5 and box[1] > 18 and box[3] < page.size[1] - 5
            for other in boxes[:number]:
                apart = box[0] > other[2] or other[0] > box[2] or box[1] > other[3] or other[1] > box[3]
                assert apart
    assert sorted(held) == sorted(drawing.name for drawing in drawings)  # each once
    assert len(made) < len(drawings) / 2  # small ones share pages


def tiles_of(made: list[Page]) -> Iterator[tuple[Page, Placed]]:
    for page in made:
        drawn = [placed for placed in page.placed if placed.window is not None and placed.drawing.name != "join marks"]
        assert len(drawn) == 1
        yield page, drawn[0]


@pytest.mark.parametrize(
    ("teeth", "paper"), [(66, "a4"), (44, "letter"), (120, "a3"), pytest.param(200, "a4", marks=pytest.mark.slow)]
)
def test_tiles_join_to_a_hundredth_of_a_millimetre(teeth: int, paper: str) -> None:
    plan = jig("ring", teeth)
    drawing = template(plan, MM)
    made = pages([drawing], PAPERS[paper], "t")
    assert len(made) > 1
    _, found = read_pages(made)
    # Join marks of one letter are the same spot of the drawing: lay the tiles so, and every hole must come to lie where
    # the plan has it. Marks are read from the file: a letter and the small circle left of and below it.
    marks = []
    for content in found:
        own = {}
        for x, y, text in content.texts:
            if text and text[0].isupper() and len(text) <= 3 and (len(text) == 1 or text[1:].isdigit()):
                spots = [middle(box) for box in content.rounds if abs(box[2] - box[0] - 3.0) < 1e-3]
                near = min(spots, key=lambda spot: math.dist(spot, (x - 1.8, y - 1.4)))
                if math.dist(near, (x - 1.8, y - 1.4)) < 1e-2:
                    own[text] = near
        marks.append(own)
    laid = {0: (0.0, 0.0)}
    while len(laid) < len(found):
        for number in range(len(found)):
            joined = [(one, letter) for one in laid for letter in marks[number] if letter in marks[one]]
            if number in laid or not joined:
                continue
            moves = [
                tuple(laid[one][axis] + marks[one][letter][axis] - marks[number][letter][axis] for axis in (0, 1))
                for one, letter in joined
            ]
            assert len(moves) >= 2  # at least two crosses along an edge, so that nothing can turn
            for move in moves:
                assert math.dist(move, moves[0]) < 0.01
            laid[number] = moves[0]
            break
        else:
            pytest.fail("a tile has no mark in common with the others")
    holes = {
        (round(x, 2), round(y, 2))
        for number, content in enumerate(found)
        for box in content.rounds
        if min(abs(box[2] - box[0] - size) for size in (1.6, 1.7)) < 1e-3
        for x, y in [[a + b for a, b in zip(middle(box), laid[number])]]
    }
    spots = [
        (h.radius_mm * math.cos(math.radians(h.angle_deg)), h.radius_mm * math.sin(math.radians(h.angle_deg)))
        for h in plan.holes
        if h.what != "centre"
    ]
    # The centre of the drawing, as the holes have it (they stand evenly around it).
    rightmost = max(holes)
    origin = rightmost[0] - max(spots)[0], rightmost[1] - max(spots)[1]
    for x, y in spots:
        assert min(math.dist((x + origin[0], y + origin[1]), hole) for hole in holes) < 0.02


def middle(box: tuple[float, float, float, float]) -> tuple[float, float]:
    return (box[0] + box[2]) / 2, (box[1] + box[3]) / 2


def test_tiles_cover_the_drawing_and_say_where_they_lie() -> None:
    drawing = template(jig("ring", 66), MM)
    left, bottom, right, top = drawing.box
    made = pages([drawing], PAPERS["a4"], "t")
    parts, labels = [], []
    for page, placed in tiles_of(made):
        window, at = placed.window, placed.at
        assert window is not None
        assert window[0] >= 10 and window[2] <= page.size[0] - 10 and window[3] <= page.size[1] - 10
        parts.append((window[0] - at[0], window[1] - at[1], window[2] - at[0], window[3] - at[1]))
        labels += [
            shape.text
            for one in page.placed
            if one.drawing.name == "crop marks"
            for shape in one.drawing.shapes
            if isinstance(shape, Text) and shape.bold
        ]
    assert labels[0] == "R66 row 1 of 2, column 1 of 2" and len(set(labels)) == len(labels) == 4
    assert min(part[0] for part in parts) == pytest.approx(left) and max(part[2] for part in parts) == pytest.approx(
        right
    )
    assert min(part[1] for part in parts) == pytest.approx(bottom) and max(part[3] for part in parts) == pytest.approx(
        top
    )
    across = min(part[2] for part in parts) - max(part[0] for part in parts)
    assert across == pytest.approx(10.0)  # the overlap


def test_the_clip_in_the_file_is_the_tile() -> None:
    made = pages([template(jig("ring", 66), MM)], PAPERS["a4"], "t")
    _, found = read_pages(made)
    for (_, placed), content in zip(tiles_of(made), found):
        assert placed.window is not None
        assert any(max(abs(a - b) for a, b in zip(clip, placed.window)) < 1e-3 for clip in content.clips)


def test_a_grid_is_the_fewest_tiles() -> None:
    assert grid((150, 150), PAPERS["a4"]).count == 1
    # 190 x 263 mm on an upright A4 page, 10 mm of which are overlap: two columns reach 370 mm.
    assert (grid((369, 250), PAPERS["a4"]).columns, grid((369, 250), PAPERS["a4"]).rows) == (2, 1)
    assert grid((371, 250), PAPERS["a4"]).count > 2 or grid((371, 250), PAPERS["a4"]).page == (297.0, 210.0)
    with pytest.raises(ValueError, match="no room"):
        grid((100, 100), (40, 60))


def test_join_marks_keep_clear_of_what_is_drawn() -> None:
    # Holes at the spots where marks would stand otherwise: a quarter and three quarters along the overlap's middle.
    drawing = Drawing(
        "jig R9", (rect((0, 0, 360, 200), "frame"), *(Circle((180, y), 2.0, "holes-root") for y in (50, 150)))
    )
    (marks, *_) = (
        one.drawing
        for page in pages([drawing], PAPERS["a4"], "t")
        for one in page.placed
        if one.drawing.name == "join marks"
    )
    spots = [shape.at for shape in marks.shapes if isinstance(shape, Circle)]
    assert len(spots) == 2
    for spot in spots:
        assert min(math.dist(spot, (180, y)) for y in (50, 150)) > 4


def test_a_tile_with_nothing_on_it_is_left_out() -> None:
    far = Drawing("jig R9", tuple(Circle((x, y), 5.0, "holes-root") for x in (0.0, 1000.0) for y in (0.0, 1000.0)))
    made = pages([far], PAPERS["a4"], "t")
    assert len(made) == 4


def test_the_same_pages_give_the_same_bytes() -> None:
    drawings = [template(jig("ring", 40), MM), template(jig("gear", 6), MM)]
    assert pdf(pages(drawings, PAPERS["a4"], "t"), "t") == pdf(pages(drawings, PAPERS["a4"], "t"), "t")
    with pytest.raises(ValueError, match="needs a page"):
        pdf([], "t")


def test_filled_areas_hide_what_is_below_only_where_they_are_filled() -> None:
    page = Page((100.0, 100.0), (Placed(Drawing("d", (rect((10, 10, 60, 20), "bar", 0.5),)), (5.0, 5.0)),))
    _, found = read_pages([page])
    assert found[0].boxes[0] == pytest.approx((15, 15, 65, 25), abs=1e-3)
