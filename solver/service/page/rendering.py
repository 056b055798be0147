"""What the pages are made with: templates, and the files that are served as they are, from a fixed list."""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.resources import files
from typing import Any

from fastapi.responses import HTMLResponse
from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from markupsafe import Markup

from solver.service.page import wording
from solver.service.page.outcome import outcome, seconds_words
from solver.service.page.varied import varied_words
from solver.words.papers import PAPERS
from solver.words.shown import shown_lines

KINDS = {
    "css": "text/css; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "svg": "image/svg+xml",
}


@cache
def static_files() -> dict[str, bytes]:
    """Every file that is served as it is, by name: the fixed list."""
    folder = files("solver.service.page").joinpath("static")
    found = sorted(folder.iterdir(), key=lambda entry: entry.name)
    return {entry.name: entry.read_bytes() for entry in found if entry.name.rpartition(".")[2] in KINDS}


@cache
def build() -> str:
    """A hash of all of them: part of their address, so that they may be kept for long and never be out of date."""
    told = hashlib.sha256()
    for name, content in static_files().items():
        told.update(f"{name} {len(content)}\n".encode() + content)
    return told.hexdigest()[:12]


def _seen(value: Any) -> Any:
    """What is put in, with characters that are not seen written out. What a reader typed himself is to be put in with
    the filter `e`, which leaves it as it is."""
    return shown_lines(value) if isinstance(value, str) and not isinstance(value, Markup) else value


@cache
def templates() -> Environment:
    """The templates: everything that is put in is escaped, and a name that is not there is a fault."""
    found = Environment(
        loader=PackageLoader("solver.service.page"),
        autoescape=select_autoescape(default=True),
        undefined=StrictUndefined,
        finalize=_seen,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    found.filters.update(
        percent=wording.percent,
        at_least=wording.at_least,
        mm=wording.length,
        degrees=wording.degrees,
        varied=varied_words,
        seconds=seconds_words,
        capitalize_first=wording.first_large,
    )
    found.globals.update(
        static=lambda name: f"/static/{build()}/{name}",
        papers=PAPERS,
        outcome=outcome,
        none_words=wording.none_words,
        barren_words=wording.barren_words,
        best_words=wording.best_words,
    )
    return found


def page(template: str, code: int = 200, /, **told: Any) -> HTMLResponse:
    """A template as an answer that no one keeps, since jobs change. locked: whether a token is needed here."""
    return html(rendered(template, **told), code)


def rendered(template: str, /, **told: Any) -> bytes:
    """A template with what is put in, as UTF-8."""
    return templates().get_template(template).render(**told).encode()


def html(text: bytes, code: int = 200) -> HTMLResponse:
    """The same as an answer that no one keeps."""
    return HTMLResponse(text, code, {"Cache-Control": "no-store"})


def enter_page(fault: str, inside: bool) -> bytes:
    """The page that asks for the token, or where one is let in already, lets one out. fault: what was wrong with the
    last token, or nothing."""
    return rendered("enter.html", fault=fault, inside=inside, locked=inside)
