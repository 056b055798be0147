"""The parts list: what is to be made or bought, how many, how large and how heavy; as rows and as CSV."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from solver.forms.form import ToothedGear
from solver.forms.wire import gauge_text, wire_grams
from solver.sheets.book.bill_row import COLUMNS, BillRow
from solver.sheets.book.supports import supports_rows
from solver.sheets.gears.gears import ring_name
from solver.sheets.gears.inventory import Hub, Inventory
from solver.sheets.stock.cuts import WirePlan
from solver.sheets.supports.arms import density_of_rod
from solver.sheets.supports.made import SupportsMade
from solver.words.lengths import Lengths
from solver.words.spreadsheet import csv_text

_GROUPS = {
    "ring": "rings",
    "wheel": "wheels",
    "pinion": "pinions",
    "third gear": "third gears",
    "motor pinion": "motor",
}


def bill_of(
    stock: Inventory,
    plans: Sequence[WirePlan],
    joints: int,
    lengths: Lengths,
    supports: SupportsMade | None = None,
) -> tuple[BillRow, ...]:
    """The parts list; plans: the wire, joints: how many there are in all; supports: frame and arms."""
    return (
        *_gears(stock, lengths),
        *_hubs(stock, lengths),
        *_shafts(stock, lengths),
        *_screws(stock),
        *(() if supports is None else supports_rows(supports, lengths)),
        *_wire(stock, plans, lengths),
        BillRow("joints", "solder joint", "", joints),
    )


def bill_csv(rows: Sequence[BillRow]) -> str:
    """The parts list as CSV (RFC 4180 quoting, lines ended by a line feed), with a line of headings."""
    # Spaces that hold a number and its unit together on a page are plain ones in data.
    return csv_text([COLUMNS, *([cell.replace("\xa0", " ") for cell in row.cells()] for row in rows)])


def _gears(stock: Inventory, lengths: Lengths) -> Iterator[BillRow]:
    """Gears alike in one row: of one part, tooth count and toothing."""
    entries = zip(stock.gears, stock.shapes, stock.gear_grams, strict=True)
    order = list(_GROUPS)

    def key(entry: tuple[object, ToothedGear, float]) -> tuple[int, int, str]:
        made, shape, _ = entry
        return order.index(made.part), shape.spec.teeth, made.toothing  # type: ignore[attr-defined]

    for _, some in groupby(sorted(entries, key=key), key=key):
        group = list(some)
        made, shape, grams = group[0]
        size = (
            f"pitch circle {_across(shape.pitch_radius_mm, lengths)}, over all {_across(shape.tip_radius_mm, lengths)}"
            f"{_of_plate(shape, lengths)}"
        )
        part = f"{made.gear.kind} of {shape.spec.teeth} {made.toothing}"
        used = ", ".join(one.gear.use for one, _, _ in group)
        yield BillRow(_GROUPS[made.part], part, size, len(group), grams, used)


def _of_plate(shape: ToothedGear, lengths: Lengths) -> str:
    """Bore and thickness of a gear that is cut from plate; nothing for one of wire."""
    if not shape.bore_mm:
        return ""
    return f", bore {_across(shape.bore_mm / 2, lengths)}, plate {lengths.text(shape.thick_mm)} thick"


def _hubs(stock: Inventory, lengths: Lengths) -> Iterator[BillRow]:
    """Hubs alike in one row, bored ones first."""

    def key(hub: Hub) -> tuple[float, float]:
        return -hub.bore_mm, -round(hub.length_mm, 3)

    for _, some in groupby(sorted(stock.hubs, key=key), key=key):
        group = list(some)
        first = group[0]
        bore = f"bore {lengths.text(first.bore_mm)}" if first.bore_mm else "solid, to be bored for the motor's shaft"
        size = f"⌀ {lengths.text(stock.sizes.hub_mm)}, {bore}, long {lengths.text(first.length_mm)}"
        used = ", ".join(hub.use for hub in group)
        yield BillRow("hubs", "hub of a small gear", size, len(group), first.grams, used)


def _across(radius_mm: float, lengths: Lengths) -> str:
    return "⌀ " + lengths.text(2 * radius_mm)


def _alike(parts: Sequence[tuple[float, float, str]]) -> Iterator[tuple[float, float, list[str]]]:
    """(length, grams, name) gathered by length, to a thousandth of a millimetre, longest first."""
    ordered = sorted(parts, key=lambda part: -round(part[0], 3))
    for _, some in groupby(ordered, key=lambda part: round(part[0], 3)):
        group = list(some)
        yield group[0][0], group[0][1], [name for _, _, name in group]


def _shafts(stock: Inventory, lengths: Lengths) -> Iterator[BillRow]:
    sizes, design = stock.sizes, stock.design
    tube = f"⌀ {lengths.text(sizes.arbor_mm)}, bore {lengths.text(sizes.post_mm)}"
    arbors = [(one.length_mm, one.grams, f"link {one.link}") for one in stock.arbors]
    for length, grams, names in _alike(arbors):
        yield BillRow("arbors", "arbor", f"{tube}, long {lengths.text(length)}", len(names), grams, ", ".join(names))
    if stock.bearings:
        size = f"bore {lengths.text(sizes.post_mm)}"
        yield BillRow("bearings", "bearing", size, stock.bearings, None, _and(list(_on_bearings(stock))))
    if stock.rollers and design.fit.rollers is not None:
        size = f"⌀ {lengths.text(2 * float(design.fit.rollers.radius))} at the bottom of the groove"
        rings = ", ".join(f"ring {ring}" for ring in sorted({roller.ring for roller in stock.rollers}))
        yield BillRow("rollers", "grooved roller", size, len(stock.rollers), stock.rollers[0].grams, rings)
    rod = f"⌀ {lengths.text(sizes.post_mm)}"
    held = "stub, held by its arm" if design.armed else "stub, held from the frame"
    what = "post" if design.fit.plate != "none" else held
    for length, grams, names in _alike([(post.length_mm, post.grams, post.carries) for post in stock.posts]):
        size = f"{rod}, long {lengths.text(length)}{_from_plate(stock)}"
        yield BillRow("posts", what, size, len(names), grams, ", ".join(names))
    stands = [(s.length_mm, s.grams, ring_name(design, stock.train, s.ring)) for s in stock.stands]
    for length, grams, names in _alike(stands):
        size = f"{rod}, long at least {lengths.text(length)}"
        yield BillRow("stands", "rod of a body", size, len(names), grams, ", ".join(names))
    drive = stock.train.placement.drive if stock.train.placement is not None else None
    if drive is not None:
        name = ring_name(design, stock.train, drive.ring)
        yield BillRow("motor", "motor", f"{float(drive.rpm):g} rev/min", 1, None, f"turns {name}")
        assert stock.motor_shaft_mm is not None
        size = f"{rod}, long {lengths.text(stock.motor_shaft_mm)}{_from_plate(stock)}"
        yield BillRow("motor", "shaft or its extension", size, 1, None, "M in the drilling table, carries motor pinion")


def _from_plate(stock: Inventory) -> str:
    """What is said of lengths that are counted from the plate."""
    return " from the plate's face" if stock.design.fit.plate != "none" else ""


def _on_bearings(stock: Inventory) -> Iterator[str]:
    """What the bearings are in, as far as there are any."""
    if any(arbor.bearings for arbor in stock.arbors):
        yield "arbors"
    if any(made.part == "third gear" for made in stock.gears):
        yield "third gears"
    if stock.rollers:
        yield "rollers"


def _and(words: list[str]) -> str:
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))


def _screws(stock: Inventory) -> Iterator[BillRow]:
    for screws in stock.screws:
        for what, count in (("post", screws.posts), ("roller", screws.rollers), ("set", screws.sets)):
            if count:
                yield BillRow("screws", f"{what} screw", "", count, None, f"level {screws.level}")


def _wire(stock: Inventory, plans: Sequence[WirePlan], lengths: Lengths) -> Iterator[BillRow]:
    """The bars to have at hand; their weight is that of the whole bars, more than what gets into the model."""
    for plan in plans:
        told = f"{gauge_text(plan.gauge, lengths)}, {plan.pieces} pieces"
        bars = sorted((bar.stock_mm for bar in plan.packing.bars), reverse=True)
        for length, same in groupby(bars):
            grams = wire_grams(length, plan.gauge.mm, density_of_rod(plan.gauge, stock.sizes.density))
            yield BillRow("wire", "bar of wire", f"{told}; {lengths.text(length)}", len(list(same)), grams, "cut list")
