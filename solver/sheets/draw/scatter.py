"""A plot of error against parts over many solutions, as SVG in black and white."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from math import isfinite

from solver.sheets.draw.axes import Axes, PlotFrame, marks
from solver.sheets.draw.lettering import FONT, clean, escaped, shorten

WIDTH, HEIGHT = 180.0, 130.0  # mm
_FRAME = PlotFrame(left=18.0, top=14.0, right=WIDTH - 6.0, bottom=HEIGHT - 14.0, inside=3.0, zero=5.0)
_SERIES = 6
_APART = 0.5  # mm; marks of a kind that are nearer are drawn once
_TICKS = 24

# A mark for each series, one millimetre and a half across, about the origin.
_MARKS = (
    '<circle r="0.8"/>',
    '<path d="M-0.75-0.75h1.5v1.5h-1.5z"/>',
    '<path d="M0-0.95l0.9 1.6h-1.8z"/>',
    '<path d="M0-1.05l1.05 1.05l-1.05 1.05l-1.05-1.05z"/>',
    '<path d="M-0.9 0h1.8M0-0.9v1.8"/>',
    '<path d="M-0.7-0.7l1.4 1.4M-0.7 0.7l1.4-1.4"/>',
)


def scatter(points: Sequence[tuple[int, float, str]]) -> str:
    """Solutions as (parts, worst error [percent], title), drawn one mark each, a kind of mark for each title.

    The line joins those that no other one beats in both.
    """
    titles = [title for title, _ in Counter(title for _, _, title in points).most_common()]
    kinds = {title: min(index, _SERIES - 1) for index, title in enumerate(titles)}
    axes = Axes(_FRAME, ((parts, error) for parts, error, _ in points), _TICKS)
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH:g}mm" height="{HEIGHT:g}mm" '
        f'viewBox="0 0 {WIDTH:g} {HEIGHT:g}" font-family="{FONT}" font-size="2.6" role="img">',
        "<title>Worst error against parts</title>",
        f'<rect width="{WIDTH:g}" height="{HEIGHT:g}" fill="#fff"/>',
        _text(_FRAME.left, 7, "Worst error against parts", 3.8),
        _text(_FRAME.left, 11, f"{len(points)} solutions; the line joins those that no other one beats in both"),
        *_axes(axes),
        f'<path d="{axes.line()}" fill="none" stroke="#000" stroke-width="0.25"/>',
        '<defs><g fill="#000" fill-opacity="0.35" stroke="#000" stroke-width="0.2">',
        *(f'<g id="m{index}">{mark}</g>' for index, mark in enumerate(_MARKS)),
        "</g></defs>",
    ]
    for kind in range(_SERIES):
        of_kind = sorted({(parts, error) for parts, error, title in points if kinds[title] == kind and isfinite(error)})
        places = [(axes.x(parts), axes.y(error)) for parts, error in of_kind]
        lines += [f'<use href="#m{kind}" x="{places[one][0]}" y="{places[one][1]}"/>' for one in marks(places, _APART)]
    return "\n".join([*lines, *_legend(titles), "</svg>"]) + "\n"


def _text(x: float, y: float, words: str, size: float = 2.6, anchor: str = "start") -> str:
    return f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:g}" text-anchor="{anchor}">{escaped(clean(words))}</text>'


def _axes(axes: Axes) -> Iterator[str]:
    left, right, top, below = _FRAME.left, _FRAME.right, _FRAME.top, _FRAME.bottom
    yield f'<path d="M{left} {top}V{below}H{right}" fill="none" stroke="#000" stroke-width="0.3"/>'
    for place, word in axes.y_ticks:
        yield f'<path d="M{left} {place:.2f}H{right}" stroke="#bbb" stroke-width="0.1"/>'
        yield _text(left - 1.5, place + 0.9, word, anchor="end")
    for place, word in axes.x_ticks:
        yield f'<path d="M{place:.2f} {below}v1" stroke="#000" stroke-width="0.2"/>'
        yield _text(place, below + 4, word, anchor="middle")
    yield _text((left + right) / 2, below + 8.5, "parts", anchor="middle")
    yield _text(2, top, "error %")


def _legend(titles: Sequence[str]) -> Iterator[str]:
    shown = list(titles[:_SERIES])
    if len(titles) > _SERIES:
        shown[-1] = f"{len(titles) - _SERIES + 1} others"
    if len(titles) < 2:
        return
    for index, title in enumerate(shown):
        at = _FRAME.top + 4 + 4.2 * index
        yield f'<use href="#m{index}" x="{WIDTH - 62:g}" y="{at - 0.9:.2f}"/>'
        yield _text(WIDTH - 60, at, shorten(title, 52, 2.6))
