"""What holds parts on a plate: collars beside what turns, gears of pins brought in from the side, cranks for motors."""

from __future__ import annotations

import re
from functools import cache

import pytest
from shipped import DISCS, shipped

from solver.forces.held import screw_hold_n
from solver.sheets.book.on_plate import behind, collars_of, face_mm
from solver.sheets.book.order_bench import whole_order
from solver.sheets.book.shopping import ShoppingRow, shopping
from solver.sheets.book.steps import BuildStep
from solver.sheets.gears.adjust import meshes_of
from solver.sheets.gears.inventory import Inventory, inventory
from solver.sheets.stock.cuts import cut_list, joints_of
from solver.words.lengths import Lengths

MM = Lengths("mm")
NAMES = (
    DISCS.stem,
    *(pytest.param(name, marks=pytest.mark.deep) for name in ("jupiter-table", "saturn-hall")),
)


@cache
def worked(name: str) -> tuple[Inventory, tuple[ShoppingRow, ...], tuple[BuildStep, ...]]:
    design, answer = shipped(name)
    train = answer.trains(design)[0]
    stock = inventory(design, train)
    made = cut_list(stock)
    rows = shopping(stock, made.plans, sum(count for _, count in joints_of(stock, made.cuts)), MM)
    return stock, rows, whole_order(stock, MM, meshes_of(design, train), rows)


def levels(steps: tuple[BuildStep, ...]) -> list[BuildStep]:
    return [step for step in steps if step.title.startswith("Level")]


@pytest.mark.deep
@pytest.mark.parametrize("name", NAMES)
def test_a_collar_closes_an_arbor_when_its_last_gear_is_on_and_no_sooner(name: str) -> None:
    _, _, steps = worked(name)
    there: set[str] = set()
    for step in levels(steps):
        there |= set(step.mounts)
        closed = any("free end of each post" in line for line in step.lines)
        assert closed is any(one.startswith("pinion") for one in step.mounts), step.title
    assert any(one.startswith("pinion") for one in there)


@pytest.mark.parametrize("name", NAMES)
def test_every_arbor_and_roller_rests_on_a_collar_where_it_begins(name: str) -> None:
    """Its middle is in the middle of its level, by hand: half a level, and the whole ones before it."""
    stock, _, steps = worked(name)
    spacing = stock.sizes.level_spacing_mm
    hubs = {hub.use: hub.length_mm for hub in stock.hubs}
    for post in stock.posts:
        middle = (post.bottom + 0.5) * spacing
        if post.carries.startswith("arbor"):
            half = hubs[f"wheel of link {post.carries.split()[-1]}"] / 2
        else:
            assert stock.fittings.groove is not None
            half = stock.fittings.groove.width_mm / 2
        assert face_mm(stock, post) == pytest.approx(middle - half), post.carries
        (told,) = behind(stock, [post], MM)
        assert f"{middle - half:.2f}".rstrip("0").rstrip(".") in told
    for step in levels(steps):
        put_up = any(one.startswith("post of") for one in step.mounts)
        assert any(line.startswith("Before a post goes up, a collar") for line in step.lines) is put_up


@pytest.mark.parametrize("name", NAMES)
def test_collars_stay_within_the_clearance_around_posts(name: str) -> None:
    stock, rows, _ = worked(name)
    (row,) = [row for row in rows if row.what == "collar"]
    collars = collars_of(stock)
    assert row.needed == collars.count == 2 * (len(stock.posts) + (stock.motor_shaft_mm is not None))
    assert (collars.across_mm - stock.sizes.post_mm) / 2 == float(stock.design.fit.clearance)
    assert f"at most {MM.text(collars.across_mm)} across" in row.size


@pytest.mark.parametrize("name", NAMES)
def test_gears_of_pins_come_from_the_side_clear_of_the_teeth(name: str) -> None:
    """So far out that the tip circles no longer meet, on the line of centres."""
    stock, _, steps = worked(name)
    for level, step in enumerate(levels(steps)):
        ring = stock.shapes[level]
        small = [
            shape
            for made, shape in zip(stock.gears, stock.shapes, strict=True)
            if made.gear.kind == "gear" and made.gear.level == level
        ]
        (aside,) = [float(re.search(r"the post ([\d.]+)", one)[1]) for one in step.lines if "loop on either" in one]  # type: ignore[index]
        for shape in small:
            centres = ring.pitch_radius_mm + shape.pitch_radius_mm + aside
            assert centres >= ring.tip_radius_mm + shape.tip_radius_mm - 0.006


@pytest.mark.deep
def test_a_crank_is_bought_and_used_in_place_of_a_motor() -> None:
    _, rows, steps = worked("jupiter-table")
    (row,) = [row for row in rows if row.what == "motor"]
    assert row.part == "hand crank" and "arm 90" in row.size and "low voltage" not in row.size
    assert not [row for row in rows if row.what == "nut"]
    lines = " ".join(line for step in steps for line in step.lines)
    assert "With the motor" not in lines and "Screw the motor" not in lines
    assert any("hand crank" in step.mounts for step in steps)
    assert any("feet" in line for step in steps if step.title == "Drill the plate" for line in step.lines)
    assert not any("wall" in line.lower() for step in steps for line in step.lines)


def test_a_wall_model_is_hung_in_the_end() -> None:
    _, _, steps = worked(DISCS.stem)
    titles = [step.title for step in steps]
    assert titles.index("Put the plate up") == len(titles) - 2
    assert any("Hang the plate" in line for line in steps[-2].lines)


def test_a_motor_is_bought_by_what_it_must_give() -> None:
    _, rows, _ = worked(DISCS.stem)
    (row,) = [row for row in rows if row.what == "motor"]
    assert re.search(r"at least [\d.]+ N cm", row.size)


@pytest.mark.deep
def test_pins_of_jigs_are_as_thick_as_their_holes() -> None:
    """Curved teeth are bent about thin pins at their tips and thick ones at their roots."""
    stock, rows, _ = worked("saturn-hall")
    bought = {(row.part, row.size.split(",")[0]) for row in rows if row.what == "jig pin"}
    holes = {
        (f"jig pin for {one.what}s", f"⌀ {MM.text(one.diameter_mm)}")
        for jig in stock.jigs
        for one in jig.holes
        if one.what in ("tip", "root")
    }
    assert bought == holes and len(holes) > 1


def test_set_screws_hold_by_their_size() -> None:
    """Axial hold of cup points on steel: #2 85 lbf, #6 250 lbf (tables, from memory); half of it on brass."""
    for mm, pounds in ((2.184, 85), (3.505, 250)):
        assert screw_hold_n(mm) == pytest.approx(pounds * 4.448 / 2, rel=0.12)
