"""The cut list: every piece of wire of every gear, its length laid out straight, and the length to saw it to."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from solver.design.errors import DesignError, single
from solver.design.gauges import Gauge
from solver.sheets.forms.form import Piece
from solver.sheets.inventory import Inventory

TENTHS = 10  # lengths are sawn to a tenth of a millimetre, rounded up


@dataclass(frozen=True)
class Cut:
    """Pieces alike of one gear (its index in the inventory): so many, of a wire, each `net_mm` long in the gear and
    `saw_mm` on the saw: what is filed off added, rounded up to a tenth. part: "1 of 2" where a loop or a tooth wire is
    longer than any bar and made of several. joints: solder joints that the pieces need with each other."""

    gear: int
    use: str
    what: str
    gauge: Gauge
    count: int
    net_mm: float
    saw_mm: float
    joints: int
    part: str = ""

    @property
    def label(self) -> str:
        """ "ring 3 (Dione): loop, 1 of 2"."""
        return f"{self.use}: {self.what}{f', {self.part}' if self.part else ''}"


def cuts_of(stock: Inventory) -> tuple[Cut, ...]:
    """The pieces of wire of all gears, gear by gear. Raises DesignError for a piece that is longer than every bar and
    cannot be made of several."""
    wire = stock.design.wire
    gauges = {"loop": wire.loop, "tooth": wire.tooth, "pin": wire.pin}
    found = []
    for index, (made, shape) in enumerate(zip(stock.gears, stock.shapes, strict=True)):
        for piece in shape.pieces:
            runs = _runs(stock, made.gear.use, piece)
            for number, net in enumerate(runs, start=1):
                part = f"{number} of {len(runs)}" if len(runs) > 1 else ""
                saw = _sawn(net + float(wire.cleanup))
                joints = piece.joints * piece.count
                gauge = gauges[piece.wire]
                found.append(Cut(index, made.gear.use, piece.what, gauge, piece.count, net, saw, joints, part))
    return tuple(found)


def joints_of(stock: Inventory, cuts: tuple[Cut, ...]) -> tuple[tuple[str, int], ...]:
    """Solder joints of each gear by its use, and of each body's stand."""
    found = [shape.joints for shape in stock.shapes]
    for cut in cuts:
        found[cut.gear] += cut.joints
    gears = [(made.gear.use, joints) for made, joints in zip(stock.gears, found, strict=True)]
    return (*gears, *((f"stand of {stand.body}", 1) for stand in stock.stands))


def _sawn(mm: float) -> float:
    return ceil(mm * TENTHS - 1e-6) / TENTHS


def _runs(stock: Inventory, use: str, piece: Piece) -> list[float]:
    """The net lengths of the parts that a piece is made of: one, or as few as go on the longest bar, as equal as they
    can be."""
    longest = floor(stock.design.wire.stock[-1] * TENTHS) / TENTHS
    room = longest - float(stock.design.wire.cleanup)
    if piece.length_mm <= room + 1e-6:
        return [piece.length_mm]
    if piece.parts == 0 and room > 0:
        parts = ceil(piece.length_mm / room - 1e-9)
        return [piece.length_mm / parts] * parts
    one = piece.length_mm / max(piece.parts, 1)
    whole = floor(room / one + 1e-9)
    if whole < 1:
        raise too_short(stock, use, f"{'one tooth of ' if piece.parts > 1 else ''}the {piece.what}", one)
    parts = ceil(piece.parts / whole)
    return [one * (piece.parts // parts + (index < piece.parts % parts)) for index in range(parts)]


def too_short(stock: Inventory, use: str, what: str, net_mm: float) -> DesignError:
    """What is said where the longest bar is shorter than a piece."""
    unit = Fraction(254, 10) if stock.design.units == "in" else Fraction(1)
    bars = [float(f"{float(length / unit):.6g}") for length in stock.design.wire.stock]
    need = stock.sizes.told(_sawn(net_mm + float(stock.design.wire.cleanup)))
    return single("wire.stock", bars, f"has no bar as long as {what} of {use}, {need}")
