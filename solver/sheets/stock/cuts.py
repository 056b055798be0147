"""The cut list: every piece of wire of every gear, its length laid out straight, and the length to saw it to; then
those of frame and arms."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from solver.design.errors import DesignError, single
from solver.design.gauges import Gauge
from solver.forms.form import Piece
from solver.sheets.gears.inventory import Inventory
from solver.sheets.stock.packing import Joined, Packing, pack
from solver.sheets.supports.made import SupportWire

TENTHS = 10  # lengths are sawn to a tenth of a millimetre, rounded up
LEAST_END = 20.0  # mm, of a part of a loop: a shorter one cannot be held in place (common practice, no source)


@dataclass(frozen=True)
class Cut:
    """Pieces alike of one gear (its index in the inventory; None: of frame and arms): so many, of a wire, each `net_mm`
    long in the gear and `saw_mm` on the saw: what is filed off added, rounded up to a tenth. part: "1 of 2" where a
    loop or a tooth wire is longer than any bar and joined from several. joints: solder joints that the pieces need with
    each other."""

    gear: int | None
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


@dataclass(frozen=True)
class WirePlan:
    """One gauge of wire: its pieces, and the bars that they are sawn from."""

    gauge: Gauge
    pieces: int
    saw_mm: float
    packing: Packing


@dataclass(frozen=True)
class CutList:
    """Every piece of wire, gear by gear, and the bars for each gauge, thickest first."""

    cuts: tuple[Cut, ...]
    plans: tuple[WirePlan, ...]


@dataclass(frozen=True)
class _Wanted:
    """Pieces alike of one gear, and how each has to be joined where no bar is as long; else nothing."""

    gear: int | None
    use: str
    gauge: Gauge
    piece: Piece
    joined: tuple[Joined, ...]


def cut_list(stock: Inventory, beside: Sequence[SupportWire] = ()) -> CutList:
    """The pieces of wire of all gears, of frame and arms beside them, and the bars that they come from. Where a piece
    that is longer than every bar is cut follows from the bars. Raises DesignError for a piece that is longer than every
    bar and cannot be joined."""
    wire = stock.design.wire
    wanted = (*_wanted(stock), *(_supporting(stock, one) for one in beside))
    cuts: dict[int, list[Cut]] = {at: [_whole(stock, one)] for at, one in enumerate(wanted) if not one.joined}
    plans = []
    for gauge in sorted({one.gauge for one in wanted}, key=lambda gauge: (-gauge.mm, gauge.name)):
        mine = [at for at, one in enumerate(wanted) if one.gauge == gauge]
        pieces = [(cut.saw_mm, cut.label) for at in mine for cut in cuts.get(at, ()) for _ in range(cut.count)]
        joined = [(at, one) for at in mine for one in wanted[at].joined]
        lengths = [float(length) for length in wire.stock]
        packing = pack(pieces, lengths, float(wire.kerf), joined=[one for _, one in joined])
        for (at, one), units in zip(joined, packing.parts, strict=True):
            cuts.setdefault(at, []).extend(_in_parts(wanted[at], one, units))
        lying = [length for bar in packing.bars for length, _ in bar.pieces]
        plans.append(WirePlan(gauge, len(lying), sum(lying), packing))
    return CutList(tuple(cut for at in range(len(wanted)) for cut in cuts[at]), tuple(plans))


def _wanted(stock: Inventory) -> Iterator[_Wanted]:
    wire = stock.design.wire
    gauges = {"loop": wire.loop, "tooth": wire.tooth, "pin": wire.pin}
    for index, (made, shape) in enumerate(zip(stock.gears, stock.shapes, strict=True)):
        for piece in shape.pieces:
            use = made.gear.use
            yield _Wanted(index, use, gauges[piece.wire], piece, _joined(stock, use, piece))


def _supporting(stock: Inventory, one: SupportWire) -> _Wanted:
    return _Wanted(None, one.use, one.gauge, one.piece, _joined(stock, one.use, one.piece))


def joints_of(stock: Inventory, cuts: tuple[Cut, ...]) -> tuple[tuple[str, int], ...]:
    """Solder joints of each gear by its use, and of each body's stand; of frame and arms only where one is joined from
    parts."""
    found = [shape.joints for shape in stock.shapes]
    for cut in cuts:
        if cut.gear is not None:
            found[cut.gear] += cut.joints
    gears = [(made.gear.use, joints) for made, joints in zip(stock.gears, found, strict=True)]
    parts = sum(cut.gear is None and bool(cut.part) and not cut.part.startswith("1 of ") for cut in cuts)
    joined = (("parts of frame and arms", parts),) if parts else ()
    return (*gears, *((f"stand of {stand.body}", 1) for stand in stock.stands), *joined)


def _sawn(mm: float) -> float:
    return ceil(mm * TENTHS - 1e-6) / TENTHS


def _whole(stock: Inventory, one: _Wanted) -> Cut:
    piece = one.piece
    saw = _sawn(piece.length_mm + float(stock.design.wire.cleanup))
    joints = piece.joints * piece.count
    return Cut(one.gear, one.use, piece.what, one.gauge, piece.count, piece.length_mm, saw, joints)


def _in_parts(wanted: _Wanted, one: Joined, parts: tuple[int, ...]) -> Iterator[Cut]:
    """The parts of a piece, one of each; parts: the units of each."""
    piece = wanted.piece
    for number, units in enumerate(parts, start=1):
        net, part = units * one.unit_mm, one.told(number, len(parts), units)
        saw = _sawn(net + one.extra_mm)
        yield Cut(wanted.gear, wanted.use, piece.what, wanted.gauge, 1, net, saw, piece.joints, part)


def _joined(stock: Inventory, use: str, piece: Piece) -> tuple[Joined, ...]:
    """The pieces as they have to be joined, where no bar is as long; else none."""
    longest = floor(stock.design.wire.stock[-1] * TENTHS) / TENTHS
    cleanup = float(stock.design.wire.cleanup)
    room = longest - cleanup
    if piece.length_mm <= room + 1e-6:
        return ()
    if piece.parts == 0 and room > 0:
        units, word, end = ceil(piece.length_mm * TENTHS - 1e-6), "", LEAST_END
    else:
        units, word, end = max(piece.parts, 1), "teeth", 0.0
    one = piece.length_mm / units
    most = floor(room / one + 1e-9)
    if most < 1:
        raise too_short(stock, use, f"{'one tooth of ' if piece.parts > 1 else ''}the {piece.what}", one)
    # Half of what a bar holds can always be left to each part; more cannot, of some lengths.
    least = max(min(ceil(end / one), most // 2), 1)
    alike = [f"of no. {number}" if piece.count > 1 else "" for number in range(1, piece.count + 1)]
    return tuple(Joined(f"{use}: {piece.what}", units, one, cleanup, least, word, which) for which in alike)


def too_short(stock: Inventory, use: str, what: str, net_mm: float) -> DesignError:
    """What is said where the longest bar is shorter than a piece."""
    unit = Fraction(254, 10) if stock.design.units == "in" else Fraction(1)
    bars = [float(f"{float(length / unit):.6g}") for length in stock.design.wire.stock]
    need = stock.sizes.told(_sawn(net_mm + float(stock.design.wire.cleanup)))
    return single("wire.stock", bars, f"has no bar as long as {what} of {use}, {need}")
