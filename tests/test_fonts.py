"""Letters in the PDFs: every font is in the file, and names of other scripts can be read."""

from __future__ import annotations

import io
import tomllib
import unicodedata
from importlib.resources import files
from itertools import chain

import pytest
from commands import ROOT
from pypdf import PdfReader
from pypdf.generic import DictionaryObject

from solver.sheets.book.document import CautionBox, Document, Heading, Items, Paragraph, TextTable
from solver.sheets.book.out_book import book
from solver.sheets.draw.drawing import Drawing, Line, Page, Placed, Text
from solver.sheets.draw.lettering import clean, printable, text_width
from solver.sheets.draw.out_pdf import pdf
from solver.sheets.draw.typeface import BOLD, PLAIN, advances

# Each with all letters of its script that Western European ones lack: pangrams that are known to every printer.
LINES = (
    "Zażółć gęślą jaźń, Łódź",
    "Příliš žluťoučký kůň úpěl ďábelské ódy",
    "Ξεσκεπάζω την ψυχοφθόρα βδελυγμία",
    "Съешь же ещё этих мягких французских булок",
    "Șase ședințe, ığüş, āēīū, ő ű, œ ß æ ø",
    "at −12.5°, ⌀ 3 ± 0.1, a × b ≤ c → d, ½, «…» – —",
)


def one_page(*lines: str) -> bytes:
    shapes = [Text((0.0, -5.0 * number), line, 3.0, bold=number % 2 == 1) for number, line in enumerate(lines)]
    return pdf([Page((210.0, 297.0), (Placed(Drawing("", tuple(shapes)), (20.0, 200.0)),))], lines[0])


def as_book(*lines: str) -> bytes:
    blocks = (
        Heading(lines[0], 1),
        *(Paragraph(line) for line in lines),
        Items(lines),
        TextTable(("name", "other"), tuple((line, line) for line in lines), ("l", "r")),
        CautionBox("Mind", lines),
    )
    return book(Document(lines[0], lines[1], blocks), (210.0, 297.0))


@pytest.mark.parametrize("made", [one_page, as_book])
def test_every_font_is_in_the_file_and_every_letter_can_be_read_back(made: type[bytes]) -> None:
    document = PdfReader(io.BytesIO(made(*LINES)))
    fonts = [font.get_object() for page in document.pages for font in page["/Resources"]["/Font"].values()]
    assert len({font["/BaseFont"] for font in fonts}) > 1
    for font in fonts:
        assert isinstance(font, DictionaryObject)
        # ISO 32000-1, 9.9: the program of a TrueType font is embedded as FontFile2.
        assert len(font["/FontDescriptor"]["/FontFile2"].get_data()) > 1000, font["/BaseFont"]
    read = " ".join(" ".join(page.extract_text() for page in document.pages).split())
    for line in LINES:
        assert line in read
    assert document.metadata is not None and document.metadata.title == LINES[0]


def test_the_same_pages_give_the_same_bytes_in_whichever_order_letters_came_before() -> None:
    first, other = one_page(*LINES), one_page(*reversed(LINES))
    assert one_page(*LINES) == first != other
    assert as_book(*LINES) == as_book(*LINES)


def test_only_what_is_used_of_the_fonts_is_in_a_file() -> None:
    assert len(one_page("Io", "Europa")) < 60_000


def test_what_the_font_does_not_have_is_shown_as_such() -> None:
    assert printable("木星 Ő ἄ Å ﬁ") == "?? Ő ἄ Å fi"
    assert printable("A\u030angström") == "Ångström"
    assert printable("צדק") == "???"  # would have to be set from the right
    read = PdfReader(io.BytesIO(one_page("木星 Io"))).pages[0].extract_text()
    assert read.strip() == "?? Io"


def test_letters_are_as_wide_as_the_pdf_sets_them() -> None:
    from reportlab.pdfbase.pdfmetrics import stringWidth

    one_page("Io")  # the fonts are known from now on
    for name in (PLAIN, BOLD):
        for line in LINES:
            assert sum(advances(name)[ord(one)] for one in line) == pytest.approx(
                stringWidth(line, name, 1.0), abs=1e-3
            )
    for line in LINES:
        widest = max(stringWidth(line, name, 2.3) for name in (PLAIN, BOLD))
        assert widest - 1e-3 <= text_width(line, 2.3) < 1.05 * widest + 1e-3
    assert set(advances(PLAIN)) == set(advances(BOLD))


def test_all_that_the_program_itself_writes_is_in_the_font() -> None:
    """Signs in the texts of the code: none of them may become "?" on paper."""
    sources = chain(*((ROOT / "solver" / part).rglob("*.py") for part in ("sheets", "words", "forms", "answer")))
    signs = {one for path in sources for one in path.read_text("utf-8") if not one.isascii()}
    assert {"°", "×", "…"} <= signs
    known = {one for one in signs if clean(one) and unicodedata.category(one) != "Cf"}
    assert {one for one in known if printable(one) != unicodedata.normalize("NFC", one)} <= {"\ufffd", "\ud7ff"}


def test_the_fonts_and_their_licence_are_installed() -> None:
    folder = files("solver.sheets.draw") / "fonts"
    for name in (PLAIN, BOLD):
        assert (folder / f"{name}.ttf").read_bytes()[:4] == b"\x00\x01\x00\x00"  # OpenType: sfnt version of TrueType
    assert "Bitstream Vera" in (folder / "LICENSE.txt").read_text("utf-8")
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    assert project["tool"]["setuptools"]["package-data"]["solver.sheets.draw"] == ["fonts/*"]


def test_a_line_has_no_letters_and_needs_no_font() -> None:
    page = Page((100.0, 100.0), (Placed(Drawing("", (Line((0.0, 0.0), (9.0, 9.0), "pitch"),)), (5.0, 5.0)),))
    assert pdf([page], "A line").startswith(b"%PDF")
