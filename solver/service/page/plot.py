"""Worst error against parts as a drawing to click on: every mark is a link to the solution that it stands for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite

from solver.sheets.draw.axes import Axes, PlotFrame, Tick, marks

WIDTH, HEIGHT = 640.0, 360.0
_FRAME = PlotFrame(left=62.0, top=16.0, right=WIDTH - 18.0, bottom=HEIGHT - 52.0, inside=8.0, zero=24.0)
_APART = 12.0  # marks that are nearer than this to another are one mark with it
_TICKS = 12


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
    """The plot. x_ticks, y_ticks: along each axis; line: path data of the front."""

    marks: tuple[Mark, ...]
    x_ticks: list[Tick]
    y_ticks: list[Tick]
    line: str
    left: float = _FRAME.left
    right: float = _FRAME.right
    top: float = _FRAME.top
    bottom: float = _FRAME.bottom
    width: float = WIDTH
    height: float = HEIGHT


def plot(solutions: Sequence[Shown]) -> Plot | None:
    """The plot of some solutions, best first; None where there are none."""
    good = [one for one in solutions if isfinite(one.error)]
    if not good:
        return None
    axes = Axes(_FRAME, ((one.parts, one.error) for one in good), _TICKS)
    front = set(axes.front)
    best = sorted(good, key=lambda one: ((one.parts, one.error) not in front, one.error, one.parts))
    places = [(axes.x(one.parts), axes.y(one.error)) for one in best]
    found = [
        Mark(*places[number], best[number], others, (best[number].parts, best[number].error) in front)
        for number, others in marks(places, _APART).items()
    ]
    return Plot(tuple(sorted(found, key=lambda mark: (mark.x, mark.y))), axes.x_ticks, axes.y_ticks, axes.line())
