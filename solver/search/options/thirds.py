"""The third gears of a train whose rings, kinds, wheels and pinions are chosen: the best choice, exactly.

Every figure that a third gear can change (jigs, teeth, largest, envelope, the order itself) never falls when its
tooth count grows, except that a count which is already in use costs no jig. So once it is decided which new counts
get a jig, every third gear is the smallest that has one and is large enough; and a new count is worth a jig only if
it is the smallest allowed for some third gear. That leaves the sets of those counts to be tried.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations

from solver.design.train import Train
from solver.search.options.caps import Caps
from solver.search.rank import Figures, counts, envelope_teeth, sort_key

MOST_NEW = 10  # new counts of which every set is tried


class TooManyThirds(Exception):
    """So many third gears of different sizes that trying every set of them is not sensible."""


@dataclass(frozen=True)
class ThirdRules:
    """What the third gears of a whole train must keep: their tooth counts, the gap [teeth] between a wheel and the ring
    that it does not mesh with, whether places are asked for at all, and the caps."""

    teeth: tuple[int, ...]
    gap: int
    reverted: bool
    caps: Caps

    def figures(self, train: Train, error_square: Fraction, radii: tuple[int, ...] | None = None) -> Figures | None:
        """What counts of a train, or None where it has no place. radii: the arbors' [teeth]; None: the least."""
        reach = envelope_teeth(train, self.gap, radii) if self.reverted else 0
        return None if reach is None else Figures(error_square, *counts(train), reach)

    def kept_by(self, figures: Figures) -> bool:
        """Whether parts, jigs, teeth, largest gear and envelope are within the caps."""
        return all(figures.value(key) <= most for key, most in self.caps.items())


def choices(rules: ThirdRules, train: Train) -> Iterator[tuple[int, ...]]:
    """Teeth worth trying for the third gears, in the order of links, of a train given with the smallest ones.

    Raises TooManyThirds.
    """
    least = [teeth for link in train.links for teeth in link.thirds]
    in_use = {z for link in train.links for z in (link.wheel, link.pinion)} & set(rules.teeth)
    new = sorted(set(least) - in_use)
    if len(new) > MOST_NEW:
        raise TooManyThirds
    for size in range(len(new) + 1):
        for jigs in combinations(new, size):
            there = sorted(in_use | set(jigs))
            ranks = [bisect_left(there, teeth) for teeth in least]
            if all(rank < len(there) for rank in ranks):
                yield tuple(there[rank] for rank in ranks)


def best_thirds(
    rules: ThirdRules, train: Train, keys: tuple[str, ...], error_square: Fraction, floor: int = 0
) -> tuple[Figures, Train] | None:
    """The train, given with its smallest third gears, with those that rank first within the limits, and its
    figures; None: none is within.

    floor: the envelope [teeth] is not less than this, whatever the third gears are. Raises TooManyThirds.
    """
    best: tuple[tuple[object, ...], Figures, Train] | None = None
    for chosen in choices(rules, train):
        rest = iter(chosen)
        links = tuple(replace(link, thirds=tuple(next(rest) for _ in link.thirds)) for link in train.links)
        candidate = replace(train, links=links)
        figures = rules.figures(candidate, error_square)
        if figures is not None:
            figures = replace(figures, envelope_teeth=max(figures.envelope_teeth, floor))
        if figures is None or not rules.kept_by(figures):
            continue
        key = sort_key(figures, candidate, keys)
        if best is None or key < best[0]:
            best = (key, figures, candidate)
    return (best[1], best[2]) if best else None
