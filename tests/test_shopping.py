"""The shopping list holds what the model needs, with its share on top, and its costs add up."""

from __future__ import annotations

import csv
import io
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from functools import cache
from math import ceil

import pytest
from shipped import DISCS, shipped

from solver.design.hardware import PRICED, Hardware, LabelPlate
from solver.sheets.book.document import TextTable
from solver.sheets.book.fixings import balanced_rings
from solver.sheets.book.shopping import ShoppingRow, chapter, shopping, shopping_csv
from solver.sheets.gears.inventory import Inventory, inventory
from solver.sheets.stock.cuts import cut_list, joints_of
from solver.words.lengths import Lengths

SINGLE = ("plate", "motor", "body", "label", "board", "coupling", "pillar", "plate spacer", "foot", "wall fixing")
SINGLE += ("counterweight", "bracket", "foot cap", "label tab")
PRICES = tuple((what, Fraction(1 + number, 8)) for number, what in enumerate(PRICED))


@cache
def listed(name: str, hardware: Hardware | None = None) -> tuple[Inventory, tuple[ShoppingRow, ...]]:
    design, answer = shipped(name)
    stock = inventory(replace(design, hardware=hardware), answer.trains(design)[0])
    made = cut_list(stock)
    joints = sum(count for _, count in joints_of(stock, made.cuts))
    return stock, shopping(stock, made.plans, joints, Lengths(design.units))


NAMES = (
    DISCS.stem,
    pytest.param("saturn-hall", marks=pytest.mark.slow),
    pytest.param("solar-system-1-thirds", marks=pytest.mark.deep),
)


@pytest.mark.parametrize("name", NAMES)
def test_what_is_needed_is_what_the_train_has(name: str) -> None:
    stock, rows = listed(name)
    need = Counter[str]()
    for row in rows:
        need[row.what] += row.needed
    design, train = stock.design, stock.train
    assert train.placement is not None
    thirds, rollers = sum(len(link.thirds) for link in train.links), sum(map(len, train.placement.rollers))
    drive = train.placement.drive
    thirds += len(drive.thirds) if drive is not None else 0
    assert need["roller"] == rollers and need["body"] == len(design.bodies)
    # On a plate one on either side of all that turns on a post; else on the free ends of arbors and third gears.
    plate = design.fit.plate != "none"
    # The drive's shaft has two beside its bush in the plate.
    turning = len(train.links) + thirds
    free = turning if stock.fittings.threaded else turning + rollers
    assert need["collar"] == (2 * (turning + rollers + (drive is not None)) if plate else free)
    motor = 4 * (drive is not None)
    assert need["motor"] == need["coupling"] == (drive is not None) and need["pillar"] == plate * motor
    assert need["nut"] == (0 if plate else motor)
    # One for each wheel and pinion, and for the motor's.
    assert need["set screw"] == 2 * len(train.links) + (drive is not None)
    # A post too thin for a shoulder is soldered in; what has no thread in its end is held by collars.
    screws = (turning + rollers) * stock.fittings.shouldered + rollers * stock.fittings.threaded
    assert need["screw"] == screws + (2 * motor if plate else motor)
    seats = stock.fittings
    balls = 0
    for seat, count in ((seats.arbor, 2 * len(train.links)), (seats.third, thirds), (seats.roller, rollers)):
        balls += count if seat is not None and seat.where else 0
    assert need["bearing"] == balls
    assert need["board"] == len(stock.jigs)


@pytest.mark.parametrize("name", NAMES)
def test_the_share_on_top_is_rounded_up_and_not_farther(name: str) -> None:
    """Ten in a hundred of 30 are 3, not 4: 30 * 1.1 in binary would be a little more than 33."""
    for spare in (Fraction(0), Fraction(1, 10), Fraction(1, 4)):
        _, rows = listed(name, Hardware(spare=spare))
        for row in rows:
            single = row.what in SINGLE
            exact = Fraction(row.needed) * (1 if single else 1 + spare)
            assert row.buy - 1 < exact <= row.buy, row
    rows = [row for row in listed(DISCS.stem)[1] if row.needed == 30]
    assert rows and all(row.buy == 33 for row in rows)


@pytest.mark.parametrize("name", NAMES)
def test_the_bars_hold_the_pieces(name: str) -> None:
    stock, rows = listed(name)
    plated = stock.design.fit.plate != "none"
    plate = 6 * plated  # its usual thickness
    through = 0 if stock.fittings.shouldered else plate
    rods = [*(post.length_mm + through for post in stock.posts), *(stand.length_mm for stand in stock.stands)]
    rods += [one.rod_mm for one in balanced_rings(stock)]
    pieces = {
        "rod": rods,
        "tube": [one.length_mm for one in stock.arbors],
        "hub rod": [h.length_mm for h in stock.hubs],
    }
    if stock.motor_shaft_mm is not None:
        rods.append(stock.motor_shaft_mm + plate + 2 * plated + 2 * stock.sizes.post_mm)  # a collar, and its grip
        pieces["tube"] += [plate] * plated  # its bush
    for what, some in pieces.items():
        bars = sum(row.needed * row.each * 1000 for row in rows if row.what == what)
        assert sum(some) <= bars <= 2 * sum(some) + 1829, what


def test_costs_are_prices_times_what_is_bought_and_add_up() -> None:
    hardware = Hardware(currency="EUR", prices=PRICES, label=LabelPlate(Fraction(80), Fraction(20), "Saturn"))
    stock, rows = listed(DISCS.stem, hardware)
    assert {row.what for row in rows} <= set(PRICED)
    prices, total = dict(PRICES), Fraction(0)
    for row in rows:
        each = Fraction(914, 1000) if "914" in row.size else Fraction(1829, 1000) if "1829" in row.size else 1
        due = prices[row.what] * row.buy * (each if row.what in ("wire", "rod", "tube", "hub rod") else 1)
        assert row.cost is not None and abs(row.cost - due) <= Fraction(1, 200)
        total += row.cost
    (table,) = [block for block in chapter(rows, stock, Lengths("mm")) if isinstance(block, TextTable)]
    assert table.totals[0][-1] == f"{float(total):.2f} EUR"
    read = list(csv.DictReader(io.StringIO(shopping_csv(rows, "EUR"))))
    assert sum(Fraction(row["cost"]) for row in read) == total
    assert {row["currency"] for row in read} == {"EUR"} and "\xa0" not in shopping_csv(rows, "EUR")
    assert any("80 mm by 20 mm: Saturn" in row["size"] for row in read)


def test_without_prices_nothing_is_said_of_money() -> None:
    stock, rows = listed(DISCS.stem)
    (table,) = [block for block in chapter(rows, stock, Lengths("mm")) if isinstance(block, TextTable)]
    assert "cost" not in table.heads and not table.totals


def test_a_price_in_inches_is_by_the_foot() -> None:
    design, answer = shipped(DISCS.stem)
    stock = inventory(replace(design, units="in", hardware=Hardware(prices=PRICES)), answer.trains(design)[0])
    rows = shopping(stock, cut_list(stock).plans, 10, Lengths("in"))
    bars = [row for row in rows if row.what == "rod"]
    assert bars and all(row.per == "foot" and row.each in (914 / 304.8, 1829 / 304.8) for row in bars)
    assert not [row for row in rows if "mm" in f"{row.size} {row.part}"]


def test_solder_is_by_the_joint() -> None:
    """Half a cube of AWG 14 (1.628 mm) of 7.4 g/cm3 for each of 1,000 joints is 16 g, and as much again is lost."""
    stock, _ = listed(DISCS.stem)
    (row,) = [row for row in shopping(stock, (), 1000, Lengths("mm")) if row.what == "solder"]
    assert row.needed == ceil(2 * 1000 * 0.5 * 1.6277**3 * 7.4 / 1000) == 32
