"""The whole pack of sheets for one solution: every file in memory first, then one folder, whole or not at all."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

from solver.answer.document import SolutionAnswer, made_as, train_of
from solver.design.design import Design
from solver.design.train import Train
from solver.forms.wire import gauge_text
from solver.sheets.book import cautions as warn
from solver.sheets.book import chapters, exists, hours, lists
from solver.sheets.book import shopping as shop
from solver.sheets.book.balance import balance
from solver.sheets.book.bill import bill_csv, bill_of
from solver.sheets.book.bill_row import BillRow
from solver.sheets.book.cautions import Caution, cautions_of
from solver.sheets.book.cranked import of_crank
from solver.sheets.book.document import Block, Document, Figure, Gallery, Heading, Items, Paragraph
from solver.sheets.book.driving import driving
from solver.sheets.book.folder import write_folder
from solver.sheets.book.order_bench import whole_order
from solver.sheets.book.out_book import book, room
from solver.sheets.book.out_html import html
from solver.sheets.book.pictures import WIDE, exploded_views
from solver.sheets.book.running import running
from solver.sheets.book.shopping import ShoppingRow
from solver.sheets.book.supports import NOT_DESIGNED, supports
from solver.sheets.book.weight import hanging_grams, weight
from solver.sheets.draw.drawing import Drawing, Page, Point, Text
from solver.sheets.draw.lettering import wrap
from solver.sheets.draw.out_dxf import dxf
from solver.sheets.draw.out_pdf import pdf
from solver.sheets.draw.out_svg import svg_document
from solver.sheets.draw.tiling import fits, pages, tiles
from solver.sheets.errors import MissingExtra
from solver.sheets.gears.adjust import MeshInTrain, meshes_of
from solver.sheets.gears.exactness import Exactness, exactness_of
from solver.sheets.gears.inventory import Inventory, inventory, refuse_without_places
from solver.sheets.stock.cuts import Cut, WirePlan, cut_list, joints_of
from solver.sheets.supports.made import SupportsMade, supports_made
from solver.sheets.views.gap import gap_scale
from solver.sheets.views.label import label_drawing
from solver.sheets.views.placement import scale_for
from solver.sheets.views.placement_whole import drilling_template, model_outline, whole_frame_scale
from solver.sheets.views.templates import template, with_scale_bar
from solver.words.lengths import Lengths
from solver.words.papers import PAPERS

Tell = Callable[[str], None]
_LIBRARIES = ("ezdxf", "jinja2", "reportlab", "shapely")
MOST_TILES = 400  # pages of tiles that one document may have; nobody joins more (common practice, no source)
_NOTE_WIDE = 150.0  # of a note in place of what was left out [mm]
_HEADING = 34.0  # what heading and explanation take above a view on its page [mm]


def need_extra() -> None:
    """Raise MissingExtra where a library of the extra `sheets` is not installed."""
    for library in _LIBRARIES:
        if find_spec(library) is None:
            raise MissingExtra(library)


@dataclass(frozen=True)
class _Work:
    """All that the sheets tell of."""

    design: Design
    train: Train
    solution: SolutionAnswer
    lengths: Lengths
    stock: Inventory
    cuts: tuple[Cut, ...]
    plans: tuple[WirePlan, ...]
    joints: tuple[tuple[str, int], ...]
    meshes: tuple[MeshInTrain, ...]
    exact: Exactness | None
    rows: tuple[BillRow, ...]
    bought: tuple[ShoppingRow, ...]
    cautions: tuple[Caution, ...]
    templates: tuple[Drawing, ...]
    drilled: Drawing
    scales: chapters.Scales
    notices: tuple[str, ...]
    supports: SupportsMade | None


@dataclass(frozen=True)
class Pack:
    """The files by name, and what has to be said when they are written: a line each."""

    files: dict[str, bytes]
    notices: tuple[str, ...]


def write_pack(
    design: Design, solution: SolutionAnswer, out: Path, paper: str = "a4", lengths: Lengths | None = None
) -> list[str]:
    """Write the sheets of a solution as the folder `out`, and return the names of its files.

    paper: one of PAPERS. lengths: how they are told; None: in the design's unit. Raises DesignError where
    there is nothing to draw or a gear cannot be made of this wire, SheetsError where the folder cannot be written and
    MissingExtra without a library; then nothing is written.
    """
    files = make_pack(design, solution, paper, lengths or Lengths(design.units)).files
    write_folder(out, files)
    return list(files)


def make_pack(
    design: Design,
    solution: SolutionAnswer,
    paper: str,
    lengths: Lengths,
    standing: str = "",
    tell: Tell | None = None,
) -> Pack:
    """The files of a pack, and what has to be said of them; the same solution gives the same bytes. standing: what is
    known of the solution, "proven best" say. tell: called with words about what is being done. Raises as
    `write_pack`."""
    need_extra()
    refuse_without_places(design)
    design, size = made_as(design, solution), PAPERS[paper]
    work = _worked_out(design, solution, lengths, paper, tell)
    say: Tell = tell or (lambda words: None)
    say("drawing the pictures")
    blocks = tuple(_blocks(work))
    placement, views = tuple(_placement(work)), chapters.both_views(design, work.train, work.scales, lengths)
    rows, bought, drilling = work.rows, work.bought, chapters.drilling_csv(design, work.train, lengths)
    cuts = lists.cuts_csv(work.stock, work.cuts, lengths)
    if design.cranked:
        blocks, placement, views = of_crank(blocks), of_crank(placement), of_crank(views)
        rows, bought, drilling, cuts = of_crank(rows), of_crank(bought), of_crank(drilling), of_crank(cuts)
    subtitle = "; ".join(filter(None, (_subtitle(work), standing)))
    page = Document(design.title, subtitle, blocks)
    printed = tuple(block for block in blocks if not isinstance(block, Gallery) and block != chapters.SMALL)
    made: dict[str, Callable[[], bytes]] = {
        "index.html": lambda: html(page).encode(),
        "sheets.pdf": lambda: book(Document(design.title, subtitle, printed), size),
        "templates.pdf": lambda: pdf(_pages(_true(work), size, work, _JIGS), f"{design.title}: templates"),
        "drilling.pdf": lambda: pdf(_pages([work.drilled], size, work, _DRILLING), f"{design.title}: drilling, 1:1"),
        "parts.csv": lambda: bill_csv(rows).encode(),
        "cuts.csv": lambda: cuts.encode(),
        "shopping.csv": lambda: shop.shopping_csv(bought, design.hardware.currency if design.hardware else "").encode(),
        "drilling.csv": lambda: drilling.encode(),
        "placement.pdf": lambda: book(Document(design.title, subtitle, placement), size),
        "placement.svg": lambda: svg_document(views).encode(),
        "placement.dxf": lambda: dxf(model_outline(design, work.train)).encode(),
    }
    files: dict[str, bytes] = {}
    for name, make in made.items():
        say(f"making {name}, {len(files)} files so far")
        files[name] = make()
    for plan, drawing in zip(work.stock.jigs, work.templates, strict=True):
        name, with_bar = f"jigs/{chapters.file_name(plan)}", with_scale_bar(drawing, "in" in lengths.units)
        files[f"{name}.svg"] = svg_document(with_bar).encode()
        files[f"{name}.dxf"] = dxf(with_bar).encode()
    label = label_drawing(work.stock, lengths)
    if label is not None:
        files |= {"label.svg": svg_document(label).encode(), "label.dxf": dxf(label).encode()}
    return Pack(files, work.notices)


def _true(work: _Work) -> tuple[Drawing, ...]:
    """All that is printed in its true size to be made by: jigs, or gears, and the label."""
    templates, label = work.templates, label_drawing(work.stock, work.lengths)
    templates = templates if label is None else (*templates, label)
    return of_crank(templates) if work.design.cranked else templates


_JIGS = "templates.pdf", "jigs/ has each 1:1 as SVG and DXF"
_DRILLING = "drilling.pdf", "placement.dxf has all of it 1:1"


def _too_many(drawings: Sequence[Drawing], size: Point, named: tuple[str, str]) -> str:
    """What is said of a document that would have more tiles than anybody joins; "" where it has not."""
    count = tiles(drawings, size)
    if count <= MOST_TILES:
        return ""
    name, instead = named
    told = f"{name} would take {count} pages of tiles, more than {MOST_TILES}: what is larger than a page is left out"
    return f"{told}; {instead}"


def _pages(drawings: Sequence[Drawing], size: Point, work: _Work, named: tuple[str, str]) -> list[Page]:
    """The drawings on pages; with a note in place of those on tiles where these would be too many."""
    told = _too_many(drawings, size, named)
    if told:
        lines = wrap(told, _NOTE_WIDE, 3.0, 12)
        note = Drawing("left out", tuple(Text((0.0, -5.0 * n), line, 3.0) for n, line in enumerate(lines)))
        drawings = [*(one for one in drawings if fits(one, size)), note]
    return pages(drawings, size, work.design.title, "in" in work.lengths.units)


def _worked_out(design: Design, solution: SolutionAnswer, lengths: Lengths, paper: str, tell: Tell | None) -> _Work:
    train = train_of(design, solution)
    stock = inventory(design, train)
    made = supports_made(design, train)
    cut = cut_list(stock, () if made is None else tuple(made.wires()))
    joints = (*joints_of(stock, cut.cuts), *(() if made is None else made.joints))
    count = sum(count for _, count in joints)
    size = PAPERS[paper]
    free = room(size)[0], room(size)[1] - _HEADING
    templates = tuple(template(plan, lengths) for plan in stock.jigs)
    drilled = drilling_template(design, train, lengths)
    notices = (_too_many(templates, size, _JIGS), _too_many([drilled], size, _DRILLING), _not_running(stock))
    return _Work(
        design,
        train,
        solution,
        lengths,
        stock,
        cut.cuts,
        cut.plans,
        joints,
        meshes_of(design, train),
        exactness_of(stock, tell),
        bill_of(stock, cut.plans, count, lengths, made),
        shop.shopping(stock, cut.plans, count, lengths, made),
        cautions_of(
            hanging_grams(stock, made),
            design.motored,
            design.hung,
            made is not None,
        ),
        templates,
        drilled,
        chapters.Scales(
            scale_for(design, train, free),
            whole_frame_scale(design, train, free),
            1.0 if made is None else gap_scale(made, free),
        ),
        tuple(filter(None, notices)),
        made,
    )


def _not_running(stock: Inventory) -> str:
    """How many remarks say that something does not work; "" where none does."""
    count = sum(not remark.runs for remark in lists.gathered(stock.remarks))
    if not count:
        return ""
    told = "1 remark says" if count == 1 else f"{count} remarks say"
    return f'{told} that this model does not run as designed: see "What to mind" in the chapter on the tooth form'


def _subtitle(work: _Work) -> str:
    one = work.solution
    gears = sum(made.gear.kind == "gear" for made in work.stock.gears)
    joints = sum(count for _, count in work.joints)
    return (
        f"Solution {one.rank}: {len(one.rings)} rings, {gears} small gears on {len(work.stock.arbors)} arbors, "
        f"{len(work.stock.jigs)} jigs, {joints} solder joints; worst error {one.worst_error_pct:.4f} %"
    )


def _blocks(work: _Work) -> Iterator[Block]:
    """Every chapter of the page."""
    stock, lengths, told = work.stock, work.lengths, work.cautions
    yield from _contents(work)
    yield Heading("Parts list")
    yield from lists.boxes(warn.PARTS, told)
    yield from exists.there_already(stock)
    yield from lists.parts(work.rows, stock, work.supports)
    yield from lists.joints(work.joints)
    yield Heading("Shopping list")
    yield from shop.chapter(work.bought, stock, lengths)
    label = label_drawing(stock, lengths)
    if label is not None:
        if max(label.size) > WIDE:
            yield Paragraph("The label plate is larger than a page: it is in `label.svg` and `label.dxf`, 1:1.")
        else:
            yield Figure(label, "The label plate; also as `label.svg` and `label.dxf`, and in `templates.pdf`")
    yield Heading("Hours")
    yield from hours.chapter(
        hours.hours_of(stock, work.cuts, sum(count for _, count in work.joints), work.supports), stock
    )
    if work.supports is not None:
        yield from supports(work.supports, work.train, work.scales.gaps, lengths)
    elif work.design.fit.plate == "none":
        yield Paragraph(NOT_DESIGNED)
    yield Heading("Tooth form")
    yield from lists.tooth_form(stock, lengths)
    yield Heading("How the gears run")
    yield from running(stock, work.meshes, work.exact, lengths)
    yield Heading("Weight and sag")
    yield from weight(stock, lengths, work.supports)
    yield from balance(stock, work.meshes, lengths)
    yield from driving(stock, work.solution, work.meshes, lengths)
    yield Heading("Jigs and templates")
    yield from lists.boxes(warn.TEMPLATES, told)
    yield from exists.jigs_there(stock)
    yield from chapters.jigs(stock.jigs, work.templates, lengths, stock.form.plate)
    yield Heading("Cut list")
    yield from lists.boxes(warn.CUTS, told)
    yield from lists.cuts(stock, work.cuts, lengths)
    packings = [(gauge_text(plan.gauge, lengths), plan.packing) for plan in work.plans]
    yield from chapters.bars(packings, float(work.design.wire.kerf), lengths)
    yield from _placement(work)
    yield from exploded_views(stock, work.supports)
    yield Heading("Build order")
    yield from lists.boxes(warn.ORDER, told)
    yield from lists.order(
        whole_order(stock, lengths, work.meshes, work.bought, work.supports), stock, lengths, work.supports
    )


def _placement(work: _Work) -> Iterator[Block]:
    yield from chapters.views(work.design, work.train, work.scales, work.lengths)
    yield Heading("Drilling table")
    yield from lists.boxes(warn.PLACEMENT, work.cautions)
    yield from chapters.drilling(work.design, work.train, work.lengths)


def _contents(work: _Work) -> Iterator[Block]:
    yield Heading("What is here")
    yield Paragraph(warn.FIRST)
    motor, armed = work.stock.motor_shaft_mm is not None, work.supports is not None
    where = "every hole for post and motor" if motor else "every hole for a post"
    if armed:
        where = "where every stub, arbor and motor stands," if motor else "where every stub and arbor stands,"
    yield Items(
        (
            "This page has all of it but the templates in their true size, and prints well. `sheets.pdf` is the same "
            "as a book.",
            "`templates.pdf`: every jig 1:1, large ones on tiles. `jigs/` has each as SVG and DXF.",
            f"`drilling.pdf`: {where} 1:1 on tiles, seen from the front; `drilling.csv`: the same as a table.",
            "`placement.pdf`: front and side view to scale, with coordinates; also as `placement.svg`, and 1:1 as "
            "`placement.dxf`.",
            "`parts.csv`, `cuts.csv`, `shopping.csv`: parts, pieces of wire and what is bought, for a spreadsheet.",
        )
    )
    if work.notices:
        yield Items(tuple(f"{line}." for line in work.notices))
    mm = "millimetres" if work.lengths.unit == "mm" else "inches"
    both = " and millimetres" if work.lengths.unit == "in" else " and inches"
    yield Paragraph(
        f"Lengths are in {mm}{both if work.lengths.both else ''}. Everything was measured on circles, and gears are as "
        "thick as their wire or plate; what turns the model, and how strong it must be, is in the chapter on the "
        "drive. Rings count from 0, the innermost; link 3 stands between ring 3 and ring 4."
    )
    yield from lists.train(work.solution, work.design.cranked)
