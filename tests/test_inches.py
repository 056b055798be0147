"""What is told in inches can be measured and sawn in inches: bars, lists and CSV files."""

from __future__ import annotations

import csv
import io
from math import ceil

import pytest
from shipped import DISCS, shipped

from solver.sheets.book.lists import CUT_COLUMNS, INCH_COLUMNS, cuts_csv
from solver.sheets.draw.drawing import Polyline, Text
from solver.sheets.draw.marks import scale_bar
from solver.sheets.gears.inventory import inventory
from solver.sheets.stock.cuts import cut_list
from solver.words.lengths import Lengths

IN, MM, BOTH = Lengths("in"), Lengths("mm"), Lengths("mm", True)


def test_a_bar_of_four_inches_stands_above_that_of_100_mm() -> None:
    shapes = scale_bar(3.0, 4.0, inches=True)
    long = [shape.points for shape in shapes[:2] if isinstance(shape, Polyline)]
    assert [max(x for x, _ in points) - min(x for x, _ in points) for points in long] == pytest.approx([100.0, 101.6])
    assert max(y for _, y in long[0]) == min(y for _, y in long[1])
    assert {shape.text for shape in shapes if isinstance(shape, Text)} >= {"100 mm", "4 in", "0"}
    fields = [shape for shape in shapes[2:] if isinstance(shape, Polyline)]
    widths = sorted({round(max(x for x, _ in one.points) - min(x for x, _ in one.points), 6) for one in fields})
    assert widths == [10.0, 12.7]
    assert not any(shape.text == "4 in" for shape in scale_bar(3.0, 4.0) if isinstance(shape, Text))


def test_lengths_to_saw_to_are_never_told_shorter_than_they_are() -> None:
    for tenths in range(1, 3000, 7):
        mm = tenths / 10
        assert MM.sawn(mm, "mm") == f"{mm:.1f}"
        told = float(IN.sawn(mm, "in"))
        assert mm / 25.4 - 1e-8 <= told <= mm / 25.4 + 0.001
    assert IN.sawn_text(254.0) == "10\u00a0in" and BOTH.sawn_text(12.7) == "12.7\u00a0mm\u00a0(0.5\u00a0in)"


def test_the_cut_list_has_inches_where_these_are_told() -> None:
    design, answer = shipped(DISCS.stem)
    stock = inventory(design, answer.trains(design)[0])
    cuts = cut_list(stock).cuts
    assert cuts_csv(stock, cuts) == cuts_csv(stock, cuts, MM)
    for lengths in (IN, BOTH):
        rows = list(csv.DictReader(io.StringIO(cuts_csv(stock, cuts, lengths))))
        assert tuple(rows[0]) == (*CUT_COLUMNS, *INCH_COLUMNS)
        for row in rows:
            saw = float(row["saw_mm"])
            assert float(row["saw_in"]) == pytest.approx(ceil(saw / 25.4 * 1000 - 1e-6) / 1000)
            assert float(row["wire_in"]) == pytest.approx(float(row["wire_mm"]) / 25.4, abs=6e-5)
            assert float(row["net_in"]) == pytest.approx(float(row["net_mm"]) / 25.4, abs=1e-4)
            assert float(row["all_in"]) == pytest.approx(int(row["count"]) * float(row["saw_in"]), abs=6e-4)
