"""An armed model weighs the same wherever it is told, and no text of it leaves anything to the maker's wits."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace
from functools import cache, partial

import pytest
from armed import SMALL, SQUARE, small, ten_rings

from solver import Design, Train, parse_design, solve
from solver.answer.document import SolutionAnswer
from solver.answer.solution import solution_answer
from solver.check.judge import judge
from solver.design.weights import body_grams
from solver.search.sagging import MOTOR_GRAMS
from solver.service.page.motion import motion
from solver.service.page.turning import turning
from solver.sheets.book.bill import bill_csv, bill_of
from solver.sheets.book.document import Paragraph, TextTable
from solver.sheets.book.hours import hours_of
from solver.sheets.book.pack import make_pack
from solver.sheets.book.supports import supports
from solver.sheets.book.weight import hanging_grams, weight
from solver.sheets.draw.drawing import Line, Polyline, Shape
from solver.sheets.gears.inventory import inventory
from solver.sheets.gears.masses import masses_of
from solver.sheets.stock.cuts import cut_list, joints_of
from solver.sheets.supports.made import SupportsMade, supports_made
from solver.sheets.supports.weighed import weighed
from solver.sheets.views.model import Model
from solver.sheets.views.picture import picture_page
from solver.sheets.views.picture_notes import notes
from solver.sheets.views.picture_page import fitted
from solver.words.lengths import Lengths

MODELS = {
    "wall": lambda: small(),
    "table": lambda: small(SQUARE, "outer", "table", "brass"),
    "ten": lambda: ten_rings(),
}
NAMED = ("wall", "table", pytest.param("ten", marks=pytest.mark.deep))


@cache
def made(name: str) -> tuple[Design, Train, SupportsMade]:
    design, train = MODELS[name]()
    found = supports_made(design, train)
    assert found is not None
    return design, train, found


@pytest.mark.parametrize("name", NAMED)
def test_frame_and_arms_weigh_the_same_everywhere(name: str) -> None:
    design, train, found = made(name)
    stock, lengths = inventory(design, train), Lengths(design.units)
    rows = list(csv.DictReader(io.StringIO(bill_csv(bill_of(stock, (), 0, lengths, found)))))
    held = [row for row in rows if row["group"] in ("frame", "arms")]
    listed = sum(int(row["count"]) * float(row["each_g"]) for row in held)
    assert listed == pytest.approx(found.grams, abs=0.05 * sum(int(row["count"]) for row in held))
    masses = masses_of(stock, tuple(weighed(found)))
    groups = {mass.what: mass.grams for mass, _ in masses.groups()}
    assert groups["frame"] + groups["arms"] == pytest.approx(found.grams)
    bodies = sum(float(body_grams(design, body)) for body in range(len(train.seats)))
    assert masses.whole.grams == pytest.approx(stock.grams + found.grams + bodies)
    motor = MOTOR_GRAMS if design.drive is not None else 0.0
    assert hanging_grams(stock, found) == pytest.approx(masses.whole.grams + motor)
    # In words: the chapter on supports, and that on weight.
    text = " ".join(one.text for one in supports(found, train, 1.0, lengths) if isinstance(one, Paragraph))
    told = re.search(r"arms and bushes weigh (\d+) g", text)
    assert told is not None and int(told[1]) == round(found.grams)
    tables = [one for one in weight(stock, lengths, found) if isinstance(one, TextTable)]
    rows_of = {row[0]: float(row[2]) for row in tables[0].rows}
    assert rows_of["frame"] + rows_of["arms"] == pytest.approx(found.grams, abs=0.11)


@pytest.mark.parametrize("name", NAMED)
def test_the_middle_of_frame_and_arms_is_that_of_their_pieces(name: str) -> None:
    """Bars and arms cut into a thousand pieces each; feet and eyes lie behind the back, bars where the table says."""
    _, _, found = made(name)
    frame = found.frame
    parts = list(weighed(found))
    for bar in frame.bars:
        mine = [mass for group, mass in parts if group == "frame" and mass.what == bar.what]
        if bar.gap is not None:
            assert all(mass.depth_mm == pytest.approx(frame.bar_depths[bar.gap]) for mass in mine)
        elif not bar.what.startswith("member"):
            assert all(mass.depth_mm < frame.bar_depths[-1] - frame.bar_mm / 2 for mass in mine)
    arms = {mass.what: mass for group, mass in parts if group == "arms"}
    for arm in found.arms:
        x = y = count = 0.0
        for (ax, ay), (bx, by) in zip(arm.points, arm.points[1:], strict=False):
            long = ((bx - ax) ** 2 + (by - ay) ** 2) ** 0.5
            for step in range(1000):
                part = (step + 0.5) / 1000
                x, y, count = x + long * (ax + part * (bx - ax)), y + long * (ay + part * (by - ay)), count + long
        eye = max(arm.wire_mm - arm.line_mm, 0.0) * 1000
        x, y = (x + eye * arm.points[0][0]) / (count + eye), (y + eye * arm.points[0][1]) / (count + eye)
        mass = arms[f"arm of {arm.held.name}"]
        assert (mass.x_mm, mass.y_mm) == pytest.approx((x, y), abs=1e-6)
        assert mass.depth_mm == frame.depths[arm.held.gap]


def test_hours_count_their_cuts_bends_and_joints() -> None:
    design, train, found = made("wall")
    stock = inventory(design, train)

    def counted(beside: SupportsMade | None) -> dict[str, int]:
        cuts = cut_list(stock, () if beside is None else tuple(beside.wires())).cuts
        joints = (*joints_of(stock, cuts), *(() if beside is None else beside.joints))
        return {one.what: one.count for one in hours_of(stock, cuts, sum(n for _, n in joints), beside)}

    bare, whole = counted(None), counted(found)
    bars, arms = sum(bar.count for bar in found.frame.bars), len(found.arms)
    bushes = sum(arm.bush is not None for arm in found.arms)
    assert whole["solder"] - bare["solder"] == sum(count for _, count in found.joints)
    assert whole["bend"] - bare["bend"] == arms + 2 + sum(len(arm.bends) for arm in found.arms)  # two to hang by
    assert whole["saw and file"] - bare["saw and file"] == bars + arms + bushes
    assert whole["turn and tap"] - bare["turn and tap"] == bushes
    assert whole["assemble"] - bare["assemble"] == bars + arms


@cache
def page(name: str) -> str:
    if name == "ten":
        design, train = ten_rings()
        solution: SolutionAnswer = solution_answer(design, train, judge(design, train), 1)
    else:
        design = parse_design(SMALL.format(frame=SQUARE, stands="none", model=name, metal="steel"))
        solution = solve(design).solutions[0]
    return make_pack(design, solution, "a4", Lengths(design.units)).files["index.html"].decode()


@pytest.mark.deep
@pytest.mark.parametrize("name", ["table", "wall", "ten"])
def test_texts_are_true_of_a_model_on_arms(name: str) -> None:
    text = page(name)
    for never in (
        "left to you",
        "held from the frame",
        "what the frame holds",
        "Who drills",
        "not shown",
        "of posts</",
    ):
        assert never not in text, never
    for always in ("arm", "F0t", "Exploded view"):
        assert always in text
    if name == "table":
        assert not re.search(r"\b[Ww]all\b|\bhang|\bhung", re.sub(r"hub\S{1,6} wall", "", text))
        assert "Stand the frame on its feet." in text and "cap for a foot" in text
    else:
        assert "Hang it" in text and "wall fixing" in text


def test_picture_and_page_show_every_arm_and_no_other_design_has_any() -> None:
    design, train, found = made("wall")
    drawn = page_of(design, train)
    arms = [shape for shape in drawn if shape.layer == "arm-behind"]
    stretches = [shape for shape in arms if isinstance(shape, Polyline)]
    assert len(stretches) == sum(len(arm.points) - 1 for arm in found.arms)
    rollers = sum(arm.held.what == "roller" for arm in found.arms)
    # From the side, where everything is turned about the axis, rollers stand above and below; one line is the legend's.
    assert sum(isinstance(shape, Line) for shape in arms) == len(found.arms) + rollers + 1
    moving = motion(design, solution_answer(design, train, judge(design, train), 1))
    assert moving.supports is not None
    assert [(arm.held, arm.points) for arm in moving.supports.arms] == [
        (a.held.name, list(a.points)) for a in found.arms
    ]
    shown = turning(moving)
    left, top, wide, high = shown.box
    half = (moving.supports.half_width + moving.supports.bar) * shown.scale
    assert (
        shown.held.count("M") == len(found.arms)
        and left < -half
        and wide > 2 * half
        and top < -half
        and high > 2 * half
    )
    bare = replace(design, supports=None)
    assert not [shape for shape in page_of(bare, train) if shape.layer in ("arm-behind", "frame-bar")]
    assert motion(bare, solution_answer(bare, train, judge(bare, train), 1)).supports is None


def page_of(design: Design, train: Train) -> list[Shape]:
    model = Model(design, train)
    return [
        shape
        for one in picture_page(model, fitted(model, partial(notes, model))).placed
        for shape in one.drawing.shapes
    ]
