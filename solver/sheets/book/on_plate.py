"""How parts get onto a plate and stay there: collars of posts, rollers, gears of pins, and where the plate goes.

A gear of pins has a loop on either side of the teeth that it works with, so that neither goes over the other along the
axis: they are brought together from the side, which screws through the plate allow. A collar on either side keeps what
turns on a post in its level; it is no thicker than the clearance that the fit leaves around posts.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from solver.search.sagging import POST_END
from solver.sheets.book.fixings import EDGE_MM, HANGER_MM, bush_told, hanger_spots
from solver.sheets.gears.fastening import FEET, HANGERS, MOTOR_SCREWS, bush_mm, foot_mm
from solver.sheets.gears.inventory import Inventory
from solver.sheets.gears.small_parts import PostRod
from solver.words.lengths import Lengths


@dataclass(frozen=True)
class Collars:
    """The collars of a model: how many, how wide and how far across at most [mm]; wide is 0 where the frame's own gap
    decides, as without a plate."""

    count: int
    wide_mm: float
    across_mm: float


def collars_of(stock: Inventory) -> Collars:
    """On a plate two on every post and on the drive's shaft; without one a collar on the free end of each but those
    of rollers that a screw holds."""
    sizes = stock.sizes
    if stock.design.fit.plate == "none":
        turning = len(stock.arbors) if stock.design.armed else 0  # on arms these are held by their own gears
        screwed = len(stock.rollers) if stock.fittings.threaded else 0
        return Collars(len(stock.posts) - screwed - turning, 0.0, 0.0)
    shaft = stock.motor_shaft_mm is not None
    return Collars(2 * (len(stock.posts) + shaft), POST_END, sizes.post_mm + 2 * sizes.clearance_mm)


def face_mm(stock: Inventory, post: PostRod) -> float:
    """How far from the plate's face [mm] what turns on a post begins: the front of the collar that it rests on."""
    if post.carries.startswith("roller"):
        long = stock.fittings.groove.width_mm if stock.fittings.groove is not None else 0.0
    elif post.carries.startswith("arbor"):
        link = post.carries.split()[-1]
        ends = sum(
            hub.length_mm for hub in stock.hubs if hub.use in (f"wheel of link {link}", f"pinion of link {link}")
        )
        long = stock.sizes.level_spacing_mm + ends / 2
    else:
        long = next(hub.length_mm for hub in stock.hubs if hub.use == post.carries)
    return post.length_mm - POST_END - long


def behind(stock: Inventory, posts: list[PostRod], lengths: Lengths) -> Iterator[str]:
    """Where the collars sit on which the parts of some posts rest; rollers of a ring together."""
    if stock.design.fit.plate == "none" or not posts:
        return
    at: dict[str, float] = {}
    for post in posts:
        at.setdefault("rollers" if post.carries.startswith("roller") else post.carries, face_mm(stock, post))
    told = "; ".join(f"{what} {lengths.text(mm)}" for what, mm in at.items())
    yield (
        "Before a post goes up, a collar on it for what turns there to rest on, soldered or glued; from the plate's "
        f"face to the collar's far face: {told}. Where that is less than a collar is wide, saw it as narrow."
    )


def beside_pins(stock: Inventory, level: int, lengths: Lengths) -> Iterator[str]:
    """How gears of pins come to the ring of a level: from the side."""
    shapes = zip(stock.gears, stock.shapes, strict=True)
    small = [one for one in shapes if one[0].gear.kind == "gear" and one[0].gear.level == level]
    design = stock.design
    if stock.form.plate or not small or not (design.armed or design.fit.plate != "none"):
        return
    ring = stock.shapes[level]
    teeth = ring.tip_radius_mm - ring.pitch_radius_mm
    aside = lengths.text(teeth + max(shape.tip_radius_mm - shape.pitch_radius_mm for _, shape in small))
    over = "A gear of pins has a loop on either side of the teeth, so it does not go over them along the axis"
    if design.armed:
        yield (
            f"{over}: lay the ring in {aside} off its place, away from a pinion that is on its sleeve, and bring it "
            "back until its teeth are between the pins; other gears come to it from the side, and its rollers last."
        )
        return
    yield (
        f"{over}. While "
        f"{'no screw' if stock.fittings.shouldered else 'nothing'} holds its post at the plate, stand the post {aside} "
        "out from x and y, put the gear on, bring it in until the teeth are between the pins, and "
        + ("screw the post down; it comes off the same way." if stock.fittings.shouldered else "solder the post in.")
    )
    if any(made.part == "motor pinion" for made, _ in small):
        yield "Hold the motor pinion in its ring's teeth and push the shaft through it."


def over_rollers(stock: Inventory, lengths: Lengths) -> Iterator[str]:
    """How a ring gets over the flanges of its rollers."""
    groove = stock.fittings.groove
    if groove is None or not (stock.design.armed or stock.design.fit.plate != "none"):
        return
    slots = "eyes" if stock.design.armed else "slots"
    yield (
        f"Flanges stand {lengths.text(groove.deep_mm)} over the groove: draw the rollers in so far in their {slots}, "
        "put the ring over them, and let them out until each touches its inner edge."
    )


def drilled_for(stock: Inventory, lengths: Lengths) -> Iterator[str]:
    """What goes through the plate, and, on a table, on what it stands."""
    screw = stock.fittings.screw
    told, sizes = lengths.text, stock.sizes
    yield (
        f"Posts stand on the plate's face: holes and slots of posts are as wide as their screw needs, "
        f"{told(screw.clearance)}."
        if stock.fittings.shouldered
        else f"Posts go through the plate: holes and slots of posts are as wide as these, {told(sizes.post_mm)}."
    )
    if bush_mm(stock):
        yield (
            f"The hole and slot of M are as wide as its bush, {told(sizes.arbor_mm)}: {bush_told(stock, lengths)}, of "
            "the tube for arbors, reamed until the shaft turns; glued or soldered in when its mesh runs."
        )
    if stock.design.motored:
        yield (
            f"About M, {MOTOR_SCREWS} holes of {told(screw.clearance)} for the pillars of the motor, where its own "
            "screws are, as much longer as the slot of M, clear of the holes of posts."
        )
    if stock.design.hung:
        yield (
            f"{HANGERS} holes of {told(HANGER_MM + 1)} to hang it by {hanger_spots(stock)}, {told(EDGE_MM)} from the "
            "edge, where nothing turns over them."
        )
    else:
        yield (
            f"{FEET} holes of {told(screw.clearance)} for the feet, evenly round the plate, {told(EDGE_MM)} from its "
            f"edge. Feet are {told(foot_mm(stock))} high, more than what stands below it."
        )


def put_up(stock: Inventory) -> Iterator[str]:
    """How the plate is put where it is to be."""
    if stock.design.fit.plate == "none":
        return
    if not stock.design.hung:
        yield "Stand the plate on its feet and see with a level that it lies flat: rings run off their rollers else."
        return
    yield (
        f"Hang the plate by its {HANGERS} fixings, as the box on weight on a wall says, its upper edge level: weigh "
        "all of it first. Until then it lay on its back; turn it up slowly, and look whether any ring leaves its "
        "rollers."
    )
