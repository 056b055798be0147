"""The chapters on balance and play and on the drive: figures from the inventory, verdicts, motor, crank, a hand."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from math import pi

import pytest
from test_picture import design_of, plain

from solver import Design, judge, parse_design
from solver.answer.solution import solution_answer
from solver.design.supports import Supports
from solver.forces.shafts import ARBOR
from solver.forces.slack import ring_plays
from solver.mechanics.metals import newtons
from solver.sheets.book.balance import balance
from solver.sheets.book.bill import bill_of
from solver.sheets.book.document import Block, CautionBox, Figure, Heading, Paragraph, TextTable
from solver.sheets.book.driving import driving
from solver.sheets.book.order import build_order
from solver.sheets.gears.adjust import meshes_of
from solver.sheets.gears.inventory import Inventory, inventory
from solver.sheets.gears.loaded import loaded_model, mesh_plays, rod_at_mm, untold_bodies, weights_of
from solver.words.lengths import Lengths

MADE = "addendum = 4\nrim = 6\nlevel_spacing = 14\n"
ROLLING = MADE + '[fit]\nplate = "inner"\nstands = "outer"\nrollers = {count = 3, radius = 3}\n'
MOTOR = '[drive]\nmotor_rpm = "5/2"\npinion_teeth = [7, 8]\nturn = {body = "Body 1", seconds = 20}\n'
LOADS = "[loads]\n"
MM = Lengths("mm")


def weighed(design: Design, *grams: tuple[str, int]) -> Design:
    return replace(design, weights=tuple((name, Fraction(own)) for name, own in grams))


def stock_of(extra: str) -> Inventory:
    """Of three rings; where the file has [loads], the second body is told to weigh 30 g."""
    design = design_of(3, extra)
    design = weighed(design, ("Body 1", 30)) if LOADS in extra else design
    return inventory(design, plain(design, 3))


def chapters(stock: Inventory) -> tuple[Block, ...]:
    design, train = stock.design, stock.train
    solution, meshes = solution_answer(design, train, judge(design, train), 1), meshes_of(design, train)
    return (*balance(stock, meshes, MM), *driving(stock, solution, meshes, MM))


def table(blocks: tuple[Block, ...], head: str) -> list[tuple[str, ...]]:
    """The rows of the only table with this first head."""
    (found,) = (block for block in blocks if isinstance(block, TextTable) and block.heads[0] == head)
    return list(found.rows)


def told(blocks: tuple[Block, ...], heading: str) -> str:
    """All paragraphs below a heading, as one text."""
    below, found = False, []
    for block in blocks:
        if isinstance(block, Heading):
            below = block.text == heading
        elif below and isinstance(block, Paragraph):
            found.append(block.text)
    return " ".join(found)


def on_a_table(design: Design) -> Design:
    return replace(design, supports=Supports(model="table"))


# -- what is weighed -------------------------------------------------------------------------------------------------


def test_all_metal_is_on_a_shaft_but_posts_rollers_and_the_motor_pinion() -> None:
    stock = stock_of(ROLLING + MOTOR + LOADS)
    model, weights = loaded_model(stock), weights_of(stock)
    assert weights.bodies == (20.0, 30.0, 20.0) and weights.rods == tuple(one.grams for one in stock.stands)
    bore = stock.sizes.post_mm
    friction = [own for own, one in zip(model.friction_nmm, model.shafts, strict=True) if one.kind == ARBOR]
    on_arbors = sum(friction) / (0.0015 * bore / 2) / newtons(1.0)
    hung = sum(load.grams for load in model.rings) - 20 - 30 - 20
    pinion = sum(
        grams for made, grams in zip(stock.gears, stock.gear_grams, strict=True) if made.part == "motor pinion"
    )  # fmt: skip
    still = sum(one.grams for one in stock.posts) + sum(one.grams for one in stock.rollers) + stock.hubs[-1].grams
    assert hung + on_arbors + pinion + still == pytest.approx(stock.grams)


def test_the_body_and_its_rod_pull_the_ring() -> None:
    stock = stock_of(ROLLING + LOADS + 'body_at = {"Body 1" = 40}\n')
    bare, load = loaded_model(stock_of(ROLLING)).rings[1], loaded_model(stock).rings[1]
    usual = newtons(20.0) * rod_at_mm(stock, 1)  # of a body whose weight is not told, at its rod
    assert load.moment_nmm - bare.moment_nmm == pytest.approx(newtons(30.0) * 40 - usual)
    assert bare.moment_nmm == pytest.approx(newtons(stock.stands[1].grams) * rod_at_mm(stock, 1) + usual)
    assert load.friction_nmm / bare.friction_nmm == pytest.approx(load.grams / bare.grams)


def test_weights_of_bodies_are_those_that_the_chapter_on_weight_takes() -> None:
    stock = stock_of(ROLLING)
    stock = replace(stock, design=replace(stock.design, weights=(("Body 1", Fraction(44)),)))
    assert weights_of(stock).bodies == (20.0, 44.0, 20.0) and untold_bodies(stock) == ["Body 0", "Body 2"]


def test_lengths_in_inches_are_millimetres_here() -> None:
    text = '[bodies]\nset = "saturn"\nonly = ["Mimas", "Titan"]\n[loads]\nbody_at = {Titan = 2}\n'
    text = 'units = "in"\n' + text + "[drive]\ncrank = {radius = 3}\n"
    loads = parse_design(text).loads
    assert loads is not None and loads.crank is not None
    assert loads.body_at == ((1, Fraction(254, 5)),) and loads.crank.radius == Fraction(762, 10)


def test_a_body_is_in_the_middle_of_its_rim_unless_told() -> None:
    stock = stock_of(ROLLING + LOADS)
    assert loaded_model(stock).rings[1].body_at_mm == pytest.approx(stock.sizes.radius_mm(30) - 3)


def test_loads_change_no_hash_where_there_are_none() -> None:
    bare, loaded = design_of(3, MADE), design_of(3, MADE + "[loads]\nhand_n = 30\n")
    assert bare.loads is None and bare.sha256() != loaded.sha256()
    assert "loads" not in bare.canonical() and loaded.canonical()["loads"]["hand_n"] == "30"


def test_every_mesh_has_its_play_on_the_shaft_behind_it() -> None:
    stock = stock_of(ROLLING + MOTOR)
    meshes, model = meshes_of(stock.design, stock.train), loaded_model(stock)
    plays = mesh_plays(stock, model.shafts, meshes)
    assert set(plays) == set(range(1, len(model.shafts)))
    by_teeth = {frozenset((mesh.one.teeth, mesh.other.teeth)): mesh.running.nominal for mesh in meshes}
    for index, play in plays.items():
        shaft = model.shafts[index]
        run = by_teeth[frozenset((shaft.teeth, shaft.parent_teeth))]
        assert run is not None and play is not None and play.least_mm == run.backlash


def test_a_mesh_that_slips_has_no_play_to_tell() -> None:
    stock = stock_of(ROLLING + MOTOR)
    model, meshes = loaded_model(stock), list(meshes_of(stock.design, stock.train))
    run = meshes[0].running.nominal  # of ring 0 with the wheel of link 0
    assert run is not None
    meshes[0] = replace(meshes[0], running=replace(meshes[0].running, nominal=replace(run, slips=True)))
    plays = ring_plays(model.shafts, mesh_plays(stock, model.shafts, meshes), stock.sizes.module_mm)
    assert [one.verdict(300, 301) for one in plays] == ["not known", "good", "good"]


def test_rollers_that_do_not_carry_a_ring_are_not_counted_on() -> None:
    """A train that somebody made may have all of them below: its edge slides."""
    stock = stock_of(ROLLING)
    placement = stock.train.placement
    assert placement is not None
    below = tuple(
        replace(one, direction=Fraction(at)) for one, at in zip(placement.rollers[0], (200, 270, 340), strict=True)
    )
    train = replace(stock.train, placement=replace(placement, rollers=(below, *placement.rollers[1:])))
    inner = stock.sizes.radius_mm(24) - stock.sizes.rim_mm
    load = loaded_model(replace(stock, train=train)).rings[0]
    assert load.friction_nmm == pytest.approx(0.2 * newtons(load.grams) * inner)


# -- balance and play ------------------------------------------------------------------------------------------------


def test_rings_are_told_with_what_balances_them() -> None:
    stock = stock_of(ROLLING + LOADS)
    blocks = chapters(stock)
    rows = next(block.rows for block in blocks if isinstance(block, TextTable) and block.heads[-1] == "at")
    assert rows[1][2] == "30" and rows[0][2] == "20"
    at, rod = rod_at_mm(stock, 1), stock.stands[1].grams
    assert float(rows[1][7].removesuffix(" g")) == pytest.approx(30 + rod, abs=0.06)  # as far out as what it balances
    assert f"{at:.1f}".rstrip("0").rstrip(".") in rows[1][8]
    # Ring, rod and body: the lever of them all is that of body and rod, less as the ring weighs something too.
    ring = weights_of(stock).rings[1]
    assert float(rows[1][5].split("\u00a0")[0]) == pytest.approx(at * (30 + rod) / (30 + rod + ring), abs=0.06)
    assert "The weight of Body 0, Body 2 is not told" in told(blocks, "What each ring carries")


def test_nothing_is_said_to_be_unknown_where_all_weights_are_told() -> None:
    stock = stock_of(ROLLING)
    all_told = replace(stock, design=weighed(stock.design, ("Body 0", 1), ("Body 1", 30), ("Body 2", 2)))
    assert "not told" not in told(chapters(all_told), "What each ring carries")
    assert "any body is not told" in told(chapters(stock_of(ROLLING)), "What each ring carries")


def test_thresholds_give_the_verdict() -> None:
    def verdicts(limits: str) -> list[str]:
        blocks = chapters(stock_of(ROLLING + MOTOR + "[loads]\n" + limits))
        return [
            row[4]
            for block in blocks
            if isinstance(block, TextTable) and "verdict" in block.heads
            for row in block.rows
        ]

    assert verdicts("play_good_deg = 300\nplay_bad_deg = 301\n") == ["good"] * 3
    assert verdicts("play_good_deg = 0.001\nplay_bad_deg = 0.002\n") == ["bad"] * 3
    assert verdicts("play_good_deg = 0.001\nplay_bad_deg = 300\n") == ["fair"] * 3


def test_a_model_on_a_table_has_no_unbalance() -> None:
    stock = stock_of(ROLLING + MOTOR + LOADS)
    flat = replace(stock, design=on_a_table(stock.design))
    blocks = chapters(flat)
    assert not any(isinstance(block, Figure) for block in blocks)
    assert "Where bodies flop" not in [block.text for block in blocks if isinstance(block, Heading)]
    model = loaded_model(flat)
    assert model.most_nmm == model.least_nmm == model.friction_alone_nmm
    assert model.rings[1].friction_nmm < loaded_model(stock).rings[1].friction_nmm  # rollers below lean on nothing


# -- the drive -------------------------------------------------------------------------------------------------------


def test_the_moment_is_told_and_drawn() -> None:
    stock = stock_of(ROLLING + MOTOR + LOADS)
    blocks, model = chapters(stock), loaded_model(stock)
    rows = table(blocks, "moment at the motor")
    assert rows[0][1:] == (f"{model.most_nmm:.1f}", f"{model.most_nmm / 10:.2f}")
    assert float(rows[-1][1]) <= float(rows[2][1]) <= float(rows[1][1]) <= float(rows[0][1])
    (figure,) = (block for block in blocks if isinstance(block, Figure))
    assert figure.drawing.size[0] > 100


@pytest.mark.parametrize(
    ("share", "word"), [(Fraction(5, 2), "enough"), (Fraction(3, 2), "little"), (Fraction(1, 2), "too weak")]
)
def test_a_motor_has_its_margin(share: Fraction, word: str) -> None:
    need = Fraction(loaded_model(stock_of(ROLLING + MOTOR + LOADS)).most_nmm) / 10
    motor = MOTOR + f"torque_ncm = {float(need * share)!r}\n"
    assert f"{float(share):.2f} times that, {word}" in told(chapters(stock_of(ROLLING + motor + LOADS)), "The motor")


def test_the_exact_speed_is_a_fraction_and_the_motor_so_far_off() -> None:
    stock = stock_of(ROLLING + MOTOR)
    text = told(chapters(stock), "The exact speed")
    # Link 1 has a wheel of 12 on ring 1 and a pinion of 6 on ring 2: T2 / T1 = 12 / 30 * 36 / 6 = 12 / 5. The motor
    # turns 36 / 8 = 9 / 2 times for ring 2, so 9 / 2 * 5 / 12 = 15 / 8 times for ring 1: 15 / 8 in 20 s, 45 / 8 a min.
    assert "exactly 5 5/8 rev/min, 5.625." in text
    assert f"2.5 rev/min is {100 * (1 - 2.5 / 5.625):.3f} % too slow" in text


def test_no_place_for_a_motor_no_drive() -> None:
    blocks = chapters(stock_of(ROLLING + LOADS))
    assert "The file has no drive" in told(blocks, "The moment at ring 0")
    assert not any(isinstance(block, CautionBox) for block in blocks)


def test_other_rings_for_the_drive() -> None:
    """What ring 0 would need is its own moment, with all that hangs behind it."""
    stock = stock_of(ROLLING + MOTOR + LOADS)
    rows = table(chapters(stock), "driven at")
    work = [
        2 * pi * loaded_model(stock, ring).most_nmm / float(loaded_model(stock, ring).ring_shaft(0).speed)
        for ring in range(3)
    ]
    assert [float(row[1]) for row in rows] == pytest.approx([one / work[2] for one in work], abs=0.006)
    assert rows[2][0].endswith("as now")


# -- a hand ----------------------------------------------------------------------------------------------------------


def test_fingers_are_warned_of_and_a_clutch_is_asked_for() -> None:
    stock = stock_of(ROLLING + MOTOR + "torque_ncm = 50\nstall_ncm = 120\n" + LOADS)
    blocks, need = chapters(stock), loaded_model(stock).most_nmm / 10
    (box,) = (block for block in blocks if isinstance(block, CautionBox))
    assert "gives 120.0 N cm (as drive.stall_ncm tells)" in box.items[0]
    assert f"must not slip below {1.5 * need:.1f} N cm" in box.items[1]
    held = next(block for block in blocks if isinstance(block, TextTable) and "gives first" in block.heads)
    rim = [float(row[1]) for row in held.rows]
    # Ring 2 turns 2/9 as fast as the motor, and has 36 teeth: 1200 N mm * 9 / 2 / radius.
    assert rim[2] == pytest.approx(1200 * 4.5 / stock.sizes.radius_mm(36), abs=0.06)


def test_stall_is_three_times_what_is_told_or_needed() -> None:
    told_to_give = chapters(stock_of(ROLLING + MOTOR + "torque_ncm = 50\n"))
    assert "gives 150.0 N cm" in next(b for b in told_to_give if isinstance(b, CautionBox)).items[0]
    stock = stock_of(ROLLING + MOTOR)
    (box,) = (block for block in chapters(stock) if isinstance(block, CautionBox))
    assert f"gives {3 * loaded_model(stock).most_nmm / 10:.1f} N cm" in box.items[0]


# -- a crank ---------------------------------------------------------------------------------------------------------

CRANK = "[drive]\ncrank = {radius = 50}\npinion_teeth = [7, 8]\n"


def test_turns_of_the_crank_are_exact() -> None:
    blocks = chapters(stock_of(ROLLING + CRANK + LOADS))
    rows = table(blocks, "one turn of")
    # Ring 2: 36 / 8 = 9 / 2. Ring 1: 15 / 8, as above. Ring 0: link 0 has 11 and 5, T1 / T0 = 11 / 24 * 30 / 5.
    assert [row[1] for row in rows] == ["15/22", "1 7/8", "4 1/2"]
    assert [float(row[3]) for row in rows] == pytest.approx(
        [60 * turns / 30 for turns in (15 / 22, 15 / 8, 9 / 2)], abs=0.06
    )
    assert "in which unit" in told(blocks, "The crank")
    gears = table(blocks, "teeth of its gear")
    assert [row[1] for row in gears] == ["5 1/7", "4 1/2"] and gears[1][0] == "8 (chosen)"


def test_the_force_at_the_crank_is_moment_over_arm() -> None:
    stock = stock_of(ROLLING + CRANK + LOADS)
    need = loaded_model(stock).most_nmm
    assert f"the hand needs {need / 50:.1f} N at most" in told(chapters(stock), "The crank")
    forces = [float(row[3]) for row in table(chapters(stock), "teeth of its gear")]
    assert forces == pytest.approx([need / 50 * 7 / 8, need / 50], abs=0.06)


def test_a_year_of_the_crank_is_counted_where_periods_are_days() -> None:
    stock = stock_of(ROLLING + CRANK)
    days = replace(
        stock.design,
        bodies=tuple(
            replace(body, name=name, low=Fraction(period), high=Fraction(period))
            for body, name, period in zip(
                stock.design.bodies, ("Mimas", "Tethys", "Titan"), ("0.942422", "1.887802", "15.945421"), strict=True
            )
        ),
    )
    rows = table(chapters(replace(stock, design=days)), "one turn of")
    assert rows[-1][0].startswith("a year")
    assert float(rows[-1][2]) == pytest.approx(365.25 / 0.942422 * 15 / 22, abs=1e-3)


def test_a_crank_is_no_motor_in_lists_and_steps() -> None:
    for text, there in ((CRANK, "crank"), (MOTOR, "motor of 2.5 rev/min")):
        stock = stock_of(ROLLING + text)
        steps = " ".join(line for step in build_order(stock, MM) for line in step.lines)
        assert re.search(rf"Fix the {there}", steps)
        assert ("low-voltage" in steps) == (text == MOTOR)
        rows = [row.cells() for row in bill_of(stock, (), 0, MM)]
        assert any(("hand crank" if text == CRANK else "motor") in row and "motor" in row for row in rows)
