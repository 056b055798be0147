"""What one or two searches of a design found, as one list: where third gears may have pins or short teeth, every train
is looked for with either.

A train that is found with both is listed with the toothing that ranks first by the design's rank keys, then error, jigs
and envelope; where all of these are alike, with the one whose worst mesh runs more evenly; then with pins. So the first
`keep` of both lists together are the first of all: whatever a search leaves out has as many before it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Any

from solver.check.running import meshes
from solver.design.design import Design
from solver.design.toothing import TOOTHINGS
from solver.design.train import Train
from solver.search.order.alike import ALONE, OrderCount
from solver.search.order.score import Found
from solver.search.order.search import SearchResult
from solver.search.rank import key_order, sort_key
from solver.search.stop import Termination


@dataclass(frozen=True)
class MadeTrain:
    """A train that was found; design: with the toothing that its third gears have; orders: in how many its links can
    then stand."""

    design: Design
    found: Found
    orders: OrderCount

    @property
    def like(self) -> tuple[Train, str]:
        """What tells it from others: its gears, their places and its toothing."""
        return self.found.train, self.design.wire.third

    @cached_property
    def strays(self) -> tuple[float, ...]:
        """How far its meshes stray from even turning [share of a pitch], the worst first."""
        some = meshes(self.design, self.found.train) if self.design.as_made else ()
        return tuple(sorted((mesh.uneven or 0.0 for mesh in some), reverse=True))

    def figures(self, keys: Sequence[str]) -> tuple[Fraction | int, ...]:
        """Its values of some keys."""
        return tuple(self.found.figures.value(key) for key in keys)


@dataclass(frozen=True)
class Merged:
    """The result of all searches of a design. listed: the first trains in rank order; front: the points of the Pareto
    front, each with how many trains have its values (None: not all were counted); all else as in `SearchResult`."""

    listed: list[MadeTrain]
    front: list[tuple[MadeTrain, int | None]]
    complete: bool
    termination: Termination
    bound: Fraction
    least: int | None
    front_open: int
    report: dict[str, Any]


def merged(design: Design, results: Sequence[tuple[Design, SearchResult]]) -> Merged:
    """Results of one design, of each toothing that its third gears may have."""
    keys = key_order(design.rank)
    complete = all(result.complete for _, result in results)
    ended = next((result.termination for _, result in results if not result.complete), Termination.PROVED)
    some = [result for _, result in results if result.found or not result.complete]  # in which anything may be
    leasts = [result.least for result in some]
    made = [_made(of, result, found) for of, result in results for found in result.found]
    return Merged(
        _in_order(_chosen(made, keys), keys)[: design.keep],
        _front(design, results, keys) if complete or len(results) == 1 else [],
        complete,
        ended,
        min((result.bound for result in some), default=results[0][1].bound),
        None if None in leasts else min((least for least in leasts if least is not None), default=None),
        sum(result.front_open for _, result in results if not result.complete),
        _report([result for _, result in results], complete),
    )


def _made(of: Design, result: SearchResult, found: Found) -> MadeTrain:
    return MadeTrain(of, found, result.orders.get(found.train, ALONE))


def _in_order(made: Iterable[MadeTrain], keys: tuple[str, ...]) -> list[MadeTrain]:
    return sorted(made, key=lambda one: sort_key(one.found.figures, one.found.train, keys))


def _chosen(made: Iterable[MadeTrain], keys: tuple[str, ...]) -> list[MadeTrain]:
    """Of those that are the same solution the one that is listed."""
    same: dict[tuple[object, ...], list[MadeTrain]] = {}
    for one in made:
        same.setdefault(one.found.train.identity(), []).append(one)
    chosen = [some[0] if len(some) == 1 else min(some, key=lambda one: _first(one, keys)) for some in same.values()]
    classes: dict[tuple[object, ...], MadeTrain] = {}
    for one in _in_order(chosen, keys):
        train = one.found.train
        classes.setdefault(train.gears() if one.design.gathers_orders else train.identity(), one)
    return list(classes.values())


def _first(one: MadeTrain, keys: tuple[str, ...]) -> tuple[object, ...]:
    return one.figures(keys), one.strays, TOOTHINGS.index(one.design.wire.third)


def _front(
    design: Design, results: Sequence[tuple[Design, SearchResult]], keys: tuple[str, ...]
) -> list[tuple[MadeTrain, int | None]]:
    """The points that no other one beats. What stands on the front of both was counted apart in each: how many
    different ones there are is known where there is one of each."""
    if len(results) == 1:
        of, result = results[0]
        return [(_made(of, result, point.found), point.ties) for point in result.front]
    alike: dict[tuple[Fraction | int, ...], list[tuple[MadeTrain, int | None]]] = {}
    for of, result in results:
        for point in result.front:
            one = _made(of, result, point.found)
            alike.setdefault(one.figures(design.front), []).append((one, point.ties))
    left = [values for values in alike if not any(_beats(other, values) for other in alike)]
    by = design.front.index("error") if "error" in design.front else 0
    points: list[tuple[MadeTrain, int | None]] = []
    for values in sorted(left, key=lambda values: (values[by], values)):
        some = [one for one, _ in alike[values]]
        ties = alike[values][0][1]
        if len(some) > 1:
            ties = len(_chosen(some, keys)) if all(count == 1 for _, count in alike[values]) else None
        points.append((_in_order(_chosen(some, keys), keys)[0], ties))
    return points


def _beats(other: tuple[Fraction | int, ...], values: tuple[Fraction | int, ...]) -> bool:
    return other != values and all(a <= b for a, b in zip(other, values, strict=True))


def _report(results: Sequence[SearchResult], complete: bool) -> dict[str, Any]:
    """What the searches did, all together."""
    structures = results[0].structures
    listed = {one for result in results for one in result.tally.listed}
    modelled = {one for result in results for one in result.tally.modelled}
    costs = [result.solves.cost for result in results]
    return {
        "structures": structures,
        "structures_bounded_away": structures - len(listed) if complete else None,
        "structures_listed": len(listed),
        "structures_modelled": len(modelled),
        "models_solved": sum(cost.models for cost in costs),
        "branches": sum(cost.branches for cost in costs),
        "conflicts": sum(cost.conflicts for cost in costs),
        "deterministic_time": sum(cost.deterministic_time for cost in costs),
    }
