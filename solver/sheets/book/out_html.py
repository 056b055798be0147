"""A document as one HTML page: self-contained, readable on a screen, and laid out for paper when it is printed."""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING, Any, get_args

from solver.sheets.book.document import Block, Document
from solver.sheets.draw.lettering import clean
from solver.sheets.draw.out_svg import svg_figure
from solver.sheets.errors import MissingExtra

if TYPE_CHECKING:
    from jinja2 import Template

_FILE = re.compile("`([A-Za-z0-9./-]+)`")


def html(document: Document) -> str:
    """The document as one page that needs nothing else: no script, no font, no picture from elsewhere. Raises
    MissingExtra without jinja2."""
    return _template().render(document=document)


@cache
def _template() -> Template:
    """The page's template: everything that is put in is escaped, and a name that is not there is a fault."""
    try:
        from jinja2 import Environment, PackageLoader, StrictUndefined
        from markupsafe import Markup, escape
    except ModuleNotFoundError:
        raise MissingExtra("jinja2") from None

    def seen(value: Any) -> Any:
        return _spaced(value) if isinstance(value, str) and not isinstance(value, Markup) else value

    def linked(text: str) -> Markup:
        """Escaped, with names of files as links to them."""
        return Markup(_FILE.sub(r'<a href="\1">\1</a>', str(escape(_spaced(text)))))

    found = Environment(
        loader=PackageLoader("solver.sheets.book"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=seen,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    found.filters.update(anchor=_anchor, linked=linked, drawn=lambda drawing: Markup(svg_figure(drawing)))
    for kind in get_args(Block):
        found.tests[kind.__name__.lower()] = lambda block, kind=kind: isinstance(block, kind)
    return found.get_template("sheets.html")


def _anchor(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")


def _spaced(text: str) -> str:
    """As `clean`, but spaces at which no line may break stay."""
    return "\u00a0".join(clean(part) for part in text.split("\u00a0"))
