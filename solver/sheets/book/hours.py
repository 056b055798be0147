"""How long the work takes: joints, bends, cuts, jigs, turned parts, trials and assembly, each at the maker's rate."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from solver.design.hardware import Bench
from solver.sheets.book.document import Block, Paragraph, TextTable
from solver.sheets.book.exists import jigs_to_make
from solver.sheets.book.on_plate import collars_of
from solver.sheets.gears.inventory import Inventory
from solver.sheets.stock.cuts import Cut
from solver.sheets.supports.made import SupportsMade
from solver.sheets.views.spots import drilled
from solver.words.numbers import decimal

BENDS = 2  # of a tooth: at its tip and at its root


@dataclass(frozen=True)
class WorkHours:
    """A kind of work: how many of what, how many an hour, and the hours. field: where the rate stands in [bench]."""

    what: str
    count: int
    of: str
    per_hour: Fraction
    field: str

    @property
    def hours(self) -> Fraction:
        return self.count / self.per_hour


def hours_of(
    stock: Inventory, cuts: Sequence[Cut], joints: int, supports: SupportsMade | None = None
) -> tuple[WorkHours, ...]:
    """The work of one model; joints: solder joints in all; supports: frame and arms. Kinds of work that there are none
    of are left out."""
    rates = stock.design.bench or Bench()
    bends = loops = 0
    for shape in stock.shapes:
        for piece in shape.pieces:
            if piece.what == "tooth wire":
                bends += BENDS * shape.spec.teeth * piece.count
            elif piece.what == "loop":
                loops += piece.count
    teeth = sum(shape.spec.teeth for shape in stock.shapes) if stock.form.plate else 0
    rods = len(stock.posts) + len(stock.stands) + (stock.motor_shaft_mm is not None)
    turned = len(stock.hubs) + len(stock.arbors) + rods
    jigs = jigs_to_make(stock)
    holes, drill = sum(len(jig.holes) for jig in jigs), "holes of jigs"
    if stock.design.fit.plate != "none":
        holes, drill = holes + len(drilled(stock.design, stock.train)), "holes of jigs and plate"
    mounted = len(stock.gears) + len(stock.arbors) + rods + len(stock.rollers) + len(stock.train.seats)
    mounted += collars_of(stock).count
    kinds = "bends of teeth and loops"
    if supports is not None:
        bends += sum(len(arm.bends) + 1 for arm in supports.arms)  # each with its eye
        loops += sum(bar.count for bar in supports.frame.bars if bar.closed)
        kinds = "bends of teeth, loops, arms and eyes"
        turned += sum(arm.bush is not None for arm in supports.arms)
        mounted += len(supports.arms) + sum(bar.count for bar in supports.frame.bars)
    found = (
        WorkHours("solder", joints, "joints", rates.joints, "joints_per_hour"),
        WorkHours("bend", bends + loops, kinds, rates.bends, "bends_per_hour"),
        WorkHours("saw and file", sum(cut.count for cut in cuts) + turned, "pieces", rates.cuts, "cuts_per_hour"),
        WorkHours("cut and file teeth", teeth, "teeth of plate", rates.teeth, "teeth_per_hour"),
        WorkHours("drill", holes, drill, rates.holes, "holes_per_hour"),
        WorkHours("set up jigs", len(jigs), "jigs", 1 / rates.jig, "hours_per_jig"),
        WorkHours(
            "turn and tap",
            turned,
            "hubs, sleeves and rods" if supports is None else "hubs, sleeves, bushes and rods",
            rates.parts,
            "parts_per_hour",
        ),
        WorkHours("try pairs of rings", len(stock.train.links), "links", 1 / rates.pair, "hours_per_pair"),
        WorkHours("assemble", mounted, "parts and collars", rates.parts, "parts_per_hour"),
    )
    return tuple(one for one in found if one.count)


def chapter(work: Sequence[WorkHours], stock: Inventory) -> Iterator[Block]:
    """The hours as a table, and their sum."""
    rest = (stock.design.bench or Bench()).rest
    own = "your own rates" if stock.design.bench is not None else "usual rates (common practice, no source)"
    yield Paragraph(
        f"At {own}; set those of your bench in the table `[bench]` of the design file. Parts are counted from the "
        "lists of this page: bends from the tooth wires, two to a tooth, and one to a loop."
    )
    rows = [
        (one.what, str(one.count), one.of, decimal(float(one.per_hour), 2), f"bench.{one.field}", _told(one.hours))
        for one in work
    ]
    total = sum((one.hours for one in work), Fraction(0))
    totals = []
    if rest:
        totals.append((f"{decimal(float(100 * rest), 1)} % for what goes wrong", "", "", "", "", _told(total * rest)))
    totals.append(("all", "", "", "", "", _told(total * (1 + rest))))
    heads = ("work", "count", "of", "an hour", "set in", "hours")
    yield TextTable(heads, tuple(rows), "lrlrlr", "", tuple(totals))


def _told(hours: Fraction) -> str:
    return f"{float(hours):.1f}"
