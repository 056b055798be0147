"""Bearings, screws and rollers go together: what sits in what, and what is said where it does not."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import cache

import pytest
from shipped import DISCS, shipped

from solver import Design, Train, parse_design
from solver.design.errors import DesignError
from solver.design.hardware import Hardware
from solver.sheets.gears.inventory import Inventory, inventory
from solver.sheets.hardware.registry import bearings


@cache
def solved(name: str) -> tuple[Design, Train]:
    design, answer = shipped(name)
    return design, answer.trains(design)[0]


def stock_of(
    post: float, hardware: str = "", wire: str = "", roller: float | None = None, unit: str = "mm"
) -> Inventory:
    """The hall of discs, its posts so thick; lengths of the texts in `unit`."""
    design, train = solved(DISCS.stem)
    told = parse_design(
        f'units = "{unit}"\n[bodies]\nset = "saturn"\n[fit]\npost_radius = {post / 2}\n'
        + (f"rollers = {{radius = {roller}}}\n" if roller is not None else "")
        + f"[wire]\n{wire}\n[hardware]\n{hardware}"
    )
    assert design.fit.rollers is not None
    rollers = (
        design.fit.rollers if told.fit.rollers is None else replace(design.fit.rollers, radius=told.fit.rollers.radius)
    )
    fit = replace(design.fit, post_radius=told.fit.post_radius, rollers=rollers)
    design = replace(design, units=unit, fit=fit, wire=told.wire, hardware=told.hardware)
    return inventory(design, train)


@pytest.mark.parametrize("post, name", [(3, "MR63ZZ"), (4, "MR84ZZ")])
def test_the_smallest_bearing_that_has_room_is_taken(post: float, name: str) -> None:
    stock = stock_of(post, roller=9)
    fittings, sizes = stock.fittings, stock.sizes
    assert fittings.bearing is not None and fittings.bearing.name == name
    one = bearings()[name]
    # A millimetre of metal about it everywhere, and a hub that still holds its set screw beside it.
    for seat, outside in ((fittings.arbor, sizes.hub_mm), (fittings.roller, 18.0)):
        assert seat is not None and seat.bore_mm == one.outside and seat.bore_mm + 2 <= outside
    hubs = [hub for hub in stock.hubs if hub.use != "motor pinion"]
    assert all(hub.seat is not None and hub.seat.deep_mm == one.width for hub in hubs)
    assert min(hub.length_mm for hub in hubs) - one.width >= fittings.screw.major
    # The sleeve and both bearings reach from hub to hub.
    for arbor in stock.arbors:
        ends = [hub.length_mm for hub in hubs if hub.use.endswith(f"link {arbor.link}")]
        assert arbor.length_mm + 2 * one.width == pytest.approx(sizes.level_spacing_mm + sum(ends) / 2)


def test_a_thick_sleeve_holds_the_bearings_itself() -> None:
    stock = stock_of(3, wire="arbor_diameter = 8", roller=9)
    assert stock.fittings.arbor is not None
    assert (stock.fittings.arbor.where, stock.fittings.arbor.bore_mm) == ("sleeve", 6.0)
    assert all(hub.seat is None for hub in stock.hubs)


def test_where_no_bearing_goes_with_the_post_what_would_is_said() -> None:
    stock = stock_of(3.6)
    assert stock.fittings.bearing is None and stock.ball_bearings == 0 < stock.bearings
    (told,) = [remark.text for remark in stock.fittings.remarks if "ball bearing" in remark.text]
    assert "no ball bearing of the list has a bore of 3.6 mm" in told
    assert "3 mm (MR63)" in told and "4 mm (MR84)" in told and "fit.post_radius is half of that" in told
    # What it says is so.
    for post in (3, 4):
        assert stock_of(post, roller=9).fittings.bearing is not None


def test_a_bearing_that_was_asked_for_and_has_no_room_is_refused() -> None:
    with pytest.raises(DesignError) as fault:
        stock_of(4, 'bearing = "624"', roller=9)
    assert "hardware.bearing" in str(fault.value) and "hubs need 15 mm; set wire.hub_diameter" in str(fault.value)
    small = stock_of(3, 'bearing = "MR63ZZ"').fittings  # rollers of 6 mm do without
    assert small.arbor is not None and small.arbor.where == "hub"
    assert small.roller is not None and not small.roller.where
    assert any("MR63ZZ has no room: rollers need 8 mm" in remark.text for remark in small.remarks)
    own = "bearing = {bore = 4, outside = 11, width = 3}"
    wide = stock_of(4, own, wire="hub_diameter = 13", roller=9)
    assert wide.fittings.bearing is not None and wide.fittings.bearing.outside == 11
    assert stock_of(4, 'bearing = "plain"', roller=9).ball_bearings == 0


def test_screws_go_into_the_posts_and_do_not_rub() -> None:
    for post, name in ((3, "M2"), (4, "M2.5"), (5, "M3")):
        fittings = stock_of(post, wire="hub_diameter = 13", roller=9).fittings
        assert fittings.screw.name == name
        assert fittings.screw.clearance < post and fittings.bearing is not None and fittings.groove is not None
        held = fittings.screw.washer.outside if fittings.washer else fittings.head.diameter
        assert post < held <= (fittings.bearing.bore + fittings.bearing.outside) / 2
        assert held < fittings.groove.over_mm
    thin = stock_of(2).fittings
    assert any("is too thick for a thread in the end of a post of 2 mm" in remark.text for remark in thin.remarks)
    assert not thin.threaded and not thin.shouldered
    bare = stock_of(2.8).fittings  # M2: its clearance hole of 2.4 mm leaves 0.2 mm on either side
    assert any("no shoulder to stand on" in remark.text for remark in bare.remarks)
    assert bare.threaded and not bare.shouldered
    inch = stock_of(0.125, roller=0.35, unit="in").fittings
    assert inch.screw.name == "#2-56" and inch.bearing is not None and inch.bearing.name == "R144ZZ"


def test_grooves_are_wider_and_deeper_than_what_runs_in_them() -> None:
    groove = stock_of(3, roller=9).fittings.groove
    loop, tooth = 1.6277, 1.2908  # AWG 14 and 16 (ASTM B258: 0.0641 and 0.0508 in)
    assert groove is not None
    assert groove.groove_mm > loop + tooth and groove.deep_mm > loop / 2 and groove.over_mm == 2 * (9 + groove.deep_mm)
    assert (
        groove.width_mm == pytest.approx(groove.groove_mm + 2 * groove.flange_mm) == pytest.approx(3 * loop, abs=1e-3)
    )
    wide = stock_of(3, "roller = {groove_width = 3, flange = 6}", roller=9)
    assert any(remark.where == "rollers" and not remark.runs for remark in wide.remarks)
    high = stock_of(3, "roller = {groove_depth = 5}", roller=9)
    # The tooth wires lie beside the loop: high flanges on a groove for the loop alone would meet them.
    close = stock_of(3, "roller = {groove_width = 2}", roller=9)
    assert any("meet the tooth wires" in remark.text and not remark.runs for remark in close.remarks)
    assert any("to the teeth" in remark.text for remark in high.remarks)


def test_rods_of_bodies_clear_what_passes_them_on_their_own_level() -> None:
    """From the drawings alone: a rod in the middle of the rim, a pin circle on the pitch circle, flanges inside."""
    design, train = solved("saturn-hall")
    stock = inventory(design, train)
    rim, post, pin = float(design.rings.rim), 2 * float(design.fit.post_radius), stock.sizes.pin_mm
    assert stock.fittings.groove is not None and stock.stands
    whole = post / 2 - rim / 2 + pin / 2  # how far a whole rod would stand in the pins' way
    assert whole > 0.3
    for stand in stock.stands:
        foot = stand.foot
        assert rim / 2 - post / 2 + foot.outside_mm >= pin / 2 + 0.2 - 1e-9
        assert rim / 2 - post / 2 + foot.inside_mm >= stock.fittings.groove.deep_mm + 0.2 - 1e-9
        assert foot.thick_mm == pytest.approx(post - foot.outside_mm - foot.inside_mm)


def test_bodies_that_would_meet_are_told() -> None:
    """The hall's rings are 4 teeth of 20 mm apart, 12.73 mm of radius: larger balls than that, less the
    clearance, do not pass."""
    design, train = solved(DISCS.stem)
    apart = design.rings.pitch.radius_mm(train.rings[1] - train.rings[0])
    free = apart - float(design.fit.clearance)
    for across, fits in ((free - 0.01, True), (free + 0.01, False)):
        bodies = tuple((body.name, Fraction(across)) for body in design.bodies[:2])
        stock = inventory(replace(design, hardware=Hardware(bodies=bodies)), train)
        assert (train.seats[:2], design.fit.stands) == ((0, 1), "outer")
        assert any(remark.where.startswith("bodies") for remark in stock.remarks) is not fits
    low = replace(
        design,
        fit=replace(design.fit, stands="none"),
        hardware=Hardware(bodies=((design.bodies[0].name, Fraction(30)),)),
    )
    assert any("next level" in remark.text for remark in inventory(low, train).remarks)
