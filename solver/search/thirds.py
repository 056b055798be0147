"""The third gears of a train whose rings, kinds, wheels and pinions are chosen: the best choice, exactly.

Every figure that a third gear can change (jigs, teeth, largest, envelope, the order itself) never falls when its
tooth count grows, except that a count which is already in use costs no jig. So for each third gear only the
smallest count in use that is large enough, and the smallest allowed counts that are large enough for it or for
another third gear, need to be tried.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import replace
from fractions import Fraction
from itertools import product

from solver.design.train import Train
from solver.search.candidates import Candidates
from solver.search.rank import Figures, counts, envelope_teeth, sort_key

MOST_COMBINATIONS = 100_000


class TooManyThirds(Exception):
    """So many third gears that trying their combinations is not sensible."""


def choices(candidates: Candidates, train: Train) -> list[tuple[int, ...]]:
    """For each third gear of a train that has the smallest ones, the counts worth trying, in the order of links."""
    least = [teeth for link in train.links for teeth in link.thirds]
    in_use = sorted({z for link in train.links for z in (link.wheel, link.pinion)} & set(candidates.third_teeth))
    found = []
    for floor in least:
        options = {teeth for teeth in least if teeth >= floor}
        at = bisect_left(in_use, floor)
        if at < len(in_use):
            options.add(in_use[at])
        found.append(tuple(sorted(options)))
    return found


def best_thirds(
    candidates: Candidates, train: Train, keys: tuple[str, ...], error_square: Fraction
) -> tuple[Figures, Train] | None:
    """The train, given with its smallest third gears, with those that rank first within the limits, and its
    figures; None: none is within.

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


def figures_of(candidates: Candidates, train: Train, error_square: Fraction) -> Figures | None:
    """What counts of a train, or None where it has no place."""
    reach = envelope_teeth(train, candidates.gap) if candidates.reverted else 0
    return None if reach is None else Figures(error_square, *counts(train), reach)


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
