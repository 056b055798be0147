"""The chapters of lists: parts, the tooth form with its figures, the cut list, and the build order."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from solver.answer.document import SolutionAnswer
from solver.forms.form import Quantity, Remark
from solver.sheets.book.bill_row import BillRow
from solver.sheets.book.cautions import Caution, cautions_for
from solver.sheets.book.document import Block, CautionBox, Heading, Items, Paragraph, TextTable
from solver.sheets.book.pictures import numbered, numbering, step_pictures
from solver.sheets.book.steps import BuildStep
from solver.sheets.book.turns import senses
from solver.sheets.gears.inventory import Inventory
from solver.sheets.steps.numbers import numbers_of
from solver.sheets.stock.cuts import Cut
from solver.sheets.supports.made import SupportsMade
from solver.sheets.views.templates import merged
from solver.words.lengths import Lengths, thousandths
from solver.words.numbers import decimal
from solver.words.spreadsheet import csv_text

CUT_COLUMNS = ("jig", "for", "piece", "part", "wire", "wire_mm", "count", "net_mm", "saw_mm", "all_mm")
INCH_COLUMNS = ("wire_in", "net_in", "saw_in", "all_in")
FROM_PLATE = (
    "{} are counted from the plate's face on the side of the gears. The parts list tells what is sawn off where a post "
    "or the motor's shaft goes into the plate."
)


def boxes(page: str, cautions: Sequence[Caution]) -> Iterator[Block]:
    """The cautions that belong to a page, each with the source of its figures."""
    items = tuple(
        f"{one.topic}: {one.text}" + ("" if one.source.startswith("common practice") else f" ({one.source})")
        for one in cautions_for(page, tuple(cautions))
    )
    if items:
        yield CautionBox("Before you begin", items)


def train(solution: SolutionAnswer, cranked: bool = False) -> Iterator[Block]:
    """The rings and the links between them. cranked: a hand crank is in place of the motor."""
    rows = []
    for index, ring in enumerate(solution.rings):
        link = solution.links[index] if index < len(solution.links) else None
        error = "" if ring.error_pct is None else f"{ring.error_pct:.4f}"
        gears = ("", "", "") if link is None else (str(link.wheel), str(link.pinion), ", ".join(map(str, link.thirds)))
        rows.append((str(index), ring.name, str(ring.teeth), error, ring.sense, *gears))
    heads = ("ring", "body", "teeth", "error [%]", "sense", "wheel", "pinion", "third gears")
    yield TextTable(heads, tuple(rows), "rlrrlrrl", "Rings, and the link from each to the next")
    drive = solution.drive
    if drive is not None:
        with_third = f" over a third gear of {drive.thirds[0]} teeth" if drive.thirds else ""
        told = "" if drive.body is None else f"; {drive.body} takes {drive.seconds:.2f} s for a turn"
        what = "hand crank at" if cranked else "motor of"
        yield Paragraph(
            f"A {what} {drive.motor_rpm} rev/min turns ring {drive.ring} with a pinion of {drive.pinion} teeth"
            f"{with_third}{told}."
        )


# -- parts -----------------------------------------------------------------------------------------------------------


def parts(rows: Sequence[BillRow], stock: Inventory, supports: SupportsMade | None = None) -> Iterator[Block]:
    """The parts list, a table for each group, and the weight of the model."""
    grams, listed, left = stock.grams, "rollers and stands", "plate, frame, screws"
    if supports is not None:
        grams, listed, left = grams + supports.grams, "rollers, stands, frame, arms and bushes", "screws"
    left += "" if stock.motor_shaft_mm is None else ", motor"
    yield Paragraph(
        f"The metal of the model, as far as it is listed here, weighs {grams:.0f} g: gears, hubs, arbors, posts, "
        f"{listed}; without {left}, bodies and solder. Bars of wire are listed whole. "
        "The same list is in `parts.csv`."
    )
    if stock.design.fit.plate != "none":
        yield Paragraph(FROM_PLATE.format("Posts and the motor's shaft" if stock.design.drive else "Posts"))
    groups: dict[str, list[tuple[str, ...]]] = {}
    for row in rows:
        groups.setdefault(row.group, []).append(row.cells()[1:])
    heads = ("part", "size", "count", "each [g]", "together [g]", "numbers", "for")
    for group, cells in groups.items():
        if group == "screws":
            yield _screws(stock)
        elif group != "joints":  # a table of their own
            filled = [column for column in range(len(heads)) if column in (0, 2) or any(row[column] for row in cells)]
            yield TextTable(
                tuple(heads[column] for column in filled),
                tuple(tuple(row[column] for column in filled) for row in cells),
                "".join("llrrrll"[column] for column in filled),
                group.capitalize(),
            )


def _screws(stock: Inventory) -> TextTable:
    """Screws by level."""
    rows = [(one.level, one.posts, one.rollers, one.sets, one.total) for one in stock.screws]
    total = ("all", *(str(sum(column)) for column in list(zip(*rows, strict=True))[1:]))
    heads = ("level", "of posts", "of rollers", "set screws", "together")
    kept = (0, 2, 3, 4) if stock.design.armed else range(5)  # what stands in the eyes of arms is soldered
    cells = [tuple(str(row[index]) for index in kept) for row in (*rows, total)]
    told = tuple(heads[index] for index in kept)
    return TextTable(told, tuple(cells[:-1]), "lrrrr"[: len(told)], "Screws", (cells[-1],))


# -- the tooth form --------------------------------------------------------------------------------------------------


def tooth_form(stock: Inventory, lengths: Lengths) -> Iterator[Block]:
    """The form and its source, the figures of every gear and of every pair that works together, and what to mind."""
    form = stock.form
    yield Paragraph(f"{form.title[:1].upper()}{form.title[1:]}. Source: {form.source}.")
    if stock.remarks:
        yield Heading("What to mind", 2)
        yield Items(tuple(_remarks(stock.remarks)))
    seen = {shape.spec: shape for shape in stock.shapes}
    entries = [((f"{spec.name}, {spec.toothing}",), shape.figures) for spec, shape in seen.items()]
    yield from _figures("Gears", ("gear",), entries, lengths)
    pairs = [((one.name, other.name), pairing.figures) for one, other, pairing in stock.pairs]
    yield from _figures("Gears that work together", ("gear", "with"), pairs, lengths)


def gathered(remarks: Sequence[Remark]) -> list[Remark]:
    """What does not run first; the same of several gears or pairs in one remark."""
    groups: dict[tuple[bool, str], list[str]] = {}
    for remark in sorted(remarks, key=lambda one: one.runs):
        groups.setdefault((remark.runs, remark.text), []).append(remark.where)
    return [Remark(", ".join(where), text, runs) for (runs, text), where in groups.items()]


def _remarks(remarks: Sequence[Remark]) -> Iterator[str]:
    for remark in gathered(remarks):
        yield f"{remark.where}: {remark.text}" + ("" if remark.runs else ". It does not run as designed")


def _figures(
    caption: str,
    names: tuple[str, ...],
    entries: Sequence[tuple[tuple[str, ...], tuple[Quantity, ...]]],
    lengths: Lengths,
) -> Iterator[Block]:
    """Figures as tables: a column for each figure, a table for those that have the same ones."""
    groups: dict[tuple[str, ...], list[tuple[tuple[str, ...], tuple[Quantity, ...]]]] = {}
    for name, figures in entries:
        groups.setdefault(tuple(figure.what for figure in figures), []).append((name, figures))
    for whats, some in groups.items():
        if not whats:
            continue
        heads = [f"{figure.what} [{figure.unit}]" if figure.unit == "°" else figure.what for figure in some[0][1]]
        rows = [(*name, *(_value(figure, lengths) for figure in figures)) for name, figures in some]
        yield TextTable((*names, *heads), tuple(rows), "l" * len(names) + "r" * len(heads), caption)


def _value(figure: Quantity, lengths: Lengths) -> str:
    if figure.unit == "mm":
        return lengths.text(figure.value)
    return decimal(figure.value, 1 if figure.unit == "°" else 3)


# -- cuts ------------------------------------------------------------------------------------------------------------


def cuts(stock: Inventory, made: Sequence[Cut], lengths: Lengths) -> Iterator[Block]:
    """Every piece of wire, those alike in one row."""
    wire = stock.design.wire
    if not made:
        yield Paragraph(
            f"Gears of this form are cut from plate, {lengths.text(stock.sizes.sheet_mm)} thick; no wire is sawn."
        )
        return
    inch = ", to a thousandth where it is told in inches" if "in" in lengths.units else ""
    yield Paragraph(
        "Net is the length in the gear, laid out straight along the wire's neutral fibre, "
        f"{decimal(float(wire.neutral), 3)} of its diameter from the inside of each bend. Saw to the other length: it "
        f"adds {lengths.text(float(wire.cleanup))} for filing the ends and is rounded up to a tenth of a "
        f"millimetre{inch}. "
        f"Each cut of the saw takes {lengths.text(float(wire.kerf))}, which the bars allow for. The same list is in "
        "`cuts.csv`."
    )
    units = lengths.units
    heads = ("jig", "piece", "wire", *(f"net [{unit}]" for unit in units), *(f"saw to [{unit}]" for unit in units))
    groups: dict[tuple[str, str, str, float, float], list[Cut]] = {}
    for cut in made:
        piece = f"{cut.what}, {cut.part}" if cut.part else cut.what
        key = (
            _jig(stock, cut),
            piece,
            _rod(cut, lengths),
            cut.net_mm,
            cut.saw_mm,
        )
        groups.setdefault(key, []).append(cut)
    rows = [
        (
            *key[:3],
            *(lengths.bare(key[3], unit, 1 + (unit == "in")) for unit in units),
            *(lengths.sawn(key[4], unit) for unit in units),
            str(sum(cut.count for cut in alike)),
            "; ".join(merged([cut.use for cut in alike])),
        )
        for key, alike in groups.items()
    ]
    total = ("all", *[""] * (2 + 2 * len(units)), str(sum(cut.count for cut in made)), "")
    yield TextTable((*heads, "count", "for"), tuple(rows), "lll" + "r" * (2 * len(units) + 1) + "l", "Pieces", (total,))


def _jig(stock: Inventory, cut: Cut) -> str:
    """The jig of a piece; nothing for those of frame and arms."""
    return "" if cut.gear is None else stock.shapes[cut.gear].spec.name


def _rod(cut: Cut, lengths: Lengths) -> str:
    """The wire of a piece; of frame and arms both metal and diameter."""
    told = lengths.text(cut.gauge.mm, 3)
    return f"{cut.gauge.name}, {told}" if cut.gear is None else cut.gauge.name or told


def cuts_csv(stock: Inventory, made: Sequence[Cut], lengths: Lengths | None = None) -> str:
    """Every piece of every gear as CSV (RFC 4180 quoting, lines ended by a line feed), lengths in mm; where `lengths`
    are told in inches in these as well."""
    inches = lengths is not None and "in" in lengths.units
    rows: list[Sequence[object]] = [(*CUT_COLUMNS, *(INCH_COLUMNS if inches else ()))]
    for cut in made:
        name, gauge = _jig(stock, cut), cut.gauge
        told = [f"{cut.net_mm:.3f}", f"{cut.saw_mm:.1f}", f"{cut.count * cut.saw_mm:.1f}"]
        if inches:
            saw = thousandths(cut.saw_mm)
            told += [f"{gauge.mm / 25.4:.4f}", f"{cut.net_mm / 25.4:.4f}", f"{saw:.3f}", f"{cut.count * saw:.3f}"]
        rows.append((name, cut.use, cut.what, cut.part, gauge.name, f"{gauge.mm:.3f}", cut.count, *told))
    return csv_text(rows)


# -- order -----------------------------------------------------------------------------------------------------------


def order(
    steps: Sequence[BuildStep], stock: Inventory, lengths: Lengths, supports: SupportsMade | None = None
) -> Iterator[Block]:
    """Every step with its picture, what to do and what must come out; and which way each gear turns."""
    shown, numbers = step_pictures(steps, stock, lengths, supports), numbers_of(stock, supports)
    yield Paragraph("A box is ticked when what it says came out: go on only then.")
    yield from numbering(stock, supports)
    for number, step in enumerate(steps, start=1):
        yield Heading(f"{number}. {step.title}", 2)
        if step in shown:
            yield shown[step]
        yield Items(numbered(step, numbers))
        if step.checks:
            yield Items(tuple(check.text() for check in step.checks), boxes=True)
    yield Heading("Which way each turns", 2)
    yield Paragraph("Seen from the front, when ring 0 turns counterclockwise. Every mesh reverses.")
    by_way: dict[str, list[str]] = {}
    for use, way in senses(stock):
        by_way.setdefault(way, []).append(use)
    yield TextTable(
        ("way", "gears"), tuple((way, "; ".join(merged(uses))) for way, uses in sorted(by_way.items())), "ll"
    )


def joints(counted: Sequence[tuple[str, int]]) -> Iterator[Block]:
    """How many solder joints each gear and stand has."""
    total = sum(count for _, count in counted)
    rows = tuple((use, str(count)) for use, count in counted)
    yield TextTable(("of", "joints"), rows, "lr", "Solder joints", (("all", str(total)),))
