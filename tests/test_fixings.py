"""What joins a model to its drive, its plate and its wall goes together, is bought and is told in a step."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from functools import cache
from math import pi

import ezdxf
import pytest
from armed import small
from shipped import DISCS, shipped

from solver import parse_design
from solver.design.gauges import Gauge
from solver.design.hardware import Hardware, LabelPlate
from solver.forms.wire import gauge_text
from solver.mechanics.metals import METALS
from solver.sheets.book.bill import bill_of
from solver.sheets.book.cranked import of_crank
from solver.sheets.book.document import Items, TextTable
from solver.sheets.book.fixings import balanced_rings
from solver.sheets.book.hours import hours_of
from solver.sheets.book.on_plate import collars_of
from solver.sheets.book.order_bench import whole_order
from solver.sheets.book.pack import make_pack
from solver.sheets.book.shopping import ShoppingRow, shopping
from solver.sheets.book.steps import BuildStep
from solver.sheets.draw.drawing import Arc, Circle, Drawing, Line, Polyline, Text
from solver.sheets.draw.out_dxf import dxf
from solver.sheets.gears.adjust import meshes_of
from solver.sheets.gears.fastening import foot_mm, pillar_mm, plate_mm, screw_uses, shaft_cut_mm
from solver.sheets.gears.inventory import Inventory, inventory
from solver.sheets.hardware.registry import screws
from solver.sheets.stock.cuts import cut_list, joints_of
from solver.sheets.supports.arms import STEEL
from solver.sheets.supports.made import supports_made
from solver.sheets.views.label import label_drawing, label_layout
from solver.words.lengths import Lengths

MM = Lengths("mm")
LABEL = Hardware(label=LabelPlate(Fraction(80), Fraction(20), "Saturn"))
NAMES = (
    "armed",
    DISCS.stem,
    *(pytest.param(name, marks=pytest.mark.slow) for name in ("saturn-hall", "jupiter-table")),
)


@cache
def worked(name: str, hardware: Hardware = LABEL) -> tuple[Inventory, tuple[ShoppingRow, ...], tuple[BuildStep, ...]]:
    if name == "armed":
        design, train = small(stands="outer")
    else:
        design, answer = shipped(name)
        train = answer.trains(design)[0]
    design = replace(design, hardware=hardware)
    stock, held = inventory(design, train), supports_made(design, train)
    made = cut_list(stock, () if held is None else tuple(held.wires()))
    joints = sum(count for _, count in joints_of(stock, made.cuts))
    rows = shopping(stock, made.plans, joints, MM, held)
    return stock, rows, whole_order(stock, MM, meshes_of(design, train), rows, held)


def lines(steps: tuple[BuildStep, ...]) -> Iterator[str]:
    return (line for step in steps for line in step.lines)


@pytest.mark.deep
@pytest.mark.parametrize("name", NAMES)
def test_every_fixing_has_a_row_and_a_step(name: str) -> None:
    stock, rows, steps = worked(name)
    design, whats = stock.design, {row.what for row in rows}
    plated, motor = design.fit.plate != "none", design.drive is not None and not design.cranked
    assert ("coupling" in whats) is motor and ("pillar" in whats) is (motor and plated)
    assert ("foot" in whats) is (plated and not design.hung)
    assert ("plate spacer" in whats) is (plated and design.hung) and ("wall fixing" in whats) is design.hung
    assert ("counterweight" in whats) is bool(balanced_rings(stock))
    told = list(lines(steps[1:]))
    for row in rows:
        assert any(row.part.removeprefix("body ") in line for line in told), row.part
    assert any("bush in the plate" in line for line in told) is (plated and design.drive is not None)


@pytest.mark.deep
@pytest.mark.parametrize("name", NAMES)
def test_screws_reach_through_what_they_hold_and_no_farther_than_what_they_are_in(name: str) -> None:
    """Summed by hand from the tables of parts: washer, plate, and one and a half diameters of thread at least."""
    stock, rows, _ = worked(name)
    screw = screws()[stock.fittings.screw.name]
    uses = {use.what: use for use in screw_uses(stock)}
    if "posts" in uses and plate_mm(stock.design):
        held = uses["posts"].length_mm - 6.0 - screw.washer.thick
        assert held == pytest.approx(uses["posts"].held_mm) and held >= 1.5 * screw.major - 1e-9
        both = held + (uses["rollers"].held_mm if "rollers" in uses else 0.0)
        assert both < min(post.length_mm for post in stock.posts)  # two screws in the shortest do not meet
    for use in uses.values():
        assert use.nut or use.held_mm >= 1.5 * screw.major - 1e-9
    assert sum(row.needed for row in rows if row.what == "screw") == sum(use.count for use in uses.values())
    told = {row.part: row.needed for row in rows if row.what == "screw"}
    for use in uses.values():
        assert any(f"× {use.length_mm:g}\xa0mm" in part for part in told)


def test_a_thicker_plate_makes_screws_shafts_and_bushes_longer() -> None:
    assert plate_mm(worked("armed")[0].design) == 0.0
    design, answer = shipped(DISCS.stem)
    train = answer.trains(design)[0]
    six, ten = (
        inventory(replace(design, hardware=Hardware(plate=thickness)), train) for thickness in (None, Fraction(10))
    )
    assert (plate_mm(six.design), plate_mm(ten.design)) == (6.0, 10.0)
    assert shaft_cut_mm(ten) - shaft_cut_mm(six) == pytest.approx(4.0)
    inch = parse_design('units = "in"\n[bodies]\nset = "saturn"\n[fit]\nplate = "inner"\n[hardware]\n')
    assert plate_mm(inch) == 6.35
    told = parse_design(
        'units = "in"\n[bodies]\nset = "saturn"\n[fit]\nplate = "inner"\n[hardware]\nplate_thickness = 0.5'
    )
    assert plate_mm(told) == pytest.approx(12.7)


def test_posts_too_thin_for_a_screw_are_soldered_in_and_nothing_speaks_of_their_screws() -> None:
    stock, rows, steps = worked(DISCS.stem)  # posts of 2 mm; the thinnest screw is an M2
    assert not stock.fittings.threaded
    assert not any("posts" in row.used_for or "rollers" in row.used_for for row in rows if row.what == "screw")
    told = list(lines(steps))
    assert any(line.startswith("Posts go through the plate") for line in told)
    assert any("Solder each post into its hole" in line for line in told)
    assert not [line for line in told if "tap" in line.split() or "screw the post down" in line]
    bill = bill_of(stock, (), 0, MM)
    posts = [row for row in bill if row.group == "posts"]
    for row in posts:
        face, cut = map(float, re.findall(r"(?:long|cut) ([\d.]+)", row.size))
        assert cut - face == pytest.approx(6.0, abs=0.011)


@pytest.mark.deep
@pytest.mark.parametrize("name", NAMES)
def test_feet_and_pillars_are_higher_than_what_stands_there(name: str) -> None:
    stock, rows, _ = worked(name)
    if stock.design.fit.plate == "none":
        return
    post, screw = stock.sizes.post_mm, stock.fittings.screw
    assert foot_mm(stock) > stock.fittings.head.height + screw.washer.thick
    if stock.design.cranked:
        assert foot_mm(stock) > 2.0 + 2 * post  # a collar and the crank
        assert any(f"{foot_mm(stock):g}\xa0mm" in row.size for row in rows if row.what == "foot")
    elif stock.design.drive is not None:
        assert pillar_mm(stock) > 2.0 + 8 * post and foot_mm(stock) > pillar_mm(stock)


@pytest.mark.parametrize("name", NAMES)
def test_a_counterweight_with_its_rod_balances_body_and_rod(name: str) -> None:
    """Moments by hand: 20 g each in the middle of the rim, and a rod on either side."""
    stock, rows, _ = worked(name)
    some = balanced_rings(stock)
    assert sum(row.what == "counterweight" for row in rows) == len(some)
    for one in some:
        assert one.grams == pytest.approx(20.0)  # at the body's own distance, the rods balance each other
        area = pi / 4 * (stock.sizes.hub_mm**2 - (stock.sizes.post_mm**2 if one.rod_mm else 0))
        assert area * one.long_mm / 1000 * stock.sizes.density == pytest.approx(one.grams)


def test_hours_count_collars() -> None:
    stock = worked(DISCS.stem)[0]
    (mounted,) = [one for one in hours_of(stock, (), 0) if one.what == "assemble"]
    parts = len(stock.gears) + len(stock.arbors) + len(stock.posts) + len(stock.stands) + len(stock.rollers)
    shaft = stock.motor_shaft_mm is not None
    assert mounted.count == parts + shaft + len(stock.train.seats) + collars_of(stock).count


def test_the_label_is_drawn_in_its_size_with_its_holes_and_text() -> None:
    stock = worked(DISCS.stem)[0]
    drawing, layout = label_drawing(stock, MM), label_layout(stock)
    assert drawing is not None and layout is not None
    space = ezdxf.read(io.StringIO(dxf(drawing))).modelspace()
    (edge,) = space.query("LWPOLYLINE")
    corners = [(x, y) for x, y, *_ in edge.get_points()]
    assert {abs(x) for x, _ in corners} == {40.0} and {abs(y) for _, y in corners} == {10.0}
    one, two = space.query("CIRCLE")
    head = stock.fittings.head.diameter / 2
    assert one.dxf.radius == two.dxf.radius == stock.fittings.screw.clearance / 2
    assert 40.0 - abs(one.dxf.center.x) > head and abs(one.dxf.center.x - two.dxf.center.x) == layout.apart_mm
    assert "Saturn" in [text.dxf.text for text in space.query("TEXT")]
    assert label_drawing(worked("armed", Hardware())[0], MM) is None


def test_a_model_with_a_crank_has_no_motor_in_its_words() -> None:
    table = TextTable(("Motor", "motor_rpm"), (("the motor's shaft", "motor pinion"),), "ll")
    assert of_crank((table, Items(("drive.motor_rpm",)))) == (
        TextTable(("Crank", "motor_rpm"), (("the crank's shaft", "crank pinion"),), "ll"),
        Items(("drive.motor_rpm",)),
    )
    drawn = of_crank(Drawing("the motor", (Text((0.0, 0.0), "M: motor", 3.0), Circle((0.0, 0.0), 1.0, "motor"))))
    assert drawn == Drawing("the crank", (Text((0.0, 0.0), "M: crank", 3.0), Circle((0.0, 0.0), 1.0, "motor")))


@pytest.mark.deep
def test_no_file_of_a_cranked_model_speaks_of_a_motor() -> None:
    design, answer = shipped("jupiter-table")
    files = make_pack(design, answer.solutions[0], "a4", MM).files
    for name in ("index.html", "parts.csv", "shopping.csv", "drilling.csv", "cuts.csv", "placement.svg"):
        seen = re.sub(r"<[^>]*>", " ", files[name].decode())
        assert not re.search(r"\b[Mm]otor\b(?!_)", seen), name


def test_both_units_of_a_wire_stand_in_one_pair_of_brackets() -> None:
    both = Lengths("in", True)
    assert gauge_text(Gauge(6.35, "steel"), both).replace("\xa0", " ") == "steel, 0.25 in (6.35 mm)"
    told = gauge_text(Gauge(3.175), both)
    assert told.count("(") == told.count(")") == 1 and not re.search(r"\([^)]*\(", told)
    assert gauge_text(Gauge(6.35, "steel"), Lengths("in")).replace("\xa0", " ") == "steel (0.25 in)"


def test_steel_has_one_density_within_what_tables_say() -> None:
    """77 to 78.5 kN/m3 (EN 1991-1-1, table A.4, from memory); 7.85 to 7.87 g/cm3 (materials tables)."""
    assert METALS["steel"].density == STEEL
    assert round(77 / 9.80665, 2) <= STEEL <= 78.5 / 9.80665 and 7.85 <= STEEL <= 7.87


def test_what_is_written_as_dxf_is_what_the_library_writes_itself() -> None:
    """Each kind of entity, read and written once more by the library, has the same tags."""
    shapes = (
        Circle((1.5, -2.0), 3.25, "pitch"),
        Line((0.0, 0.1), (2.0, 3.0), "hole-marks"),
        Arc((1.0, 2.0), 2.0, -90.0, 90.0, "slots"),
        Polyline(((0.0, 0.0), (1.0, 0.0), (1.0, 1.0)), "scale-bar", True),
        Polyline(((0.0, 0.0), (1.0 / 3, 0.0)), "outline"),
        Text((1.0, 2.0), "⌀ 3 mm, 100 %%", 3.0, "middle"),
    )
    told = dxf(Drawing("all", shapes))
    document = ezdxf.read(io.StringIO(told))
    assert not document.audit().errors
    again = io.StringIO()
    document.write(again)

    def entities(text: str) -> str:
        begin = text.index("  2\nENTITIES\n")
        return text[begin : text.index("  0\nENDSEC\n", begin)]

    assert entities(told) == entities(again.getvalue())
    assert len(document.modelspace()) == len(shapes)
