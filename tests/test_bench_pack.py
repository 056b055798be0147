"""What a builder stumbled on with the pack alone, before a frame and its arms were built from it."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from functools import cache

import pytest
from armed import SMALL, SQUARE, small, ten_rings

from solver import Design, Train, parse_design, solve
from solver.design.hardware import Hardware, LabelPlate
from solver.sheets.book.fixings import bears
from solver.sheets.book.order_bench import whole_order
from solver.sheets.book.pack import make_pack
from solver.sheets.book.shopping import ShoppingRow, shopping
from solver.sheets.book.steps import BuildStep
from solver.sheets.book.supports import supports
from solver.sheets.book.trials import off_told
from solver.sheets.book.weight import hanging_grams
from solver.sheets.draw.drawing import Text
from solver.sheets.gears.adjust import meshes_of
from solver.sheets.gears.inventory import Inventory, inventory
from solver.sheets.stock.cuts import cut_list, joints_of
from solver.sheets.supports.made import supports_made
from solver.sheets.views.label import label_drawing
from solver.words.lengths import Lengths

MM, INCHES = Lengths("mm"), Lengths("in")
DRIVE = re.compile(r"\[drive\]\n.*\n.*\n")


def labelled(wide: int, high: int) -> Hardware:
    return Hardware(label=LabelPlate(Fraction(wide), Fraction(high), "Saturn"))


@cache
def worked(model: str = "wall") -> tuple[Inventory, tuple[ShoppingRow, ...], tuple[BuildStep, ...]]:
    design, train = small(model=model)
    return walked(replace(design, hardware=labelled(80, 20)), train)


def walked(design: Design, train: Train) -> tuple[Inventory, tuple[ShoppingRow, ...], tuple[BuildStep, ...]]:
    stock, held, lengths = inventory(design, train), supports_made(design, train), Lengths(design.units)
    assert held is not None
    made = cut_list(stock, tuple(held.wires()))
    joints = sum(count for _, count in (*joints_of(stock, made.cuts), *held.joints))
    rows = shopping(stock, made.plans, joints, lengths, held)
    return stock, rows, whole_order(stock, lengths, meshes_of(design, train), rows, held)


def test_inches_are_tried_by_32nds_as_rules_are_divided() -> None:
    assert off_told(MM) == (1.0, "1\xa0mm", "0.5\xa0mm")
    assert off_told(INCHES) == (25.4 / 32, "1/32\xa0in", "1/64\xa0in")
    assert off_told(Lengths("in", True))[1:] == ("1/32\xa0in\xa0(0.79\xa0mm)", "1/64\xa0in\xa0(0.4\xa0mm)")


@pytest.mark.deep
def test_a_trial_in_inches_says_so() -> None:
    lines = [line for step in walked(*ten_rings())[2] if step.title.startswith("Try link") for line in step.lines]
    assert any("1/32\xa0in nearer" in line for line in lines)
    assert any("1/32\xa0in too large across moves its mesh by 1/64\xa0in" in line for line in lines)
    assert not any("0.039" in line for line in lines)


@pytest.mark.parametrize("model", ["wall", "table"])
def test_what_arms_cross_is_laid_in_before_them(model: str) -> None:
    """An arm is soldered from the frame inwards: past it no ring and no gear of its level goes into its place."""
    stock, _, steps = worked(model)
    levels = [step for step in steps if step.title.startswith("Level")]
    assert len(levels) == len(stock.train.rings)
    for level, step in enumerate(levels):
        first = next(place for place, one in enumerate(step.work) if one.mounts)
        before = {name for one in step.work[:first] for name in one.uses}
        inside = {one.gear.use for one in stock.gears if one.gear.level == level and one.part != "motor pinion"}
        assert inside <= before, (level, inside - before)


def test_pins_come_beside_teeth_in_a_frame_too_and_a_bush_is_soldered_when_both_its_gears_run() -> None:
    """A pin gear's loops are wider than its ring: from the side alone; and an arbor has its second gear a level on."""
    stock, _, steps = worked()
    assert any(piece.what == "loop" and piece.count > 1 for shape in stock.shapes for piece in shape.pieces)
    for step in (step for step in steps if step.title.startswith("Level")):
        lines = step.lines
        beside = next(place for place, line in enumerate(lines) if "does not go over them along the axis" in line)
        assert beside < next(place for place, line in enumerate(lines) if line.startswith("Solder the arms"))
        over = next(place for place, line in enumerate(lines) if "draw the rollers in so far in their eyes" in line)
        assert over < next(place for place, line in enumerate(lines) if "on its rollers" in line)
        assert sum("those of an arbor on both of its levels" in line for line in lines) == 1


def test_it_is_told_where_the_eyes_are_and_what_their_hooks_bear() -> None:
    stock, rows, _ = worked()
    held = supports_made(stock.design, stock.train)
    assert held is not None
    told = str(list(supports(held, stock.train, 4.0, MM)))
    spots = next(bar.spots for bar in held.frame.bars if bar.thin)
    assert "Bend the 2 eyes to hang by about a rod of 8\\xa0mm, and solder them upright to the back" in told
    assert f"{spots[1][0] - spots[0][0]:g}\\xa0mm apart" in told
    hook = next(row for row in rows if row.what == "wall fixing")
    kg = 7 * hanging_grams(stock, held) / 1000  # a rigging manual: 6 times is common, many take 7
    assert bears(stock, held) in hook.size and f"7 times all that hangs: {kg:.1f} kg" in hook.size


def test_feet_are_told_too() -> None:
    stock, _, _ = worked("table")
    held = supports_made(stock.design, stock.train)
    assert held is not None
    told = str(list(supports(held, stock.train, 4.0, MM)))
    assert "Solder a foot to the back of each corner, along the axis, 40\\xa0mm long." in told


def test_the_tabs_of_a_label_are_bought_and_used() -> None:
    _, rows, steps = worked()
    tab = next(row for row in rows if row.what == "label tab")
    assert (tab.needed, tab.buy) == (2, 2)
    assert any(tab.part in one.uses and tab.part in one.text for step in steps[1:] for one in step.work)


def test_a_label_too_small_for_its_screws_is_told() -> None:
    stock, _, _ = worked()

    def lettering(wide: int, high: int) -> list[str]:
        given = replace(stock, design=replace(stock.design, hardware=labelled(wide, high)))
        drawing = label_drawing(given, MM)
        assert drawing is not None
        return [shape.text for shape in drawing.shapes if isinstance(shape, Text)]

    need = stock.fittings.head.diameter + 2  # a millimetre beside each head
    assert not any("too small" in line for line in lettering(80, 20))
    assert any(
        f"too small for its screws: at least {MM.text(2 * need)} by {MM.text(need)}" in line for line in lettering(1, 1)
    )


@pytest.mark.deep
def test_a_pack_without_a_drive_has_no_motor_and_a_label_may_be_larger_than_a_page() -> None:
    design = parse_design(
        DRIVE.sub(
            "[hardware]\nlabel = {width = 5000, height = 5000}\n",
            SMALL.format(frame=SQUARE, stands="none", model="wall", metal="steel"),
        )
    )
    assert design.drive is None
    files = make_pack(design, solve(design).solutions[0], "a4", MM).files
    words = re.sub(r"<[^>]*>", " ", files["index.html"].decode())
    assert "The label plate is larger than a page" in words and "label.svg" in files
    left = [words[found.start() - 80 : found.end() + 40] for found in re.finditer(r"\bM: the|\b[Mm]otor", words)]
    assert left == []
