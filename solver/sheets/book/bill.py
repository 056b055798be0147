"""The parts list: what is to be made or bought, how many, how large and how heavy; as rows and as CSV."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from solver.forms.form import ToothedGear
from solver.forms.wire import gauge_text, wire_grams
from solver.sheets.book.bill_row import COLUMNS, BillRow
from solver.sheets.book.fixings import bush_told
from solver.sheets.book.supports import supports_rows
from solver.sheets.gears.fastening import bush_mm, post_cut_mm, shaft_cut_mm
from solver.sheets.gears.fittings import Seat
from solver.sheets.gears.gears import ring_name
from solver.sheets.gears.inventory import Inventory
from solver.sheets.gears.small_parts import Hub
from solver.sheets.steps.numbers import numbers_of, told
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
        numbers = _numbers(stock, [one.gear.use for one, _, _ in group])
        yield BillRow(_GROUPS[made.part], part, size, len(group), grams, used, numbers)


def _of_plate(shape: ToothedGear, lengths: Lengths) -> str:
    """Bore and thickness of a gear that is cut from plate; nothing for one of wire."""
    if not shape.bore_mm:
        return ""
    return f", bore {_across(shape.bore_mm / 2, lengths)}, plate {lengths.text(shape.thick_mm)} thick"


def _hubs(stock: Inventory, lengths: Lengths) -> Iterator[BillRow]:
    """Hubs alike in one row, bored ones first."""

    def key(hub: Hub) -> tuple[float, float, float]:
        return -hub.bore_mm, -round(hub.length_mm, 3), 0.0 if hub.seat is None else hub.seat.deep_mm

    for _, some in groupby(sorted(stock.hubs, key=key), key=key):
        group = list(some)
        first = group[0]
        bore = f"bore {lengths.text(first.bore_mm)}" if first.bore_mm else "solid, to be bored for the motor's shaft"
        size = f"⌀ {lengths.text(stock.sizes.hub_mm)}, {bore}, long {lengths.text(first.length_mm)}"
        size += "" if first.seat is None else f"{_seat(first.seat, lengths)} on its outer face"
        used = ", ".join(hub.use for hub in group)
        numbers = _numbers(stock, [f"hub of {hub.use}" for hub in group])
        yield BillRow("hubs", "hub of a small gear", size, len(group), first.grams, used, numbers)


def _seat(seat: Seat, lengths: Lengths) -> str:
    return f", with a seat ⌀ {lengths.text(seat.bore_mm)}, {lengths.text(seat.deep_mm)} deep,"


def _bearings(stock: Inventory, lengths: Lengths) -> Iterator[BillRow]:
    """Ball bearings, and where the posts run in the bores themselves."""
    fittings, counts = stock.fittings, stock.bearings_by_seat
    ball, plain = (
        [where for where, (count, seat) in counts.items() if count and bool(seat.where) is balls]
        for balls in (True, False)
    )
    if ball and fittings.bearing is not None:
        one, size = fittings.bearing, fittings.bearing_told(lengths.text)
        yield BillRow("bearings", f"ball bearing {one.name}", size, sum(counts[at][0] for at in ball), None, _and(ball))
    if plain:
        size = f"bore {lengths.text(stock.sizes.post_mm)}, reamed H7 for f7, play {fittings.play_told(lengths.unit)}"
        yield BillRow("bearings", "plain bearing", size, sum(counts[at][0] for at in plain), None, _and(plain))


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
    sleeve = stock.fittings.arbor
    seat = f"{_seat(sleeve, lengths)} in each end" if sleeve is not None and sleeve.where == "sleeve" else ""
    arbors = [(one.length_mm, one.grams, f"link {one.link}") for one in stock.arbors]
    for length, grams, names in _alike(arbors):
        numbers = _numbers(stock, [f"arbor of {name}" for name in names])
        size = f"{tube}, long {lengths.text(length)}{seat}"
        yield BillRow("arbors", "arbor", size, len(names), grams, ", ".join(names), numbers)
    yield from _bearings(stock, lengths)
    if stock.rollers and design.fit.rollers is not None:
        size = f"⌀ {lengths.text(2 * float(design.fit.rollers.radius))} at the bottom of the groove"
        size += _groove(stock, lengths)
        rings = ", ".join(f"ring {ring}" for ring in sorted({roller.ring for roller in stock.rollers}))
        numbers = _numbers(stock, [f"roller {one.number} of ring {one.ring}" for one in stock.rollers])
        yield BillRow("rollers", "grooved roller", size, len(stock.rollers), stock.rollers[0].grams, rings, numbers)
    rod = f"⌀ {lengths.text(sizes.post_mm)}"
    held = "stub, held by its arm" if design.armed else "stub, held from the frame"
    what = "post" if design.fit.plate != "none" else held
    for length, grams, names in _alike([(post.length_mm, post.grams, post.carries) for post in stock.posts]):
        size = f"{rod}, long {lengths.text(length)}{_from_plate(stock)}"
        if post_cut_mm(stock, length) != length:
            size += f", cut {lengths.text(post_cut_mm(stock, length))}"
        numbers = _numbers(stock, [f"post of {name}" for name in names])
        of_arbors = design.armed and all(name.startswith("arbor") for name in names)
        yield BillRow(
            "posts",
            "rod, soldered into its sleeve" if of_arbors else what,
            size,
            len(names),
            grams,
            ", ".join(names),
            numbers,
        )
    stands = [(s.length_mm, s.grams, ring_name(design, stock.train, s.ring)) for s in stock.stands]
    rods = {ring_name(design, stock.train, one.ring): f"rod of {one.body}" for one in stock.stands}
    feet = [s.foot for s in stock.stands if s.foot.outside_mm or s.foot.inside_mm]
    for length, grams, names in _alike(stands):
        size = f"{rod}, long at least {lengths.text(length)}"
        size += f", its foot filed flat to {lengths.text(min(foot.thick_mm for foot in feet))}" if feet else ""
        numbers = _numbers(stock, [rods[name] for name in names])
        yield BillRow("stands", "rod of a body", size, len(names), grams, ", ".join(names), numbers)
    drive = stock.train.placement.drive if stock.train.placement is not None else None
    if drive is not None:
        name = ring_name(design, stock.train, drive.ring)
        what, size = "motor", f"{float(drive.rpm):g} rev/min"
        if design.loads is not None and design.loads.crank is not None:
            what, size = "hand crank", f"arm {lengths.text(float(design.loads.crank.radius))}"
        yield BillRow("motor", what, size, 1, None, f"turns {name}", "M")
        assert stock.motor_shaft_mm is not None
        size = f"{rod}, long {lengths.text(stock.motor_shaft_mm)}{_from_plate(stock)}"
        size += f", cut {lengths.text(shaft_cut_mm(stock))}"
        used = "M in the drilling table, carries motor pinion"
        yield BillRow("motor", "shaft, up to its coupling" if what == "motor" else "shaft", size, 1, None, used, "Ms")
        if bush_mm(stock):
            yield BillRow("motor", "bush in the plate", bush_told(stock, lengths), 1, None, "M, its shaft turns in it")


def _numbers(stock: Inventory, names: Sequence[str]) -> str:
    """The numbers of parts by their names in the build order."""
    numbers = numbers_of(stock)
    return told(numbers[name] for name in names)


def _groove(stock: Inventory, lengths: Lengths) -> str:
    """The rest of a roller's sizes."""
    groove, seat = stock.fittings.groove, stock.fittings.roller
    if groove is None or seat is None:
        return ""
    sizes = (groove.groove_mm, groove.deep_mm, groove.flange_mm, groove.over_mm, groove.width_mm)
    wide, deep, flange, over, all_in = map(lengths.text, sizes)
    return (
        f", which is {wide} wide and {deep} deep, flanges {flange} thick; over all ⌀ {over}, {all_in} wide, bored "
        f"{lengths.text(seat.bore_mm)}"
    )


def _from_plate(stock: Inventory) -> str:
    """What is said of lengths that are counted from the plate."""
    return " from the plate's face" if stock.design.fit.plate != "none" else ""


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
