"""A plot of error against parts over many solutions, as SVG in black and white."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from math import ceil, floor, inf, log10
from xml.sax.saxutils import escape

from solver.sheets.draw.lettering import FONT, clean, shorten

WIDTH, HEIGHT = 180.0, 130.0  # mm
_LEFT, _RIGHT, _TOP, _BOTTOM = 18.0, 6.0, 14.0, 14.0
_SERIES = 6
_GRID = 0.5  # mm; marks that fall together are drawn once
LOG_FROM = 20.0  # times from the least error to the greatest

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

    The line joins those that no other one beats in both. The error's axis is logarithmic where the errors differ much.
    """
    titles = [title for title, _ in Counter(title for _, _, title in points).most_common()]
    kinds = {title: min(index, _SERIES - 1) for index, title in enumerate(titles)}
    x = _parts_axis([parts for parts, _, _ in points])
    y, ticks, floor_y = _error_axis([error for _, error, _ in points])
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH:g}mm" height="{HEIGHT:g}mm" '
        f'viewBox="0 0 {WIDTH:g} {HEIGHT:g}" font-family="{FONT}" font-size="2.6" role="img">',
        "<title>Worst error against parts</title>",
        f'<rect width="{WIDTH:g}" height="{HEIGHT:g}" fill="#fff"/>',
        _text(_LEFT, 7, "Worst error against parts", 3.8),
        _text(_LEFT, 11, f"{len(points)} solutions; the line joins those that no other one beats in both"),
    ]
    lines += _axes(points, x, ticks, floor_y)
    lines += _front(points, x, y)
    lines += _marks(points, kinds, x, y)
    lines += _legend(titles)
    return "\n".join([*lines, "</svg>"]) + "\n"


def unbeaten(points: Iterable[tuple[int, float]]) -> list[tuple[int, float]]:
    """(parts, error) that no other one beats in both, fewest parts first."""
    found: list[tuple[int, float]] = []
    for parts, error in sorted(set(points)):
        if error < (found[-1][1] if found else inf):
            found.append((parts, error))
    return found


def round_step(most: float) -> float:
    """A round distance of ticks from 0 to `most`, for four to six of them or so."""
    step = 10.0 ** floor(log10(most / 4))
    return step * next(factor for factor in (1, 2, 5, 10) if most / (step * factor) <= 6)


def _text(x: float, y: float, words: str, size: float = 2.6, anchor: str = "start") -> str:
    return f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:g}" text-anchor="{anchor}">{escape(clean(words))}</text>'


def _parts_axis(parts: Sequence[int]) -> Callable[[float], float]:
    low, high = (min(parts), max(parts)) if parts else (0, 1)
    low, high = (low - 1, high + 1)
    return lambda value: _LEFT + (value - low) / (high - low) * (WIDTH - _LEFT - _RIGHT)


def _error_axis(errors: Sequence[float]) -> tuple[Callable[[float], float], list[tuple[float, str]], float]:
    """Where an error stands, the ticks as (place, word), and where the axis ends below."""
    below, above = HEIGHT - _BOTTOM, _TOP + 3
    positive = [error for error in errors if 0 < error < inf]
    if not positive:
        return lambda _: below - 2, [(below - 2, "0")], below
    least, most = min(positive), max(positive)
    if most / least < LOG_FROM:
        step = round_step(most)
        top = ceil(most / step) * step
        count = round(top / step)

        def linear(value: float) -> float:
            return below - min(value, top) / top * (below - above)

        return linear, [(linear(index * step), f"{index * step:.4g}") for index in range(count + 1)], below
    low, high = floor(log10(least)), ceil(log10(most))
    zero = any(error == 0 for error in errors)
    bottom = below - (8 if zero else 0)

    def logarithmic(value: float) -> float:
        return below - 3 if value <= 0 else bottom - (log10(value) - low) / max(1, high - low) * (bottom - above)

    ticks = [(logarithmic(10.0**power), f"{10.0**power:g}") for power in range(low, high + 1)]
    return logarithmic, ([(below - 3, "0")] if zero else []) + ticks, below


def _axes(
    points: Sequence[tuple[int, float, str]], x: Callable[[float], float], ticks: list[tuple[float, str]], below: float
) -> Iterator[str]:
    yield f'<path d="M{_LEFT} {_TOP}V{below}H{WIDTH - _RIGHT}" fill="none" stroke="#000" stroke-width="0.3"/>'
    for place, word in ticks:
        yield f'<path d="M{_LEFT} {place:.2f}H{WIDTH - _RIGHT}" stroke="#bbb" stroke-width="0.1"/>'
        yield _text(_LEFT - 1.5, place + 0.9, word, anchor="end")
    numbers = sorted({parts for parts, _, _ in points})
    every = max(1, ceil(len(numbers) / 24))
    for parts in numbers[::every]:
        yield f'<path d="M{x(parts):.2f} {below}v1" stroke="#000" stroke-width="0.2"/>'
        yield _text(x(parts), below + 4, str(parts), anchor="middle")
    yield _text((WIDTH + _LEFT - _RIGHT) / 2, below + 8.5, "parts", anchor="middle")
    yield _text(2, _TOP, "error %")


def _front(
    points: Sequence[tuple[int, float, str]], x: Callable[[float], float], y: Callable[[float], float]
) -> Iterator[str]:
    steps: list[str] = []
    for parts, error in unbeaten((parts, error) for parts, error, _ in points):
        steps.append(f"{'H' if steps else 'M'}{x(parts):.2f}{' ' if not steps else 'V'}{y(error):.2f}")
    if steps:
        yield f'<path d="{"".join(steps)}" fill="none" stroke="#000" stroke-width="0.25"/>'


def _marks(
    points: Sequence[tuple[int, float, str]],
    kinds: dict[str, int],
    x: Callable[[float], float],
    y: Callable[[float], float],
) -> Iterator[str]:
    drawn: dict[tuple[int, int, int], str] = {}
    for parts, error, title in points:
        if error < inf:
            at = (x(parts), y(error))
            place = (kinds[title], round(at[0] / _GRID), round(at[1] / _GRID))
            drawn.setdefault(place, f'<use href="#m{kinds[title]}" x="{at[0]:.2f}" y="{at[1]:.2f}"/>')
    marks = "".join(f'<g id="m{index}">{mark}</g>' for index, mark in enumerate(_MARKS))
    yield f'<defs><g fill="#000" fill-opacity="0.35" stroke="#000" stroke-width="0.2">{marks}</g></defs>'
    for place in sorted(drawn):
        yield drawn[place]


def _legend(titles: Sequence[str]) -> Iterator[str]:
    shown = list(titles[:_SERIES])
    if len(titles) > _SERIES:
        shown[-1] = f"{len(titles) - _SERIES + 1} others"
    if len(titles) < 2:
        return
    for index, title in enumerate(shown):
        at = _TOP + 4 + 4.2 * index
        yield f'<use href="#m{index}" x="{WIDTH - 62:g}" y="{at - 0.9:.2f}"/>'
        yield _text(WIDTH - 60, at, shorten(title, 52, 2.6))
