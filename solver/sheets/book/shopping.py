"""The shopping list: what is bought, how much of it, and what it costs; as rows, as a chapter and as CSV.

Bars of rod and tube are packed as those of wire are. Of what is used up or lost a share is bought on top, rounded up;
of what there is one of, none. Solder: for each joint a fillet of half a cube as wide as the thickest wire, and as much
again for what stays on the iron (a rule of the bench, from memory).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby
from math import ceil

from solver.design.gauges import Gauge
from solver.design.hardware import PRICED, Hardware
from solver.forms.wire import gauge_text
from solver.sheets.book.document import Block, Items, Paragraph, TextTable
from solver.sheets.book.exists import jigs_to_make
from solver.sheets.book.fixings import balanced_rings, bears, fixing_rows, plate_told, screw_rows
from solver.sheets.book.on_plate import collars_of
from solver.sheets.gears.fastening import bush_mm, post_cut_mm, shaft_cut_mm
from solver.sheets.gears.gears import drive_name
from solver.sheets.gears.inventory import Inventory
from solver.sheets.gears.loaded import MOTOR_MARGIN, loaded_model, loads_in
from solver.sheets.stock.cuts import WirePlan
from solver.sheets.stock.packing import pack
from solver.sheets.supports.frame import EYE
from solver.sheets.supports.made import SupportsMade
from solver.words.lengths import Lengths
from solver.words.numbers import decimal
from solver.words.spreadsheet import csv_text

COLUMNS = ("what", "part", "size", "needed", "buy", "of", "price", "cost", "currency", "used_for")
SOLDER = 7.4  # g/cm3, of tin with 3 to 4 % silver; of a silver brazing alloy 9.5 (from memory)
FILLET, WASTE = 0.5, 2.0
_METRES = {"mm": ("metre", 1000.0), "in": ("foot", 304.8)}
_AREAS = {"mm": ("dm²", 100.0**2), "in": ("square foot", 304.8**2)}
_BENT = ("tip", "root")  # holes whose pins teeth are bent about
_WORK = 1.0  # CP-SAT's deterministic limit for each question about bars of rod


@dataclass(frozen=True)
class ShoppingRow:
    """A line of the shopping list. what: as `hardware.prices` calls it. needed, buy: how many, or how many grams or of
    area. per: what the price is for; each: how many of that is one of what is bought. price: None where not told."""

    what: str
    part: str
    size: str
    needed: int
    buy: int
    used_for: str
    per: str = "each"
    each: float = 1.0
    price: Fraction | None = None

    @property
    def cost(self) -> Fraction | None:
        """To a hundredth."""
        if self.price is None:
            return None
        return Fraction(round(100 * self.price * self.buy * Fraction(self.each).limit_denominator(10**6)), 100)


def shopping(
    stock: Inventory, plans: Sequence[WirePlan], joints: int, lengths: Lengths, supports: SupportsMade | None = None
) -> tuple[ShoppingRow, ...]:
    """Everything that is bought. plans: the bars of wire; joints: solder joints in all; supports: frame and arms."""
    return tuple(_List(stock, plans, joints, lengths, supports).rows())


class _List:
    """Works out the rows of one model."""

    def __init__(
        self,
        stock: Inventory,
        plans: Sequence[WirePlan],
        joints: int,
        lengths: Lengths,
        supports: SupportsMade | None,
    ) -> None:
        self.supports = supports
        self.stock, self.plans, self.joints, self.lengths = stock, plans, joints, lengths
        self.design, self.sizes, self.fit = stock.design, stock.sizes, stock.fittings
        self.hardware = stock.design.hardware or Hardware()
        self.prices = dict(self.hardware.prices)
        self.unit, self.metre = _METRES[stock.design.units]

    def rows(self) -> Iterator[ShoppingRow]:
        yield from self._wire()
        yield from self._bars()
        yield from self._bushes()
        yield from self._sheet()
        yield from self._bearings()
        yield from self._screws()
        yield from self._single()
        yield from self._bench()

    def _row(
        self,
        what: str,
        part: str,
        size: str,
        needed: int,
        used: str,
        spare: bool = True,
        per: str = "",
        each: float = 1.0,
    ) -> ShoppingRow:
        buy = ceil(needed * (1 + self.hardware.spare)) if spare else needed
        return ShoppingRow(what, part, size, needed, buy, used, per or PRICED[what], each, self.prices.get(what))

    def _length(self, what: str, part: str, size: str, mm: float, count: int, used: str) -> ShoppingRow:
        told = f"{size}; bars of {self.lengths.text(mm)}"
        return self._row(what, part, told, count, used, True, self.unit, mm / self.metre)

    def _wire(self) -> Iterator[ShoppingRow]:
        wire = self.design.wire
        gears = {wire.loop, wire.tooth, wire.pin} if any(shape.pieces for shape in self.stock.shapes) else set()
        made = () if self.supports is None else self.supports.wires()
        held = {one.gauge: _used(self.supports, one.gauge) for one in made}
        for plan in self.plans:
            name = gauge_text(plan.gauge, self.lengths)
            what, part, used = "wire", f"wire {name}", "gears, by the cut list"
            if plan.gauge in held and plan.gauge in gears:
                used = "gears, frame and arms, by the cut list"
            elif plan.gauge in held:
                what, part, used = (
                    "frame rod",
                    f"rod {name} for {held[plan.gauge]}",
                    f"{held[plan.gauge]}, by the cut list",
                )
            bars = sorted((bar.stock_mm for bar in plan.packing.bars), reverse=True)
            for mm, same in groupby(bars):
                yield self._length(what, part, name, mm, len(list(same)), used)

    def _bars(self) -> Iterator[ShoppingRow]:
        """Rod of posts, stands and the motor's shaft; tube of arbors; rod of hubs."""
        stock, told = self.stock, self.lengths.text
        rods = [post_cut_mm(stock, post.length_mm) for post in stock.posts]
        rods += [stand.length_mm for stand in stock.stands]
        used = "posts" if stock.posts else ""
        used += " and stands" if stock.stands else ""
        balanced = balanced_rings(stock)
        if stock.stands and balanced:
            rods += [one.rod_mm for one in balanced]
            used += ", rods of counterweights"
        if stock.motor_shaft_mm is not None:
            rods.append(shaft_cut_mm(stock))
            used += ", the motor's shaft"
        post, arbor, hub = self.sizes.post_mm, self.sizes.arbor_mm, self.sizes.hub_mm
        yield from self._packed("rod", f"rod ⌀ {told(post)}", rods, used)
        tube = f"tube ⌀ {told(arbor)}, bore {told(post)}"
        sleeves, used = [one.length_mm for one in stock.arbors], "sleeves of arbors"
        if bush_mm(stock):
            sleeves, used = [*sleeves, bush_mm(stock)], "sleeves of arbors, the bush in the plate"
        yield from self._packed("tube", tube, sleeves, used)
        hubs = [one.length_mm for one in stock.hubs]
        yield from self._packed("hub rod", f"rod ⌀ {told(hub)} for hubs", hubs, "hubs of small gears")

    def _packed(self, what: str, part: str, pieces: Sequence[float], used: str) -> Iterator[ShoppingRow]:
        """The fewest bars that are found for these pieces; what is longer than every bar is bought to its length."""
        stock = [float(length) for length in self.design.wire.stock]
        fit = [mm for mm in pieces if mm <= max(stock)]
        for mm in sorted({mm for mm in pieces if mm > max(stock)}, reverse=True):
            yield self._length(what, part, f"{part}, to length", mm, sum(one == mm for one in pieces), used)
        packing = pack([(mm, what) for mm in fit], stock, float(self.design.wire.kerf), _WORK)
        for mm, same in groupby(sorted((bar.stock_mm for bar in packing.bars), reverse=True)):
            yield self._length(what, part, part, mm, len(list(same)), used)

    def _bushes(self) -> Iterator[ShoppingRow]:
        """Tube of bushes in the eyes of arms, and what the frame is hung by or stands on."""
        if self.supports is None:
            return
        stock, told = self.stock, self.lengths.text
        bushes = [arm.bush for arm in self.supports.arms if arm.bush is not None]
        for across, bore in sorted({(one.outside_mm, one.bore_mm) for one in bushes}, reverse=True):
            pieces = [one.length_mm for one in bushes if (one.outside_mm, one.bore_mm) == (across, bore)]
            tube = f"tube ⌀ {told(across)}, bore {told(bore)}, for bushes"
            yield from self._packed("bush tube", tube, pieces, "bushes in the eyes of arms")
        for bar in self.supports.frame.bars:
            if bar.thin:
                size = f"hook or screw that an eye of {told(EYE)} goes over, with its plug{bears(stock, self.supports)}"
                yield self._row("wall fixing", "wall fixing", size, bar.count, "the frame hangs on them", False)
            elif bar.what == "foot":
                size = f"inside ⌀ {told(self.supports.frame.bar_mm)}"
                yield self._row("foot cap", "cap for a foot", size, bar.count, "ends of the feet", False)

    def _sheet(self) -> Iterator[ShoppingRow]:
        """Squares of plate for gears that are cut, as one area; and the plate that is drilled."""
        told = self.lengths.text
        if self.stock.form.plate:
            name, area = _AREAS[self.design.units]
            square = sum((2 * shape.tip_radius_mm + self.sizes.sheet_mm) ** 2 for shape in self.stock.shapes)
            part = f"sheet {told(self.sizes.sheet_mm)} thick"
            size = f"{name}, a square for each gear"
            yield self._row("sheet", part, size, ceil(square / area), "gears, by their templates", True, name)
        if self.design.fit.plate != "none":
            yield self._row("plate", "plate", self._plate(), 1, "carries every post", False)

    def _plate(self) -> str:
        frame, told, thick = self.design.fit.frame, self.lengths.text, plate_told(self.stock, self.lengths)
        if frame is None:
            return f"as large as the drilling plan, {thick}"
        if frame.round:
            return f"⌀ {told(float(frame.width))}, {thick}"
        return f"{told(float(frame.width))} by {told(float(frame.height))}, {thick}"

    def _bearings(self) -> Iterator[ShoppingRow]:
        one, stock, told = self.fit.bearing, self.stock, self.lengths.text
        if one is not None and stock.ball_bearings:
            used = ", ".join(where for where, (_, seat) in stock.bearings_by_seat.items() if seat.where)
            size = self.fit.bearing_told(told)
            yield self._row("bearing", f"ball bearing {one.name}", size, stock.ball_bearings, used)
        collars = collars_of(stock)
        if collars.count:
            size, used = f"bore {told(self.sizes.post_mm)}", "free ends of posts of arbors and third gears"
            if collars.wide_mm:
                size += f", {told(collars.wide_mm)} wide, at most {told(collars.across_mm)} across"
                used = "posts, on either side of what turns"
                used += ", and the drive's shaft beside the plate" if bush_mm(stock) else ""
                used += "; they can be sawn from tube or washers"
            elif self.supports is not None:  # an arbor is held by its own gears, on both sides of its arm
                used = "free ends of stubs of third gears"
            yield self._row("collar", "collar", size, collars.count, used)
        if stock.rollers and self.fit.groove is not None:
            radius, groove = self.design.fit.rollers, self.fit.groove
            size = f"groove ⌀ {told(2 * float(radius.radius))}, {told(groove.groove_mm)} wide" if radius else ""
            yield self._row("roller", "grooved roller", size, len(stock.rollers), "rings run on them")

    def _screws(self) -> Iterator[ShoppingRow]:
        told, screw = self.lengths.text, self.fit.screw
        for one in (*screw_rows(self.stock, self.lengths), *fixing_rows(self.stock, self.lengths)):
            yield self._row(one.what, one.part, one.size, one.count, one.used, one.spare)
        sets = sum(one.sets for one in self.stock.screws)
        if sets:
            wall = (self.sizes.hub_mm - self.sizes.arbor_mm) / 2
            size = f"no longer than the hub's wall, {told(wall)}"
            yield self._row("set screw", f"set screw {screw.name}", size, sets, "gears on their shafts")

    def _single(self) -> Iterator[ShoppingRow]:
        told, drive = self.lengths.text, self.stock.train.placement and self.stock.train.placement.drive
        if drive:
            size = f"{float(drive.rpm):g} rev/min, low voltage"
            if self.design.cranked:
                crank = loads_in(self.stock).crank
                assert crank is not None
                size = f"arm {told(float(crank.radius))}, for a shaft of {told(self.sizes.post_mm)}"
            elif loads_in(self.stock).torque_ncm is None:
                size += f", at least {MOTOR_MARGIN * loaded_model(self.stock).most_nmm / 10:.1f} N cm"
            yield self._row("motor", drive_name(self.design), size, 1, "turns the model", False)
        across = dict(self.hardware.bodies)
        for seat in range(len(self.stock.train.seats)):
            name = self.design.bodies[seat].name
            size = f"⌀ {told(float(across[name]))}" if name in across else "as you like it"
            yield self._row(
                "body", f"body {name}", size, 1, "on its rod" if self.stock.stands else "on its ring", False
            )
        label = self.hardware.label
        if label is not None:
            size = f"{told(float(label.width))} by {told(float(label.height))}"
            yield self._row("label", "label plate", f"{size}: {label.text or self.design.title}", 1, "the name", False)

    def _bench(self) -> Iterator[ShoppingRow]:
        """Solder, and what jigs are made of."""
        if self.joints:
            thick = max(self.sizes.loop_mm, self.sizes.pin_mm)
            cubes = self.joints * thick**3
            if self.supports is not None:
                assert self.design.supports is not None
                rods = {"frame": self.supports.frame.bar_mm, "arms": float(self.design.supports.arm_mm)}
                cubes += sum(count * (rods[what] ** 3 - thick**3) for what, count in self.supports.joints)
            grams = ceil(cubes * FILLET / 1000 * SOLDER * WASTE)
            size = f"tin with silver, or silver solder, free of lead and cadmium; grams, for {self.joints} joints"
            yield self._row("solder", "solder", size, grams, "all joints", True)
        jigs = () if self.stock.form.plate else jigs_to_make(self.stock)
        if not jigs:
            return
        pins: dict[tuple[str, str], int] = {}
        for jig in jigs:
            some = Counter((one.what, self.lengths.text(one.diameter_mm)) for one in jig.holes if one.what in _BENT)
            pins |= {pin: max(count, pins.get(pin, 0)) for pin, count in some.items()}
        for (where, across), count in pins.items():
            size = f"⌀ {across}, one jig at a time"
            yield self._row("jig pin", f"jig pin for {where}s", size, count, "teeth are bent about them")
        largest = max(jig.tip_radius_mm for jig in jigs)
        size = f"up to {self.lengths.text(2 * largest + 40)} square"
        yield self._row("board", "board for a jig", size, len(jigs), "jigs, by their templates", False)


def _used(made: SupportsMade | None, gauge: Gauge) -> str:
    """What of frame and arms a rod is for."""
    assert made is not None and made.design.supports is not None
    supports = made.design.supports
    of_arms, of_bars = (gauge.mm == float(mm) for mm in (supports.arm_mm, supports.bar_mm))
    return "frame and arms" if of_arms and of_bars else "arms" if of_arms else "the frame"


# -- as a chapter and as CSV -----------------------------------------------------------------------------------------


def chapter(rows: Sequence[ShoppingRow], stock: Inventory, lengths: Lengths) -> Iterator[Block]:
    """The list, what it costs, and what goes together."""
    hardware = stock.design.hardware or Hardware()
    yield Paragraph(
        f"What is bought, with {decimal(float(100 * hardware.spare), 2)} % on top of what is used up or lost, rounded "
        f"up (hardware.spare_pct). Bars of rod and tube are packed like those of wire. {_through(stock)}"
        "Solder by a rule of the bench, from memory, and by the density of tin with silver. "
        "The same list is in `shopping.csv`."
    )
    money = any(row.price is not None for row in rows)
    heads = ("what", "size", "needed", "buy", "for", *(("price", "cost") if money else ()))
    table = []
    for row in rows:
        cells = (row.part, row.size, str(row.needed), str(row.buy), row.used_for)
        table.append((*cells, *(_money(row) if money else ())))
    total = sum((row.cost for row in rows if row.cost is not None), Fraction(0))
    totals = (
        (("all with a price", "", "", "", "", "", f"{float(total):.2f} {hardware.currency}".strip()),) if money else ()
    )
    yield TextTable(heads, tuple(table), "llrrl" + "rr" * money, "", totals)
    if money and any(row.price is None for row in rows):
        left = list(dict.fromkeys(row.what for row in rows if row.price is None))
        yield Paragraph(f"Without a price in hardware.prices: {', '.join(left)}.")
    notes = [f"{remark.where}: {remark.text}." for remark in stock.fittings.remarks if remark.runs]
    if notes:
        yield Items(tuple(notes))
    yield Paragraph(
        f"Sizes of bearings: {stock.fittings.bearing.source}; of screws: {stock.fittings.head.source}; of their holes: "
        f"{stock.fittings.screw.source}."
        if stock.fittings.bearing is not None
        else f"Sizes of screws: {stock.fittings.head.source}; of their holes: {stock.fittings.screw.source}.",
        small=True,
    )


def _through(stock: Inventory) -> str:
    through = [] if stock.design.fit.plate == "none" or stock.fittings.shouldered else ["posts"]
    through += ["the drive's shaft"] if bush_mm(stock) else []
    return f"{' and '.join(through)} with what goes through the plate. ".capitalize() if through else ""


def _money(row: ShoppingRow) -> tuple[str, str]:
    if row.price is None or row.cost is None:
        return "", ""
    return (
        f"{float(row.price):g} / {row.per}" if row.per != "each" else f"{float(row.price):g}",
        f"{float(row.cost):.2f}",
    )


def shopping_csv(rows: Sequence[ShoppingRow], currency: str) -> str:
    """The list as CSV (RFC 4180 quoting, lines ended by a line feed)."""
    told: list[Sequence[object]] = [COLUMNS]
    for row in rows:
        price = "" if row.price is None else f"{float(row.price):g}"
        cost = "" if row.cost is None else f"{float(row.cost):.2f}"
        part, size, used = (text.replace("\xa0", " ") for text in (row.part, row.size, row.used_for))
        told.append((row.what, part, size, row.needed, row.buy, row.per, price, cost, currency if cost else "", used))
    return csv_text(told)
