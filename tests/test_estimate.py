"""The estimate of a sweep's time: what is tried is spread over all that is varied, and the truth lies in the range."""

from __future__ import annotations

import re
import sys
from collections import Counter
from collections.abc import Callable
from math import prod
from pathlib import Path
from typing import Any

import pytest
from sweeping import BASE, SMALL, call, write

from solver.batch.sweep.estimate import ONE_S, TRYING_S, Trial, likely, spread, tried
from solver.batch.sweep.file import Point, sweep_of
from solver.batch.sweep.table import Finished, PointState
from solver.batch.sweep.work import Task
from solver.batch.sweep.workers import Outcome
from solver.cli.sweep import print_estimate
from solver.cli.tables import Paper
from solver.search.stop import NoStop

GRID = {"rings.inner_teeth": 8, "rings.tooth_step": 5, "arbors.third_gears": 2}


def points(**sizes: int) -> list[Point]:
    """The points of a grid, in the order of a sweep, with names that tell where they stand."""
    fields = sizes or GRID
    found = []
    for number in range(prod(fields.values())):
        settings, rest = {}, number
        for path, size in reversed(fields.items()):
            rest, settings[path] = divmod(rest, size)
        found.append(Point(str(number), dict(reversed(settings.items())), str(number), "", "", 60.0))
    return found


class Clockwork:
    """Workers that take as long as they are told, by a clock of their own."""

    def __init__(self, slots: int, seconds: Callable[[int], float]) -> None:
        self.slots, self.seconds, self.now = slots, seconds, 0.0
        self.running: dict[int, tuple[float, bool]] = {}
        self.told: list[int] = []

    def free(self) -> int:
        return self.slots - len(self.running)

    def start(self, task: Task) -> None:
        wanted = self.seconds(int(task.text))
        self.told.append(int(task.text))
        self.running[task.key] = self.now + min(wanted, task.seconds), wanted > task.seconds

    def wait(self, seconds: float) -> list[Outcome]:
        end = min([self.now + seconds, *(when for when, _ in self.running.values())])
        self.now = end
        done = [(key, cut) for key, (when, cut) in self.running.items() if when <= end]
        for key, _ in done:
            del self.running[key]
        return [
            Outcome(key, Finished(PointState.STOPPED if cut else PointState.SOLVED, None, {}, b"", {}))
            for key, cut in done
        ]

    def drop(self, key: int) -> None:
        del self.running[key]


def estimated(all_points: list[Point], seconds: Callable[[dict[str, Any]], float], slots: int = 2):
    """Trials, range and truth."""
    cost = [seconds(point.settings) for point in all_points]
    workers = Clockwork(slots, lambda number: cost[number])
    trials = tried(all_points, workers, NoStop(), clock=lambda: workers.now)
    assert workers.now <= TRYING_S + ONE_S + 1e-9
    return trials, likely(trials, len(all_points), slots), sum(cost) / slots


@pytest.mark.parametrize("seed", range(5))
def test_every_value_is_tried_early_and_as_often_as_the_others(seed):
    all_points = points()[seed:]
    order = list(spread(all_points))
    assert sorted(one.id for one in order) == sorted(one.id for one in all_points)
    assert order == list(spread(all_points))
    for path, size in GRID.items():
        early = Counter(point.settings[path] for point in order[:16])
        assert len(early) == size and max(early.values()) - min(early.values()) <= 2, (path, early)


COSTS: dict[str, Callable[[dict[str, Any]], float]] = {
    "all alike": lambda s: 0.2,
    "one field decides": lambda s: 0.02 * 3 ** s["rings.tooth_step"],
    "a corner is dear": lambda s: 0.01 * 1.7 ** s["rings.inner_teeth"] * 1.5 ** s["rings.tooth_step"],
    "the last field decides": lambda s: 1.5 if s["arbors.third_gears"] else 0.05,
    "some take their limit": lambda s: 40.0 if s["rings.tooth_step"] == 4 else 0.3,
    "each takes its limit": lambda s: 60.0,
    "much too long": lambda s: 3.0 + s["rings.inner_teeth"],
}


@pytest.mark.parametrize("cost", COSTS.values(), ids=COSTS)
def test_the_truth_lies_in_the_range(cost):
    trials, (low, high), truth = estimated(points(), cost)
    assert low <= truth * (1 + 1e-9) and truth <= high * (1 + 1e-9), (low, truth, high)
    assert len(trials) >= 2 * TRYING_S / (ONE_S + 1e-9) - 1


def test_a_cheap_corner_does_not_stand_for_all():
    """Forty points of which the first by the file's order, and every eighth, are the cheapest."""
    all_points = points(**{"rings.inner_teeth": 5, "rings.tooth_step": 8})
    _, (low, high), truth = estimated(all_points, lambda s: 0.05 + 0.2 * s["rings.tooth_step"])
    assert low > truth / 2 and low <= truth <= high < 2 * truth


def test_nothing_is_drawn_where_all_was_tried():
    trials, (low, high), truth = estimated(
        points(**{"rings.inner_teeth": 3}), lambda s: 0.1 + s["rings.inner_teeth"] / 10
    )
    assert len(trials) == 3 and low == high == pytest.approx(max(truth, 0.3))


def test_what_was_cut_counts_up_to_its_limit():
    cut, done = Trial(2.0, 600.0, True), Trial(0.5, 600.0, False)
    assert likely([cut, done], 100, 1) == (50.0, 60_000.0)
    low, high = likely([cut] * 10, 100, 2)
    assert (low, high) == (100.0, 30_000.0)


def test_the_range_and_the_limits_are_told(capsys):
    sweep = sweep_of(SMALL + "[limits]\ntotal_s = 7200\n", "", "moons")
    trials = [Trial(2.0, 60.0, True), *[Trial(0.5, 60.0, False)] * 9]
    print_estimate(Paper(sys.stdout), sweep, sweep.points, 2, trials)
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "10 points tried, from all over the sweep: 0.5 to 2 s; 1 of them not solved within 2 s"
    assert re.fullmatch(r"between \d+ s and \d+ min for 60 points", lines[1])
    limits = "at most 30 min, if every one takes its time limit"
    assert lines[2] == f"{limits}; one call of the sweep ends after 2 h 0 min (limits.total_s)"


@pytest.mark.deep
def test_a_dry_run_stores_nothing(tmp_path: Path):
    write(tmp_path, SMALL)
    code, out, err = call("sweep", "moons.toml", "--dry-run", cwd=tmp_path)
    assert (code, err) == (0, "") and [path.name for path in tmp_path.iterdir()] == ["moons.toml"]
    first, tried_, range_, most = out.splitlines()
    assert first.startswith("Three moons of Saturn: 60 points, ")
    assert re.fullmatch(r"(60|\d+) points? tried, from all over the sweep: [\d.e-]+ to [\d.e-]+ s.*", tried_)
    assert re.fullmatch(r"(about|between) .* for 60 points", range_) and most.startswith("at most 30 min, if every one")
    write(tmp_path, BASE + "[vary]\nrings.inner_teeth = [24]\n", "one.toml")
    code, out, _ = call("sweep", "one.toml", "--dry-run", cwd=tmp_path)
    assert code == 0 and "1 point tried" in out and "for 1 point\n" in out
