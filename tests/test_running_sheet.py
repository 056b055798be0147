"""What the sheets say of how gears run: the play to set, how it changes with the distance, how exact gears must be."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from test_picture import design_of, plain

from solver import Design, Train
from solver.forms.hands import accuracy_of_gears
from solver.forms.pinned import PinForm
from solver.sheets.book.document import Paragraph, TextTable
from solver.sheets.book.running import drill_told, running
from solver.sheets.gears.adjust import meshes_of
from solver.sheets.gears.exactness import SHARE, TRIES, exactness_of
from solver.sheets.gears.inventory import inventory
from solver.words.lengths import Lengths

EVEN = "addendum = 4\nrim = 6\nlevel_spacing = 14\n"


def tables(design: Design, train: Train, lengths: Lengths, hands: bool = False) -> list[TextTable]:
    stock = inventory(design, train)
    blocks = running(stock, meshes_of(design, train), exactness_of(stock) if hands else None, lengths)
    return [block for block in blocks if isinstance(block, TextTable)]


@pytest.mark.parametrize(
    ("mm", "told", "inches"),
    [
        (2.58, "2.5 mm", "3/32 in"),  # 0.1016 in is between 6/64 and 7/64
        (3.175, "3.1 mm", "1/8 in"),
        (25.4 * 1.5, "38.1 mm", "1 1/2 in"),
        (25.4, "25.4 mm", "1 in"),
        (0.05, "none", "none"),
    ],
)
def test_the_drill_is_the_next_smaller_one(mm: float, told: str, inches: str) -> None:
    assert (drill_told(mm, "mm"), drill_told(mm, "in")) == (
        told.replace(" ", "\u00a0", told.count(" ")),
        inches.replace(" in", "\u00a0in"),
    )


def test_every_mesh_has_its_play_at_jam_nominal_and_slip() -> None:
    design = design_of(3, EVEN)
    train = plain(design, 3)
    play, change = tables(design, train, Lengths("mm"))[:2]
    assert [row[:3] for row in play.rows] == [
        ("R24", "G11", "L0"), ("R30", "G5", "L0"), ("R30", "G12", "L1"), ("R36", "G6", "L1"),
    ]  # fmt: skip
    stock, meshes = inventory(design, train), meshes_of(design, train)
    form = stock.form
    for row, mesh in zip(change.rows, meshes, strict=True):

        def millimetres(text: str) -> float:
            return float(text.removesuffix("\u00a0mm"))

        nearer, farther = millimetres(row[2]), millimetres(row[6])
        for apart, cell in ((-nearer, row[3]), (0.0, row[5]), (farther, row[7])):
            run = form.run(stock.sizes, mesh.one, mesh.other, apart)
            assert run.backlash == pytest.approx(millimetres(cell), abs=0.006)
        assert row[4] in ("jams", "hunts", "meets a hub") and row[8] in ("slips", "hunts")
        assert millimetres(row[3]) < millimetres(row[5]) < millimetres(row[7])


def test_both_units_name_both_drills() -> None:
    design = replace(design_of(2, EVEN), units="in")
    play = tables(design, plain(design, 2), Lengths("in", both=True))[0]
    assert play.heads[3:6] == ("play", "drill [in]", "drill [mm]")
    assert "in" in play.rows[0][4] and "mm" in play.rows[0][5]


@pytest.mark.slow
def test_each_gear_may_be_out_by_what_its_worst_mesh_needs() -> None:
    design = design_of(2, EVEN + "[wire]\naccuracy = 0.3\n")
    assert design.wire.accuracy == Fraction(3, 10)
    train = plain(design, 2)
    stock = inventory(design, train)
    exact = exactness_of(stock)
    assert exact is not None and isinstance(stock.form, PinForm)
    some = [(one, other) for one, other, _ in stock.pairs]
    each = accuracy_of_gears(stock.form, stock.sizes, some, stock.sizes.uneven, SHARE, TRIES)
    assert {spec: pair.need_mm for spec, pair in exact.gears()} == each
    assert len(set(each.values())) > 1  # some gears must be more exact than others
    gears, pairs = tables(design, train, Lengths("mm"), True)[2:]
    assert len(gears.rows) == len(each) and "0.3" in pairs.caption
    for row in pairs.rows:
        assert sum(map(float, row[2:])) == pytest.approx(100)


def test_of_gears_of_plate_it_is_not_worked_out() -> None:
    design = design_of(2, 'addendum = 4\nrim = 8\n[wire]\nform = "involute"\n')
    train = plain(design, 2)
    stock = inventory(design, train)
    assert exactness_of(stock) is None
    blocks = list(running(stock, meshes_of(design, train), None, Lengths("mm")))
    assert isinstance(blocks[-1], Paragraph) and blocks[-1].text.startswith("Not worked out")
