"""Frame and arms as things: where they stand, what they are cut from, and that all lists say the same of them."""

from __future__ import annotations

import csv
import io
import math
import random
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from functools import cache

import pytest
from armed import ROUND, SMALL, SQUARE, small, ten_rings
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry
from test_arm_judge import model

import solver.sheets.supports.arms as built
from solver import Design, Train, parse_design, solve
from solver.check.arm import Held, clear_arms
from solver.check.room import Room
from solver.design.train import RollerPlace
from solver.sheets.book.bill import bill_csv, bill_of
from solver.sheets.book.document import Items, Paragraph, TextTable
from solver.sheets.book.lists import cuts_csv
from solver.sheets.book.order import build_order
from solver.sheets.book.pack import make_pack
from solver.sheets.book.supports import supports, wire_lengths
from solver.sheets.draw.drawing import Polyline, Text
from solver.sheets.gears.adjust import most_travel_mm, slots_of
from solver.sheets.gears.inventory import inventory
from solver.sheets.steps.holding import bar_names
from solver.sheets.stock.cuts import CutList, cut_list, joints_of
from solver.sheets.supports.choice import arms_of
from solver.sheets.supports.made import SupportsMade, supports_made
from solver.sheets.views.gap import gap_view
from solver.words.lengths import Lengths

MM = Lengths("mm")


def on_arms(design: Design, train: Train) -> tuple[Design, Train]:
    """With arms that may begin on arms."""
    assert design.supports is not None
    return replace(design, supports=replace(design.supports, begins="arms")), train


MODELS = {
    "square": lambda: small(),
    "round": lambda: small(ROUND, "outer"),
    "table": lambda: small(SQUARE, "outer", "table", "brass"),
    "round table": lambda: small(ROUND, "none", "table"),
    "square on arms": lambda: on_arms(*small()),
    "round table on arms": lambda: on_arms(*small(ROUND, "none", "table")),
    "ten rings": lambda: ten_rings(),
}
NAMED = [pytest.param(name, marks=pytest.mark.slow) if name == "ten rings" else name for name in MODELS]
DENSITY = {"steel": 7.85, "brass": 8.48}


@cache
def made(name: str) -> tuple[Design, Train, SupportsMade]:
    design, train = MODELS[name]()
    found = supports_made(design, train)
    assert found is not None
    return design, train, found


@cache
def cut(name: str) -> CutList:
    design, train, found = made(name)
    return cut_list(inventory(design, train), tuple(found.wires()))


def grams(length_mm: float, across_mm: float, metal: str) -> float:
    return math.pi / 4 * (across_mm / 10) ** 2 * length_mm / 10 * DENSITY[metal]


# -- where they stand -------------------------------------------------------------------------------------------------


@pytest.mark.deep
@pytest.mark.parametrize("name", NAMED)
def test_everything_has_an_arm_that_is_the_shortest_clear_one_as_far_as_it_goes(name: str) -> None:
    design, train, found = made(name)
    arms = {arm.held.name: arm for arm in found.arms}
    placement = train.placement
    assert placement is not None and not found.unheld
    rollers = sum(map(len, placement.rollers))
    thirds = sum(len(link.thirds) for link in train.links)
    motor = 0 if placement.drive is None else 1 + len(placement.drive.thirds)
    assert len(arms) == len(found.arms) == len(train.links) + thirds + rollers + motor
    for held, lines in clear_arms(design, train).items():
        shortest = min(lines, key=lambda line: round(line.length_mm, 6))
        whole = LineString([(float(x), float(y)) for x, y in shortest.points])
        arm = arms[held.name]
        assert whole.distance(Point(arm.points[0])) < 1e-6
        if arm.on_arm:
            assert arm.line_mm <= whole.length
        else:
            assert whole.equals_exact(LineString(arm.points), 1e-6)


@pytest.mark.deep
@pytest.mark.parametrize("name", NAMED)
def test_arms_of_a_gap_meet_where_one_ends_and_nowhere_else(name: str) -> None:
    design, _, found = made(name)
    assert design.fit.frame is not None
    wide, high = float(design.fit.frame.width) / 2, float(design.fit.frame.height) / 2
    for gap in found.gaps:
        arms = found.in_gap(gap)
        for number, arm in enumerate(arms):
            line, end = LineString(arm.points), Point(arm.end)
            for earlier in arms[:number]:
                other = LineString(earlier.points)
                if line.intersects(other):
                    assert arm.on_arm and line.intersection(other).distance(end) < 1e-6
                    assert line.intersection(other).length < 1e-6
            if arm.on_arm:
                (target,) = (one for one in arms[:number] if one.held.name == arm.ends_at)
                assert min(end.distance(LineString(target.points)), end.distance(Point(target.points[0]))) < (
                    target.eye.outside_mm + 1e-6
                )
            elif design.fit.frame.round:
                assert math.hypot(*arm.end) == pytest.approx(wide, abs=1e-6) and arm.ends_at == "ring"
            else:
                x, y = arm.end
                sides = {"right": x - wide, "left": x + wide, "top": y - high, "bottom": y + high}
                at = {side for side, off in sides.items() if abs(off) < 1e-6}
                assert arm.ends_at in at or (arm.ends_at == "corner" and len(at) == 2)


@pytest.mark.deep
def test_arms_of_random_places_never_lie_in_each_other(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(built, "slots_of", lambda design, train: {})
    counts: Counter[str] = Counter()
    for seed in range(80):
        design, train = model(seed)
        if design.fit.rollers is None:
            continue
        rings = replace(design.rings, level_spacing=Fraction(60))  # nothing is tall
        design, train = replace(design, rings=rings), crowded(design, train, random.Random(f"crowd {seed}"))
        thick = float(design.supports.arm_mm)  # type: ignore[union-attr]
        arms = arms_of(design, train)
        for number, arm in enumerate(arms):
            counts["arms"] += 1
            counts["met"] += arm.on_arm
            line = LineString(arm.points)
            for earlier in arms[:number]:
                other = LineString(earlier.points)
                if arm.held.gap != earlier.held.gap or min(line.length, other.length) < 1e-6:
                    continue
                if line.intersects(other):
                    assert arm.on_arm and line.intersection(other).distance(Point(arm.end)) < 1e-6, (seed, arm, earlier)
                # No more than the end of one is within the other.
                within = line.intersection(other.buffer(0.98 * thick, cap_style="flat")).length
                if line.length > arm.eye.outside_mm + earlier.eye.outside_mm:
                    counts["within"] += within > 0
                    assert within < 2 * thick, (seed, arm.held.name, earlier.held.name, within)
    assert counts["arms"] > 500 and counts["met"] > 200, counts


def standing(*points: tuple[float, float]) -> built.BuiltArm:
    """An arm that stands already, 4 mm thick, with a round eye."""
    held = Held("ring 0", "roller", "r0.1", 0, (round(1000 * points[0][0]), round(1000 * points[0][1])))
    eye = built.ArmEye(4.0, 0.0, 0.0, 0.0, 25.0, 6.0)
    return built.BuiltArm(held, points, "top", False, eye, None, 100.0, 10.0)


UPRIGHT = standing((0.0, 0.0), (0.0, 100.0))


@pytest.mark.parametrize(
    ("line", "end"),
    [
        (((40.0, 50.0), (-60.0, 50.0)), (0.0, 50.0)),  # square to it: in its middle
        (((40.0, 50.0), (-60.0, 150.0)), (0.0, 90.0)),  # aslant, beyond 30 degrees
        (((3.0, -40.0), (3.0, 100.0)), (3.0, -math.sqrt(36 - 9))),  # beside it: at its eye
        (((30.0, 20.0), (3.0, 20.0), (3.0, 100.0)), (3.0, 20.0)),  # bent to lie beside it: where it is bent
        (((30.0, 20.0), (5.0, 20.0), (5.0, 100.0)), None),  # a little farther: not at all
        (((14.0, 0.0), (0.0, 100.0)), (4.0, 500 / 7)),  # to where that ends too: as soon as they lie side by side
        (((-30.0, -20.0), (60.0, -20.0)), None),
        (((2.0, 40.0), (100.0, 40.0)), (0.0, 40.0)),  # what it holds is in its way: on it
    ],
)
def test_where_a_line_meets_an_arm(line: tuple[tuple[float, float], ...], end: tuple[float, float] | None) -> None:
    found = built._ended(line, [UPRIGHT], 6.0, 4.0)
    if end is None:
        assert found is None
    else:
        assert found is not None and found[1] == "r0.1" and found[0][-1] == pytest.approx(end)


def crowded(design: Design, train: Train, rng: random.Random) -> Train:
    """The train with fifteen rollers of each ring anywhere in the frame, some of them at one height."""
    assert train.placement is not None and design.fit.frame is not None
    half = 600 * float(design.fit.frame.width) / 2  # um

    def spot() -> tuple[int, int]:
        return round(rng.uniform(-half, half)), round(rng.choice((rng.uniform(-half, half), 0, 1000, -2500)))

    some = tuple(tuple(RollerPlace(Fraction(0), spot()) for _ in range(15)) for _ in train.rings)
    return replace(train, placement=replace(train.placement, rollers=some))


@pytest.mark.parametrize("name", NAMED)
def test_an_eye_leaves_what_it_holds_its_slot(name: str) -> None:
    design, train, found = made(name)
    slots, most = slots_of(design, train), most_travel_mm(design)
    for arm in found.arms:
        eye = arm.eye
        travel = (
            2 * most if arm.held.what == "roller" else slots[arm.held.name].inward_mm + slots[arm.held.name].outward_mm
        )
        assert eye.inside_long_mm - eye.inside_mm == pytest.approx(travel)
        thick = float(design.supports.arm_mm)  # type: ignore[union-attr]
        middle = math.pi * (eye.inside_mm + thick) + 2 * travel
        assert eye.wire_mm == pytest.approx(middle)
        bar = float(design.supports.bar_mm)  # type: ignore[union-attr]
        # Across a bar; as far as a round member in a corner; or to the side of another arm.
        beyond = math.hypot(bar / 2, bar / 2) - bar / 2 if arm.ends_at == "corner" else bar
        shank = arm.line_mm - (eye.inside_mm + thick) / 2 + (-thick / 2 if arm.on_arm else beyond)
        assert arm.wire_mm == pytest.approx(middle + max(shank, 0))
        turning = arm.held.what in ("arbor", "motor")
        assert (arm.bush is not None) == turning
        if arm.bush is not None:
            assert arm.bush.outside_mm == pytest.approx(eye.inside_mm)


@pytest.mark.parametrize("name", NAMED)
def test_eyes_as_built_are_clear_of_each_other_and_of_what_turns(name: str) -> None:
    """Each with its own slot, drawn by shapely; the rule has taken every slot to be as long as any may be."""
    design, train, found = made(name)
    thick, clearance = float(design.supports.arm_mm), float(design.fit.clearance)  # type: ignore[union-attr]
    assert train.placement is not None

    def outline(arm: built.BuiltArm) -> BaseGeometry:
        turn, (x, y) = math.radians(arm.eye.direction_deg), arm.points[0]
        ends = [
            (x + far * math.cos(turn), y + far * math.sin(turn)) for far in (-arm.eye.inward_mm, arm.eye.outward_mm)
        ]
        return LineString(ends).buffer(arm.eye.inside_mm / 2 + thick)

    for gap in found.gaps:
        arms = found.in_gap(gap)
        for number, arm in enumerate(arms):
            eye = outline(arm)
            assert all(eye.intersection(outline(other)).area < 1e-3 for other in arms[:number])
            if gap >= 0 and arm.held.name != f"L{gap}" and gap < len(train.links):
                sleeve = Point([side / 1000 for side in train.placement.links[gap].arbor]).buffer(
                    float(design.fit.post_radius) + 1
                )
                assert eye.distance(sleeve) > clearance - 0.01
            far = eye.distance(Point(0, 0))
            for ring in train.seats if design.fit.stands == "outer" else ():
                swept = float(Room(design, train).stand(ring).high) + float(design.fit.post_radius)
                assert ring > gap or far > swept + clearance - 0.01


def test_the_chapter_says_what_begins_on_arms_and_what_bends_too_far_so_joined() -> None:
    def told(made: SupportsMade, train: Train) -> str:
        blocks = list(supports(made, train, 5.0, MM))
        items = [item for block in blocks if isinstance(block, Items) for item in block.items]
        return " ".join([*(block.text for block in blocks if isinstance(block, Paragraph)), *items])

    _, train, found = made("square on arms")
    assert "also where one ends on another." in told(found, train) and "on purpose" in told(found, train)
    assert "bend farther" not in told(found, train)
    assert "those of r0.1, r0.2 bend farther than that" in told(replace(found, bent=("r0.1", "r0.2")), train)
    _, train, alone = made("square")
    assert "one ends on another" not in told(alone, train) and "on purpose" not in told(alone, train)


def test_one_that_meets_an_arm_ends_there() -> None:
    """In the round model on a table the first roller's arm meets that of the motor on its way."""
    design, train, found = made("round table")
    (arm,) = (arm for arm in found.arms if arm.on_arm)
    assert (arm.held.name, arm.ends_at) == ("r0.1", "M")
    own = min(line.length_mm for line in clear_arms(design, train)[arm.held])
    assert arm.line_mm < own - 5


@pytest.mark.parametrize("name", NAMED)
def test_bars_are_there_where_arms_end(name: str) -> None:
    design, train, found = made(name)
    frame, levels = found.frame, len(train.rings)
    ends = {(arm.held.gap, arm.ends_at) for arm in found.arms if not arm.on_arm and arm.ends_at != "corner"}
    if frame.round:
        assert {gap for gap, _ in ends} <= {bar.gap for bar in frame.bars if bar.closed}
    else:
        there = {(bar.gap, side) for bar in frame.bars for side in bar.sides}
        assert ends <= there
        assert {(gap, side) for gap, side in there - ends if gap not in (-1, levels - 1)} == set()
    # The frame is a closed box: the members reach from bar to bar, and no bar lies where an arm does.
    spacing, bar = float(design.rings.level_spacing), frame.bar_mm
    arm = float(design.supports.arm_mm)  # type: ignore[union-attr]
    (member,) = (one for one in frame.bars if one.what.startswith("member"))
    between = frame.bar_depths[levels - 1] - frame.bar_depths[-1]
    assert member.length_mm == pytest.approx(between + (bar if frame.round else -bar))
    for gap, depth in frame.depths.items():
        assert depth == pytest.approx((gap + 1) * spacing)
        assert abs(frame.bar_depths[gap] - depth) == pytest.approx((bar + arm) / 2)


# -- what they are cut from, and what lists say -----------------------------------------------------------------------


@pytest.mark.deep
@pytest.mark.parametrize("name", NAMED)
def test_all_lists_agree(name: str) -> None:
    """Number, lengths and weights of arms and bars: in the bill, among the cuts, in the bars, in the chapter."""
    design, train, found = made(name)
    stock, cuts = inventory(design, train), cut(name)
    metal = design.supports.metal  # type: ignore[union-attr]
    thin, thick = (float(mm) for mm in (design.supports.arm_mm, design.supports.bar_mm))  # type: ignore[union-attr]
    rows = bill_of(stock, cuts.plans, 0, MM, found)
    arms, bars = ([row for row in rows if row.group == group] for group in ("arms", "frame"))
    wires = [row for row in arms if row.part == "arm"]
    own = [one for one in cuts.cuts if one.gear is None]
    # Number.
    assert sum(row.count for row in wires) == len(found.arms) == sum(o.count for o in own if o.what.startswith("arm "))
    named = sorted(name for row in wires for name in row.used_for.split(", "))
    assert named == sorted(arm.held.name for arm in found.arms)
    assert sorted(o.what.removeprefix("arm ") for o in own if o.what.startswith("arm ")) == named
    # Lengths.
    each = {arm.held.name: arm.wire_mm for arm in found.arms}
    assert {o.what.removeprefix("arm "): o.net_mm for o in own if o.what.startswith("arm ")} == pytest.approx(each)
    told = Counter[str]()
    for row in wires:
        told["arms"] += row.count * float(row.size.split("cut ")[1].replace("\xa0", " ").split()[0])  # type: ignore[assignment]
    assert told["arms"] == pytest.approx(sum(each.values()), abs=0.01 * len(each))
    net = {across: sum(o.count * o.net_mm for o in own if o.gauge.mm == across) for across in (thin, thick)}
    arms_mm, bars_mm = wire_lengths(found)
    assert net[thin] == pytest.approx(arms_mm, abs=0.5) and net[thick] == pytest.approx(bars_mm, abs=0.5)
    for gauge_mm in (thin, thick):
        (plan,) = (plan for plan in cuts.plans if plan.gauge.mm == gauge_mm and plan.gauge.name == metal)
        assert plan.saw_mm == pytest.approx(sum(o.count * o.saw_mm for o in own if o.gauge.mm == gauge_mm))
        assert plan.pieces == sum(o.count for o in own if o.gauge.mm == gauge_mm)
    # Weights.
    for row in wires:
        length = each[row.used_for.split(", ")[0]]
        assert row.each_g == pytest.approx(grams(length, thin, metal))
    bushes = sum(row.total_g or 0 for row in arms if row.part != "arm")
    whole = sum(row.total_g or 0 for row in (*bars, *arms))
    assert whole == pytest.approx(found.grams)
    assert whole - bushes == pytest.approx(grams(arms_mm, thin, metal) + grams(bars_mm, thick, metal))
    # The chapter.
    blocks = list(supports(found, train, 5.0, MM))
    tables = [block for block in blocks if isinstance(block, TextTable)]
    frame, gaps = tables[0], tables[1:]
    assert int(frame.totals[0][-2]) == sum(row.count for row in bars)
    assert float(frame.totals[0][-1]) == pytest.approx(sum(row.total_g or 0 for row in bars), abs=0.06)
    assert sum(len(table.rows) for table in gaps) == len(found.arms)
    column = gaps[0].heads.index("cut [mm]")
    assert {row[0]: float(row[column]) for table in gaps for row in table.rows} == pytest.approx(each, abs=0.006)
    paragraph = next(block.text for block in blocks if isinstance(block, Paragraph))
    assert f"{len(found.arms)} arms of {metal}" in paragraph and f"{found.grams:.0f} g" in paragraph
    assert MM.text(arms_mm) in paragraph and MM.text(bars_mm) in paragraph
    # And as CSV.
    data = list(csv.DictReader(io.StringIO(cuts_csv(stock, cuts.cuts))))
    assert sum(int(row["count"]) for row in data if row["piece"].startswith("arm ")) == len(found.arms)
    assert {row["wire"] for row in data if row["piece"].startswith("arm ")} == {metal}
    listed = list(csv.DictReader(io.StringIO(bill_csv(rows))))
    assert sum(int(row["count"]) for row in listed if row["part"] == "arm") == len(found.arms)


def test_steel_bars_weigh_what_steel_does() -> None:
    design, train, found = made("square")
    rows = bill_of(inventory(design, train), cut("square").plans, 0, MM, found)
    (row,) = (row for row in rows if row.part == "bar of wire" and "steel (6" in row.size.replace("\xa0", " "))
    assert row.each_g == pytest.approx(grams(1829, 6, "steel"), rel=1e-3) or row.each_g == pytest.approx(
        grams(914, 6, "steel"), rel=1e-3
    )


@pytest.mark.deep
def test_a_ten_ring_model_with_frame_and_arms_takes_less_wire_than_is_told_of_one() -> None:
    """A builder of such a model uses about 400 ft of wire (common practice, no source): gears, frame and arms together
    come to two thirds of that."""
    cuts = cut("ten rings")
    net_ft = sum(one.count * one.net_mm for one in cuts.cuts) / 304.8
    own_ft = sum(one.count * one.net_mm for one in cuts.cuts if one.gear is None) / 304.8
    assert 200 < net_ft < 400 and 90 < own_ft < 130


# -- drawings and pack ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [NAMED[0], NAMED[1], NAMED[-1]])
def test_a_gap_is_drawn_with_its_arms_where_they_stand(name: str) -> None:
    design, train, found = made(name)
    lengths, scale = Lengths(design.units), 4.0
    for gap in found.gaps:
        drawing = gap_view(found, train, gap, scale, lengths)
        words = [shape.text for shape in drawing.shapes if isinstance(shape, Text)]
        arms = [shape for shape in drawing.shapes if isinstance(shape, Polyline) and shape.layer == "arm"]
        assert len(arms) == sum(len(arm.points) - 1 for arm in found.in_gap(gap))
        for arm in found.in_gap(gap):
            assert arm.held.name in words
            assert f"long {lengths.bare(arm.line_mm, lengths.unit, 1 if design.units == 'mm' else 2)}" in words
            x, y = (side / scale for side in arm.points[0])
            assert any(LineString(one.points).convex_hull.distance(Point(x, y)) < 1e-6 for one in arms)


@pytest.mark.deep
def test_the_pack_has_the_chapter_and_its_steps() -> None:
    design = parse_design(SMALL.format(frame=SQUARE, stands="none", model="wall", metal="steel"))
    answer = solve(design)
    page = make_pack(design, answer.solutions[0], "a4", MM).files["index.html"].decode()
    for told in (">Supports<", ">Arms in gap 0<", ">Arms in gap 2<", "hangs on a wall", "Lay the frame on its back."):
        assert told in page, told
    assert "Supports are not designed" not in page


@pytest.mark.deep
def test_without_the_table_a_line_says_that_supports_are_not_designed() -> None:
    design = parse_design(design_text(False))
    page = make_pack(design, solve(design).solutions[0], "a4", MM).files["index.html"].decode()
    assert ">Supports<" not in page and "Supports are not designed" in page


def design_text(with_supports: bool) -> str:
    text = SMALL.format(frame=SQUARE, stands="none", model="wall", metal="steel")
    return text if with_supports else text.replace('[supports]\nmodel = "wall"\nmetal = "steel"\n', "")


@pytest.mark.parametrize("name", [NAMED[0], NAMED[1], NAMED[-1]])
def test_arms_are_made_once_and_put_up_before_what_they_hold(name: str) -> None:
    design, train, found = made(name)
    steps = build_order(inventory(design, train), MM, found)
    makes = [one for step in steps for one in step.makes]
    mounts = [one for step in steps for one in step.mounts]
    there: set[str] = set()
    for step in steps:
        assert set(step.uses) <= there | set(step.makes), step.title
        there |= set(step.makes)
    names = [f"arm of {arm.held.name}" for arm in found.arms]
    bars = [name for bar in found.frame.bars for name in bar_names(bar)]
    assert len(set(bars)) == len(bars) == sum(bar.count for bar in found.frame.bars)
    assert all(makes.count(name) == mounts.count(name) == 1 for name in (*names, *bars))
    assert max(map(mounts.index, bars)) < min(map(mounts.index, names))
    for arm in found.arms:
        held = arm.held
        post = {"arbor": f"post of arbor of link {held.name[1:]}"}.get(held.what)
        if held.what == "roller":
            ring, number = held.name[1:].split(".")
            post = f"post of roller {number} of ring {ring}"
        if post is not None:
            assert mounts.index(f"arm of {held.name}") < mounts.index(post)


def test_a_design_with_a_plate_or_without_the_table_has_no_arms() -> None:
    design = parse_design(design_text(False))
    _, train = small()
    assert supports_made(design, train) is None
    plate = parse_design(design_text(True).replace("[fit]\n", '[fit]\nplate = "inner"\n'))
    assert plate.supports is not None and supports_made(plate, train) is None


@pytest.mark.deep
def test_a_frame_far_larger_than_the_model_has_its_gaps_on_pages_too() -> None:
    """Plate gears in a round frame whose rings are longer than every bar: joined, counted, and drawn on the page."""
    text = SMALL.format(frame='shape = "round", diameter = 700', stands="outer", model="table", metal="brass")
    text = text.replace('form = "curved"', 'form = "involute"').replace("min = 8, max = 24", "min = 10, max = 34")
    text = text.replace('metal = "brass"', 'metal = "brass"\nsag = 30').replace("tooth_step = 9", "tooth_step = 12")
    start, end = text.index("[drive]"), text.index("[wire]")
    text = text[:start].replace("addendum = 4", "addendum = 5").replace("rim = 5", "rim = 9") + text[end:]
    design = parse_design(text)
    answer = solve(design)
    train = answer.trains(design)[0]
    found = supports_made(design, train)
    assert found is not None
    stock = inventory(design, train)
    cuts = cut_list(stock, tuple(found.wires()))
    rings = [one for one in cuts.cuts if one.gear is None and one.part]
    assert sum(one.net_mm for one in rings) == pytest.approx(4 * 2 * math.pi * 353, abs=0.5)  # to a tenth each
    assert ("parts of frame and arms", 4) in joints_of(stock, cuts.cuts)
    files = make_pack(design, answer.solutions[0], "a4", MM).files  # where a drawing is too large, it raises
    assert "Arms in gap 1" in files["index.html"].decode()
