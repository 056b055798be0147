"""The setting sheet of one date: instructions, tables and the dial, as a page, a book and files of their own."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from solver.answer.document import SolutionAnswer, train_of
from solver.design.design import Design
from solver.design.train import Train
from solver.sheets.book.document import Block, Document, Figure, Heading, Items, Paragraph, TextTable
from solver.sheets.book.out_book import book
from solver.sheets.book.out_html import html
from solver.sheets.draw.drawing import Drawing
from solver.sheets.draw.out_dxf import dxf
from solver.sheets.draw.out_pdf import pdf
from solver.sheets.draw.out_svg import svg_document
from solver.sheets.draw.tiling import pages
from solver.sheets.gears.gears import ring_name
from solver.sheets.setting.dial import DialScale, dial, scale_of
from solver.sheets.setting.overview import overview
from solver.sheets.setting.steps import SettingStep, degrees, read_at, setting_steps, signed
from solver.sheets.setting.year import earth_of, year_marks
from solver.sheets.views.templates import with_scale_bar
from solver.sky.bodies import SkyBody
from solver.sky.found import found_text
from solver.sky.moments import Moment, civil
from solver.sky.paths import rounded_turn
from solver.sky.setting import TeethSetting
from solver.words.lengths import Lengths
from solver.words.papers import PAPERS
from solver.words.spreadsheet import csv_text

_BEYOND = 5.0  # the dial's inner circle beyond all that turns [mm]


@dataclass(frozen=True)
class SheetDates:
    """What a sheet is of. sky: the bodies; moment: the date that the model is brought to; since: the date that it shows
    now, None: as it was put together, all bodies at the zero mark; true: by true longitudes, where they are known."""

    sky: tuple[SkyBody, ...]
    moment: Moment
    since: Moment | None = None
    true: bool = False


@dataclass(frozen=True)
class _Sheet:
    design: Design
    train: Train
    dated: SheetDates
    setting: TeethSetting
    scale: DialScale
    dial: Drawing
    lengths: Lengths
    radius: float
    notes: tuple[str, ...]


def setting_files(
    design: Design,
    solution: SolutionAnswer,
    dated: SheetDates,
    setting: TeethSetting,
    paper: str = "a4",
    lengths: Lengths | None = None,
    radius_mm: float | None = None,
    notes: Sequence[str] = (),
) -> dict[str, bytes]:
    """The files of a setting sheet by name; the same date gives the same bytes. setting: by teeth, of these dates.
    radius_mm: of the dial's inner circle; None: so large that all of the model turns within it. notes: sentences that
    the sheet tells besides.

    Raises SkyError beyond what is known of a body, MissingExtra without a library.
    """
    train = train_of(design, solution)
    scale = scale_of(design, dated.sky[0])
    radius = _radius(design, train, solution) if radius_mm is None else radius_mm
    drawn = _dial(design, dated, scale, radius)
    told = lengths or Lengths(design.units)
    sheet = _Sheet(design, train, dated, setting, scale, drawn, told, radius, tuple(notes))
    document = Document(design.title, f"Setting sheet for {_date(dated.moment)}", tuple(_blocks(sheet)))
    size, inches = PAPERS[paper], "in" in told.units
    with_bar = with_scale_bar(drawn, inches)
    return {
        "setting.html": html(document).encode(),
        "setting.pdf": book(document, size),
        "dial.pdf": pdf(pages([drawn], size, design.title, inches), f"{design.title}: dial, 1:1"),
        "dial.svg": svg_document(with_bar).encode(),
        "dial.dxf": dxf(with_bar).encode(),
        "pointers.csv": _csv(sheet).encode(),
    }


def _radius(design: Design, train: Train, solution: SolutionAnswer) -> float:
    """Beyond all that turns or stands, or beyond the largest ring's teeth where places are not known: whole mm."""
    tips = design.rings.pitch.radius_mm(max(train.rings)) + float(design.rings.addendum)
    return ceil(max(tips, solution.envelope_mm or 0.0) + _BEYOND)


def _dial(design: Design, dated: SheetDates, scale: DialScale, radius: float) -> Drawing:
    earth, year = earth_of(dated.sky), int(civil(dated.moment)[:4])
    days = year_marks(earth, year) if earth is not None else ()
    way = "counterclockwise" if scale.sense > 0 else "clockwise"
    told = [design.title, f"degrees of longitude, {way} from the mark", f"seen from the {design.sky.seen_from}"]
    if earth is not None:
        told.append(f"outside: where the Earth stands in {year}")
    return dial("dial", scale, radius, days, told)


def _date(moment: Moment) -> str:
    """ "2026-12-24 17:00:00 UTC"; before 1960 civil time is UT1."""
    text = civil(moment)
    return f"{text.removesuffix('Z').replace('T', ' ')} {'UTC' if text >= '1960' else 'UT1'}"


# -- the page --------------------------------------------------------------------------------------------------------


def _blocks(sheet: _Sheet) -> Iterator[Block]:
    dated, setting = sheet.dated, sheet.setting
    yield Heading("How the model must look")
    which = "true" if dated.true else "mean"
    since = (
        "as it was put together, every body at the zero mark"
        if dated.since is None
        else f"with every body where it belongs at {_date(dated.since)}; "
        "what teeth left over at that setting comes on top"
    )
    yield Paragraph(
        f"Every ring at the {which} longitude of its body at {_date(dated.moment)}. The sheet begins with the model "
        f"{since}. Degrees are those of the dial; clockwise and counterclockwise are seen from the front."
    )
    for note in sheet.notes:
        yield Paragraph(note)
    yield Figure(overview(sheet.design, sheet.train, setting, sheet.scale), "Not to scale.")
    yield from _pointers(sheet)
    yield Heading("Ring by ring")
    yield Paragraph(
        "Work from the drive outwards, one link after the other, and check each pointer on the dial before you go on. "
        "Before you lift an arbor, mark the tooth of its wheel that stands on the line to the ring's middle: teeth are "
        "counted from there. A blank ring has no pointer: chalk a line across it and what stands beside. A body that "
        "can be clamped anywhere on its ring needs none of this: leave the arbors in mesh, and turn it on its ring to "
        "its place in the table."
    )
    yield from _dial_told(sheet)
    for step in setting_steps(sheet.design, sheet.train, setting, sheet.scale):
        yield from _step(step)
    yield from _moves(sheet)


def _dial_told(sheet: _Sheet) -> Iterator[Block]:
    """How the dial is printed, where it goes, and how it is read."""
    yield Heading("The dial", 2)
    size = sheet.lengths.text(2 * sheet.radius)
    days = earth_of(sheet.dated.sky) is not None
    yield Paragraph(
        f"`dial.pdf` is the dial 1:1, spread over tiles where it is larger than the page: print it at 100 %, measure "
        "the bar on each page, cut along the corner marks and lay crosses of one letter on each other. Its inner "
        f"circle is {size} across, so that all of the model turns within it. Glue it to a board behind the model, "
        "its cross on the main axis and its arrow head at the zero mark. To read a pointer, stretch a thread from the "
        "main axis over the body to the dial. `dial.svg` and `dial.dxf` are the same for programs that draw or cut."
        + (
            " The marks outside are the days on which the Earth stands there, 1st, 11th and 21st of each month."
            if days
            else ""
        )
    )


def _step(step: SettingStep) -> Iterator[Block]:
    yield Heading(step.title, 2)
    yield Items((*step.work, *([f"Check: {step.check}."] if step.check else [])), boxes=True)


_HEADS = ("body", "ring", "place", "set to", "left over", "from the right", "tooth at the zero mark")


def _pointers(sheet: _Sheet) -> Iterator[Block]:
    """Where each pointer stands."""
    setting = sheet.setting
    worst = max(setting.bodies, key=lambda one: abs(one.left_over))
    yield TextTable(_HEADS, tuple(_row(sheet, number) for number in range(len(setting.bodies))), "lrrrrrr", "Pointers")
    yield Paragraph(
        "Place: where the body should stand. Set to: where the teeth let it stand; left over: how far past its place, "
        "counterclockwise positive. From the right: the same angle counted counterclockwise from the right. The teeth "
        "of a ring are counted counterclockwise from the body's rod, which stands at tooth 0.",
        small=True,
    )
    if setting.worst:
        claim = found_text(setting, "°", worst.name)
        yield Paragraph(
            f"{claim[0].upper()}{claim[1:]}. Of all ways that were found to leave as little this one lifts the fewest "
            "arbors. What is left over can be taken out by a clamp: turn the body on its ring by so much."
        )
    else:
        yield Paragraph("Every body stands exactly in its place.")


def _row(sheet: _Sheet, number: int) -> tuple[str, ...]:
    body, scale = sheet.setting.bodies[number], sheet.scale
    teeth = sheet.train.rings[body.ring]
    past = body.stands - Fraction(sheet.design.sky.zero_deg) / 360
    return (
        body.name,
        str(body.ring),
        read_at(scale, body.wanted),
        read_at(scale, body.stands),
        signed(body.left_over),
        f"{rounded_turn(body.stands_deg, 2):.2f}°",
        f"{round(-past * teeth) % teeth} of {teeth}",
    )


def _moves(sheet: _Sheet) -> Iterator[Block]:
    """All moves as a table."""
    rows = []
    for move in sheet.setting.links:
        link = sheet.train.links[move.link]
        rows.append(
            (
                str(move.link),
                f"{link.wheel}/{link.pinion}",
                f"{move.wheel_teeth:+d}" if move.wheel_teeth else "0",
                ring_name(sheet.design, sheet.train, move.link + 1),
                f"{move.ring_teeth:+d}" if move.ring_teeth else "0",
                signed(move.ring_turn),
                degrees(move.step, 4),
            )
        )
    heads = ("link", "gears", "teeth of the wheel", "ring beyond", "whole teeth of it", "turned in all", "least step")
    yield TextTable(heads, tuple(rows), "llrlrrr", "The same as a table: counterclockwise is positive")
    yield Paragraph(
        "A ring is turned by its whole teeth and by what the arbor's turn asks of it: a tooth of the wheel carries the "
        "pinion, and with it the ring, by pinion / wheel of a tooth. The least step is that of the ring while the ring "
        "before it stands.",
        small=True,
    )


def _csv(sheet: _Sheet) -> str:
    """The table of pointers for a spreadsheet, angles in degrees."""
    heads = ("body", "ring", "dial_deg", "set_to_deg", "left_over_deg", "from_right_deg", "move_teeth")
    rows = []
    for body in sheet.setting.bodies:
        wanted, stands = (sheet.scale.reading(float(turn * 360)) for turn in (body.wanted, body.stands))
        rows.append(
            (
                body.name,
                str(body.ring),
                f"{rounded_turn(wanted, 4):.4f}",
                f"{rounded_turn(stands, 4):.4f}",
                f"{body.left_over_deg:.4f}",
                f"{rounded_turn(body.stands_deg, 4):.4f}",
                str(body.move_teeth),
            )
        )
    return csv_text((heads, *rows))
