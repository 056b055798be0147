"""The crank, of the chapter on the drive: its turns for a body and for a year, the force, its gear."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from solver.answer.common_time import common_time, unit_of
from solver.answer.document import SolutionAnswer
from solver.forces.model import LoadedModel
from solver.sheets.book.document import Block, Heading, Paragraph, TextTable
from solver.sheets.gears.inventory import Inventory
from solver.sheets.gears.loaded import loads_in
from solver.words.lengths import Lengths
from solver.words.numbers import decimal

YEAR_DAYS = Fraction(36525, 100)  # Julian year (IAU)
_NONE = "–"


def cranking(stock: Inventory, model: LoadedModel, solution: SolutionAnswer, lengths: Lengths) -> Iterator[Block]:
    """What is told of the crank of a model that has one."""
    crank, design, train = loads_in(stock).crank, stock.design, stock.train
    drive = train.placement.drive if train.placement is not None else None
    assert crank is not None and drive is not None and design.drive is not None
    arm, ring = float(crank.radius), train.rings[drive.ring]
    yield Heading("The crank", 2)
    yield Paragraph(
        f"The crank turns the shaft M, and with it its gear of {drive.pinion} teeth. Its arm is "
        f"{lengths.text(arm)} long: the hand needs {model.most_nmm / arm:.1f} N at most. At "
        f"{decimal(float(crank.rpm), 2)} turns a minute a body takes as long as the last column says."
    )
    rows = []
    for body, seat in zip(design.bodies, train.seats, strict=True):
        turns = 1 / model.ring_shaft(seat).speed
        rows.append((body.name, mixed(turns), f"{float(turns):.4f}", f"{60 * float(turns / crank.rpm):.1f}"))
    year, unit = _year(stock, model, solution), unit_of(design.bodies)
    if year is not None:
        rows.append(("a year of 365.25 days", _NONE, f"{year:.4f}", f"{60 * year / float(crank.rpm):.1f}"))
    yield TextTable(("one turn of", "turns of the crank", "the same", "takes [s]"), tuple(rows), "lrrr")
    if unit is None:
        yield Paragraph(
            "How many turns a year takes is not known: the file does not say in which unit its periods are."
        )
    elif year is None:
        yield Paragraph(f"Periods are in {unit}, which are not counted in a year here.")
    yield Paragraph(
        "Another gear on the crank changes turns and force alike; it needs another place, so set drive.pinion_teeth to "
        "it and solve again:"
    )
    gears = []
    for teeth in design.drive.pinion_teeth:
        share = Fraction(drive.pinion, teeth)  # of the turns now
        told = _NONE if year is None else f"{year * float(share):.3f}"
        force = model.most_nmm / float(share) / arm
        name = f"{teeth} (chosen)" if teeth == drive.pinion else str(teeth)
        gears.append((name, mixed(Fraction(ring, teeth)), told, f"{force:.1f}"))
    heads = ("teeth of its gear", f"turns of the crank for one of ring {drive.ring}", "for a year", "force [N]")
    yield TextTable(heads, tuple(gears), "rrrr")
    whole = [str(teeth) for teeth in design.drive.pinion_teeth if not ring % teeth]
    if whole:
        yield Paragraph(f"With {', '.join(whole)} teeth ring {drive.ring} comes round after whole turns of the crank.")


def _year(stock: Inventory, model: LoadedModel, solution: SolutionAnswer) -> float | None:
    """Turns of the crank in a year of the model, where its unit is the day."""
    if unit_of(stock.design.bodies) != "days":
        return None
    turns = YEAR_DAYS / common_time(stock.design, solution)  # of ring 0
    return float(turns / model.ring_shaft(0).speed)


def mixed(value: Fraction) -> str:
    """ "2 3/7", exact."""
    whole, part = divmod(value, 1)
    return " ".join(filter(None, (str(whole) if whole or not part else "", str(part) if part else "")))
