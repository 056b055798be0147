"""How long a sweep may take, judged by solving some of its points: spread over all that is varied, with the workers
that it would have, and told as a range."""

from __future__ import annotations

import random
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

import numpy as np

from solver.batch.sweep.file import Point
from solver.batch.sweep.table import PointState
from solver.batch.sweep.work import Task
from solver.batch.sweep.workers import Workers
from solver.search.stop import StopRule

TRYING_S = 10.0  # for all trials
ONE_S = 2.0  # for one, so that some are tried even where every point takes long
_LATE_S = 5.0  # what a worker may take beyond that before it is given up
_NEAR = 32  # points of which the one is tried that is least like those before
_FEW = 5  # trials, at least, from which chance can be judged
_DRAWS, _BETWEEN = 1000, (5, 95)


@dataclass(frozen=True)
class Trial:
    """A point that was tried. seconds: that it kept a worker busy; most: what it may take at most by its own limit.

    cut: it was not solved within ONE_S, and would have gone on."""

    seconds: float
    most: float
    cut: bool


def spread(points: Sequence[Point]) -> Iterator[Point]:
    """All points, in an order in which each is as little like those before as chance and a look at a few allow: every
    value of a field comes early, and as often as the others. The same each time."""
    rng = random.Random(len(points))
    left = list(points)
    rng.shuffle(left)
    seen: Counter[tuple[str, str]] = Counter()
    while left:
        near = range(max(0, len(left) - _NEAR), len(left))
        told = {index: [(path, repr(value)) for path, value in left[index].settings.items()] for index in near}
        index = min(near, key=lambda one: sum(seen[value] for value in told[one]))
        seen.update(told[index])
        yield left.pop(index)


def tried(
    points: Sequence[Point],
    workers: Workers,
    stop: StopRule,
    point_s: float | None = None,
    memory_mb: int | None = None,
    clock: Callable[[], float] = time.monotonic,
) -> list[Trial]:
    """Solve some of the points for TRYING_S [s], until `stop` strikes. point_s [s]: limit for each point, beside the
    design's own."""
    waiting, end = spread(points), clock() + TRYING_S
    begun: dict[int, tuple[float, float]] = {}
    trials: list[Trial] = []

    def over(key: int, cut: bool) -> None:
        began, limit = begun.pop(key)
        trials.append(Trial(clock() - began, limit, cut))

    key = 0
    while True:
        free = workers.free() if clock() < end else 0
        for point in islice(waiting, free):
            key += 1
            limit = min(point.time_limit_s, point_s or point.time_limit_s)
            workers.start(Task(key, point.text, min(limit, ONE_S), memory_mb))
            begun[key] = clock(), limit
        if not begun or stop():
            return trials
        for outcome in workers.wait(0.1):
            if outcome.key in begun:
                stopped = outcome.result is not None and outcome.result.state == PointState.STOPPED
                over(outcome.key, stopped and begun[outcome.key][1] > ONE_S)
        for late in [one for one, (began, _) in begun.items() if clock() - began > ONE_S + _LATE_S]:
            workers.drop(late)
            over(late, True)


def likely(trials: Sequence[Trial], number: int, slots: int) -> tuple[float, float]:
    """Between what times [s] so many points probably take with so many workers. What was cut counts as long as it was
    tried for the least, and as long as it may take for the most.

    Drawn from the trials again and again, nine of ten means lie in between; of few trials, all lie between the quickest
    and the slowest. Where every point was tried, nothing is drawn.
    """
    least = np.array([trial.seconds for trial in trials])
    most = np.array([trial.most if trial.cut else trial.seconds for trial in trials])
    if len(trials) >= number:
        low, high = least.sum(), most.sum()
    elif len(trials) < _FEW:
        low, high = least.min() * number, most.max() * number
    else:
        drawn = np.random.default_rng(0).integers(len(trials), size=(_DRAWS, len(trials)))
        low = np.percentile(least[drawn].mean(axis=1), _BETWEEN[0]) * number
        high = np.percentile(most[drawn].mean(axis=1), _BETWEEN[1]) * number
    return max(float(low) / slots, float(least.max())), max(float(high) / slots, float(most.max()))
