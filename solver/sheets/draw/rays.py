"""Straight lines from the origin, each with its name at its end: what grows evenly, as SVG in black and white.

Where the fastest grows much faster than the slowest both axes are logarithmic, and all lines are parallel; else both
are linear. Lines leave the plot at its top, where their names stand side by side; those that are too slow, on its
right.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, floor, log10

from solver.sheets.draw.lettering import FONT, clean, escaped, shorten, text_width
from solver.words.numbers import decimal

WIDTH, HEIGHT = 180.0, 130.0  # mm
_LEFT, _TOP, _RIGHT, _BOTTOM = 18.0, 28.0, WIDTH - 8.0, HEIGHT - 16.0
_LETTERS = 2.6
_LOG_FROM = 12.0  # times from the slowest to the fastest
_MOST_POWERS = 8  # of ten along x; what is slower than that leaves the plot on the right
_DASHES = ("", "4 1", "1.2 1", "4 1 1 1", "7 1.5", "2.5 1", "4 1 1 1 1 1", "0.6 0.8")
_NAME, _GAP = 34.0, 2.0  # mm: the widest a name may be, and what is free beside it
_ROWS = (_TOP - 5.0, _TOP - 9.0)  # of names, the second where one has no room

Point = tuple[float, float]


@dataclass(frozen=True)
class Ray:
    """A line: its name, and by how much it grows for one unit along x; 0 for one that never does."""

    name: str
    slope: float


@dataclass(frozen=True)
class RayWords:
    """What stands on the plot: its title, a line below that, what stands along x and y, and what it says in words."""

    title: str
    below: str
    x: str
    y: str
    told: str


def rays(lines: Sequence[Ray], marks: Sequence[float], words: RayWords) -> str:
    """The plot. marks: heights that matter, above 0, ascending; the slowest line reaches the last one within it, if
    there is room. Lines that never grow are named below."""
    growing = sorted((one for one in lines if one.slope > 0), key=lambda one: -one.slope)
    axes = _Axes([one.slope for one in growing] or [1.0], marks)
    seen = [(one, axes.ends(one.slope)) for one in growing if axes.seen(one.slope)]
    drawn = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH:g}mm" height="{HEIGHT:g}mm" '
        f'viewBox="0 0 {WIDTH:g} {HEIGHT:g}" font-family="{FONT}" font-size="{_LETTERS}" role="img">',
        f"<title>{escaped(clean(words.title))}</title>",
        f"<desc>{escaped(clean(words.told))}</desc>",
        f'<rect width="{WIDTH:g}" height="{HEIGHT:g}" fill="#fff"/>',
        _text((_LEFT, 7.0), words.title, size=3.8),
        _text((_LEFT, 11.5), words.below),
        *axes.grid(marks),
        _text(((_LEFT + _RIGHT) / 2, _BOTTOM + 8.5), words.x, "middle"),
        _text((2.0, _TOP - 3.0), words.y),
    ]
    for number, (_, (start, end)) in enumerate(seen):
        dashes = f' stroke-dasharray="{_DASHES[number % len(_DASHES)]}"' if number % len(_DASHES) else ""
        path = f"M{start[0]:.2f} {start[1]:.2f}L{end[0]:.2f} {end[1]:.2f}"
        drawn.append(f'<path d="{path}" fill="none" stroke="#000" stroke-width="0.4"{dashes}/>')
    drawn += _on_top([(one.name, end[0]) for one, (_, end) in seen if end[1] <= _TOP + 0.01])
    for one, (_, end) in seen:
        if end[1] > _TOP + 0.01:
            drawn.append(_text((_RIGHT - 1.5, end[1] - 2.0), shorten(one.name, _NAME, _LETTERS), "end"))
    still = [one.name for one in lines if one.slope == 0]
    late = [one.name for one in growing if not axes.seen(one.slope)]
    below = "; ".join(f"{what}: {', '.join(names)}" for what, names in (("never", still), ("later", late)) if names)
    if below:
        drawn.append(_text((_LEFT, HEIGHT - 2.5), shorten(below, _RIGHT - _LEFT, _LETTERS)))
    return "\n".join([*drawn, "</svg>"]) + "\n"


def _on_top(names: Sequence[tuple[str, float]]) -> Iterator[str]:
    """Names of lines that end at the top, from left to right: each as near above its end as the others let it, with a
    thin line down to it. In two rows where one has no room."""
    widest = min(_NAME, 2 * (_RIGHT - _LEFT) / max(1, len(names)) - _GAP)
    shown = [(shorten(name, widest, _LETTERS), x) for name, x in names]
    wide = [text_width(name, _LETTERS) + _GAP for name, _ in shown]
    rows = 1 if sum(wide) <= _RIGHT - _LEFT else 2
    for row in range(rows):
        some = range(row, len(shown), rows)
        middles: list[float] = []
        for index in some:  # none overlaps the one before it
            least = middles[-1] + (wide[index - rows] + wide[index]) / 2 if middles else _LEFT
            middles.append(max(shown[index][1], least))
        most = WIDTH - 1.0
        for place in range(len(middles) - 1, -1, -1):  # nor leaves the plot
            half = wide[some[place]] / 2
            middles[place] = min(middles[place], most - half)
            most = middles[place] - half
        for index, middle in zip(some, middles, strict=True):
            foot = _ROWS[row] + 0.8
            yield f'<path d="M{middle:.2f} {foot:.2f}L{shown[index][1]:.2f} {_TOP}" stroke="#888" stroke-width="0.15"/>'
            yield _text((middle, _ROWS[row]), shown[index][0], "middle")


class _Axes:
    """Where values stand [mm, y downwards]."""

    def __init__(self, slopes: Sequence[float], marks: Sequence[float]) -> None:
        fastest, slowest = max(slopes), min(slopes)
        self.logarithmic = fastest / slowest >= _LOG_FROM
        if self.logarithmic:
            self._low_y, self._high_y = float(floor(log10(marks[0]))), log10(marks[-1]) + 0.5
            self._low_x = float(floor(log10(10**self._low_y / fastest)))
            self._high_x = min(float(ceil(log10(10**self._high_y / slowest))), self._low_x + _MOST_POWERS)
        else:
            self._low_x = self._low_y = 0.0
            self._high_y = marks[-1] * 1.2
            self._high_x = self._high_y / slowest

    def x(self, value: float) -> float:
        share = ((log10(value) if self.logarithmic else value) - self._low_x) / (self._high_x - self._low_x)
        return _LEFT + share * (_RIGHT - _LEFT)

    def y(self, value: float) -> float:
        share = ((log10(value) if self.logarithmic else value) - self._low_y) / (self._high_y - self._low_y)
        return _BOTTOM - share * (_BOTTOM - _TOP)

    def seen(self, slope: float) -> bool:
        """Whether a line comes into the frame."""
        return not self.logarithmic or 10.0**self._low_y / slope < 10.0**self._high_x

    def ends(self, slope: float) -> tuple[Point, Point]:
        """Where a line begins and ends inside the frame."""
        if self.logarithmic:
            low_x, high_x = 10.0**self._low_x, 10.0**self._high_x
            low_y, high_y = 10.0**self._low_y, 10.0**self._high_y
            first = max(low_x, low_y / slope)
        else:
            first, high_x, high_y = 0.0, self._high_x, self._high_y
        last = min(high_x, high_y / slope)
        return (self.x(first), self.y(first * slope)), (self.x(last), self.y(last * slope))

    def grid(self, marks: Sequence[float]) -> Iterator[str]:
        yield f'<path d="M{_LEFT} {_TOP}V{_BOTTOM}H{_RIGHT}" fill="none" stroke="#000" stroke-width="0.3"/>'
        for mark in marks:
            y = self.y(mark)
            yield f'<path d="M{_LEFT} {y:.2f}H{_RIGHT}" stroke="#888" stroke-width="0.15"/>'
            yield _text((_LEFT - 1.5, y + 0.9), decimal(mark, 6), "end")
        for value in self._ticks():
            x = self.x(value)
            yield f'<path d="M{x:.2f} {_BOTTOM}v1" stroke="#000" stroke-width="0.2"/>'
            yield f'<path d="M{x:.2f} {_TOP}V{_BOTTOM}" stroke="#ddd" stroke-width="0.1"/>'
            yield _text((x, _BOTTOM + 4), f"{value:g}" if value < 1e6 else f"{value:.0e}", "middle")

    def _ticks(self) -> list[float]:
        if self.logarithmic:
            return [10.0**power for power in range(int(self._low_x), int(self._high_x) + 1)]
        step = 10.0 ** floor(log10(self._high_x / 4))
        step *= next(factor for factor in (1, 2, 5, 10) if self._high_x / (step * factor) <= 8)
        return [index * step for index in range(1, floor(self._high_x / step + 1e-9) + 1)]


def _text(at: Point, words: str, anchor: str = "start", size: float = _LETTERS) -> str:
    return (
        f'<text x="{at[0]:.2f}" y="{at[1]:.2f}" font-size="{size:g}" text-anchor="{anchor}">'
        f"{escaped(clean(words))}</text>"
    )
