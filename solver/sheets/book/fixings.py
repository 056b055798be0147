"""What joins a model to its drive, its plate and what it hangs from or stands on: each as it is bought.

Screws have a row for each length, and are told by what they hold. The coupling between a motor and the drive's shaft is
one with a clutch that slips, so that a hand that holds a ring is not hurt. Counterweights are for those bodies that
flop, each opposite to its body on a rod like that of the body.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from math import pi

from solver.mechanics.metals import newtons
from solver.sheets.book.cautions import WALL_FACTOR
from solver.sheets.book.weight import hanging_grams
from solver.sheets.gears.fastening import (
    FEET,
    FLANGE,
    GRIP,
    HANGERS,
    LABEL,
    LABEL_SCREWS,
    MOTOR_SCREWS,
    ScrewUse,
    bush_mm,
    coupling_mm,
    foot_mm,
    pillar_mm,
    plate_mm,
    screw_uses,
)
from solver.sheets.gears.gears import ring_name
from solver.sheets.gears.inventory import Inventory
from solver.sheets.gears.loaded import SLIP_MARGIN, loaded_model, rod_at_mm
from solver.sheets.supports.made import SupportsMade
from solver.words.lengths import Lengths

HANGER_MM = 5.0  # diameter of a wall screw through the plate (common practice, no source)
EDGE_MM = 12.0  # of holes to hang by and of feet, from the plate's edge (common practice, no source)


@dataclass(frozen=True)
class BoughtFixing:
    """A row of the shopping list, without its price. spare: whether a share is bought on top."""

    what: str
    part: str
    size: str
    count: int
    used: str
    spare: bool = False


@dataclass(frozen=True)
class RingBalance:
    """What balances the body of a ring: the weight beside its rod [g], so far from the axis [mm]; the rod [mm], 0 where
    bodies have none; and as a piece of the rod that hubs are made of [mm]."""

    ring: int
    name: str
    grams: float
    at_mm: float
    rod_mm: float
    long_mm: float


def balanced_rings(stock: Inventory) -> tuple[RingBalance, ...]:
    """What the bodies need that flop, by ring."""
    model, sizes = loaded_model(stock), stock.sizes
    if not model.upright:
        return ()
    rods, found = {stand.ring: stand for stand in stock.stands}, []
    ring_of_mm = pi / 4 * (sizes.hub_mm**2 - (sizes.post_mm**2 if rods else 0.0)) / 1000 * sizes.density  # g to the mm
    for load in model.rings:
        if not load.body or load.flops_from_deg is None:
            continue
        at, rod = rod_at_mm(stock, load.ring), rods.get(load.ring)
        grams = load.counterweight_grams(at) - (rod.grams if rod is not None else 0.0)
        name = ring_name(stock.design, stock.train, load.ring)
        found.append(
            RingBalance(load.ring, name, grams, at, rod.length_mm if rod is not None else 0.0, grams / ring_of_mm)
        )
    return tuple(found)


def screw_part(stock: Inventory, use: ScrewUse, lengths: Lengths) -> str:
    """The name of a screw of the list; inch screws are sold by fractions."""
    told = lengths.text(use.length_mm)
    if lengths.unit == "in":
        whole, part = divmod(Fraction(round(use.length_mm / 25.4 * 16), 16), 1)
        told = " ".join(filter(None, (str(whole) if whole else "", str(part) if part else ""))) + "\u00a0in"
    return f"screw {stock.fittings.screw.name} × {told}, {stock.fittings.head.kind} head"


def screw_rows(stock: Inventory, lengths: Lengths) -> Iterator[BoughtFixing]:
    """Screws by length, washers, nuts."""
    uses, screw, head, told = screw_uses(stock), stock.fittings.screw, stock.fittings.head, lengths.text
    for length in sorted({use.length_mm for use in uses}):
        alike = [use for use in uses if use.length_mm == length]
        held = max(use.held_mm for use in alike)
        size = f"head ⌀ {told(head.diameter)}, clearance hole {told(screw.clearance)}"
        size += f"; at most {told(held)} of it in the thread" if held else ""
        used = ", ".join(f"{use.count} of {use.what}" for use in alike)
        yield BoughtFixing("screw", screw_part(stock, alike[0], lengths), size, sum(u.count for u in alike), used, True)
    washers = [use for use in uses if use.washer]
    if washers:
        size = f"⌀ {told(screw.washer.outside)}, hole {told(screw.washer.inside)}"
        used = f"below heads of {', '.join(use.what for use in washers)}"
        yield BoughtFixing("washer", f"washer {screw.name}", size, sum(u.count for u in washers), used, True)
    nuts = [use for use in uses if use.nut]
    if nuts:
        size, used = f"{told(screw.nut.across_flats)} across flats", ", ".join(use.what for use in nuts)
        yield BoughtFixing("nut", f"nut {screw.name}", size, sum(use.count for use in nuts), used, True)


def fixing_rows(stock: Inventory, lengths: Lengths) -> Iterator[BoughtFixing]:
    """Coupling, pillars of the motor, feet, wall fixings, counterweights."""
    design, told, screw = stock.design, lengths.text, stock.fittings.screw
    plated, post = design.fit.plate != "none", stock.sizes.post_mm
    across = f"⌀ {told(stock.sizes.hub_mm)} or thicker, tapped {screw.name}"
    if design.motored:
        slip = SLIP_MARGIN * loaded_model(stock).most_nmm / 10
        size = f"bores as the motor's own shaft and {told(post)}, at most {told(coupling_mm(stock))} long, for "
        size += f"{told(GRIP * post)} of shaft in each end; its clutch set to slip at {slip:.1f} N cm"
        yield BoughtFixing("coupling", "coupling with a clutch that slips", size, 1, "motor to the drive's shaft")
        if plated:
            size = f"{across} at both ends, long {told(pillar_mm(stock))} for a coupling of that length"
            yield BoughtFixing("pillar", "pillar of the motor", size, MOTOR_SCREWS, "motor behind the plate")
        elif design.armed:
            assert design.fit.frame is not None
            size = (
                f"sheet {told(FLANGE)} thick, as wide as the motor, long {told(float(design.fit.frame.width))} or as "
            )
            size += "far as two bars are apart, with holes as the motor has them"
            yield BoughtFixing("bracket", "strip for the motor", size, 1, "the motor in the frame")
    if plated and not design.hung:
        size = f"{across}, high {told(foot_mm(stock))}{_and_motor(stock)}"
        yield BoughtFixing("foot", "foot of the plate", size, FEET, "the plate stands on them")
    if plated and design.hung:
        size = f"screw of {told(HANGER_MM)} or thicker with its plug{bears(stock)} and {WALL_FACTOR} times the plate; "
        size += f"longer than its spacer, the plate and {told(40.0)} in the wall"
        yield BoughtFixing("wall fixing", "wall fixing", size, HANGERS, "the plate hangs on them")
        size = f"tube a screw of {told(HANGER_MM)} goes through, long {told(foot_mm(stock))}{_and_motor(stock)}"
        yield BoughtFixing("plate spacer", "spacer of the plate", size, HANGERS, "between wall and plate")
    if design.armed and design.hardware is not None and design.hardware.label is not None:
        assert design.supports is not None
        wide, high = stock.fittings.screw.washer.outside, float(design.hardware.label.height)
        size = f"sheet {told(LABEL)} thick, {told(wide)} wide, {told(pi * float(design.supports.bar_mm) + high)} long"
        yield BoughtFixing("label tab", "tab of the label", size, LABEL_SCREWS, "bent about a bar, carries the label")
    for one in balanced_rings(stock):
        size = f"{one.grams:.1f} g: {told(one.long_mm)} of brass ⌀ {told(stock.sizes.hub_mm)}"
        size += f", bored {told(post)}" if one.rod_mm else ", or as much in another shape"
        part = f"counterweight of {one.name}"
        yield BoughtFixing("counterweight", part, size, 1, f"opposite to its body, {told(one.at_mm)} from the axis")


def bears(stock: Inventory, supports: SupportsMade | None = None) -> str:
    """What each of the fixings must bear, before what the sheets do not weigh."""
    kg = WALL_FACTOR * hanging_grams(stock, supports) / 1000
    return f", each to bear {WALL_FACTOR} times all that hangs: {kg:.1f} kg ({newtons(1000 * kg):.0f} N)"


def _and_motor(stock: Inventory) -> str:
    return " and as much more as the motor is long" if stock.design.motored else ""


def hanger_spots(stock: Inventory) -> str:
    """Where a plate is hung by, in words."""
    frame = stock.design.fit.frame
    if frame is not None and frame.round:
        return "near its edge, 30° left and right of the top"
    return "in its upper corners"


def plate_told(stock: Inventory, lengths: Lengths) -> str:
    """The plate's thickness, and what it is of."""
    return f"{lengths.text(plate_mm(stock.design))} thick (hardware.plate_thickness), of aluminium, brass or plywood"


def bush_told(stock: Inventory, lengths: Lengths) -> str:
    """The bush of the drive's shaft in the plate, as it is made from the tube of arbors; "" without one."""
    if not bush_mm(stock):
        return ""
    sizes, told = stock.sizes, lengths.text
    return f"⌀ {told(sizes.arbor_mm)}, bore {told(sizes.post_mm)}, long {told(bush_mm(stock))}"


def flange_told(lengths: Lengths) -> str:
    """For which flange of a motor its screws are reckoned."""
    return f"reckoned for a flange of {lengths.text(FLANGE)}"
