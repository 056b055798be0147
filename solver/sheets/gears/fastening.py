"""How things are screwed together and driven: the plate's thickness, screws of each use with their lengths, what stands
behind the plate [mm].

A screw is as long as what it goes through and a thread and a half of its diameter in metal, rounded up to a length that
is sold (ISO 888 and usual inch lengths, from memory). What has no length until it is bought, a motor say, is told as
what it may be at most.
"""

from __future__ import annotations

from dataclasses import dataclass

from solver.design.design import Design
from solver.search.sagging import POST_END
from solver.sheets.gears.inventory import Inventory

# All of these: common practice, no source.
PLATE_MM, PLATE_IN = 6.0, 6.35  # a plate's thickness unless told, in a file in mm or in inches
HELD = 1.5  # of a screw's diameter: how deep it is at least in what it holds to
GRIP = 2.0  # of a shaft's diameter: how far it goes into a crank or a coupling
COUPLING = 8.0  # of a shaft's diameter: how long a coupling with its clutch is at most
FLANGE, LABEL, FREE = 3.0, 1.0, 5.0  # mm: of a motor, the label's thickness, and what is left free below or behind all
MOTOR_SCREWS, LABEL_SCREWS, FEET, HANGERS = 4, 2, 3, 2
_LENGTHS = {
    "mm": (3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0),
    "in": tuple(25.4 / 16 * n for n in (2, 3, 4, 5, 6, 7, 8, 10, 12, 14, 16, 20, 24, 28, 32)),
}


@dataclass(frozen=True)
class ScrewUse:
    """Screws that are alike. held_mm: how deep each is in metal, beyond what it goes through; 0 with a nut. washer:
    whether one goes below the head; nut: whether one holds it."""

    what: str
    count: int
    length_mm: float
    held_mm: float
    washer: bool
    nut: bool = False


def plate_mm(design: Design) -> float:
    """How thick the plate is that carries the posts; 0 without one."""
    if design.fit.plate == "none":
        return 0.0
    told = design.hardware.plate if design.hardware is not None else None
    return float(told) if told is not None else PLATE_IN if design.units == "in" else PLATE_MM


def post_cut_mm(stock: Inventory, length_mm: float) -> float:
    """What is sawn off for a post that reaches so far from the plate's face: one without a shoulder goes through."""
    return length_mm if stock.fittings.shouldered else length_mm + plate_mm(stock.design)


def shaft_cut_mm(stock: Inventory) -> float:
    """What is sawn off for the drive's shaft; 0 without a drive. Through a plate it ends in its coupling or crank."""
    if stock.motor_shaft_mm is None:
        return 0.0
    return stock.motor_shaft_mm + plate_mm(stock.design) + _collar(stock) + GRIP * stock.sizes.post_mm


def bush_mm(stock: Inventory) -> float:
    """How long the bush is in which the drive's shaft turns in the plate; 0 where there is none."""
    return plate_mm(stock.design) if stock.motor_shaft_mm is not None else 0.0


def coupling_mm(stock: Inventory) -> float:
    """How long a coupling with its clutch is at most."""
    return COUPLING * stock.sizes.post_mm


def pillar_mm(stock: Inventory) -> float:
    """How far a motor's face is from the plate's back: a collar, the coupling, and a millimetre to take it out by."""
    return _collar(stock) + coupling_mm(stock) + 1.0


def foot_mm(stock: Inventory) -> float:
    """How high the feet of a plate are, and how far one is from its wall: more than what stands behind it, without the
    motor, whose length only its maker tells."""
    screw, head = stock.fittings.screw, stock.fittings.head
    below = head.height + screw.washer.thick
    if stock.motor_shaft_mm is not None:
        below = max(below, _collar(stock) + GRIP * stock.sizes.post_mm)
    if stock.design.motored:
        below = pillar_mm(stock)
    return below + FREE


def _collar(stock: Inventory) -> float:
    return POST_END if stock.design.fit.plate != "none" else 0.0


def screw_uses(stock: Inventory) -> tuple[ScrewUse, ...]:
    """The screws of a model by their uses, without set screws; those that there are none of are left out."""
    design, screw = stock.design, stock.fittings.screw
    thick, washer = plate_mm(design), screw.washer.thick
    through = thick or PLATE_MM  # without a plate what the frame holds is not known
    plated = design.fit.plate != "none"
    motor = MOTOR_SCREWS if design.motored else 0
    labelled = design.hardware is not None and design.hardware.label is not None
    on = thick if plated else float(design.supports.arm_mm) if design.supports is not None else 0.0

    def use(what: str, count: int, goes: float, below: bool = True, nut: bool = False) -> ScrewUse:
        goes += washer if below else 0.0
        least = goes + (screw.nut.height if nut else HELD * screw.major)
        length = next((one for one in _LENGTHS[design.units] if one >= least - 1e-9), least)
        return ScrewUse(what, count, length, 0.0 if nut else length - goes, below, nut)

    found = (
        use("posts", sum(one.posts for one in stock.screws), through),
        use("rollers", sum(one.rollers for one in stock.screws), 0.0, stock.fittings.washer),
        use("pillars", motor * plated, thick),
        use("the motor", motor, FLANGE) if plated else use("the motor", motor, 2 * FLANGE, nut=True),
        use("feet", FEET * (plated and not design.hung), thick),
        use("the label", LABEL_SCREWS * labelled, LABEL + on, nut=True),
    )
    return tuple(one for one in found if one.count)
