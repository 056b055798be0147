"""A document as one HTML page: self-contained, readable on a screen, and laid out for paper when it is printed."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import escape

from solver.sheets.book.document import Block, Caution, Document, Figure, Gallery, Heading, Items, Paragraph, Table
from solver.sheets.draw.lettering import clean
from solver.sheets.draw.out_svg import svg_figure

_STYLE = """
:root { --ink: #1a1a1a; --soft: #5a5a5a; --line: #c9c9c9; --paper: #fff; --warn: #8a1c00; }
* { box-sizing: border-box; }
body { margin: 0 auto; max-width: 62rem; padding: 2rem 1.5rem 5rem; color: var(--ink); background: var(--paper);
  font: 16px/1.5 Georgia, 'Times New Roman', 'DejaVu Serif', serif; }
h1, h2, h3, th, nav, figcaption, .caution strong, table { font-family: Helvetica, Arial, 'Liberation Sans',
  'DejaVu Sans', sans-serif; }
h1 { font-size: 1.9rem; line-height: 1.2; margin: 0 0 .3rem; }
.subtitle { color: var(--soft); margin: 0 0 1.5rem; }
h2 { font-size: 1.35rem; margin: 3rem 0 .7rem; padding-top: .6rem; border-top: 2px solid var(--ink); }
h3 { font-size: 1.05rem; margin: 1.8rem 0 .4rem; }
p, li { max-width: 46rem; }
p.small { font-size: .85rem; color: var(--soft); }
nav ul { columns: 2 16rem; list-style: none; padding: 0; margin: 0 0 2rem; font-size: .95rem; }
nav a { color: inherit; }
table { border-collapse: collapse; font-size: .84rem; margin: .7rem 0 1.4rem; font-variant-numeric: tabular-nums; }
caption { text-align: left; font-weight: bold; padding: .3rem 0; }
th { text-align: left; border-bottom: 1.5px solid var(--ink); vertical-align: bottom; }
th, td { padding: .18rem .9rem .18rem 0; }
td { border-bottom: 1px solid #e6e6e6; vertical-align: top; }
td:first-child, td.r { white-space: nowrap; }
tfoot td { border-bottom: 0; border-top: 1.5px solid var(--ink); font-weight: bold; }
.r { text-align: right; }
.scroll { overflow-x: auto; }
figure { margin: 1rem 0 1.5rem; }
figcaption { font-size: .84rem; color: var(--soft); margin-top: .3rem; }
.gallery { display: grid; grid-template-columns: repeat(auto-fill, minmax(13rem, 1fr)); gap: 1rem; }
.gallery figure { margin: 0; border: 1px solid var(--line); padding: .6rem; break-inside: avoid; }
.gallery svg { display: block; margin: 0 auto; max-height: 15rem; }
.caution { border: 1.5px solid var(--warn); border-left-width: 8px; padding: .6rem 1rem; margin: 1rem 0 1.5rem;
  max-width: 46rem; break-inside: avoid; }
.caution strong { color: var(--warn); }
.caution ul { margin: .3rem 0 0; padding-left: 1.1rem; }
ul.boxes { list-style: none; padding-left: 0; }
ul.boxes li { padding-left: 1.7rem; position: relative; }
ul.boxes li::before { content: ''; position: absolute; left: 0; top: .3em; width: .85em; height: .85em;
  border: 1.5px solid var(--ink); }
@page { margin: 14mm; }
@media print {
  body { max-width: none; padding: 0; font-size: 10.5pt; }
  nav { display: none; }
  h2 { break-before: page; margin-top: 0; border-top: 0; padding-top: 0; }
  h2:first-of-type { break-before: auto; }
  h2, h3, caption { break-after: avoid; }
  tr, figure, li { break-inside: avoid; }
  figure { margin: .3rem 0 .6rem; }
  thead { display: table-header-group; }
  tfoot { display: table-row-group; }
  table { font-size: 8pt; }
  th, td { padding: .12rem .6rem .12rem 0; }
  .gallery { grid-template-columns: repeat(4, 1fr); gap: .5rem; }
  .scroll { overflow: visible; }
  a { color: inherit; text-decoration: none; }
}
"""


def html(document: Document) -> str:
    """The document as one page that needs nothing else: no script, no font, no picture from elsewhere."""
    title = escape(clean(document.title))
    chapters = [block for block in document.blocks if isinstance(block, Heading) and block.level == 1]
    links = "".join(f'<li><a href="#{_anchor(one.text)}">{escape(clean(one.text))}</a></li>' for one in chapters)
    lines = [
        "<!DOCTYPE html>",
        '<html lang="en">',
        '<head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{title}</title>",
        f"<style>{_STYLE}</style></head>",
        "<body>",
        f"<header><h1>{title}</h1>",
        f'<p class="subtitle">{escape(clean(document.subtitle))}</p></header>',
        f"<nav><ul>{links}</ul></nav>",
        "<main>",
        *(line for block in document.blocks for line in _block(block)),
        "</main>",
        "</body></html>",
        "",
    ]
    return "\n".join(lines)


def _anchor(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")


def _text(text: str) -> str:
    """Escaped, with names of files as links to them."""
    return re.sub(
        r"`([A-Za-z0-9./-]+)`", lambda match: f'<a href="{match[1]}">{match[1]}</a>', escape(clean_spaces(text))
    )


def clean_spaces(text: str) -> str:
    """As `clean`, but spaces at which no line may break stay."""
    return "\u00a0".join(clean(part) for part in text.split("\u00a0"))


def _block(block: Block) -> Iterator[str]:
    if isinstance(block, Heading):
        tag = f"h{block.level + 1}"
        anchor = f' id="{_anchor(block.text)}"' if block.level == 1 else ""
        yield f"<{tag}{anchor}>{_text(block.text)}</{tag}>"
    elif isinstance(block, Paragraph):
        small = ' class="small"' if block.small else ""
        yield f"<p{small}>{_text(block.text)}</p>"
    elif isinstance(block, Items):
        tag = "ol" if block.numbered else "ul"
        boxes = ' class="boxes"' if block.boxes else ""
        yield f"<{tag}{boxes}>"
        yield from (f"<li>{_text(item)}</li>" for item in block.items)
        yield f"</{tag}>"
    elif isinstance(block, Table):
        yield from _table(block)
    elif isinstance(block, Figure):
        yield from _figure(block)
    elif isinstance(block, Gallery):
        yield '<div class="gallery">'
        for figure in block.figures:
            yield from _figure(figure)
        yield "</div>"
    else:
        yield from _caution(block)


def _table(table: Table) -> Iterator[str]:
    sides = [' class="r"' if side == "r" else "" for side in table.align]
    yield '<div class="scroll"><table>'
    if table.caption:
        yield f"<caption>{_text(table.caption)}</caption>"
    heads = "".join(f"<th{side}>{_text(head)}</th>" for head, side in zip(table.heads, sides, strict=True))
    yield f"<thead><tr>{heads}</tr></thead>"
    for tag, rows in (("tbody", table.rows), ("tfoot", table.totals)):
        if rows:
            yield f"<{tag}>"
            for row in rows:
                yield (
                    "<tr>"
                    + "".join(f"<td{side}>{_text(cell)}</td>" for cell, side in zip(row, sides, strict=True))
                    + "</tr>"
                )
            yield f"</{tag}>"
    yield "</table></div>"


def _figure(figure: Figure) -> Iterator[str]:
    yield "<figure>"
    yield svg_figure(figure.drawing)
    if figure.caption:
        yield f"<figcaption>{_text(figure.caption)}</figcaption>"
    yield "</figure>"


def _caution(caution: Caution) -> Iterator[str]:
    yield f'<aside class="caution"><strong>{_text(caution.title)}</strong><ul>'
    yield from (f"<li>{_text(item)}</li>" for item in caution.items)
    yield "</ul></aside>"
