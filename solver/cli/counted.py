"""How the points of a sweep ended, in words: what has a solution, what is proven to have none, what is not settled."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from solver.batch.sweep.table import PointState
from solver.design.errors import so_many

_NONE = "proven to have no solution"


def without_solution(points: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Those of the points that are proven to have none."""
    return [one for one in points if one["state"] == PointState.SOLVED and one["status"] == "infeasible"]


def counts_text(counts: Mapping[PointState, int], nothing: int) -> str:
    """How many points are in each state; nothing: how many of the solved ones are proven to have no solution."""
    words = {}
    for state in PointState:
        words[str(state)] = max(counts.get(state, 0) - (nothing if state == PointState.SOLVED else 0), 0)
        if state == PointState.SOLVED:
            words[_NONE] = nothing
    words = {word: number for word, number in words.items() if number}
    total = sum(words.values())
    if total == 1:
        return f"the only point is {next(iter(words))}"
    return f"{so_many(total, 'point')}: {', '.join(f'{number} {word}' for word, number in words.items())}"


def finished_text(points: Sequence[Mapping[str, Any]]) -> str:
    """What is said of a run that is finished: that every point is proven, or how many are not."""
    left = sum(one["state"] in (PointState.STOPPED, PointState.FAILED) for one in points)
    if not left:
        return "finished: every point is proven"
    return f"finished, but {so_many(left, 'point')} not settled: ringwright sweep with --again solves them once more"
