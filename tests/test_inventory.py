"""What the sheets list agrees with the train and with itself: parts, wire, joints, jigs, turns."""

from __future__ import annotations

import csv
import io
import math
import re
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest
from shipped import DISCS, shipped

from solver import Design, Train, parse_design
from solver.answer.document import SolutionAnswer, made_as
from solver.design.errors import DesignError
from solver.design.links import KIND_BY_NAME
from solver.forms import FORMS as REGISTRY
from solver.forms.form import Pairing, Piece, Roles, Sizes, Spec, ToothedGear
from solver.forms.plans import Hole
from solver.forms.saw import Saw
from solver.sheets.book.bill import bill_csv, bill_of
from solver.sheets.book.bill_row import BillRow
from solver.sheets.book.cautions import PAGES, cautions_for, cautions_of
from solver.sheets.book.chapters import drilling
from solver.sheets.book.lists import parts
from solver.sheets.book.order import build_order
from solver.sheets.book.turns import link_checks, senses, turn_check
from solver.sheets.gears.inventory import Inventory, inventory
from solver.sheets.stock.cuts import Cut, WirePlan, cut_list, joints_of
from solver.sheets.views.spots import drilled, level_depths
from solver.sheets.views.templates import facts
from solver.words.lengths import Lengths

CONFIGS = Path(__file__).parent.parent / "runs" / "configs"
SHIPPED = sorted(path.stem for path in CONFIGS.glob("*.toml") if not path.stem.startswith(("audit-", "sweep-")))
DESIGNS = (
    DISCS.stem,
    pytest.param("saturn-few-jigs", marks=pytest.mark.slow),
    pytest.param("solar-system-1-thirds", marks=pytest.mark.deep),
)
FORMS = ("saw", "curved", "cycloidal", "involute")
MM = Lengths("mm")


@cache
def solved(name: str) -> tuple[Design, Train, SolutionAnswer]:
    design, answer = shipped(name)
    return design, answer.trains(design)[0], answer.solutions[0]


def with_wire(design: Design, text: str) -> Design:
    table = '[bodies]\nset = "saturn"\n[fit]\npost_radius = 1\n[wire]\n' + text  # posts like the hall's
    return replace(design, wire=parse_design(table).wire, wired=False)  # judged as plain discs


@cache
def stock_of(name: str, text: str = "") -> Inventory:
    design, train, _ = solved(name)
    return inventory(with_wire(design, text), train)


@cache
def sheets(stock: Inventory) -> tuple[tuple[Cut, ...], tuple[WirePlan, ...], int, tuple[BillRow, ...]]:
    made = cut_list(stock)
    joints = sum(count for _, count in joints_of(stock, made.cuts))
    return made.cuts, made.plans, joints, bill_of(stock, made.plans, joints, MM)


def counted(rows: tuple[BillRow, ...], group: str, part: str = "") -> int:
    return sum(row.count for row in rows if row.group == group and part in row.part)


# -- totals -----------------------------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("name", DESIGNS)
def test_parts_are_those_of_the_answer(name: str) -> None:
    """The judge counts parts, jigs and teeth from the train alone; the drive counts in none of them."""
    _, train, answer = solved(name)
    stock = stock_of(name)
    _, _, _, rows = sheets(stock)
    own = [made for made in stock.gears if made.link != -1]
    # A part is a ring, a gear, or an arbor, third gears with one each.
    thirds = counted(rows, "third gears")
    gears = sum(counted(rows, group) for group in ("rings", "wheels", "pinions", "third gears"))
    assert gears + counted(rows, "arbors") + thirds == answer.parts
    assert sum(made.gear.teeth for made in own) == answer.teeth
    assert (
        len({(jig.kind, jig.teeth) for jig in stock.jigs if {m.gear.use for m in own} & set(jig.uses)}) == answer.jigs
    )
    assert counted(rows, "rings") == len(train.rings)
    assert counted(rows, "arbors") == len(train.links)
    assert thirds == sum(KIND_BY_NAME[link.kind].thirds for link in train.links)


@pytest.mark.slow
@pytest.mark.parametrize("name", DESIGNS)
@pytest.mark.parametrize("form", FORMS)
def test_every_gear_has_its_jig_and_every_jig_is_used(name: str, form: str) -> None:
    stock = stock_of(name, f'form = "{form}"')
    uses = [use for jig in stock.jigs for use in jig.uses]
    assert Counter(uses) == Counter(made.gear.use for made in stock.gears)
    assert all(jig.uses for jig in stock.jigs)
    assert (
        len({(jig.kind, jig.teeth) for jig in stock.jigs}) == len({jig.name for jig in stock.jigs}) == len(stock.jigs)
    )
    by_use = {use: jig for jig in stock.jigs for use in jig.uses}
    for made in stock.gears:
        jig = by_use[made.gear.use]
        assert (jig.kind, jig.teeth) == (made.gear.kind, made.gear.teeth)


@pytest.mark.parametrize("name", DESIGNS)
def test_jigs_have_a_hole_for_each_root_tip_and_pin(name: str) -> None:
    stock = stock_of(name)
    for jig in stock.jigs:
        toothings = {made.toothing for made in stock.gears if made.gear.use in jig.uses}
        count = Counter(hole.what for hole in jig.holes)
        assert count.pop("centre") == 1
        due = {}
        if "saw teeth" in toothings:
            due |= {"tip": jig.teeth, "root": jig.teeth}
        if "pins" in toothings:
            due |= {"pin": jig.teeth}
        assert count == due, jig.name
        pitch = stock.design.rings.pitch.radius_mm(1) * 2 * math.pi
        for hole in jig.holes:
            if hole.what == "pin":
                assert hole.radius_mm * 2 * math.pi / jig.teeth == pytest.approx(pitch)


@pytest.mark.parametrize("name", DESIGNS)
def test_cuts_weights_and_bars_agree(name: str) -> None:
    stock = stock_of(name)
    cuts, plans, _, rows = sheets(stock)
    # Every gear has its loop and its teeth or pins.
    for index, made in enumerate(stock.gears):
        own = [cut for cut in cuts if cut.gear == index]
        pieces = Counter()  # type: Counter[str]
        for cut in own:
            pieces[cut.what] += cut.count
        if made.toothing == "pins":
            assert pieces["pin"] == made.gear.teeth and pieces["loop"] >= 2 and pieces["spoke"] == 6
        else:
            assert pieces["tooth wire"] >= 1 and pieces["loop"] >= 1 and "pin" not in pieces
    # What is in the gears is what is cut less what is filed off; what is cut lies on the bars.
    wire = stock.design.wire
    for cut in cuts:
        assert cut.net_mm + float(wire.cleanup) <= cut.saw_mm + 1e-9 < cut.net_mm + float(wire.cleanup) + 0.1 + 1e-6
    assert sum(plan.pieces for plan in plans) == sum(cut.count for cut in cuts)
    for plan in plans:
        on_bars = [piece for bar in plan.packing.bars for piece in bar.pieces]
        assert len(on_bars) == plan.pieces and plan.packing.proven
        assert sum(length for length, _ in on_bars) == pytest.approx(plan.saw_mm)
    grams = sum(cut.count * cut.net_mm * math.pi / 4 * cut.gauge.mm**2 * float(wire.density) / 1000 for cut in cuts)
    bores = {hub.use: hub.bore_mm for hub in stock.hubs}
    hubs = [
        (stock.sizes.hub_mm**2 - (0 if made.part == "motor pinion" else bores[made.gear.use] ** 2))
        * math.pi / 4 * max(shape.thick_mm, stock.sizes.arbor_mm) * float(wire.density) / 1000
        for made, shape in zip(stock.gears, stock.shapes)
        if made.gear.kind == "gear"
    ]  # fmt: skip
    assert sum(stock.gear_grams) == pytest.approx(grams)
    assert sum(row.total_g or 0 for row in rows if row.group == "hubs") == pytest.approx(sum(hubs))
    listed = sum(row.total_g or 0 for row in rows if row.group != "wire")
    assert listed == pytest.approx(stock.grams)
    bought = sum(row.total_g or 0 for row in rows if row.group == "wire")
    assert bought > grams
    assert counted(rows, "wire") == sum(len(plan.packing.bars) for plan in plans)


@pytest.mark.parametrize("name", DESIGNS)
def test_joints_are_counted_from_what_is_soldered(name: str) -> None:
    """A tooth is soldered to its loop, a pin to two, a spoke at both ends, a loop where it closes, a stand once."""
    stock = stock_of(name)
    cuts, _, joints, rows = sheets(stock)
    due = len(stock.stands)
    for index, made in enumerate(stock.gears):
        pieces = [cut for cut in cuts if cut.gear == index]
        due += made.gear.teeth * (2 if made.toothing == "pins" else 1)
        due += sum(2 * cut.count for cut in pieces if cut.what == "spoke")
        due += sum(cut.count for cut in pieces if cut.what == "loop")
    assert joints == due
    assert counted(rows, "joints") == due
    # "All teeth, one or more solder joints each" (common practice).
    assert joints >= sum(made.gear.teeth for made in stock.gears)


@pytest.mark.parametrize("name", DESIGNS)
@pytest.mark.parametrize("form", FORMS)
def test_every_small_gear_has_a_hub_in_the_list(name: str, form: str) -> None:
    """Spokes end at the hub, so that without it a gear would not reach its arbor."""
    stock = stock_of(name, f'form = "{form}"')
    _, _, _, rows = sheets(stock)
    small = [made for made in stock.gears if made.gear.kind == "gear"]
    assert counted(rows, "hubs") == len(small) == len(stock.hubs)
    used = [use for row in rows if row.group == "hubs" for use in row.used_for.split(", ")]
    assert Counter(used) == Counter(made.gear.use for made in small)
    for row in (row for row in rows if row.group == "hubs"):
        assert f"⌀ {MM.text(stock.sizes.hub_mm)}" in row.size
        assert ("solid" in row.size) is (row.used_for == "motor pinion")
        bore = stock.sizes.arbor_mm  # of what is fixed to an arbor; a third gear turns on its bearing
        if row.used_for.startswith("third gear"):
            ball = stock.fittings.bearing
            bore = stock.sizes.post_mm if ball is None else ball.outside
        assert (f"bore {MM.text(bore)}" in row.size) is ("solid" not in row.size)
    for jig in stock.jigs:
        assert (f"hub Ø\u00a0{MM.text(stock.sizes.hub_mm)}" in facts(jig, MM)) is (jig.kind == "gear")
    listed = sum(row.total_g or 0 for row in rows if row.group != "wire")
    assert listed == pytest.approx(stock.grams)
    first = " ".join(build_order(stock, MM)[0].lines)
    assert ("gear to its hub" if stock.form.plate else "spokes of a small gear to its hub") in first


def test_the_hall_model_part_by_part() -> None:
    """Ten rings, nine links, three rollers a ring, seven moons that stand out, a plate and a motor."""
    design, train, answer = solved("saturn-hall")
    stock = inventory(design, train)
    _, _, _, rows = sheets(stock)
    rollers = sum(len(ring.rollers) for ring in answer.rings)
    assert counted(rows, "rollers") == len(stock.rollers) == rollers == 30
    assert counted(rows, "posts") == 9 + rollers
    assert counted(rows, "stands") == 7
    assert counted(rows, "bearings") == 2 * 9 + rollers
    assert counted(rows, "motor", "motor") == 1 and counted(rows, "motor", "gear") == 1
    assert sum(row.count for row in rows if row.group == "screws") == (9 + rollers) + rollers + (18 + 1)
    assert [screws.level for screws in stock.screws] == list(range(10))
    # The frame is 160 mm deep and a level 10 mm: posts of the last level go through nine and a half levels.
    top = max(post.length_mm for post in stock.posts if "ring 9" in post.carries)
    assert 9.5 * 10 < top < 10 * 10 and top < float(design.fit.frame.depth)  # type: ignore[union-attr, arg-type]
    assert min(stand.length_mm for stand in stock.stands) == 5 and max(stand.length_mm for stand in stock.stands) == 95
    # What its file says of its longest post: 1 N at the end of 3 mm of brass, with E = 100 GPa (handbook, from memory).
    longest = max(post.length_mm for post in stock.posts)
    bent = longest**3 / (3 * 100e3 * math.pi * 3**4 / 64)
    text = (CONFIGS / "saturn-hall.toml").read_text(encoding="utf-8")
    assert f"is {longest:.0f} mm:" in text and f"= {bent:.2f} mm" in text


@pytest.mark.deep
@pytest.mark.parametrize("name", SHIPPED)
def test_what_ships_can_be_built_and_runs(name: str) -> None:
    """No solution has a gear that does not run, reaches too far or is too thick: the sheets have no remark at all."""
    design, answer = shipped(name)
    assert design.wired and answer.proven
    for solution, train in zip(answer.solutions, answer.trains(design), strict=True):
        assert [str(remark) for remark in inventory(made_as(design, solution), train).remarks] == []


@pytest.mark.deep
@pytest.mark.parametrize("name", DESIGNS)
def test_the_motor_shaft_is_listed_where_it_is_drilled_for(name: str) -> None:
    stock = stock_of(name)
    design, train, _ = solved(name)
    _, _, _, rows = sheets(stock)
    shafts = [row for row in rows if row.group == "motor" and "shaft" in row.part]
    holes = [hole for hole in drilled(design, train) if hole.what == "motor"]
    assert len(shafts) == len(holes) == (design.drive is not None)
    for row, hole in zip(shafts, holes):
        level = hole.levels[0]
        depth = level_depths(design, len(train.rings))[0][level]
        assert f"⌀ {MM.text(hole.diameter)}, long" in row.size and row.each_g is None
        assert stock.motor_shaft_mm is not None and depth < stock.motor_shaft_mm < depth + design.rings.level_spacing


@pytest.mark.deep
def test_lengths_from_the_plate_are_said_to_be_so() -> None:
    design, train, _ = solved(DISCS.stem)
    for plate in ("inner", "outer", "none"):
        here = replace(design, fit=replace(design.fit, plate=plate))
        stock = inventory(here, train)
        _, _, _, rows = sheets(stock)
        assert all((" from the plate's face" in row.size) is (plate != "none") for row in rows if row.group == "posts")
        told = [str(block) for block in (*parts(rows, stock), *drilling(here, train, MM))]
        assert sum("counted from the plate's face" in text for text in told) == (0 if plate == "none" else 2)


@pytest.mark.deep
def test_bearings_are_for_what_is_there() -> None:
    def used(stock: Inventory) -> str:
        return next(row.used_for for row in sheets(stock)[3] if row.group == "bearings")

    assert used(stock_of(DISCS.stem)) == "arbors and rollers"
    assert used(stock_of(DISCS.stem, "bearings = 0")) == "rollers"
    thirds = stock_of("solar-system-1-thirds")
    assert used(thirds) == ("arbors, third gears and rollers" if thirds.rollers else "arbors and third gears")


def test_a_third_gear_changes_what_works_with_it() -> None:
    stock = stock_of("solar-system-1-thirds")
    third = next(made for made in stock.gears if made.part == "third gear")
    ring, wheel = (stock.gears[mate] for mate in third.mates)
    assert (ring.toothing, third.toothing, wheel.toothing) == ("saw teeth", "pins", "saw teeth")
    assert third.gear.use == f"third gear of link {third.link} ({wheel.part} side)"
    assert any(post.carries == third.gear.use for post in stock.posts)


def test_one_jig_serves_two_toothings_of_one_tooth_count() -> None:
    design, train, _ = solved("solar-system-1-thirds")
    link = next(index for index, link in enumerate(train.links) if link.thirds)
    teeth = train.links[link].wheel
    other = next(index for index, one in enumerate(train.links) if not one.thirds)
    links = tuple(replace(one, wheel=teeth) if index == other else one for index, one in enumerate(train.links))
    stock = inventory(design, replace(train, links=links))
    jig = next(jig for jig in stock.jigs if jig.kind == "gear" and jig.teeth == teeth)
    assert Counter(hole.what for hole in jig.holes) == {"tip": teeth, "root": teeth, "pin": teeth, "centre": 1}


# -- wire that is too short, designs without places -------------------------------------------------------------------


def test_loops_and_tooth_wires_longer_than_a_bar_are_joined_from_several() -> None:
    whole, short = stock_of(DISCS.stem), stock_of(DISCS.stem, "stock = [500]")
    cuts = cut_list(short).cuts
    assert max(cut.saw_mm for cut in cuts) <= 500
    ring = [cut for cut in cuts if cut.gear == 9]
    loops = [cut for cut in ring if cut.what == "loop"]
    assert [cut.part for cut in loops] == [f"{n} of 3" for n in range(1, 4)] and min(cut.net_mm for cut in loops) >= 20
    assert sum(cut.joints for cut in ring) == 3
    wires = [cut for cut in ring if cut.what == "tooth wire"]
    one = sum(cut.net_mm for cut in wires) / 66
    told = [re.fullmatch(rf"{n} of {len(wires)}, (\d+) teeth", cut.part) for n, cut in enumerate(wires, start=1)]
    teeth = [int(match[1]) for match in told if match]
    assert sum(teeth) == 66  # they end at roots
    assert [cut.net_mm for cut in wires] == pytest.approx([count * one for count in teeth])
    plain = {
        made.gear.use: sum(c.net_mm * c.count for c in cut_list(whole).cuts if c.gear == i)
        for i, made in enumerate(whole.gears)
    }
    for index, made in enumerate(short.gears):
        assert sum(c.net_mm * c.count for c in cuts if c.gear == index) == pytest.approx(plain[made.gear.use])
    more = sum(n for _, n in joints_of(short, cuts)) - sum(n for _, n in joints_of(whole, cut_list(whole).cuts))
    assert more == sum(cut.count for cut in cuts if cut.what == "loop") - sum(
        cut.count for cut in cut_list(whole).cuts if cut.what == "loop"
    )


@pytest.mark.deep
def test_loops_of_one_gear_that_are_joined_are_told_apart() -> None:
    cuts, plans, _, _ = sheets(stock_of(DISCS.stem, "stock = [300]"))
    twice = [cut for cut in cuts if cut.use == "wheel of link 1" and cut.what == "loop"]
    assert {cut.part.split(" of ", 1)[1] for cut in twice} == {"2 of no. 1", "2 of no. 2"}
    lying = Counter(piece for plan in plans for bar in plan.packing.bars for piece in bar.pieces)
    assert lying == Counter((cut.saw_mm, cut.label) for cut in cuts for _ in range(cut.count))


@pytest.mark.deep
def test_tooth_wire_of_ten_rings_takes_the_bars_that_its_length_does() -> None:
    """In equal parts it took 16 bars, and the plan was called proven."""
    plan = sheets(stock_of("solar-system-1-thirds"))[1][1]
    assert plan.packing.proven and len(plan.packing.bars) == math.ceil(plan.saw_mm / 1829) == 13


def test_a_bar_shorter_than_a_piece_is_refused_in_one_line() -> None:
    with pytest.raises(DesignError) as refused:
        cut_list(stock_of(DISCS.stem, "stock = [8, 9]"))
    assert str(refused.value) == (
        "wire.stock = [8, 9]: has no bar as long as one tooth of the tooth wire of ring 0 (Mimas), 19.8 mm"
    )
    with pytest.raises(DesignError, match=r"the spoke of wheel of link 0, 43.3 mm$"):
        cut_list(stock_of(DISCS.stem, "stock = [30]"))


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ('[arbors]\nreverted = false\n', "arbors.reverted = false: sheets need places: set it to true and solve again"),
        ('[fit]\ndirections = "none"\n', 'fit.directions = "none": sheets need places: give directions for the arbors'),
    ],
)  # fmt: skip
def test_without_places_there_are_no_sheets(change: str, message: str) -> None:
    design = parse_design('[bodies]\nset = "saturn"\nonly = ["Mimas", "Titan"]\n' + change)
    train = Train((24, 30), (0, 1), solved(DISCS.stem)[1].links[:1])
    with pytest.raises(DesignError) as refused:
        inventory(design, train)
    assert str(refused.value).startswith(message) and "\n" not in str(refused.value)


def test_lengths_left_out_of_the_geometry_are_said() -> None:
    told = [str(remark) for remark in stock_of("solar-system-1-thirds").remarks]
    assert any("rings.addendum" in text for text in told) and any("rings.rim" in text for text in told)
    assert not any("rings." in remark.where for remark in stock_of(DISCS.stem).remarks)


@pytest.mark.parametrize("form", ["cycloidal", "involute"])
def test_plate_thicker_than_a_level_is_said(form: str) -> None:
    """Levels are 14 mm apart with 1 mm to be kept free."""
    for sheet, thick in ((13, False), (20, True)):
        remarks = stock_of(DISCS.stem, f'form = "{form}"\nsheet = {sheet}').remarks
        said = [one for one in remarks if "meets the next level" in one.text]
        assert bool(said) is thick and not any(one.runs for one in said)
    assert said[0].text == "plate of 20 mm meets the next level; levels leave 13 mm"


@pytest.mark.parametrize("name", DESIGNS)
@pytest.mark.parametrize("form", FORMS)
def test_tips_beyond_what_the_fit_was_judged_by_are_said_of_every_gear(name: str, form: str) -> None:
    stock = stock_of(name, f'form = "{form}"')
    judged = float(stock.design.rings.addendum)
    beyond = {
        shape.spec.name
        for shape in stock.shapes
        if max(math.hypot(*point) for line in shape.outline for point in line) > shape.pitch_radius_mm + judged + 1e-6
    }
    said = {remark.where for remark in stock.remarks if "farther than rings.addendum" in remark.text}
    assert beyond <= said and (said == beyond or form == "saw")  # the middle of a wire is drawn, not its outside
    whole = [remark for remark in stock.remarks if remark.where == "rings.addendum"]
    assert len(whole) == bool(said) and not any(remark.runs for remark in whole)


@pytest.mark.parametrize("form", ["cycloidal", "involute"])
def test_the_addendum_and_the_rim_that_are_asked_for_will_do(form: str) -> None:
    stock = stock_of(DISCS.stem, f'form = "{form}"\narbor_diameter = 3')
    asked = {remark.where: remark.text for remark in stock.remarks if remark.where.startswith("rings.")}
    assert set(asked) == {"rings.addendum", "rings.rim"}
    addendum = Fraction(asked["rings.addendum"].split("set it to ")[1].split()[0])
    rim = Fraction(asked["rings.rim"].split("deep need ")[1].split()[0])
    larger = replace(stock.design, rings=replace(stock.design.rings, addendum=addendum, rim=rim))
    left = inventory(larger, stock.train).remarks
    assert not [remark for remark in left if "rings." in remark.where + remark.text]
    assert not [remark for remark in left if "metal" in remark.text]


@pytest.mark.parametrize("form", ["cycloidal", "involute"])
def test_bore_and_thickness_are_told_of_gears_of_plate(form: str) -> None:
    """On every template, in the parts list and among the figures; the bore as it is drawn."""
    stock = stock_of(DISCS.stem, f'form = "{form}"\nsheet = 2.5')
    shape_of = {made.gear.use: shape for made, shape in zip(stock.gears, stock.shapes)}
    rows = {use: row for row in sheets(stock)[3] for use in row.used_for.split(", ") if "pitch circle" in row.size}
    for jig in stock.jigs:
        drawn = 2 * max(math.hypot(*point) for point in jig.outline[1])
        assert f"bore Ø\u00a0{MM.text(drawn)}, plate {MM.text(2.5)} thick" in facts(jig, MM)
        for use in jig.uses:
            assert f"bore ⌀ {MM.text(drawn)}, plate {MM.text(2.5)} thick" in rows[use].size
            told = {figure.what: figure.value for figure in shape_of[use].figures}
            assert told["thickness"] == 2.5 and told["bore"] == pytest.approx(drawn)
    assert not [fact for jig in stock_of(DISCS.stem).jigs for fact in facts(jig, MM) if "bore" in fact]


@pytest.mark.parametrize("form", ["involute", "saw"])
def test_hubs_longer_than_a_level_are_said(form: str) -> None:
    """A hub is as long as its arbor is thick; levels are 14 mm apart with 1 mm to be kept free."""
    for arbor, long in ((13, False), (13.5, True)):
        stock = stock_of(DISCS.stem, f'form = "{form}"\narbor_diameter = {arbor}\nhub_diameter = {arbor + 1}')
        said = [remark for remark in stock.remarks if remark.where == "hubs"]
        assert bool(said) is long and not any(remark.runs for remark in said)
    assert said[0].text.startswith("13.5 mm long meet the next level; levels leave 13 mm")


# -- the list as data -------------------------------------------------------------------------------------------------


def test_the_parts_list_reads_back() -> None:
    stock = stock_of(DISCS.stem)
    _, _, joints, rows = sheets(stock)
    read = list(csv.DictReader(io.StringIO(bill_csv(rows))))
    assert len(read) == len(rows) and list(read[0]) == [
        "group",
        "part",
        "size",
        "count",
        "each_g",
        "total_g",
        "numbers",
        "used_for",
    ]
    assert int(read[-1]["count"]) == joints
    assert sum(float(row["total_g"]) for row in read if row["total_g"] and row["group"] != "wire") == pytest.approx(
        stock.grams, abs=0.05 * len(read)
    )
    assert read[0]["used_for"] == "ring 0 (Mimas)" and "⌀ 162.34 mm" in read[0]["size"]


# -- turns ------------------------------------------------------------------------------------------------------------


def test_turn_counts_are_the_gearing() -> None:
    # Check (common practice, no source): 18 and 24 teeth with 13/7 give 52/21 = 2.476.
    check = turn_check(("ring 0", "ring 1"), Fraction(13, 18) * Fraction(24, 7), True)
    assert (check.turns, check.while_turns) == (52, 21)
    assert check.near is not None
    turns, others, off = check.near
    assert (Fraction(turns * 21, 52) - others) * 360 == pytest.approx(off)
    small = turn_check(("ring 3", "ring 4"), Fraction(5, 3), False)
    assert small.text() == "ring 3 turns 5 times while ring 4 turns 3 times, the other way"
    slow = turn_check(("ring 0", "ring 9"), Fraction(4201, 100), True)
    assert slow.near is not None and slow.near[:2] == (42, 1) and abs(slow.near[2]) < 1


@pytest.mark.parametrize("name", DESIGNS)
def test_turns_and_senses_are_those_of_the_answer(name: str) -> None:
    design, train, answer = solved(name)
    for index, (check, link) in enumerate(zip(link_checks(design, train), answer.links)):
        assert Fraction(check.turns, check.while_turns) == Fraction(*link.ratio)
        assert check.same is (answer.rings[index].sense == answer.rings[index + 1].sense)
    stock = stock_of(name)
    turning = dict(senses(stock))
    for made in stock.gears:
        if made.gear.kind == "ring":
            reverse = answer.rings[made.gear.level].sense == "reverse"
            assert turning[made.gear.use] == ("clockwise" if reverse else "counterclockwise")
        for mate in made.mates:  # every mesh turns the other way
            assert turning[stock.gears[mate].gear.use] != turning[made.gear.use]
    for link in range(len(train.links)):  # both gears of an arbor turn as one
        assert turning[f"wheel of link {link}"] == turning[f"pinion of link {link}"]


@pytest.mark.parametrize("name", DESIGNS)
def test_the_build_order_makes_everything_once_and_tries_it(name: str) -> None:
    stock = stock_of(name)
    steps = build_order(stock, MM)
    made = Counter(name for step in steps for name in step.makes)
    assert all(made[gear.gear.use] == 1 for gear in stock.gears)
    boards = [step for step in steps if "on a board" in step.title]
    assert [len(step.checks) for step in boards] == [1] * len(stock.train.links)
    levels = [step for step in steps if step.title.startswith("Level")]
    assert len(levels) == len(stock.train.rings) and all(step.checks for step in levels[1:])
    text = " ".join(line for step in steps for line in step.lines)
    assert all(made.gear.use in text for made in stock.gears)


def test_a_plate_outside_is_built_from_the_largest_ring() -> None:
    design, train, _ = solved(DISCS.stem)
    outer = inventory(replace(design, fit=replace(design.fit, plate="outer")), train)
    levels = [step.title for step in build_order(outer, MM) if step.title.startswith("Level")]
    assert levels[0].startswith("Level 9") and levels[-1].startswith("Level 0")
    short = next(post for post in outer.posts if post.carries == "arbor of link 8")
    long = next(post for post in outer.posts if post.carries == "arbor of link 0")
    assert long.length_mm - short.length_mm == pytest.approx(8 * 14)


# -- cautions ---------------------------------------------------------------------------------------------------------


def test_cautions_stand_where_the_work_is() -> None:
    cautions = cautions_of(2500, True)
    text = " ".join(caution.text for caution in cautions)
    # 29 CFR 1910.1027; cadmium-free alloys flow at about 620 to 710 degrees; abrasives with less than 1 % free silica.
    for due in ("5 µg/m³", "620 to 710 °C", "less than 1 %", "never blast", "no loose sleeves", "licensed electrician"):
        assert due.lower() in text.lower(), due
    assert "2.50 kg" in text and "1910.1027" in " ".join(caution.source for caution in cautions)
    assert all(caution.pages and set(caution.pages) <= set(PAGES) for caution in cautions)
    assert all(cautions_for(page, cautions) for page in PAGES)
    assert not any("motor" in caution.topic.lower() for caution in cautions_of(2500, False))
    with pytest.raises(ValueError, match="no page 'cover'"):
        cautions_for("cover", cautions)


def test_a_new_form_touches_nothing_else(monkeypatch: pytest.MonkeyPatch) -> None:
    """A form that is only registered: gears of one hoop of wire. The file, jigs, lists, joints and steps know it."""

    class Hoop(Saw):
        name = "hoop"
        title = "hoops"

        def roles(self, third: str) -> Roles:
            return Roles("rivets", "rivets", "rivets", "rivets")

        def shape(self, sizes: Sizes, spec: Spec) -> ToothedGear:
            radius = sizes.radius_mm(spec.teeth)
            hoop = Piece("hoop", "pin", 1, 2 * math.pi * radius, 0, 1)
            holes = (Hole(radius, 0.0, 1.0, "centre"),)
            return ToothedGear(spec, radius, radius, radius, 2.0, holes, (), (hoop,), 0, 0.0, ())

        def pair(self, sizes: Sizes, one: Spec, other: Spec) -> Pairing:
            return Pairing((), ())

    monkeypatch.setitem(REGISTRY, "hoop", Hoop())
    design, train, answer = solved(DISCS.stem)
    stock = inventory(with_wire(design, 'form = "hoop"'), train)
    cuts, plans, joints, rows = sheets(stock)
    assert {cut.what for cut in cuts} == {"hoop"} and len(stock.jigs) == answer.jigs
    assert len(plans) == 1 and plans[0].packing.proven
    assert joints == len(cuts) + len(stock.stands)  # a hoop of several parts has a joint for each
    assert all("rivets" in row.part for row in rows if row.group in ("rings", "wheels", "pinions"))
    assert any("30 rivets, on jig R30" in line for step in build_order(stock, MM) for line in step.lines)
