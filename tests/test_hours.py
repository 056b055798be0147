"""Hours: counts are those of the lists, rates those of the bench, and ten rings take about two hundred."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from shipped import DISCS, shipped

from solver import parse_design
from solver.design.hardware import Bench
from solver.sheets.book.document import TextTable
from solver.sheets.book.hours import WorkHours, chapter, hours_of
from solver.sheets.gears.inventory import Inventory, inventory
from solver.sheets.stock.cuts import cut_list, joints_of


def worked(name: str, wire: str = "", bench: Bench | None = None) -> tuple[Inventory, dict[str, WorkHours], int]:
    design, answer = shipped(name)
    if wire:
        design = replace(design, wire=parse_design(f'[bodies]\nset = "saturn"\n[fit]\npost_radius = 1\n{wire}').wire)
    stock = inventory(replace(design, bench=bench), answer.trains(design)[0])
    cuts = cut_list(stock).cuts
    joints = sum(count for _, count in joints_of(stock, cuts))
    return stock, {one.what: one for one in hours_of(stock, cuts, joints)}, joints


@pytest.mark.slow
@pytest.mark.parametrize("name", ["saturn-hall", pytest.param("solar-system-1-thirds", marks=pytest.mark.deep)])
def test_ten_rings_take_about_two_hundred_hours_for_a_thousand_joints(name: str) -> None:
    """Common practice, no source: what makers tell of such models."""
    stock, work, joints = worked(name)
    assert len(stock.train.rings) == 10
    hours = sum(one.hours for one in work.values())
    assert 170 < 1000 * float(hours) / joints < 230
    assert 0.5 < work["solder"].hours / hours < 0.8


def test_bends_are_two_to_a_tooth_and_one_to_a_loop() -> None:
    stock, work, joints = worked(DISCS.stem)
    toothed = sum(made.gear.teeth for made in stock.gears if made.toothing == "saw teeth")
    loops = sum(2 if made.toothing == "pins" else 1 for made in stock.gears)
    assert work["bend"].count == 2 * toothed + loops
    assert work["solder"].count == joints and work["solder"].hours == Fraction(joints, 8)
    assert work["set up jigs"].count == len(stock.jigs) and work["try pairs of rings"].count == len(stock.train.links)


def test_plate_is_filed_and_not_bent() -> None:
    stock, work, _ = worked(DISCS.stem, '[wire]\nform = "cycloidal"')
    assert "bend" not in work
    assert work["cut and file teeth"].count == sum(made.gear.teeth for made in stock.gears)


def test_own_rates_and_what_goes_wrong() -> None:
    stock, work, joints = worked(DISCS.stem, bench=Bench(joints=Fraction(4), rest=Fraction(1, 4)))
    assert work["solder"].hours == Fraction(joints, 4)
    (table,) = [block for block in chapter(tuple(work.values()), stock) if isinstance(block, TextTable)]
    whole = float(sum(one.hours for one in work.values()))
    assert [row[-1] for row in table.totals] == [f"{whole / 4:.1f}", f"{1.25 * whole:.1f}"]
    assert {row[4] for row in table.rows} >= {"bench.joints_per_hour", "bench.hours_per_jig"}
