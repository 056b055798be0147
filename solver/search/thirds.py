"""The third gears of a train whose rings, kinds, wheels and pinions are chosen: the best choice, exactly.

Every figure that a third gear can change (jigs, teeth, largest, envelope, the order itself) never falls when its
tooth count grows, except that a count which is already in use costs no jig. So for each third gear only the
smallest count in use that is large enough, and the smallest allowed counts that are large enough for it or for
another third gear, need to be tried.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import replace
from itertools import product

from solver.design.links import KIND_BY_NAME
from solver.design.train import Link, Train
from solver.search.candidates import Candidates
from solver.search.rank import Figures, arbor_teeth, counts, envelope_teeth, sort_key

MOST_COMBINATIONS = 100_000


class TooManyThirds(Exception):
    """So many third gears that trying their combinations is not sensible."""


def floors(candidates: Candidates, rings: tuple[int, ...], links: tuple[Link, ...]) -> list[list[int]]:
    """For each link the least third-gear teeth that close its triangles (0: no third gear fits too small)."""
    found = []
    for index, link in enumerate(links):
        kind = KIND_BY_NAME[link.kind]
        if not candidates.reverted or not kind.thirds:
            found.append([0] * kind.thirds)
            continue
        inner, outer = rings[index], rings[index + 1]
        wide = Link(link.kind, link.wheel, link.pinion, (candidates.third_teeth[-1],) * kind.thirds)
        arbor = arbor_teeth(inner, outer, wide, candidates.gap)
        assert arbor is not None
        sides = [(inner, link.wheel)] * kind.wheel_thirds + [(outer, link.pinion)] * kind.pinion_thirds
        found.append([-(-(arbor - ring - gear) // 2) for ring, gear in sides])
    return found


def choices(candidates: Candidates, train: Train) -> list[tuple[int, ...]]:
    """For each third gear of the train the counts worth trying, in the order of the links."""
    least = [floor for link in floors(candidates, train.rings, train.links) for floor in link]
    allowed = candidates.third_teeth
    in_use = sorted({z for link in train.links for z in (link.wheel, link.pinion)} & set(allowed))
    smallest = {allowed[bisect_left(allowed, floor)] for floor in least}
    found = []
    for floor in least:
        options = {z for z in smallest if z >= floor}
        at = bisect_left(in_use, floor)
        if at < len(in_use):
            options.add(in_use[at])
        found.append(tuple(sorted(options)))
    return found


def best_thirds(
    candidates: Candidates, train: Train, keys: tuple[str, ...], error_square: object
) -> tuple[Figures, Train] | None:
    """The train with the third gears that rank first within the limits, and its figures; None: none is within.

    Raises TooManyThirds.
    """
    options = choices(candidates, train)
    size = 1
    for option in options:
        size *= len(option)
    if size > MOST_COMBINATIONS:
        raise TooManyThirds
    best: tuple[tuple[object, ...], Figures, Train] | None = None
    for chosen in product(*options):
        rest = iter(chosen)
        links = tuple(replace(link, thirds=tuple(next(rest) for _ in link.thirds)) for link in train.links)
        candidate = replace(train, links=links)
        figures = figures_of(candidates, candidate, error_square)
        if figures is None or not within_limits(candidates, figures):
            continue
        key = sort_key(figures, candidate, keys)
        if best is None or key < best[0]:
            best = (key, figures, candidate)
    return (best[1], best[2]) if best else None


def figures_of(candidates: Candidates, train: Train, error_square: object) -> Figures | None:
    """What counts of a train, or None where it has no place."""
    reach = envelope_teeth(train, candidates.gap) if candidates.reverted else 0
    return None if reach is None else Figures(error_square, *counts(train), reach)  # type: ignore[arg-type]


def within_limits(candidates: Candidates, figures: Figures) -> bool:
    """Whether parts, jigs, teeth, largest gear and envelope are within the design's limits."""
    limits = candidates.design.limits
    return all(
        most is None or figures.value(key) <= most
        for key, most in (
            ("parts", limits.max_parts),
            ("jigs", limits.max_jigs),
            ("teeth", limits.max_teeth),
            ("largest", limits.max_largest),
            ("envelope", candidates.most_envelope),
        )
    )
