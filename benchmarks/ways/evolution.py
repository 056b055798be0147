"""Differential evolution (scipy) over the structure and the place of each link's option in the list sorted by ratio.

A heuristic: restarted with new seeds until the time is over or `TRIES` runs brought nothing new; never proven.
"""

from __future__ import annotations

import math
from typing import Any

from benchmarks.ways.common import Clock, Found, Peer, Problem, missing

TRIES = 10
POPULATION = 15  # times the number of variables, the usual choice
GENERATIONS = 2000


class Fitness:
    """Worst log error of many chains at once, plus penalties for third gears beyond the limit and wrong senses."""

    def __init__(self, problem: Problem) -> None:
        import numpy as np

        self.np, self.problem = np, problem
        structures = list(problem.structures())
        number = {id(family): index for index, family in enumerate(problem.families)}
        self.structures = structures
        self.family = np.array([number[id(family)] for family, _ in structures])
        self.places = np.array([places for _, places in structures])
        self.logs = np.array([family.logs for family in problem.families])
        self.groups = np.array([family.classes for family in problem.families])
        widest = max(map(len, problem.classes))
        self.sizes = np.array([len(options) for options in problem.classes])
        self.table = {
            name: np.array(
                [[getattr(o, name) for o in options] + [0] * (widest - len(options)) for options in problem.classes]
            )
            for name in ("log", "thirds", "turn")
        }
        for side in ("wheel", "pinion"):
            self.table[side] = np.array(
                [
                    [getattr(o.choice, side) for o in options] + [0] * (widest - len(options))
                    for options in problem.classes
                ]
            )
        self.low, self.high = np.array(problem.targets).T

    def picks(self, x: Any) -> tuple[Any, Any, Any]:
        """Structure, class and option of each link for a population, one column for each member."""
        np = self.np
        structure = np.minimum((x[0] * len(self.structures)).astype(int), len(self.structures) - 1)
        groups = self.groups[self.family[structure]].T
        options = np.minimum((x[1:] * self.sizes[groups]).astype(int), self.sizes[groups] - 1)
        return structure, groups, options

    def __call__(self, x: Any) -> Any:
        np, problem = self.np, self.problem
        x = x.reshape(x.shape[0], -1)
        structure, groups, options = self.picks(x)
        periods = np.vstack([np.zeros(x.shape[1]), np.cumsum(self.table["log"][groups, options], axis=0)])
        periods = periods + self.logs[self.family[structure]].T
        places = self.places[structure].T
        members = np.arange(x.shape[1])
        taken = periods[places, members]
        worst = np.maximum(taken - self.high[:, None], self.low[:, None] - taken).max(axis=0).clip(min=0)
        used = np.arange(problem.links)[:, None] < places[-1]
        over = (self.table["thirds"][groups, options] * used).sum(axis=0) - problem.third_limit
        penalty = 10.0 * over.clip(min=0)
        if problem.senses_matter:
            turned = np.vstack([np.zeros(x.shape[1], int), np.cumsum(self.table["turn"][groups, options], axis=0) % 2])
            for body, sense in enumerate(problem.senses):
                if sense is not None:
                    penalty += 10.0 * (turned[places[body], members] != sense)
        if problem.goal == "jigs":
            gears = np.vstack([np.where(used, self.table[side][groups, options], 0) for side in ("wheel", "pinion")])
            ordered = np.sort(gears, axis=0)
            sizes = ((ordered[1:] != ordered[:-1]) & (ordered[1:] > 0)).sum(axis=0) + (ordered[0] > 0)
            beyond = (worst - problem.cap).clip(min=0)
            return sizes + places[-1] + 1 + worst + penalty + 1000 * beyond + 100 * (beyond > 0)
        return worst + penalty + 100 * (worst > problem.cap)


def solve(problem: Problem, clock: Clock) -> Found:
    """The best of several runs."""
    import numpy as np
    from scipy.optimize import Bounds, differential_evolution

    if any(not options for options in problem.classes):
        return Found(None, False, "a link without options")
    fitness = Fitness(problem)
    best, best_x, seed, idle, found_at = math.inf, None, 0, 0, 0.0
    while clock.left() and idle < TRIES:
        result = differential_evolution(
            fitness,
            Bounds(np.zeros(problem.links + 1), np.ones(problem.links + 1)),
            popsize=POPULATION,
            maxiter=GENERATIONS,
            mutation=(0.3, 0.9),
            recombination=0.9,
            tol=1e-9,
            rng=np.random.default_rng(seed),
            polish=False,
            updating="deferred",
            vectorized=True,
            callback=lambda intermediate_result: clock.left() <= 0,
        )
        seed, idle = seed + 1, idle + 1
        if result.fun < best - 1e-12:
            best, best_x, idle, found_at = float(result.fun), result.x, 0, clock.passed()
    note = f"{seed} runs, the best at {found_at:.1f} s"
    if best_x is None or best > (50 if problem.goal == "error" else 100):
        return Found(None, False, note)
    structure, groups, options = fitness.picks(best_x.reshape(-1, 1))
    family, places = fitness.structures[int(structure[0])]
    chosen = [problem.classes[int(g[0])][int(o[0])] for g, o in zip(groups, options, strict=True)]
    return Found(problem.train(family, places, chosen), False, note)


EVOLUTION = Peer(
    "evolution",
    "scipy differential evolution over structure and options, restarted; a heuristic",
    ("error", "jigs"),
    missing("scipy"),
    solve,
)
