"""The chapter on weight and sag: masses by group, the centre of mass, what bends how far, what hangs on the wall."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil

from solver.design.weights import USUAL_GRAMS
from solver.mechanics.metals import newtons
from solver.search.sagging import MOTOR_GRAMS
from solver.sheets.book.cautions import WALL_FACTOR, WALL_SOURCE
from solver.sheets.book.document import Block, Heading, Paragraph, TextTable
from solver.sheets.gears.bending import Bend, Bending, bending_of
from solver.sheets.gears.inventory import Inventory
from solver.sheets.gears.masses import Masses, masses_of
from solver.sheets.supports.made import SupportsMade
from solver.sheets.supports.weighed import weighed
from solver.sheets.views.spots import level_depths
from solver.words.lengths import Lengths


def hanging_grams(stock: Inventory, supports: SupportsMade | None = None) -> float:
    """What hangs on the wall, as far as it is known [g]: all that is weighed, and a motor."""
    return masses_of(stock, tuple(weighed(supports))).whole.grams + (
        MOTOR_GRAMS if stock.motor_shaft_mm is not None else 0.0
    )


def weight(stock: Inventory, lengths: Lengths, supports: SupportsMade | None = None) -> Iterator[Block]:
    """The whole chapter."""
    yield from _masses(stock, masses_of(stock, tuple(weighed(supports))), lengths)
    yield Heading("What bends", 2)
    yield from _bending(stock, bending_of(stock), lengths)
    if stock.design.hung:
        yield Heading("On the wall", 2)
        yield from _wall(stock, supports)


def _masses(stock: Inventory, masses: Masses, lengths: Lengths) -> Iterator[Block]:
    design = stock.design
    told = dict(design.weights or ())
    guessed = [body.name for body in design.bodies if body.name not in told]
    left = "screws, counterweights" + (" and solder" if stock.motor_shaft_mm is None else ", motor and solder")
    left = left if design.armed else f"plate, frame, arms, {left}"
    text = f"What is listed, and the bodies, by groups; without {left}."
    if guessed:
        text += f" Bodies are taken to weigh {float(USUAL_GRAMS):g} g each unless the file says so in bodies.grams"
        text += ": all of them here." if not told else f": here {', '.join(guessed)}."
    yield Paragraph(text)
    depth_from = level_depths(design, len(stock.train.rings))[2]
    heads = ["group", "parts", "weight [g]"]
    for unit in lengths.units:
        heads += [f"middle: x [{unit}]", f"y [{unit}]", f"depth [{unit}]"]

    def cells(x: float, y: float, depth: float) -> list[str]:
        return [lengths.bare(mm, unit, 1) for unit in lengths.units for mm in (x, y, depth)]

    rows = [
        (one.what, str(count), f"{one.grams:.1f}", *cells(one.x_mm, one.y_mm, one.depth_mm))
        for one, count in masses.groups()
    ]
    whole = masses.whole
    last = ("all", str(len(masses.parts)), f"{whole.grams:.1f}", *cells(whole.x_mm, whole.y_mm, whole.depth_mm))
    yield TextTable(tuple(heads), tuple(rows), "lrr" + "rrr" * len(lengths.units), "Masses", (last,))
    yield Paragraph(
        f"The centre of mass is {lengths.text(whole.from_axis_mm, 1)} from the main axis, at x "
        f"{lengths.text(whole.x_mm, 1)} and y {lengths.text(whole.y_mm, 1)} from it, and "
        f"{lengths.text(whole.depth_mm, 1)} deep, measured from {depth_from}. Bodies are taken to be all round; when "
        f"all of them stand on one side, it is {lengths.text(masses.shift_mm, 1)} nearer to that side."
    )


def _bending(stock: Inventory, bending: Bending, lengths: Lengths) -> Iterator[Block]:
    design = stock.design
    limit = lengths.text(bending.limit_mm, 3)
    weights = "Weights are reckoned from the safe side: gears by their teeth alone, a little heavier than listed."
    if bending.judged:
        yield Paragraph(f"No post, ring or arm of this design may bend more than {limit} (supports.sag). {weights}")
    else:
        yield Paragraph(
            "This file has no table [supports], so that nothing of this was judged; the model is taken to hang on a "
            f"wall. A quarter of the addendum, {limit}, is what would be allowed unless told. {weights}"
        )
    if bending.posts:
        yield from _worst("Posts, each as a cantilever from the plate", bending.posts, bending, lengths)
    else:
        flat = not design.hung
        why = "Posts stand upright and are pressed along their length" if flat else "Posts are as short as half a gap"
        yield Paragraph(f"{why}: they are not reckoned to bend.")
    if not bending.rings:
        yield Paragraph("Without rollers, how rings are held is left to you: they are not reckoned to bend.")
        return
    on = "Rings, each on its rollers where these stand"
    yield from _worst(
        f"{on}, its body between two of them: how far it goes down"
        if bending.flat
        else f"{on}, down and its body where they are worst: how far it goes out of round",
        bending.rings,
        bending,
        lengths,
    )
    yield Paragraph(
        "A ring bends least on rollers that stand evenly. Where they do not, the widest gap decides: what is told is "
        "the worst of all ways to stand with such a gap (own reckoning), so set rollers where the placement has them."
    )


def _worst(caption: str, some: tuple[Bend, ...], bending: Bending, lengths: Lengths) -> Iterator[Block]:
    """The table of what bends, and which does most."""
    heads = ("what", "carries [g]", *(f"bends [{unit}]" for unit in lengths.units), "of what is allowed")
    rows = []
    for one in some:
        far = (lengths.bare(one.bend_mm, unit, 3) for unit in lengths.units)
        rows.append((one.what, f"{one.grams:.1f}", *far, f"{100 * one.bend_mm / bending.limit_mm:.0f} %"))
    yield TextTable(heads, tuple(rows), "lr" + "r" * len(lengths.units) + "r", caption)
    worst = max(some, key=lambda one: one.bend_mm)
    told = f"Most bends: {worst.what}, {lengths.text(worst.bend_mm, 3)}"
    if not bending.judged and worst.bend_mm > bending.limit_mm:
        told += ". That is more than a quarter of the addendum: its meshes change as it turns"
    yield Paragraph(f"{told}.")


def _wall(stock: Inventory, supports: SupportsMade | None) -> Iterator[Block]:
    kg = hanging_grams(stock, supports) / 1000
    left = "plate, frame, arms, screws and counterweights come"
    left = left if supports is None else "screws, counterweights and solder come"
    with_motor = ""
    if stock.motor_shaft_mm is not None:
        with_motor = f", a motor of {MOTOR_GRAMS:g} g with it (common practice, no source)"
    least = ceil(WALL_FACTOR * kg * 10) / 10
    yield Paragraph(
        f"What hangs weighs {kg:.2f} kg ({newtons(1000 * kg):.1f} N)"
        f"{with_motor}; {left} on top: weigh them. "
        f"Fixings must bear {WALL_FACTOR} times all that hangs ({WALL_SOURCE}): for what is told "
        f"here {least:.1f} kg ({newtons(1000 * least):.0f} N) before they fail, and {WALL_FACTOR} kg more for each "
        "kilogram more. Use two or more fixings, each of which alone bears that."
    )
