"""Worst error against parts: the axes of a plot, their ticks, its marks and the line along the best."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, floor, hypot, inf, isfinite, log10

Tick = tuple[float, str]  # where it stands, and its word

_LOG_FROM = 20.0  # times from the least error to the greatest


@dataclass(frozen=True)
class PlotFrame:
    """What a plot has room for, y downwards. inside: how far from the frame's edges errors stay; zero: how far below
    the others solutions without error stand on a logarithmic axis."""

    left: float
    top: float
    right: float
    bottom: float
    inside: float
    zero: float


class Axes:
    """Where parts and errors [percent] stand in a frame. The error's axis is logarithmic where the errors differ much;
    solutions without error then stand on a line of their own."""

    def __init__(self, frame: PlotFrame, points: Iterable[tuple[int, float]], most_ticks: int) -> None:
        kept = [(parts, error) for parts, error in points if isfinite(error)]
        numbers, errors = sorted({parts for parts, _ in kept} or {0}), [error for _, error in kept]
        self._frame = frame
        self._fewest, self._most = numbers[0] - 1, numbers[-1] + 1
        self.front = unbeaten(kept)
        self.x_ticks: list[Tick] = [(self.x(one), str(one)) for one in numbers[:: ceil(len(numbers) / most_ticks)]]
        positive = [error for error in errors if error > 0]
        self._logarithmic = bool(positive) and max(positive) / min(positive) >= _LOG_FROM
        self._foot, self._low, self._high = frame.bottom - frame.inside, 0.0, 1.0
        self.y_ticks: list[Tick]
        if self._logarithmic:
            none = [0.0] if len(positive) < len(errors) else []
            self._foot -= frame.zero * len(none)
            self._low = floor(log10(min(positive)))
            self._high = max(ceil(log10(max(positive))), self._low + 1)
            powers = [10.0**power for power in range(int(self._low), int(self._high) + 1)]
            self.y_ticks = [(self.y(error), f"{error:g}") for error in (*none, *powers)]
        else:
            step = _round_step(max(positive)) if positive else 1.0
            count = ceil(max(positive, default=1.0) / step)
            self._high = count * step
            self.y_ticks = [(self.y(index * step), f"{index * step:.4g}") for index in range(count + 1)]

    def x(self, parts: float) -> float:
        """Where so many parts stand."""
        share = (parts - self._fewest) / (self._most - self._fewest)
        return round(self._frame.left + share * (self._frame.right - self._frame.left), 2)

    def y(self, error: float) -> float:
        """Where an error stands."""
        if self._logarithmic and error <= 0:
            return self._frame.bottom - self._frame.inside
        value = log10(error) if self._logarithmic else error
        share = (value - self._low) / (self._high - self._low)
        return round(self._foot - share * (self._foot - self._frame.top - self._frame.inside), 2)

    def line(self) -> str:
        """The line along those that no other one beats, in steps, as path data of SVG."""
        steps = [f"H{self.x(parts):g}V{self.y(error):g}" for parts, error in self.front]
        return f"M{steps[0][1:].replace('V', ' ')}{''.join(steps[1:])}" if steps else ""


def unbeaten(points: Iterable[tuple[int, float]]) -> list[tuple[int, float]]:
    """(parts, error) that no other one beats in both, fewest parts first."""
    found: list[tuple[int, float]] = []
    for parts, error in sorted(set(points)):
        if error < (found[-1][1] if found else inf):
            found.append((parts, error))
    return found


def _round_step(most: float) -> float:
    """A round distance of ticks from 0 to `most`, for four to six of them or so."""
    step = 10.0 ** floor(log10(most / 4))
    return step * next(factor for factor in (1, 2, 5, 10) if most / (step * factor) <= 6)


def marks(places: Sequence[tuple[float, float]], apart: float) -> dict[int, int]:
    """Places as marks: the number of each that is one, and how many later ones are nearer to it than so much and are
    not drawn."""
    found: dict[int, int] = {}
    cells: dict[tuple[int, int], list[int]] = {}
    for number, (x, y) in enumerate(places):
        column, row = floor(x / apart), floor(y / apart)
        around = (cells.get((column + i, row + j), ()) for i in (-1, 0, 1) for j in (-1, 0, 1))
        near = [mark for cell in around for mark in cell if hypot(places[mark][0] - x, places[mark][1] - y) < apart]
        if near:
            found[min(near)] += 1
        else:
            found[number] = 0
            cells.setdefault((column, row), []).append(number)
    return found
