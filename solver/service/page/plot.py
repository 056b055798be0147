"""Worst error against parts as a drawing to click on: every mark is a link to the solution that it stands for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, floor, hypot, isfinite, log10

from solver.sheets.draw.scatter import LOG_FROM, round_step, unbeaten

WIDTH, HEIGHT = 640.0, 360.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 62.0, 18.0, 16.0, 52.0
_APART = 12.0  # marks that are nearer than this to another are one mark with it


@dataclass(frozen=True)
class Shown:
    """A solution in the plot: where it is named (point and rank), its error [percent] and its parts."""

    point: str
    rank: int
    error: float
    parts: int


@dataclass(frozen=True)
class Mark:
    """A mark: its place, the solution it leads to, and how many others it hides. front: no solution beats it."""

    x: float
    y: float
    shown: Shown
    others: int
    front: bool


@dataclass(frozen=True)
class Plot:
    """The plot. ticks: (place, word) along each axis; line: path data of the front."""

    marks: tuple[Mark, ...]
    x_ticks: tuple[tuple[float, str], ...]
    y_ticks: tuple[tuple[float, str], ...]
    line: str
    left: float = _LEFT
    right: float = WIDTH - _RIGHT
    top: float = _TOP
    bottom: float = HEIGHT - _BOTTOM
    width: float = WIDTH
    height: float = HEIGHT


def plot(solutions: Sequence[Shown]) -> Plot | None:
    """The plot of some solutions, best first; None where there are none. The error's axis is logarithmic where the
    errors differ much; solutions without error then stand on a line of their own."""
    good = [one for one in solutions if isfinite(one.error)]
    if not good:
        return None
    x_axis, y_axis = _Parts(good), _Errors(good)
    front = unbeaten((one.parts, one.error) for one in good)
    best = sorted(good, key=lambda one: ((one.parts, one.error) not in front, one.error, one.parts))
    marks: list[Mark] = []
    for one in best:
        x, y = x_axis.at(one.parts), y_axis.at(one.error)
        near = next((place for place, mark in enumerate(marks) if hypot(mark.x - x, mark.y - y) < _APART), None)
        if near is None:
            marks.append(Mark(x, y, one, 0, (one.parts, one.error) in front))
        else:
            marks[near] = replace(marks[near], others=marks[near].others + 1)
    marks.sort(key=lambda mark: (mark.x, mark.y))
    line = ""
    for parts, error in front:
        x, y = x_axis.at(parts), y_axis.at(error)
        line += f"H{x:.1f}V{y:.1f}" if line else f"M{x:.1f} {y:.1f}"
    return Plot(tuple(marks), x_axis.ticks(), y_axis.ticks(), line)


class _Parts:
    def __init__(self, solutions: Sequence[Shown]) -> None:
        self.values = sorted({one.parts for one in solutions})
        self.low, self.high = self.values[0] - 1, self.values[-1] + 1

    def at(self, parts: int) -> float:
        share = (parts - self.low) / (self.high - self.low)
        return round(_LEFT + share * (WIDTH - _LEFT - _RIGHT), 1)

    def ticks(self) -> tuple[tuple[float, str], ...]:
        every = max(1, ceil(len(self.values) / 12))
        return tuple((self.at(parts), str(parts)) for parts in self.values[::every])


class _Errors:
    def __init__(self, solutions: Sequence[Shown]) -> None:
        positive = [one.error for one in solutions if one.error > 0]
        self.zero = len(positive) < len(solutions)
        self.below, self.above = HEIGHT - _BOTTOM - 8, _TOP + 8
        self.logarithmic = bool(positive) and max(positive) / min(positive) >= LOG_FROM
        self.low, self.high, self.step = 0.0, 1.0, 1.0
        if self.logarithmic:
            self.low, self.high = floor(log10(min(positive))), ceil(log10(max(positive)))
            if self.low == self.high:
                self.high += 1
        elif positive:
            most = max(positive)
            self.step = round_step(most)
            self.high = ceil(most / self.step) * self.step

    def at(self, error: float) -> float:
        if not self.logarithmic:
            return round(self.below - error / self.high * (self.below - self.above), 1)
        foot = self.below - (24 if self.zero else 0)
        if error <= 0:
            return self.below
        return round(foot - (log10(error) - self.low) / (self.high - self.low) * (foot - self.above), 1)

    def ticks(self) -> tuple[tuple[float, str], ...]:
        if not self.logarithmic:
            count = round(self.high / self.step)
            return tuple((self.at(index * self.step), f"{index * self.step:.4g}") for index in range(count + 1))
        powers = range(int(self.low), int(self.high) + 1)
        ticks = [(self.at(10.0**power), f"{10.0**power:g}") for power in powers]
        return tuple(([(self.at(0.0), "0")] if self.zero else []) + ticks)
